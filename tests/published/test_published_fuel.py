"""Carburetor, needle and mixture beside worked examples of a textbook, a report's abstract, and reference libraries."""

from __future__ import annotations

import math

import fluids
import pytest
from CoolProp.CoolProp import HAPropsSI
from scipy.optimize import brentq
from support.printed import Printed

from ridesim.bench.fuel_air import (
    elementary_air_fuel_ratio,
    intake_loss_richness_ratio,
    most_power_mixture,
    stoichiometric_air_fuel_ratio,
)
from ridesim.bench.jets import jet_for_air, richness_ratio
from ridesim.bench.needle import series_area_m2
from ridesim.bench.openings import opening_flow
from ridesim.bench.orifice import incompressible_flow_kg_s
from ridesim.surroundings.air import air
from ridesim.tables import cite, read_table

pytestmark = pytest.mark.published


def _suction_pa(flow_kg_s, coefficient, diameter_m, density_kg_m3):
    """Flow goes with the root of the suction, so the flow at 1 Pa tells the suction of any flow."""
    at_one = incompressible_flow_kg_s(coefficient, math.pi / 4 * diameter_m**2, density_kg_m3, 1.0)
    return float((flow_kg_s / at_one) ** 2)


def _throat_suction(flow_kg_s, coefficient, diameter_mm, density_kg_m3):
    return _suction_pa(flow_kg_s, coefficient, diameter_mm / 1e3, density_kg_m3)


def _elementary(throat_mm, jet_mm, air_coefficient, fuel_coefficient, air_density_kg_m3, fuel_density_kg_m3, lip_mm,
                drop_bar):
    return elementary_air_fuel_ratio(
        throat_diameter_m=throat_mm / 1e3, jet_bore_m=jet_mm / 1e3, air_coefficient=air_coefficient,
        fuel_coefficient=fuel_coefficient, air_density_kg_m3=air_density_kg_m3, fuel_density_kg_m3=fuel_density_kg_m3,
        suction_pa=1e5 * drop_bar, lip_m=lip_mm / 1e3)


def _fuel_jet_mm(fuel_kg_s, air_fuel_ratio, throat_mm, air_coefficient, fuel_coefficient, pressure_bar, temperature_k,
                 lip_mm, fuel_density_kg_m3):
    density = 1e5 * pressure_bar / (287.0 * temperature_k)
    suction = _suction_pa(fuel_kg_s * air_fuel_ratio, air_coefficient, throat_mm / 1e3, density)
    of_one_mm = _elementary(throat_mm, 1.0, air_coefficient, fuel_coefficient, density, fuel_density_kg_m3, lip_mm,
                            suction / 1e5)
    return math.sqrt(of_one_mm / air_fuel_ratio)  # air per fuel goes with 1 / d^2


def _with_cleaner(air_fuel_ratio, throat_drop_bar, cleaner_mmhg):
    return air_fuel_ratio / intake_loss_richness_ratio(1e5 * throat_drop_bar, 13600 * 9.81 * cleaner_mmhg / 1e3)


def _at_altitude(air_fuel_ratio, temperature_c, altitude_m, lapse_c_m, decade_m):
    """The example has an atmosphere of its own; the density ratio is its, the law is ours."""
    below = temperature_c + 273
    density_ratio = 10 ** (-altitude_m / decade_m) * below / (below - lapse_c_m * altitude_m)
    return air_fuel_ratio / richness_ratio(1.0, density_ratio)


COMPUTE = {
    "suction of a flow": _throat_suction,
    "diameter of the fuel jet": _fuel_jet_mm,
    "air-fuel ratio with an air cleaner before the carburetor": _with_cleaner,
    "air-fuel ratio of an elementary carburetor": _elementary,
    "air-fuel ratio at altitude": _at_altitude,
}


def textbook():
    for row in read_table("carburetor_examples"):
        given = {k: float(v) for k, v in (pair.split("=") for pair in row["given"].split(";"))}
        yield Printed(id=f"carburetor-{row['id']}", quantity=row["quantity"], given=row["given"], printed=row["printed"],
                      unit=row["unit"], source=cite(row),
                      compute=lambda row=row, given=given: COMPUTE[row["quantity"]](**given))


def mixtures():
    report = "Sparrow, NACA Report No. 189 (1925), abstract, conclusion 1: fuel-air 0.07 to 0.08 by mass"
    for printed, end in (("0.07", "lean_air_fuel"), ("0.08", "rich_air_fuel")):
        yield Printed(id=f"most-power-{printed}", quantity="fuel-air ratio of most power", given=end, printed=printed,
                      unit="kg/kg", source=report, compute=lambda end=end: 1 / getattr(most_power_mixture(), end))
    yield Printed(
        id="stoichiometric-methane", quantity="air-fuel ratio of complete combustion", given="CH4", printed="17.19",
        unit="kg/kg", source="Integrated Gasification Combined Cycle (IGCC) Technologies, Woodhead 2017, methane example, "
        "https://www.oreilly.com/library/view/integrated-gasification-combined/9780081001851/",
        compute=lambda: stoichiometric_air_fuel_ratio(4.0), tolerance=0.05,
        reason="the source takes 3.76 mol nitrogen per mol oxygen and 28.97 kg/kmol of air, which is 0.3 % less air")


