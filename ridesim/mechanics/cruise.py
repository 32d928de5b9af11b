"""Cruising: in each gear at one speed, the engine speed, the power in hand, the hill and the wind it holds, the fuel."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray

from ridesim.mechanics.forces import Forces
from ridesim.mechanics.fuel import consumption_m3_per_m, fuel_power_w
from ridesim.mechanics.setups import SetUps
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
    thrust_n : float or array
        At the wheel. [N]
    steady_resistance_n : float or array
        All resistance but the air's. [N]
    f2_n_s2_m2 : float or array
        Half rho CdA. [N/(m/s)2]
    speed_m_s : float or array
        [m/s]

    Returns
    -------
    float or array
        Below 0 it takes a tail wind. [m/s]

    Examples
    --------
    >>> float(round(headwind_held_m_s(400.0, 40.0, 0.36, 25.0), 3))
    6.623
    """
    left = np.subtract(thrust_n, steady_resistance_n)
    return np.sign(left) * np.sqrt(np.abs(left) / f2_n_s2_m2) - speed_m_s


def cruise(forces: Forces) -> Cruise:
    """Every gear at the ride's cruising speed."""
    s, pieces = forces.setups, forces.pieces
    v = float(forces.ride.cruise_m_s)
    # gear by gear, (G, S), as everything here but what is returned
    metres = np.ascontiguousarray(s.metres_per_radian.T)
    w = v / metres
    turns = (w >= pieces.first * (1 - 1e-12)) & (w <= pieces.last * (1 + 1e-12))
    torque = pieces.torque(np.minimum(np.maximum(w, pieces.first), pieces.last))
    thrust = np.where(turns, torque * (s.efficiency * s.torque_factor) / metres, np.nan)
    speed = np.full((len(s), 1), v)
    drag = forces.drag(speed)
    resistance, drag = forces.resistance(speed, drag)[:, 0], drag[:, 0]
    with np.errstate(divide="ignore", invalid="ignore"):
        wind = headwind_held_m_s(thrust, resistance - drag, s.f2_n_s2_m2, v)
        # what the crank gives to hold the speed; on the overrun the engine gives nothing
        brake = np.maximum(resistance * v, 0.0) / s.efficiency
        power = fuel_power_w(brake, s.displacement_m3, w, s.cycle, s.indicated_efficiency)
        fuel = np.where(turns, consumption_m3_per_m(power, v, s.fuel_density_kg_m3), np.nan)
        reach = s.tank_m3 / fuel
        holds = turns & (thrust >= resistance)
    return Cruise(
        engine_speed_rad_s=np.where(turns, w, np.nan).T,
        holds=holds.T,
        needed_w=np.repeat(resistance * v, len(w)).reshape(-1, len(w)),
        available_w=(thrust * v).T,
        slope_held_rad=_slope_held(s, thrust - drag - s.f1_n_s_m * v).T,
        headwind_held_m_s=np.where(s.f2_n_s2_m2 > 0, wind, np.inf).T,
        fuel_m3_per_m=fuel.T,
        range_m=reach.T,
    )


def _slope_held(s: SetUps, left: Array) -> Array:
    """Slope at which what is left after the air is used up, nan where it would climb a wall:
    sin(th + atan C) = (F - F_D - f1 v) / (m g sqrt(1 + C^2))."""
    weight = s.mass_kg * G
    rolling = s.f0_n / weight
    share = left / (weight * np.sqrt(1.0 + rolling**2))
    possible = np.abs(share) <= 1.0
    return np.where(possible, np.arcsin(np.where(possible, share, 0.0)) - np.arctan(rolling), np.nan)
