"""Figures of air, of holes, of carburetors and mixtures."""

from __future__ import annotations

import math
import re
from typing import Any

from support.ledger.figures import figure

from ridesim.environment import air, power_correction
from ridesim.fueling import fuel_air, jets, orifice


# --- air ---
def _height(altitude: float | None, geometric: float | None) -> float:
    return air.geopotential_m(geometric) if altitude is None else altitude


@figure("standard temperature", air.standard_temperature_k, "temperature")
def _(altitude: Any = None, geometric: Any = None) -> Any:
    return air.standard_temperature_k(_height(altitude, geometric))


@figure("standard pressure", air.standard_pressure_pa, "pressure")
def _standard_pressure(altitude: Any = None, geometric: Any = None) -> Any:
    return air.standard_pressure_pa(_height(altitude, geometric))


@figure("standard density, dry", air.air_density_kg_m3, "density")
def _(altitude: Any = None, geometric: Any = None) -> Any:
    h = _height(altitude, geometric)
    return air.air_density_kg_m3(air.standard_pressure_pa(h), air.standard_temperature_k(h), 0.0)


figure("geopotential altitude", air.geopotential_m, "length")(air.geopotential_m)
figure("saturation pressure", air.saturation_pressure_pa, "pressure")(lambda t: air.saturation_pressure_pa(t))
figure("vapor pressure", air.vapor_pressure_pa, "pressure")(lambda t, humidity: air.vapor_pressure_pa(t, humidity))
figure("density of air", air.air_density_kg_m3, "density")(
    lambda p, t, humidity=0.0: air.air_density_kg_m3(p, t, humidity)
)


@figure("pressure of the dry air", air.air, "pressure")
def _(p: float, t: float, humidity: float) -> float:
    return air.air(pressure_pa=p, temperature_k=t, relative_humidity=humidity).dry_pressure_pa


@figure("power correction factor", power_correction.correction_factor)
def _(standard: str, p: float, t: float, vapor: float = 0.0) -> Any:
    law = power_correction.STANDARDS[standard]
    return law.equation(p - vapor if law.dry else p, t)


# --- holes, humidity as 40 CFR 1065 has it ---
figure("saturation pressure, Goff", orifice.goff_saturation_pressure_pa, "pressure")(
    lambda t: orifice.goff_saturation_pressure_pa(t)
)
figure("share of water", orifice.water_fraction)(
    lambda t, p, humidity=1.0: orifice.water_fraction(humidity * orifice.goff_saturation_pressure_pa(t), p)
)
figure("molar mass of moist air", orifice.moist_air_molar_mass_kg_mol)(
    lambda water: 1e3 * orifice.moist_air_molar_mass_kg_mol(water)
)
figure("critical flow coefficient", orifice.critical_pressure_ratio)(
    lambda beta, gamma: orifice.flow_coefficient(orifice.critical_pressure_ratio(beta, gamma), beta, gamma)
)


@figure("flow coefficient", orifice.flow_coefficient)
def _flow_coefficient(p: float, drop: float, beta: float, gamma: float) -> Any:
    return orifice.flow_coefficient(1 - drop / p, beta, gamma)


@figure("discharge coefficient", orifice.discharge_coefficient)
def _(flow: float, p: float, drop: float, beta: float, gamma: float, t: float, area: float, molar_mass: float) -> Any:
    ideal = _flow_coefficient(p, drop, beta, gamma)
    return orifice.discharge_coefficient(flow, ideal, area, p, 1e-3 * molar_mass, t)


@figure("molar flow", orifice.molar_flow_mol_s)
def _(cd: float, p: float, t: float, area: float, molar_mass: float, cf: Any = None, **hole: float) -> Any:
    coefficient = _flow_coefficient(p, **hole) if cf is None else cf
    return orifice.molar_flow_mol_s(cd, coefficient, area, p, 1e-3 * molar_mass, t)


# --- carburetor and mixture ---
def _suction_pa(flow_kg_s: float, cd: float, diameter: float, density: float) -> float:
    """Flow goes with the root of the suction, so the flow at 1 Pa tells the suction of any flow."""
    at_one = orifice.incompressible_flow_kg_s(cd, math.pi / 4 * diameter**2, density, 1.0)
    return float((flow_kg_s / at_one) ** 2)


@figure("suction of a flow", orifice.incompressible_flow_kg_s, "pressure")
def _(flow_kg_s: float, cd: float, diameter: float, density: float) -> float:
    return _suction_pa(flow_kg_s, cd, diameter, density)


@figure("air-fuel ratio of an elementary carburetor", fuel_air.elementary_air_fuel_ratio)
def _elementary(
    throat: float,
    jet: float,
    air_cd: float,
    fuel_cd: float,
    air_density: float,
    fuel_density: float,
    suction: float,
    lip: float,
) -> Any:
    return fuel_air.elementary_air_fuel_ratio(
        throat_diameter_m=throat,
        jet_bore_m=jet,
        air_coefficient=air_cd,
        fuel_coefficient=fuel_cd,
        air_density_kg_m3=air_density,
        fuel_density_kg_m3=fuel_density,
        suction_pa=suction,
        lip_m=lip,
    )


@figure("diameter of the fuel jet", fuel_air.elementary_air_fuel_ratio, "length")
def _(
    fuel_kg_s: float,
    air_fuel: float,
    throat: float,
    air_cd: float,
    fuel_cd: float,
    p: float,
    t: float,
    lip: float,
    fuel_density: float,
) -> float:
    density = p / (287.0 * t)
    suction = _suction_pa(fuel_kg_s * air_fuel, air_cd, throat, density)
    of_one_mm = _elementary(throat, 1e-3, air_cd, fuel_cd, density, fuel_density, suction, lip)
    return 1e-3 * math.sqrt(of_one_mm / air_fuel)  # air per fuel goes with 1 / d^2


figure("air-fuel ratio behind an air cleaner", fuel_air.intake_loss_richness_ratio)(
    lambda air_fuel, suction, loss: air_fuel / fuel_air.intake_loss_richness_ratio(suction, loss)
)


@figure("air-fuel ratio at altitude", jets.richness_ratio)
def _(air_fuel: float, t: float, altitude: float, lapse_k_m: float, decade_m: float) -> Any:
    """The example has an atmosphere of its own; the density ratio is its, the law is ours."""
    below = t - 0.15
    return air_fuel / jets.richness_ratio(1.0, 10 ** (-altitude / decade_m) * below / (below - lapse_k_m * altitude))


@figure("air-fuel ratio of complete combustion", fuel_air.stoichiometric_air_fuel_ratio)
def _(fuel: str = "", hydrogen: float = 0.0) -> Any:
    """A fuel by its formula, or by the share of hydrogen in its mass, the rest carbon."""
    if fuel:
        carbon, atoms = re.fullmatch(r"C(\d*)H(\d+)", fuel).groups()  # type: ignore[union-attr]
        per_carbon = int(atoms) / int(carbon or 1)
    else:
        per_carbon = hydrogen / fuel_air.HYDROGEN_KG_KMOL / ((1 - hydrogen) / fuel_air.CARBON_KG_KMOL)
    return fuel_air.stoichiometric_air_fuel_ratio(per_carbon)


figure("fuel-air ratio of most power", fuel_air.most_power_mixture)(
    lambda end: 1 / getattr(fuel_air.most_power_mixture(), f"{end}_air_fuel")
)
