"""The standard atmosphere, water vapour and moist air beside ISO 2533, IAPWS, CIPM-2007 and three libraries."""

from __future__ import annotations

import math

import fluids
import psychrolib
import pytest
from CoolProp.CoolProp import HAPropsSI, PropsSI
from support.printed import Printed

from ridesim.surroundings.air import (
    air_density_kg_m3,
    geopotential_m,
    saturation_pressure_pa,
    standard_pressure_pa,
    standard_temperature_k,
)
from ridesim.tables import cite, read_table

pytestmark = pytest.mark.published

ROUNDED_R = "dry air 287.05 here, 287.05287 J/(kg K) in the standard: 1 part in 100 000"
ROUNDED_UP = "701.2114 by the formula of the standard: the print is a unit of its sixth digit high"
IDEAL = "each gas taken as ideal: compressibility and the enhancement of the vapour make up to 0.07 %"
ROUNDED_GAS = "287.05 and 461.5 here, 287.042 and 461.524 J/(kg K) there"
WITHIN = "the bound set for this project: 0.1 % of a reference library from -20 to 50 °C"


def standard_atmosphere():
    for row in read_table("standard_atmosphere"):
        altitude = float(row["altitude_m"])
        h = altitude if row["altitude_kind"] == "geopotential" else geopotential_m(altitude)
        at = {"given": f"{row['altitude_m']} m {row['altitude_kind']}", "source": cite(row)}
        name = f"{row['altitude_kind']}-{row['altitude_m']}"
        yield Printed(id=f"atmosphere-temperature-{name}", quantity="standard temperature",
                      printed=row["temperature_k"], unit="K", compute=lambda h=h: standard_temperature_k(h), **at)
        up = name == "geometric-3000"
        yield Printed(id=f"atmosphere-pressure-{name}", quantity="standard pressure", printed=row["pressure_hpa"],
                      unit="hPa", tolerance=0.0006 if up else None, reason=ROUNDED_UP if up else "",
                      compute=lambda h=h: standard_pressure_pa(h) / 100, **at)
        yield Printed(
            id=f"atmosphere-density-{name}", quantity="standard density, dry", printed=row["density_kg_m3"],
            unit="kg/m3", tolerance=2e-5 * float(row["density_kg_m3"]), reason=ROUNDED_R,
            compute=lambda h=h: air_density_kg_m3(standard_pressure_pa(h), standard_temperature_k(h), 0.0), **at)


def standard_atmosphere_by_fluids():
    for height in (-500, 0, 300, 800, 1200, 2000, 3300, 5000, 8000, 10900):
        there = fluids.ATMOSPHERE_1976(height)
        yield Printed(
            id=f"atmosphere-fluids-{height}", quantity="standard pressure", given=f"{height} m geometric",
            printed=f"{there.P:.2f}", unit="Pa", source="fluids, ATMOSPHERE_1976",
            tolerance=0.005 + 7.1e-7 * there.P * abs(math.log(101325 / there.P)),
            reason="R = 8314.32/28.9644 J/(kg K) there, 287.05287 in the standard: 7e-7 in the exponent",
            compute=lambda height=height: standard_pressure_pa(geopotential_m(height)))


def saturation():
    psychrolib.SetUnitSystem(psychrolib.SI)
    for celsius in range(-20, 51, 5):
        kelvin = celsius + 273.15
        compute = lambda kelvin=kelvin: saturation_pressure_pa(kelvin)  # noqa: E731
        there = psychrolib.GetSatVapPres(celsius)
        yield Printed(
            id=f"saturation-psychrolib-{celsius}", quantity="saturation pressure", given=f"{celsius} °C",
            printed=f"{there:.4f}", unit="Pa", source="psychrolib, GetSatVapPres (ASHRAE)", compute=compute)
        ice = celsius < 0.01
        if ice:
            there, how = HAPropsSI("P_w", "T", kelvin, "P", 2000.0, "R", 1.0), "HAPropsSI P_w at 2 kPa, ice"
        else:
            there, how = PropsSI("P", "T", kelvin, "Q", 0, "Water"), "PropsSI, IAPWS-95"
        yield Printed(
            id=f"saturation-coolprop-{celsius}", quantity="saturation pressure", given=f"{celsius} °C",
            printed=f"{there:.4f}", unit="Pa", source=f"CoolProp, {how}", tolerance=1e-3 * there, reason=WITHIN,
            compute=compute)
    for row in read_table("saturation_pressure"):
        yield Printed(
            id=f"saturation-{row['source']}-{row['temperature_c']}", quantity="saturation pressure",
            given=f"{row['temperature_c']} °C", printed=row["pressure_pa"], unit="Pa", source=cite(row),
            tolerance=1e-3 * float(row["pressure_pa"]), reason=WITHIN,
            compute=lambda row=row: saturation_pressure_pa(float(row["temperature_c"]) + 273.15))


def moist_air():
    psychrolib.SetUnitSystem(psychrolib.SI)
    for number, row in enumerate(read_table("moist_air_density"), start=1):
        celsius, pressure, humidity = (float(row[c]) for c in ("temperature_c", "pressure_pa", "relative_humidity"))
        kelvin = celsius + 273.15
        ratio = psychrolib.GetHumRatioFromRelHum(celsius, humidity, pressure)
        ours = {"quantity": "density of moist air", "given": row["case"], "unit": "kg/m3",
                "compute": lambda p=pressure, t=kelvin, h=humidity: air_density_kg_m3(p, t, h)}
        yield Printed(id=f"density-cipm-{number}", printed=row["cipm_2007_kg_m3"], source=cite(row),
                      tolerance=7e-4 * float(row["cipm_2007_kg_m3"]), reason=IDEAL, **ours)
        there = (1 + HAPropsSI("W", "T", kelvin, "P", pressure, "R", humidity)) / HAPropsSI(
            "Vda", "T", kelvin, "P", pressure, "R", humidity)
        yield Printed(id=f"density-coolprop-{number}", printed=f"{there:.6f}", source="CoolProp, HAPropsSI",
                      tolerance=7e-4 * there, reason=IDEAL, **ours)
        there = psychrolib.GetMoistAirDensity(celsius, ratio, pressure)
        yield Printed(id=f"density-psychrolib-{number}", printed=f"{there:.6f}",
                      source="psychrolib, GetMoistAirDensity", tolerance=8e-5 * there, reason=ROUNDED_GAS, **ours)


@pytest.mark.parametrize("case", [*standard_atmosphere(), *standard_atmosphere_by_fluids()], ids=str)
def test_the_standard_atmosphere_is_the_printed_one(case, beside):
    beside(case)


@pytest.mark.parametrize("case", [*saturation()], ids=str)
def test_saturation_pressure_is_that_of_the_references(case, beside):
    beside(case)


@pytest.mark.parametrize("case", [*moist_air()], ids=str)
def test_moist_air_weighs_what_the_references_say(case, beside):
    beside(case)
