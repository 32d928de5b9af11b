"""Fuel burnt at part load by a Willans line: what the crank gives, plus friction, over an indicated efficiency. Arguments broadcast."""

from __future__ import annotations

from typing import Any

import numpy as np

from ridesim.units import rpm

HEATING_VALUE_J_KG = 43.5e6  # assumption, gasoline
DENSITY_KG_M3 = 745.0  # assumption, gasoline


def friction_pressure_pa(engine_speed_rad_s: Any) -> Any:
    """Friction mean effective pressure:  fmep [bar] = 0.97 + 0.15 (n/1000) + 0.05 (n/1000)^2.

    Barnes-Moss's line as printed by Heywood (from memory): made for automobile engines, shown as an assumption.

    Parameters
    ----------
    engine_speed_rad_s : [rad/s]

    Returns
    -------
    [Pa]

    Examples
    --------
    >>> float(round(friction_pressure_pa(418.879), 0))
    237000.0
    """
    thousands = rpm(np.asarray(engine_speed_rad_s, dtype=float)) / 1000.0
    return 1e5 * (0.97 + 0.15 * thousands + 0.05 * thousands**2)


def friction_power_w(displacement_m3: Any, engine_speed_rad_s: Any, cycle: int) -> Any:
    """Power lost to friction:  fmep V_d n / (2 x 60) for a four-stroke, n/60 for a two-stroke.

    Parameters
    ----------
    displacement_m3 : [m3]
    engine_speed_rad_s : [rad/s]
    cycle : 2 or 4
        Strokes a cycle.

    Returns
    -------
    [W]

    Examples
    --------
    >>> float(round(friction_power_w(463e-6, 418.879, 4), 0))
    3658.0
    """
    cycles_per_second = np.asarray(engine_speed_rad_s, dtype=float) / (np.pi * cycle)
    return friction_pressure_pa(engine_speed_rad_s) * displacement_m3 * cycles_per_second


def fuel_power_w(brake_power_w: Any, displacement_m3: Any, engine_speed_rad_s: Any, cycle: int, efficiency: Any) -> Any:
    """Heat in the fuel burnt each second:  (P_brake + P_friction) / eta_i.

    Parameters
    ----------
    brake_power_w : At the crank. [W]
    displacement_m3 : [m3]
    engine_speed_rad_s : [rad/s]
    cycle : 2 or 4
        Strokes a cycle.
    efficiency : Indicated. [-]

    Returns
    -------
    [W]

    Examples
    --------
    >>> float(round(fuel_power_w(9000.0, 463e-6, 418.879, 4, 0.36), 0))
    35160.0
    """
    return (np.asarray(brake_power_w) + friction_power_w(displacement_m3, engine_speed_rad_s, cycle)) / efficiency


def consumption_m3_per_m(
    fuel_w: Any, speed_m_s: Any, density_kg_m3: Any = DENSITY_KG_M3, heating_j_kg: Any = HEATING_VALUE_J_KG
) -> Any:
    """Fuel volume for a distance:  P_fuel / (rho H v).

    Parameters
    ----------
    fuel_w : [W]
    speed_m_s : Above 0. [m/s]
    density_kg_m3 : [kg/m3]
    heating_j_kg : Net heating value. [J/kg]

    Returns
    -------
    1 l/100 km is 1e-8. [m3/m]

    Examples
    --------
    >>> float(round(consumption_m3_per_m(36871.0, 27.7778) * 1e8, 2))
    4.1
    """
    return np.asarray(fuel_w) / (np.multiply(density_kg_m3, heating_j_kg) * speed_m_s)
