"""Cruising: in each gear at one speed, the engine speed, the power in hand, the hill and the wind it holds, the fuel."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray

from ridesim.mechanics.equations import engine_slope_rad
from ridesim.mechanics.fuel import consumption_m3_per_m, fuel_power_w
from ridesim.mechanics.traction import GearRows
from ridesim.units import G

Array = NDArray[np.float64]


@dataclass(frozen=True, kw_only=True, eq=False)
class Cruise:
    """Figures at the ride's cruising speed, (S, G), SI; nan in a gear that cannot turn at that speed."""

    engine_speed_rad_s: Array
    holds: Any  # bool (S, G)
    needed_w: Array
    available_w: Array
    slope_held_rad: Array
    headwind_held_m_s: Array
    fuel_m3_per_m: Array
    range_m: Array


def headwind_held_m_s(thrust_n: Any, steady_resistance_n: Any, f2_n_s2_m2: Any, speed_m_s: Any) -> Any:
    """Wind at which the thrust is just used up:  f2 (v + w)|v + w| = F - R_steady.

    Parameters
    ----------
    thrust_n : At the wheel. [N]
    steady_resistance_n : All resistance but the air's. [N]
    f2_n_s2_m2 : Half rho CdA. [N/(m/s)2]
    speed_m_s : [m/s]

    Returns
    -------
    Below 0 it takes a tail wind. [m/s]

    Examples
    --------
    >>> float(round(headwind_held_m_s(400.0, 40.0, 0.36, 25.0), 3))
    6.623
    """
    left = np.subtract(thrust_n, steady_resistance_n)
    return np.sign(left) * np.sqrt(np.abs(left) / f2_n_s2_m2) - speed_m_s


def cruise(rows: GearRows) -> Cruise:
    """Every gear at the ride's cruising speed."""
    v, cells, s, shape = float(rows.ride.cruise_m_s), rows.cells, rows.setups, rows.setups.ratios.shape
    w = v / rows["meters_per_radian"]
    turns = (w >= cells.first * (1 - 1e-12)) & (w <= cells.last * (1 + 1e-12))
    thrust = np.where(turns, rows.at(np.clip(w, cells.first, cells.last)).thrust, np.nan)
    resistance, f2 = rows.resistance_n(v), rows["f2_n_s2_m2"]
    drag = rows.drag_n(v)
    with np.errstate(divide="ignore", invalid="ignore"):
        wind = headwind_held_m_s(thrust, resistance - drag, f2, v)
        # what the crank gives to hold the speed; on the overrun the engine gives nothing
        brake = np.maximum(resistance * v, 0.0).reshape(shape) / s.column("efficiency")
        volume, efficiency = s.column("displacement_m3"), s.column("indicated_efficiency")
        power = fuel_power_w(brake, volume, w.reshape(shape), s.cycle, efficiency)
        used = consumption_m3_per_m(power, v, s.column("fuel_density_kg_m3"))
        fuel = np.where(turns.reshape(shape), used, np.nan)
        reach = s.column("tank_m3") / fuel
        left = thrust - drag - rows["f1_n_s_m"] * v
        walls = np.abs(left) > rows["mass_kg"] * G * np.sqrt(1.0 + rows["rolling_coefficient"] ** 2)
        slope = engine_slope_rad(left, rows["mass_kg"], rows["rolling_coefficient"])
        figures = {
            "engine_speed_rad_s": np.where(turns, w, np.nan),
            "holds": turns & (thrust >= resistance),
            "needed_w": resistance * v,
            "available_w": thrust * v,
            "slope_held_rad": np.where(walls, np.nan, slope),  # it would climb a wall
            "headwind_held_m_s": np.where(f2 > 0, wind, np.inf),
            "fuel_m3_per_m": fuel,
            "range_m": reach,
        }
    return Cruise(**{name: value.reshape(shape) for name, value in figures.items()})
