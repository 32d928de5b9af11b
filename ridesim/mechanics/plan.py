"""How a standing start goes through the gears: where each is entered and left, the shifts between, and how the run ends."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray

from ridesim.mechanics.forces import Forces
from ridesim.mechanics.thrust import Gears

Array = NDArray[np.float64]
NEAR_TOP = 1e-6  # closer than this to top speed the rest of the way is ridden at top speed


@dataclass(frozen=True, kw_only=True, eq=False)
class Plan:
    """Engine speeds at which each gear is entered and left, the shift before each gear (S, G), and how the run ends (S,)."""

    enter: Array
    leave: Array
    used: NDArray[np.bool_]
    shift_time: Array
    shift_distance: Array
    lost: NDArray[np.bool_]  # after a shift the engine would turn slower than the curve's first point


def plan(forces: Forces, figures: Gears, launch: float) -> Plan:
    """Every gear to its best shift point, or as near to its top speed as counts."""
    pieces, metres = forces.pieces, forces.setups.metres_per_radian
    first, last = pieces.first, pieces.last
    top = figures.top_speed_m_s / metres  # nan where the gear holds no speed
    shift = figures.upshift_rad_s.copy()
    shift[:, -1] = last
    ends_here = (top < shift) & ~figures.limited_by_revs
    leave = goal = np.where(ends_here, top * (1.0 - NEAR_TOP), shift)
    for _ in range(metres.shape[1]):
        enter, gone = _entries(forces, leave, launch)
        inside = np.minimum(np.maximum(enter, first), last)
        later = np.maximum(goal, inside)  # a gear entered past its shift point is left at once
        if (later == leave).all():
            break
        leave = later
    pulls = forces.motion.engine_of(slice(None)).at(inside.ravel()).reshape(metres.shape) > 0.0
    # a gear that could not pull after the shift is not shifted into: the bike stays at the revs it has
    comes = pulls.copy()
    comes[:, 1:] &= ~ends_here[:, :-1]
    low = enter < first * (1.0 - 1e-9)
    low[:, 0] = False
    used = np.logical_and.accumulate(comes & ~low, axis=1)
    arrives = comes
    arrives[:, 1:] &= used[:, :-1]
    arrives[:, 0] = False
    return Plan(
        enter=inside,
        leave=np.where(used, leave, inside),
        used=used,
        lost=np.asarray((arrives & low).any(axis=1)),
        shift_time=np.where(arrives, forces.setups.column("shift_time_s"), 0.0),
        shift_distance=np.where(arrives, gone, 0.0),
    )


def _entries(forces: Forces, leave: Array, launch: float) -> tuple[Array, Array]:
    """Engine speed in each gear after coasting through the shift from the gear before, and the distance of the shift, (S, G)."""
    metres = forces.setups.metres_per_radian
    enter, gone = np.full(metres.shape, launch), np.zeros(metres.shape)
    if metres.shape[1] > 1:
        speed, over = _coast(forces, np.ascontiguousarray((leave[:, :-1] * metres[:, :-1]).T))
        gone[:, 1:] = over.T
        enter[:, 1:] = speed.T / metres[:, 1:]
    return enter, gone


def coasting(forces: Forces, rows: Any = slice(None)) -> Callable[[Array], Array]:
    """How fast set-ups (all, or those of some rows) slow down with the clutch open, as a function of road speeds (n, S). [m/s2]"""
    s, wind = forces.setups, forces.ride.headwind_m_s
    mass = s.mass_kg + s.front_inertia_kg_m2 / s.front_radius_m**2 + s.rear_inertia_kg_m2 / s.rear_radius_m**2
    steady, f1, f2 = (force[rows] / mass[rows] for force in (forces.motion.steady[:, 0], s.f1_n_s_m, s.f2_n_s2_m2))

    def slows(speed: Array) -> Array:
        against = speed + wind
        return np.asarray(steady + f1 * speed + f2 * against * np.abs(against))

    return slows


def _coast(forces: Forces, speed: Array) -> tuple[Array, Array]:
    """Speed after, and distance over, a shift with the clutch open: one Runge-Kutta step, the change being slight; (n, S)."""
    slows, h = coasting(forces), forces.setups.shift_time_s
    half = 0.5 * h
    k1 = slows(speed)
    k2 = slows(speed - half * k1)
    k3 = slows(speed - half * k2)
    k4 = slows(speed - h * k3)
    after = np.maximum(speed - h * (k1 + 2.0 * (k2 + k3) + k4) / 6.0, 0.0)
    return after, h * speed - h * h * (k1 + k2 + k3) / 6.0


def part_of_shift(before: Array, after: Array, time: Array, distance: Array, goal: Array) -> tuple[Array, Array]:
    """Time to go part of the way of a shift, and the speed there.

    The speed between is the parabola with the speeds at both ends and the distance below it.
    """
    fall, short = after - before, distance / time - before
    line, bend = 6.0 * short - 2.0 * fall, 3.0 * fall - 6.0 * short  # v = before + line s + bend s^2, s from 0 to 1
    s = goal / distance
    for _ in range(3):  # of Newton's method on the distance, which is nearly straight
        speed = before + (line + bend * s) * s
        s = s - ((before + (line / 2.0 + bend / 3.0 * s) * s) * s - goal / time) / speed
    return s * time, before + (line + bend * s) * s
