"""Cruising: in each gear at one speed, the engine speed, the power in hand, the hill and the wind it holds, the fuel."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray

from ridesim.mechanics.forces import Forces
from ridesim.mechanics.fuel import consumption_m3_per_m, fuel_power_w
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


def _slope_held(forces: Forces, v: Array, left: Array) -> Array:
    """Slope at which what is left after the air is used up, nan where it would climb a wall:
    sin(th + atan C) = (F - F_D - f1 v) / (m g sqrt(1 + C^2))."""
    s = forces.setups
    weight = s.column("mass_kg") * G
    rolling = s.column("f0_n") / weight
    share = (left - s.column("f1_n_s_m") * v) / (weight * np.sqrt(1.0 + rolling**2))
    possible = np.abs(share) <= 1.0
    return np.where(possible, np.arcsin(np.where(possible, share, 0.0)) - np.arctan(rolling), np.nan)


def cruise(forces: Forces) -> Cruise:
    """Every gear at the ride's cruising speed."""
    s, pieces, ride = forces.setups, forces.pieces, forces.ride
    v = np.full(s.ratios.shape, float(ride.cruise_m_s))
    w = v / s.metres_per_radian
    turns = (w >= pieces.first * (1 - 1e-12)) & (w <= pieces.last * (1 + 1e-12))
    inside = np.clip(w, pieces.first, pieces.last)
    thrust = np.where(turns, forces.thrust(inside), np.nan)
    drag = forces.drag(v)
    resistance = forces.resistance(v, drag)
    slope = np.where(turns, _slope_held(forces, v, thrust - drag), np.nan)
    with np.errstate(divide="ignore", invalid="ignore"):
        wind = headwind_held_m_s(thrust, resistance - drag, s.column("f2_n_s2_m2"), v)
        # what the crank gives to hold the speed; on the overrun the engine gives nothing
        brake = np.maximum(resistance * v, 0.0) / s.column("efficiency")
        fuel = consumption_m3_per_m(
            fuel_power_w(brake, s.column("displacement_m3"), w, s.cycle, s.column("indicated_efficiency")), v,
            s.column("fuel_density_kg_m3"))
        reach = s.column("tank_m3") / fuel
    return Cruise(
        engine_speed_rad_s=np.where(turns, w, np.nan), holds=turns & (np.nan_to_num(thrust) >= resistance),
        needed_w=resistance * v, available_w=thrust * v, slope_held_rad=slope,
        headwind_held_m_s=np.where(s.column("f2_n_s2_m2") > 0, wind, np.inf),
        fuel_m3_per_m=np.where(turns, fuel, np.nan), range_m=np.where(turns, reach, np.nan))


