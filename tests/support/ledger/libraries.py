"""Figures as reference libraries return them, for tests/reference and for the ledger."""

from __future__ import annotations

import math
from functools import partial

import fluids
import psychrolib
from CoolProp.CoolProp import HAPropsSI, PropsSI
from scipy.optimize import brentq
from support.ledger.figures import label
from support.ledger.rows import Case

from ridesim.components import steering
from ridesim.environment import air
from ridesim.fueling import jets, needle

IDEAL = "each gas taken as ideal: compressibility and the enhancement of the vapor make up to 0.07 %"
ROUNDED_GAS = "287.05 and 461.5 here, 287.042 and 461.524 J/(kg K) there"
WITHIN = "the bound set for this project: 0.1 % of a reference library from -20 to 50 °C"
ITS_GAS = "R = 8314.32/28.9644 J/(kg K) there, 287.05287 in the standard: 7e-7 in the exponent"
FULL_FLOAT = "printed to the last digit of a double, where the order of operations shows"
AIRS = (  # °C, Pa, relative humidity
    (20, 101325, 0.5), (20, 101325, 0.0), (15, 101325, 0.0), (25, 100000, 0.3156), (25, 99000, 0.0),
    (30, 84556, 0.4), (35, 101325, 0.8), (0, 101325, 0.8), (20, 80000, 0.5), (10, 70108.5, 0.3),
)  # fmt: skip


def beside(figure, public, given, unit, compute, library, locator, id, printed, tolerance=None, reason=""):
    """The case of one library: a figure of ours for given inputs, and what the library returns for them."""
    return Case(
        id=id, figure=figure, function=label(public), given=given, printed=printed, unit=unit, source=library, locator=locator,
        standing="library", compute=lambda: float(compute()), tolerance=tolerance, reason=reason,
    )  # fmt: skip


def _moist(t, p, humidity):
    """Mass of dry and of moist air in a volume, by CoolProp. [kg/m3]"""
    state = ("T", t, "P", p, "R", humidity)
    dry = 1 / HAPropsSI("Vda", *state)
    return dry, dry * (1 + HAPropsSI("W", *state))


def _air():
    psychrolib.SetUnitSystem(psychrolib.SI)
    for height in (-500, 0, 300, 800, 1200, 2000, 3300, 5000, 8000, 10900):
        there = fluids.ATMOSPHERE_1976(height).P
        ours = lambda h=height: air.standard_pressure_pa(air.geopotential_m(h))  # noqa: E731
        asked = partial(beside, "standard pressure", air.standard_pressure_pa, f"{height} m geometric", "Pa", ours)
        off = 0.005 + 7.1e-7 * there * abs(math.log(101325 / there))
        yield asked("fluids", "ATMOSPHERE_1976", f"fluids-atmosphere-{height}", f"{there:.2f}", off, ITS_GAS)
    for celsius in range(-20, 51, 5):
        kelvin = celsius + 273.15
        ours = lambda t=kelvin: air.saturation_pressure_pa(t)  # noqa: E731
        asked = partial(beside, "saturation pressure", air.saturation_pressure_pa, f"{celsius} °C", "Pa", ours)
        there = psychrolib.GetSatVapPres(celsius)
        yield asked("psychrolib", "GetSatVapPres", f"psychrolib-psat-{celsius}", f"{there:.4f}")
        if celsius < 0.01:
            there, how = HAPropsSI("P_w", "T", kelvin, "P", 2000.0, "R", 1.0), "HAPropsSI P_w at 2 kPa, ice"
        else:
            there, how = PropsSI("P", "T", kelvin, "Q", 0, "Water"), "PropsSI, IAPWS-95"
        yield asked("coolprop", how, f"coolprop-psat-{celsius}", f"{there:.4f}", 1e-3 * there, WITHIN)
    for celsius, pressure, humidity in AIRS:
        kelvin = celsius + 273.15
        ours = lambda p=pressure, t=kelvin, h=humidity: air.air_density_kg_m3(p, t, h)  # noqa: E731
        state = f"{celsius} °C, {pressure} Pa, {humidity:.2%}"
        asked = partial(beside, "density of air", air.air_density_kg_m3, state, "kg/m3", ours)
        moisture = psychrolib.GetHumRatioFromRelHum(celsius, humidity, pressure)
        for library, how, there, off, why in (
            ("coolprop", "HAPropsSI Vda, W", _moist(kelvin, pressure, humidity)[1], 7e-4, IDEAL),
            ("psychrolib", "GetMoistAirDensity", psychrolib.GetMoistAirDensity(celsius, moisture, pressure), 8e-5, ROUNDED_GAS),
        ):  # fmt: skip
            name = f"{library}-density-{celsius}-{pressure}-{humidity}"
            yield asked(library, how, name, f"{there:.6f}", off * there, why)


