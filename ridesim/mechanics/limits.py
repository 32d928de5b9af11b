"""Single figures of every gear of every set-up: top speed, shift point, front-wheel lift, climb.

Each is looked for at the nodes of the torque curve, and worked out exactly next to the node where it was seen.
"""

from __future__ import annotations

from dataclasses import dataclass
from operator import attrgetter
from typing import Any

import numpy as np
from numpy.typing import NDArray

from ridesim.mechanics.equations import rider_shift_m
from ridesim.mechanics.search import Read, highest, humps, root_between
from ridesim.mechanics.setups import Array, Index
from ridesim.mechanics.traction import GearRows

CLIMB_LIMITS = ("engine", "front lift", "rear tire")
_MEET = np.array([[1e-6], [0.0], [0.0]])  # where engine and another limit meet the other is named
_ENGINE, _LEAD = attrgetter("engine"), attrgetter("lift_lead")
_ALIKE = 1e-9  # steps between two gears that differ by less are one
_SLOWEST = 1e-6  # what counts as no acceleration when two ways through the gears are timed [m/s2]
_LOOKS = 65  # places at which they are
_WORTH = 1e-6  # of the time: what makes it worth waiting for a later shift point


@dataclass(frozen=True, kw_only=True, eq=False)
class Gears:
    """Figures of every gear, arrays (S, G), SI; nan where a thing does not happen."""

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


def gears(rows: GearRows) -> Gears:
    """Every figure of every gear."""
    top_w, by_revs = _top_engine_speed(rows)
    ratio_w, ratio = highest(rows, lambda forces: forces.lift_ratio)
    nearest, lead = highest(rows, _LEAD)
    low, high = _lift_window(rows, ratio >= 1.0, nearest)
    rider = np.repeat(rows.setups.rider_kg, rows.setups.ratios.shape[1])
    shift = rider_shift_m(-lead, rows["lift_moment"], rider, rows.ride.slope_rad)
    slope, limit = _steepest(rows)
    figures = {
        "top_speed_m_s": rows["meters_per_radian"] * top_w,
        "limited_by_revs": by_revs,
        "peak_force_n": rows["force_per_torque"] * rows.cells.peak[1],
        "steepest_slope_rad": slope,
        "steepest_limited_by": limit,
        "lift_ratio": ratio,
        "lift_speed_rad_s": ratio_w,
        "lift_from_rad_s": low,
        "lift_to_rad_s": high,
        "rider_shift_m": np.where(ratio >= 1.0, 0.0, shift),
        "lift_friction": rows.at(ratio_w).friction_at_lift,
        "upshift_rad_s": _upshifts(rows),
    }
    return Gears(**{name: value.reshape(rows.setups.ratios.shape) for name, value in figures.items()})


def _top_engine_speed(rows: GearRows) -> tuple[Array, NDArray[np.bool_]]:
    """Engine speed at the highest speed each gear holds, nan where it holds none, and whether the revs end it."""
    nodes, engine = rows.cells.nodes, rows.seen.engine
    by_revs = engine[-1] >= 0.0
    ends = np.nonzero(~by_revs)[0]
    own, seen = rows.take(ends), engine[:, ends]
    last = nodes.size - 1 - (seen[::-1] >= 0.0).argmax(axis=0)
    holds = last < nodes.size - 1  # at some node
    start = np.where(holds, nodes[last], np.nan)
    # a hump between two nodes holds a speed although neither node does
    rises = (seen[1:] > seen[:-1]) & (np.arange(nodes.size - 1)[:, None] >= np.where(holds, last, 0))
    k = np.nonzero(rises.any(axis=0))[0]
    if k.size:
        crest = 1 + np.where(rises[:, k], seen[1:, k], -np.inf).argmax(axis=0)
        w, height = highest(own.take(k), _ENGINE, crest)
        start[k] = np.where(height >= 0.0, w, start[k])
    some = np.nonzero(np.isfinite(start))[0]
    result = np.where(by_revs, nodes[-1], np.nan)
    result[ends[some]] = _falls(own.take(some), _ENGINE, start[some])
    return result, by_revs


def _lift_window(rows: GearRows, lifts: NDArray[np.bool_], nearest: Array) -> tuple[Array, Array]:
    """The lowest and the highest engine speed at which the front comes up on the throttle alone."""
    nodes, some = rows.cells.nodes, np.nonzero(lifts)[0]
    low, high = np.full((2, lifts.size), np.nan)
    own, up = rows.take(some), rows.seen.lift_lead[:, some] >= 0.0
    seen = up.any(axis=0)  # else it comes up between two nodes only, at `nearest`
    first, last = up.argmax(axis=0), nodes.size - 1 - up[::-1].argmax(axis=0)
    low[some] = _falls(own, _LEAD, np.where(seen, nodes[first], nearest[some]), down=True)
    high[some] = _falls(own, _LEAD, np.where(seen, nodes[last], nearest[some]))
    return low, high


def _falls(rows: GearRows, read: Read, start: Array, *, down: bool = False) -> Array:
    """Where a figure that is above 0 at engine speeds falls to it before the next node, up or down; the end of the curve where it does not."""
    nodes = rows.cells.nodes
    n = np.searchsorted(nodes, start, side="left") - 1 if down else np.searchsorted(nodes, start, side="right")
    return root_between(lambda w: read(rows.at(w)), start, nodes[n.clip(0, nodes.size - 1)])


