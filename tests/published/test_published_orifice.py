"""The worked examples and Table 2 of 40 CFR 1065.640 to 645, and flow through a hole beside the fluids library."""

from __future__ import annotations

import fluids
import pytest
from support.printed import Printed

from ridesim.bench.orifice import (
    AIR_GAMMA,
    DRY_AIR_KG_MOL,
    critical_pressure_ratio,
    discharge_coefficient,
    flow_coefficient,
    goff_saturation_pressure_pa,
    incompressible_flow_kg_s,
    moist_air_molar_mass_kg_mol,
    molar_flow_mol_s,
    water_fraction,
)
from ridesim.tables import cite, read_table

pytestmark = pytest.mark.published


def _ratio(pressure_kpa, drop_kpa):
    return 1 - drop_kpa / pressure_kpa


def _subsonic(pressure_kpa, drop_kpa, beta, gamma):
    return flow_coefficient(_ratio(pressure_kpa, drop_kpa), beta, gamma)


def _critical(beta, gamma):
    return flow_coefficient(critical_pressure_ratio(beta, gamma), beta, gamma)


def _discharge(molar_flow, pressure_kpa, drop_kpa, beta, gamma, temperature_k, area_m2, molar_mass_g):
    ideal = _subsonic(pressure_kpa, drop_kpa, beta, gamma)
    return discharge_coefficient(molar_flow, ideal, area_m2, 1e3 * pressure_kpa, 1e-3 * molar_mass_g, temperature_k)


def _flow(discharge, coefficient, pressure_kpa, temperature_k, area_m2, molar_mass_g):
    return molar_flow_mol_s(discharge, coefficient, area_m2, 1e3 * pressure_kpa, 1e-3 * molar_mass_g, temperature_k)


COMPUTE = {
    "saturation pressure": lambda temperature_c: goff_saturation_pressure_pa(temperature_c + 273.15) / 1e3,
    "water fraction of dew point": lambda temperature_c, pressure_kpa: water_fraction(
        goff_saturation_pressure_pa(temperature_c + 273.15), 1e3 * pressure_kpa),
    "water fraction of relative humidity": lambda temperature_c, pressure_kpa, relative_humidity: water_fraction(
        relative_humidity * goff_saturation_pressure_pa(temperature_c + 273.15), 1e3 * pressure_kpa),
    "molar mass of moist air": lambda water: 1e3 * moist_air_molar_mass_kg_mol(water),
    "pressure ratio": _ratio,
    "subsonic flow coefficient": _subsonic,
    "critical flow coefficient": _critical,
    "critical molar flow": _flow,
    "subsonic molar flow": lambda discharge, pressure_kpa, drop_kpa, beta, gamma, **rest: _flow(
        discharge, _subsonic(pressure_kpa, drop_kpa, beta, gamma), pressure_kpa, **rest),
    "discharge coefficient": _discharge,
}
ROUNDED_CF = "the example goes on with Cf rounded to 0.274, of which half a digit is 0.18 %"
LOOSER = {
    "subsonic-cd": (0.0005 + 0.982 * 0.0005 / 0.274, ROUNDED_CF),
    "subsonic-flow": (58.173 * 0.0005 / 0.274, ROUNDED_CF),
    "subsonic-ratio": (0.021, "misprint: 1 - 2.312/99.132 is 0.977, and Cf = 0.274 follows from 0.977"),
}


def regulation():
    for row in read_table("humidity_orifice_examples"):
        given = {k.strip(): float(v) for k, v in (pair.split("=") for pair in row["given"].split(";"))}
        tolerance, reason = LOOSER.get(row["id"], (None, ""))
        yield Printed(
            id=f"orifice-{row['id']}", quantity=row["quantity"], given=row["given"], printed=row["printed"],
            unit=row["unit"], source=cite(row), tolerance=tolerance, reason=reason,
            compute=lambda row=row, given=given: COMPUTE[row["quantity"]](**given))


def by_fluids():
    """Flow computed here from Cf, or without compression, beside fluids' C eps A sqrt(2 rho dp) / sqrt(1 - beta^4)."""
    inlet, kelvin = 101325.0, 293.15
    for pipe, hole in ((0.050, 0.040), (0.060, 0.030), (10.0, 0.025)):
        beta, area = hole / pipe, 3.141592653589793 / 4 * hole**2
        at = f"hole {1e3 * hole:g} mm in {1e3 * pipe:g} mm"
        for drop in (200.0, 2000.0, 20000.0):
            density = inlet * DRY_AIR_KG_MOL / (8.314472 * kelvin)
            eps = fluids.flow_meter.nozzle_expansibility(pipe, hole, inlet, inlet - drop, AIR_GAMMA)
            for name, factor, compute in (
                ("gas", eps, lambda b=beta, a=area, d=drop: DRY_AIR_KG_MOL * molar_flow_mol_s(
                    0.62, flow_coefficient(1 - d / inlet, b), a, inlet, DRY_AIR_KG_MOL, kelvin)),
                ("incompressible", 1.0, lambda b=beta, a=area, d=drop, rho=density: incompressible_flow_kg_s(
                    0.62, a, rho, d, b)),
            ):
                there = fluids.flow_meter.flow_meter_discharge(pipe, hole, inlet, inlet - drop, density, 0.62, factor)
                yield Printed(
                    id=f"orifice-fluids-{name}-{1e3 * hole:g}mm-{drop:g}pa", quantity=f"mass flow, {name}",
                    given=f"{at}, {drop:g} Pa of suction", printed=f"{there:.9f}", unit="kg/s",
                    source="fluids, flow_meter_discharge with nozzle_expansibility", compute=compute)


@pytest.mark.parametrize("case", [*regulation()], ids=str)
def test_the_examples_of_the_regulation_come_out(case, beside):
    beside(case)


@pytest.mark.parametrize("case", [*by_fluids()], ids=str)
def test_flow_through_a_hole_is_that_of_the_library(case, beside):
    beside(case)
