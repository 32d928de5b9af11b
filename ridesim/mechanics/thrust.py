"""Single figures of every gear of every set-up: top speed, lift, climb, shift points."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray

from ridesim.mechanics.climb import steepest_sines
from ridesim.mechanics.forces import CLIMB_LIMITS, Forces
from ridesim.mechanics.motion import Motion
from ridesim.mechanics.peaks import peak
from ridesim.mechanics.roots import newton_in_bracket
from ridesim.mechanics.shifts import upshift_engine_speed
from ridesim.mechanics.survey import Survey
from ridesim.units import G

__all__ = ["CLIMB_LIMITS", "Forces", "Gears", "gears", "upshift_engine_speed"]

Array = NDArray[np.float64]
_MEET = np.array([[1e-9], [0.0], [0.0]])


@dataclass(frozen=True, kw_only=True, eq=False)
class Gears:
    """Figures of every gear, arrays (S, G), SI; nan where a thing does not happen."""

    speed_at_top_m_s: Array  # at the highest engine speed of the curve
    top_speed_m_s: Array
    limited_by_revs: Any
    peak_force_n: Array
    steepest_slope_rad: Array
    steepest_limited_by: Any  # index into CLIMB_LIMITS
    lift_ratio: Array
    lift_speed_rad_s: Array  # engine speed of the highest lift ratio
    lift_from_rad_s: Array
    lift_to_rad_s: Array
    rider_shift_m: Array
    lift_friction: Array  # with more of it the front lifts before the rear spins
    upshift_rad_s: Array  # nan in the last gear


def gears(forces: Forces) -> Gears:
    """Every figure of every gear."""
    s, pieces, motion, seen = forces.setups, forces.pieces, forces.motion, forces.survey
    shape = s.ratios.shape
    top_w, by_revs = _top_engine_speed(motion, seen)
    nearest = peak(motion, seen.nearest, 1.0)
    ratio, ratio_w = _lift_ratio(motion, seen)
    lift_from, lift_to = _lift_window(motion, ratio >= 1.0, nearest.w)
    # place that lifts - b = (a - a_lift) H / (m g cos th), over all engine speeds at its highest, the front wheel not spun
    weight = s.column("rider_kg") * (G * np.cos(forces.ride.slope_rad))
    short = (nearest.lift - nearest.engine).reshape(shape) * s.effective_mass / s.lift_mass
    shift = short * s.lift_moment / weight
    strongest = forces.strongest
    sines = steepest_sines(motion, strongest.w, strongest.engine)
    metres = s.metres_per_radian
    lift_w = ratio_w.reshape(shape)
    lifts = ratio.reshape(shape)
    return Gears(
        speed_at_top_m_s=metres * pieces.last,
        top_speed_m_s=metres * top_w.reshape(shape),
        limited_by_revs=by_revs.reshape(shape),
        peak_force_n=s.column("efficiency") * s.column("torque_factor") / metres * pieces.peak_torque,
        steepest_slope_rad=np.arcsin(sines.min(axis=0)).reshape(shape),
        # where engine and another limit meet, the other one is named: more torque would not help
        steepest_limited_by=(sines + _MEET).argmin(axis=0).reshape(shape),
        lift_ratio=lifts,
        lift_speed_rad_s=lift_w,
        lift_from_rad_s=lift_from.reshape(shape),
        lift_to_rad_s=lift_to.reshape(shape),
        rider_shift_m=np.where(lifts >= 1.0, 0.0, np.maximum(shift, 0.0)),
        lift_friction=forces.friction_at_lift(lift_w),
        upshift_rad_s=upshift_engine_speed(motion),
    )


def _top_engine_speed(motion: Motion, seen: Survey) -> tuple[Array, NDArray[np.bool_]]:
    """Engine speed at the top speed of each gear, and whether the revs end it; nan where the gear holds no speed at all."""
    grid, highest = motion.pieces.grid, seen.pulls_to
    at_end = highest == grid.size - 1
    by_revs = at_end & (motion.engine_of(slice(None)).at_grid(grid.size - 1) >= 0.0)
    result = np.where(by_revs, grid[-1], np.nan)
    rows = np.nonzero(~at_end)[0]
    engine, cell = motion.engine_of(rows), highest[rows]
    result[rows] = newton_in_bracket(
        engine.with_slope, grid[cell], grid[cell + 1], engine.at_grid(cell), engine.at_grid(cell + 1)
    )
    rows = np.nonzero(seen.crest >= 0)[0]
    if rows.size:  # a hump between two points of the grid holds a speed although neither point does
        best = peak(motion, seen.crest[rows], 0.0, rows=rows)
        holds = np.nonzero(best.engine >= 0.0)[0]
        rows, low, f_low = rows[holds], best.w[holds], best.engine[holds]
        engine, above = motion.engine_of(rows), np.searchsorted(grid, low, side="right")
        result[rows] = newton_in_bracket(engine.with_slope, low, grid[above], f_low, engine.at_grid(above))
    return result, by_revs


def _lift_ratio(motion: Motion, seen: Survey) -> tuple[Array, Array]:
    """The highest lift ratio and its engine speed.

    Where the front would be light at steady speed there is no ratio: inf if it lifts, -inf if the bike slows so much
    that it does not.
    """
    finite = np.isfinite(seen.ratio)
    with np.errstate(divide="ignore", invalid="ignore"):
        best = peak(motion, seen.steepest, np.where(finite, seen.ratio, 0.0), rounds=2)
        refined = best.engine / best.lift
    usable = finite & (best.lift > 0.0) & (refined >= seen.ratio)
    return np.where(usable, refined, seen.ratio), np.where(usable, best.w, motion.pieces.grid[seen.steepest])


def _lift_window(motion: Motion, lifts: NDArray[np.bool_], nearest: Array) -> tuple[Array, Array]:
    """The lowest and the highest engine speed at which the front comes up on the throttle alone."""
    grid = motion.pieces.grid
    low, high = np.full(lifts.shape, np.nan), np.full(lifts.shape, np.nan)
    rows = np.nonzero(lifts)[0]
    if rows.size == 0:
        return low, high
    over = motion.engine_at_grid(rows) - motion.lift_at_grid(rows)
    nearest, up, every = nearest[rows], over >= 0.0, np.arange(rows.size)
    on_grid = up.any(axis=0)  # else it comes up between two points of the grid only, at `nearest`
    first, last = np.argmax(up, axis=0), grid.size - 1 - np.argmax(up[::-1], axis=0)
    cell = np.minimum(np.searchsorted(grid, nearest, side="right") - 1, grid.size - 2)
    before = np.where(on_grid, np.maximum(first - 1, 0), cell)
    after = np.where(on_grid, np.minimum(last + 1, grid.size - 1), cell + 1)
    engine, lift = motion.engine_of(rows), motion.lift_of(rows)

    def lead(w: Array) -> tuple[Array, Array]:
        (a, rise), (b, fall) = engine.with_slope(w), lift.with_slope(w)
        return a - b, rise - fall

    between = np.zeros(rows.size) if on_grid.all() else np.maximum(lead(nearest)[0], 0.0)
    low[rows] = newton_in_bracket(
        lead,
        grid[before],
        np.where(on_grid, grid[first], nearest),
        over[before, every],
        np.where(on_grid, over[first, every], between),
    )
    high[rows] = newton_in_bracket(
        lead,
        np.where(on_grid, grid[last], nearest),
        grid[after],
        np.where(on_grid, over[last, every], between),
        over[after, every],
    )
    return low, high
