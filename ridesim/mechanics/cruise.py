"""Cruising: in each gear at one speed, the engine speed, the power in hand, the hill and the wind it holds, the fuel."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import numpy as np

from ridesim.mechanics.equations import engine_slope_rad
from ridesim.mechanics.fuel import consumption_m3_per_m, fuel_power_w
from ridesim.mechanics.setups import Array
from ridesim.mechanics.traction import GearRows
from ridesim.units import G


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
    mass, meters, f1, f2, rolling = (
        column.reshape(shape)
        for column in rows.several("mass_kg", "meters_per_radian", "f1_n_s_m", "f2_n_s2_m2", "rolling_coefficient")
    )
    w, drag, resistance = v / meters, rows.drag_n(v).reshape(shape), rows.resistance_n(v).reshape(shape)
    turns = (w >= cells.first * (1 - 1e-12)) & (w <= cells.last * (1 + 1e-12))
    thrust = np.where(turns, rows.at(np.clip(w, cells.first, cells.last).ravel()).thrust.reshape(shape), np.nan)
    with np.errstate(divide="ignore", invalid="ignore"):
        # what the crank gives to hold the speed; on the overrun the engine gives nothing
        brake = np.maximum(resistance * v, 0.0) / s.column("efficiency")
        power = fuel_power_w(brake, s.column("displacement_m3"), w, s.cycle, s.column("indicated_efficiency"))
        fuel = np.where(turns, consumption_m3_per_m(power, v, s.column("fuel_density_kg_m3")), np.nan)
        left = thrust - drag - f1 * v
        walls = np.abs(left) > mass * G * np.sqrt(1.0 + rolling**2)  # it would climb a wall
        return Cruise(
            engine_speed_rad_s=np.where(turns, w, np.nan),
            holds=turns & (thrust >= resistance),
            needed_w=resistance * v,
            available_w=thrust * v,
            slope_held_rad=np.where(walls, np.nan, engine_slope_rad(left, mass, rolling)),
            headwind_held_m_s=np.where(f2 > 0, headwind_held_m_s(thrust, resistance - drag, f2, v), np.inf),
            fuel_m3_per_m=fuel,
            range_m=s.column("tank_m3") / fuel,
        )