def _steepest(rows: GearRows) -> tuple[Array, Index]:
    """The steepest slope that engine, front wheel and rear tire allow together, and which of them ends it."""
    strongest, _ = highest(rows, _ENGINE)
    slopes = rows.at(strongest).slopes
    some = np.nonzero(_beyond(slopes) > 0.0)[0]  # front or tire give way there
    if some.size:
        own, first = rows.take(some), np.full(some.size, rows.cells.first)
        # drag always unloads the front, and loads the rear by less than it pushes unless it acts high up: slowest is best
        slower = own["friction"] * own["drag_height_m"] <= own["wheelbase_m"]
        early = slower & (_beyond(own.at(first).slopes) >= 0.0)
        meets = root_between(lambda w: _beyond(own.at(w).slopes), first, np.where(early, first, strongest[some]))
        slopes[:, some] = own.at(meets).slopes
        some = some[~early & (~slower | (humps(rows.seen.engine[:, some]) > 1))]
    if some.size:
        slopes[:, some] = _looked_for(rows.take(some))
    return slopes.min(axis=0), (slopes + _MEET).argmin(axis=0)


def _beyond(slopes: Array) -> Array:
    """By how much the engine would climb more than front wheel and rear tire allow. [rad]"""
    return np.asarray(slopes[0] - np.minimum(slopes[1], slopes[2]))


def _looked_for(rows: GearRows) -> Array:
    """The three slopes where the least of them is highest: at a top of it, or where the engine's crosses another."""
    nodes = rows.cells.nodes
    beyond = _beyond(rows.seen.slopes)
    top, _ = highest(rows, lambda forces: forces.slopes.min(axis=0))
    steepest = rows.at(top).slopes
    n, k = np.nonzero(beyond[1:] * beyond[:-1] < 0.0)
    if k.size:
        own = rows.take(k)
        crossing = own.at(root_between(lambda w: _beyond(own.at(w).slopes), nodes[n], nodes[n + 1])).slopes
        order = np.argsort(crossing.min(axis=0))  # the steepest of a gear is written last
        order = order[crossing.min(axis=0)[order] > steepest.min(axis=0)[k[order]]]
        steepest[:, k[order]] = crossing[:, order]
    return steepest


def _upshifts(rows: GearRows) -> Array:
    """Engine speed from which the next gear accelerates harder, else the end of the curve; nan in the last gear, (R,).

    A curve with a hollow in it may give several such speeds: the one is taken from which the way up is quickest.
    """
    result, by_gear = np.full(len(rows), np.nan), np.arange(len(rows)).reshape(rows.setups.ratios.shape).T[:-1]
    if by_gear.size:
        leaves = np.concatenate([_leaves(rows, k) for k in by_gear], axis=1)
        shift = _Shift(rows, by_gear.ravel())
        points = shift.just_above(leaves.argmax(axis=0))
        several = np.nonzero(leaves.sum(axis=0) > 1)[0]
        if several.size:
            points[several] = _Shift(rows, by_gear.ravel()[several]).quickest(points[several], leaves[:, several])
        result[by_gear.ravel()] = points
    return result


def _leaves(rows: GearRows, k: Index) -> NDArray[np.bool_]:
    """For one gear of every set-up, the rows k, the nodes that are the last worth staying at before the next gear takes the lead."""
    nodes, first, change = rows.cells.nodes[:, None], rows.cells.first, rows.take(k + 1)
    drop = rows["meters_per_radian"][k] / change["meters_per_radian"]
    below = nodes * (drop[:1] if np.ptp(drop) <= _ALIKE else drop)
    stays = (rows.seen.engine[:, k] > change.at(np.maximum(below, first)).engine) | (below < first)
    leaves = stays.copy()
    leaves[:-1] &= ~stays[1:]
    leaves[0] |= ~stays.any(axis=0)  # the next gear is better everywhere
    return leaves


class _Shift:
    """Changes from the gears of the rows k to the next ones."""

    def __init__(self, rows: GearRows, k: Index) -> None:
        self.cells, self.stay, self.change = rows.cells, rows.take(k), rows.take(k + 1)
        self.drop = self.stay["meters_per_radian"] / self.change["meters_per_radian"]

    def both(self, w: Array) -> tuple[Array, Array]:
        """Acceleration in the gear and, at the same road speed, in the next one. [m/s2]"""
        return self.stay.at(w).engine, self.change.at(np.maximum(w * self.drop, self.cells.first)).engine

    def lead(self, w: Array) -> Array:
        return np.subtract(*self.both(w))

    def just_above(self, last: Index) -> Array:
        """The shift point just above the node `last`, the highest worth staying at; the end of the curve above its end."""
        nodes = self.cells.nodes
        # lower down the next gear would turn slower than the first point of the curve
        low = np.maximum(nodes[last], np.minimum(self.cells.first / self.drop, self.cells.last))
        high = np.maximum(nodes[np.minimum(last + 1, nodes.size - 1)], low)
        high = np.where(self.lead(low) <= 0.0, low, high)  # the next gear is better as soon as it can take over
        return np.where(last == nodes.size - 1, self.cells.last, root_between(self.lead, low, high))

    def quickest(self, best: Array, leaves: NDArray[np.bool_]) -> Array:
        """Of several shift points, rising from `best`, the one that gains most time."""
        order = np.cumsum(leaves, axis=0)
        for n in range(2, int(order[-1].max()) + 1):
            later = self.just_above((order >= n).argmax(axis=0))
            w = best + np.linspace(0.0, 1.0, _LOOKS)[:, None] * (later - best)
            staying, changed = (np.trapezoid(1.0 / np.maximum(a, _SLOWEST), axis=0) for a in self.both(w))
            # where neither gear pulls there is nothing to gain
            best = np.where((order[-1] >= n) & (changed - staying > _WORTH * staying), later, best)
        return best
