"""Figures of air, of holes, of carburetors and mixtures."""

from __future__ import annotations

import re

from support.ledger.figures import figure

from ridesim.environment import air, power_correction
from ridesim.fueling import jets, mixture_power


# --- air ---
def _height(altitude, geometric):
    return air.geopotential_m(geometric) if altitude is None else altitude


figure("standard temperature", air.standard_temperature_k, "temperature")(
    lambda altitude=None, geometric=None: air.standard_temperature_k(_height(altitude, geometric))
)


@figure("standard pressure", air.standard_pressure_pa, "pressure")
def _standard_pressure(altitude=None, geometric=None):
    return air.standard_pressure_pa(_height(altitude, geometric))


@figure("standard density, dry", air.air_density_kg_m3, "density")
def _(altitude=None, geometric=None):
    h = _height(altitude, geometric)
    return air.air_density_kg_m3(air.standard_pressure_pa(h), air.standard_temperature_k(h), 0.0)


figure("geopotential altitude", air.geopotential_m, "length")(air.geopotential_m)
figure("saturation pressure", air.saturation_pressure_pa, "pressure")(lambda t: air.saturation_pressure_pa(t))
figure("vapor pressure", air.vapor_pressure_pa, "pressure")(lambda t, humidity: air.vapor_pressure_pa(t, humidity))
figure("density of air", air.air_density_kg_m3, "density")(
    lambda p, t, humidity=0.0: air.air_density_kg_m3(p, t, humidity)
)
figure("pressure of the dry air", air.air, "pressure")(
    lambda p, t, humidity: air.air(pressure_pa=p, temperature_k=t, relative_humidity=humidity).dry_pressure_pa
)


@figure("power correction factor", power_correction.correction_factor)
def _(standard, p, t, vapor=0.0):
    law = power_correction.STANDARDS[standard]
    return law.equation(p - vapor if law.dry else p, t)


# --- carburetor and mixture ---
@figure("air-fuel ratio at altitude", jets.richness_ratio)
def _(air_fuel, t, altitude, lapse_k_m, decade_m):
    """The example has an atmosphere of its own; the density ratio is its, the law is ours."""
    below = t - 0.15
    return air_fuel / jets.richness_ratio(1.0, 10 ** (-altitude / decade_m) * below / (below - lapse_k_m * altitude))


@figure("air-fuel ratio of complete combustion", mixture_power.stoichiometric_air_fuel_ratio)
def _(fuel="", hydrogen=0.0):
    """A fuel by its formula, or by the share of hydrogen in its mass, the rest carbon."""
    if fuel:
        carbon, atoms = re.fullmatch(r"C(\d*)H(\d+)", fuel).groups()
        per_carbon = int(atoms) / int(carbon or 1)
    else:
        per_carbon = hydrogen / mixture_power.HYDROGEN_KG_KMOL / ((1 - hydrogen) / mixture_power.CARBON_KG_KMOL)
    return mixture_power.stoichiometric_air_fuel_ratio(per_carbon)


figure("fuel-air ratio of most power", mixture_power.most_power_fuel_air)(
    lambda end: mixture_power.most_power_fuel_air()[("lean", "rich").index(end)]
)