def _fluids_flow(bore_m, drop_pa, density_kg_m3, coefficient):
    inlet = 101325.0
    return fluids.flow_meter.flow_meter_discharge(100.0, bore_m, inlet, inlet - drop_pa, density_kg_m3, coefficient, 1.0)


def _by_fluids_in_series(first_m, second_m, drop_pa):
    """Two holes one behind the other: the pressure between them at which both pass the same."""
    def more(between):
        return (_fluids_flow(first_m, between, 745.0, 0.7) - _fluids_flow(second_m, drop_pa - between, 745.0, 0.7))

    return _fluids_flow(first_m, brentq(more, 1e-6, drop_pa - 1e-6, xtol=1e-9), 745.0, 0.7)


def libraries():
    for throat, jet, drop, rho in ((0.034, 0.00145, 3000.0, 1.2), (0.026, 0.00105, 8000.0, 0.95)):
        there = _fluids_flow(throat, drop, rho, 0.85) / _fluids_flow(jet, drop, 745.0, 0.7)
        yield Printed(
            id=f"air-fuel-fluids-{1e5 * jet:g}", quantity="air-fuel ratio of an elementary carburetor", unit="kg/kg",
            given=f"throat {1e3 * throat:g} mm, jet {1e3 * jet:g} mm, {drop:g} Pa, air {rho} kg/m3", printed=f"{there:.7f}",
            source="fluids, flow_meter_discharge for air and for fuel",
            compute=lambda throat=throat, jet=jet, drop=drop, rho=rho: elementary_air_fuel_ratio(
                throat_diameter_m=throat, jet_bore_m=jet, air_coefficient=0.85, fuel_coefficient=0.7, air_density_kg_m3=rho,
                fuel_density_kg_m3=745.0, suction_pa=drop))
    for first, second, drop in ((0.0015, 0.0012, 4000.0), (0.0009, 0.0014, 1500.0)):
        there = _by_fluids_in_series(first, second, drop)
        yield Printed(
            id=f"series-fluids-{1e5 * first:g}-{1e5 * second:g}", quantity="fuel through two holes in series", unit="g/s",
            given=f"{1e3 * first:g} mm before {1e3 * second:g} mm, {drop:g} Pa", printed=f"{1e3 * there:.7f}",
            source="fluids, flow_meter_discharge, the pressure between found so that both pass the same",
            compute=lambda first=first, second=second, drop=drop: 1e3 * incompressible_flow_kg_s(
                0.7, series_area_m2(math.pi / 4 * first**2, math.pi / 4 * second**2), 745.0, drop))
    yield Printed(
        id="opening-fluids", quantity="air through an intake opening", given="40 mm, 500 Pa, Cd 0.60", unit="g/s",
        printed=f"{1e3 * _fluids_flow(0.040, 500.0, 1.2, 0.60):.7f}", source="fluids, flow_meter_discharge",
        compute=lambda: 1e3 * opening_flow(math.pi / 4 * 0.040**2, density_kg_m3=1.2, suction_pa=500.0).low_kg_s)
    for altitude, celsius, humidity in ((1600.0, 28.0, 0.30), (0.0, 35.0, 0.95), (0.0, -5.0, 0.80)):
        there, here = _coolprop_metering(altitude, celsius, humidity), _coolprop_metering(200.0, 18.0, 0.55)
        yield Printed(
            id=f"jet-for-air-coolprop-{altitude:g}-{celsius:g}", quantity="bore that keeps the mixture of a 150 jet", unit="1/100 mm",
            given=f"200 m, 18 °C, 55 % to {altitude:g} m, {celsius:g} °C, {humidity:.0%}",
            printed=f"{150 * (there / here) ** 0.25:.2f}",
            source="CoolProp, HAPropsSI mass of dry air squared over that of humid air, a volume, fourth root",
            compute=lambda a=altitude, c=celsius, h=humidity: jet_for_air(
                150, numbering="bore", metering_density_kg_m3=_metering(a, c, h),
                reference_metering_density_kg_m3=_metering(200.0, 18.0, 0.55), step=2.5).exact_size,
            tolerance=0.02, reason="ideal gas here, real gas there: 0.05 % in density is 0.02 in the size")


def _metering(altitude_m, celsius, humidity):
    return air(altitude_m=altitude_m, temperature_k=celsius + 273.15, relative_humidity=humidity).metering_density_kg_m3


def _coolprop_metering(altitude_m, celsius, humidity):
    pressure = air(altitude_m=altitude_m, temperature_k=celsius + 273.15, relative_humidity=humidity).pressure_pa
    state = ("T", celsius + 273.15, "P", pressure, "R", humidity)
    dry = 1 / HAPropsSI("Vda", *state)
    return dry**2 / (dry * (1 + HAPropsSI("W", *state)))


@pytest.mark.parametrize("case", [*textbook()], ids=str)
def test_the_worked_examples_of_the_textbook_come_out(case, beside):
    beside(case)


@pytest.mark.parametrize("case", [*mixtures()], ids=str)
def test_mixtures_are_those_of_the_sources(case, beside):
    beside(case)


@pytest.mark.parametrize("case", [*libraries()], ids=str)
def test_flow_and_density_are_those_of_the_libraries(case, beside):
    beside(case)