def _fluids_flow(bore, drop, density, cd, pipe=100.0, eps=1.0):
    there = fluids.flow_meter.flow_meter_discharge(pipe, bore, 101325.0, 101325.0 - drop, density, cd, eps)
    return float(there)


def _in_series(first, second, drop):
    """Two holes one behind the other: the pressure between them at which both pass the same."""

    def more(between: float) -> float:
        return _fluids_flow(first, between, 745.0, 0.7) - _fluids_flow(second, drop - between, 745.0, 0.7)

    return _fluids_flow(first, float(brentq(more, 1e-6, drop - 1e-6, xtol=1e-9)), 745.0, 0.7)


def _air_per_fuel(bore, rho):
    """Through a throat of 34 mm and a jet, at one velocity of the air: the suction goes with its density."""
    drop = 3000.0 * rho / 1.2
    return _fluids_flow(0.034, drop, rho, 0.85) / _fluids_flow(bore, drop, 745.0, 0.7)


def _fuel():
    discharge = ("fluids", "flow_meter_discharge")
    for bore, rho in ((0.00145, 0.95), (0.00105, 1.2), (0.00130, 1.05)):
        there = _air_per_fuel(0.00130, 1.2) / _air_per_fuel(bore, rho)
        given = f"jet {1e3 * bore:g} mm in air of {rho} kg/m3 over 1.3 mm in 1.2 kg/m3"
        ours = lambda bore=bore, rho=rho: jets.richness_ratio(bore / 0.00130, rho / 1.2)  # noqa: E731
        asked = partial(beside, "mixture with another jet in other air", jets.richness_ratio, given, "-", ours)
        yield asked(*discharge, f"fluids-richness-{1e5 * bore:g}-{rho:g}", f"{there:.7f}")
    for first, second, drop in ((0.0015, 0.0012, 4000.0), (0.0009, 0.0014, 1500.0)):
        there = 1e6 * _in_series(first, second, drop) / (0.7 * math.sqrt(2 * 745.0 * drop))
        given = f"{1e3 * first:g} mm before {1e3 * second:g} mm, {drop:g} Pa"
        ours = lambda a=first, b=second: 1e6 * needle.series_area_m2(math.pi / 4 * a**2, math.pi / 4 * b**2)  # noqa: E731
        asked = partial(beside, "one hole for two in series", needle.series_area_m2, given, "mm2", ours)
        name = f"fluids-series-{1e5 * first:g}-{1e5 * second:g}"
        yield asked(*discharge, name, f"{there:.7f}", 1e-4 * there, "the library takes the holes in a pipe of 100 m")
    for place in ((1600.0, 28.0, 0.30), (0.0, 35.0, 0.95), (0.0, -5.0, 0.80)):
        airs = [_air_of(*at) for at in (place, (60.0, 21.0, 0.65))]
        found = (_moist(one.temperature_k, one.pressure_pa, one.relative_humidity) for one in airs)
        there, here = (dry**2 / moist for dry, moist in found)
        now, before = (one.metering_density_kg_m3 for one in airs)
        densities = {"metering_density_kg_m3": now, "reference_metering_density_kg_m3": before}
        ours = lambda given=densities: jets.jet_for_air(125, numbering="bore", step=2.5, **given).exact_size  # noqa: E731
        given = f"60 m, 21 °C, 65 % to {place[0]:g} m, {place[1]:g} °C, {place[2]:.0%}"
        asked = partial(beside, "bore that keeps the mixture of a 125 jet", jets.jet_for_air, given, "1/100 mm", ours)
        yield asked(
            "coolprop",
            "HAPropsSI, dry air squared over moist air in a volume, fourth root",
            f"coolprop-jet-{place[0]:g}-{place[1]:g}",
            f"{125 * (there / here) ** 0.25:.2f}",
            0.02,
            "ideal gas here, real gas there: 0.05 % in density is 0.02 in the size",
        )


def _air_of(altitude, celsius, humidity):
    return air.air(altitude_m=altitude, temperature_k=celsius + 273.15, relative_humidity=humidity)


def _steering():
    """The worked example in the docstring of the library's trail()."""
    by = "dynamicist-toolkit", "trail(), example in the docstring"
    for figure, public, printed in (
        ("trail", steering.trail_m, "0.002126763618252235"),
        ("mechanical trail", steering.mechanical_trail_m, "0.0020944533000790966"),
    ):
        ours = lambda public=public: public(0.3, math.radians(10), 0.05)  # noqa: E731
        asked = partial(beside, figure, public, "R 0.3 m, rake 10 deg, offset 0.05 m", "m", ours)
        yield asked(*by, f"toolkit-{figure.replace(' ', '-')}", printed, 1e-15, FULL_FLOAT)


def by_libraries() -> tuple[Case, ...]:
    """Every figure that a library returns beside ours."""
    return (*_air(), *_fuel(), *_steering())
