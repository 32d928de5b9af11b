"""The standing start through the gears, and the roll-on in each gear."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, replace
from typing import Any

import numpy as np
from numpy.typing import ArrayLike, NDArray

from ridesim.mechanics.limits import Gears
from ridesim.mechanics.passage import NEVER_S, Passage, passage
from ridesim.mechanics.search import root_between
from ridesim.mechanics.setups import Array, Index, Ride
from ridesim.mechanics.torque import steady
from ridesim.mechanics.traction import GearRows

LAUNCH_SHARE = 0.6  # of the rev limit, at most, while the clutch slips
_TRACE = ("trace_time_s", "trace_distance_m", "trace_speed_m_s", "trace_gear")
NEAR_TOP = 1e-6  # closer than this to top speed the rest of the way is ridden at top speed


@dataclass(frozen=True, kw_only=True, eq=False)
class StandingRun:
    """A standing start. Times are nan where the speed is never reached.

    The trace, cell by cell in order: time, distance, road speed at the end of each, gear of each (1 is first); nan where nothing is
    crossed; Q is 0 where no trace was asked for.
    """

    times_s: Array  # (S, targets)
    distance_time_s: Array  # (S,)
    distance_speed_m_s: Array
    launch_rad_s: float
    trace_time_s: Array  # (S, Q)
    trace_distance_m: Array
    trace_speed_m_s: Array
    trace_gear: NDArray[np.int64]


def roll_on_times_s(rows: GearRows, free: Passage, low_m_s: ArrayLike, high_m_s: ArrayLike) -> Array:
    """Time from one speed to another in each gear, full throttle, no shift: integral of m_k / (F_k - R) dv, (S, G).

    The speeds are the same in every gear, or one a gear, (G,). nan where a gear cannot turn at one of them, or never gets there.
    """
    shape = rows.setups.ratios.shape
    low, high = (np.broadcast_to(v, shape).ravel() / rows["meters_per_radian"] for v in (low_m_s, high_m_s))
    k = np.nonzero((low >= rows.cells.first * (1 - 1e-12)) & (high <= rows.cells.last * (1 + 1e-12)))[0]
    time, _ = free.between(k, low[k], high[k])
    result = np.full(len(rows), np.nan)
    result[k] = np.where(time < NEVER_S, time, np.nan)
    return result.reshape(shape)


def standing_start(rows: GearRows, figures: Gears, free: Passage, *, trace: bool = True) -> StandingRun:
    """From standstill: slip the clutch, then every gear to its shift point, to the targets and the distance of the ride."""
    setups, cells, ride = rows.setups, rows.cells, rows.ride
    # the clutch slips at the engine speed of peak torque, at most 60 % of the rev limit, inside the curve
    launch = min(max(min(cells.peak[0], LAUNCH_SHARE * (ride.rev_limit_rad_s or cells.last)), cells.first), cells.last)
    first_gear = replace(setups, ratios=setups.ratios[:, :1], crank_inertia_kg_m2=np.zeros(len(setups)))
    slip = passage(GearRows(first_gear, steady(launch, float(cells.torque(launch))), ride), limited=True)
    start = _Start(slip, passage(rows, limited=True, free=free), figures)
    times, (at_distance, speed_there) = start.times_to(np.asarray(ride.targets_m_s)), start.over(ride.distance_m)
    traced: list[Any] = start.trace() if trace else [np.empty((len(setups), 0))] * len(_TRACE)
    return StandingRun(
        times_s=np.where(times < NEVER_S, times, np.nan),
        distance_time_s=np.where(at_distance < NEVER_S, at_distance, np.nan),
        distance_speed_m_s=np.where(at_distance < NEVER_S, speed_there, np.nan),
        launch_rad_s=launch,
        **dict(zip(_TRACE, traced, strict=True)),
    )


def untimed(count: int, ride: Ride) -> StandingRun:
    """The standing start of so many set-ups that nobody asks for."""
    nothing: dict[str, Any] = dict.fromkeys(("distance_time_s", "distance_speed_m_s"), np.full(count, np.nan))
    nothing |= dict.fromkeys(_TRACE, np.empty((count, 0)))
    return StandingRun(times_s=np.full((count, len(ride.targets_m_s)), np.nan), launch_rad_s=np.nan, **nothing)


def _coasted(rows: GearRows, leave: Array) -> tuple[Array, Array, Array]:
    """Speed before and after the shift into each gear, and its distance, (S, G): one Runge-Kutta step, the change being slight."""
    shape, h = leave.shape, np.repeat(rows.setups.shift_time_s, leave.shape[1])
    v = np.roll(leave * rows.setups.meters_per_radian, 1, axis=1).ravel()
    k1 = rows.coasting_m_s2(v)
    k2 = rows.coasting_m_s2(v - 0.5 * h * k1)
    k3 = rows.coasting_m_s2(v - 0.5 * h * k2)
    k4 = rows.coasting_m_s2(v - h * k3)
    after = np.maximum(v - h * (k1 + 2.0 * (k2 + k3) + k4) / 6.0, 0.0)
    return v.reshape(shape), after.reshape(shape), (h * v - h * h * (k1 + k2 + k3) / 6.0).reshape(shape)


class _Start:
    """A standing start in legs, (S, 1 + G): the slip of the clutch, then every gear to its shift point, or as near to its top speed as
    counts. Engine speeds at which each leg begins and ends, the shift before it, and when and where it begins, after that, and ends.
    """

    def __init__(self, slip: Passage, geared: Passage, figures: Gears) -> None:
        self.slip, self.geared, rows, launch = slip, geared, geared.rows, slip.rows.cells.last
        cells, meters = rows.cells, rows.setups.meters_per_radian
        top = figures.top_speed_m_s / meters  # nan where the gear holds no speed
        shift = np.where(np.isnan(figures.upshift_rad_s), cells.last, figures.upshift_rad_s)
        tops_out = (top < shift) & ~figures.limited_by_revs
        leave = goal = np.where(tops_out, top * (1.0 - NEAR_TOP), shift)
        for _ in range(meters.shape[1]):
            before, after, gone = _coasted(rows, leave)
            enter = np.insert(after[:, 1:] / meters[:, 1:], 0, launch, axis=1)
            inside = np.clip(enter, cells.first, cells.last)
            later = np.maximum(goal, inside)  # a gear entered past its shift point is left at once
            if (later == leave).all():
                break
            leave = later
        # a gear that could not pull after the shift is not shifted into: the bike stays at the revs it has
        comes = (rows.at(inside.ravel()).engine > 0.0).reshape(meters.shape)
        comes[:, 1:] &= ~tops_out[:, :-1]
        low = enter < cells.first * (1.0 - 1e-9)
        low[:, 0] = False
        used = np.logical_and.accumulate(comes & ~low, axis=1)
        shifted = np.insert(comes[:, 1:] & used[:, :-1], 0, False, axis=1)
        # after a shift the engine would turn slower than the curve's first point
        self.lost = (shifted & low).any(axis=1)
        self.used = np.insert(used, 0, used[:, 0], axis=1)
        self.meters = np.insert(meters, 0, meters[:, 0], axis=1)
        self.enter = np.insert(inside, 0, 0.0, axis=1)
        self.leave = np.insert(np.where(used, leave, inside), 0, launch, axis=1)
        took = np.where(shifted, rows.setups.column("shift_time_s"), 0.0)
        self.shift_from_m_s, self.shift_time, self.shift_distance = (
            np.insert(a, 0, 0.0, axis=1) for a in (before, took, np.where(shifted, gone, 0.0))
        )
        time, distance = np.zeros((2, *self.used.shape))
        time[:, 0], distance[:, 0] = slip.time[-1], slip.distance[-1]
        each = geared.between(np.flatnonzero(used), inside[used], self.leave[:, 1:][used])
        time[:, 1:][used], distance[:, 1:][used] = each
        self.end_time = np.cumsum(time + self.shift_time, axis=1)
        self.end_distance = np.cumsum(distance + self.shift_distance, axis=1)
        self.begin_time, self.begin_distance = self.end_time - time, self.end_distance - distance

    def _ways(self, n: Index, g: Index) -> Iterator[tuple[Passage, Index, Index]]:
        """For legs g of set-ups n: the passage that rides some of them, which of them, and their rows in it."""
        gears = self.used.shape[1] - 1
        for way, here, row in ((self.slip, g == 0, n), (self.geared, g > 0, n * gears + g - 1)):
            if here.any():
                yield way, np.nonzero(here)[0], row[here]

    def _shift(self, at: tuple[Index, Index]) -> tuple[Array, Array, Array, Array]:
        """How the speed goes in a shift: v = before + line s + bend s^2, s from 0 to 1, with both ends' speeds and the distance below it."""
        before, took = self.shift_from_m_s[at], self.shift_time[at]
        fall = self.enter[at] * self.meters[at] - before
        short = self.shift_distance[at] / took - before
        return took, before, 6.0 * short - 2.0 * fall, 3.0 * fall - 6.0 * short

    def times_to(self, targets: Array) -> Array:
        """Time to speeds, inf where the run never gets there, (S, targets)."""
        result = np.full((len(self.used), targets.size), np.inf)
        there = self.used & (self.leave * self.meters >= targets[:, None, None] * (1.0 - 1e-12))
        goal, n = np.nonzero(there.any(axis=2))
        g, target = there.argmax(axis=2)[goal, n], targets[goal]
        enter, meters = self.enter[n, g], self.meters[n, g]
        for way, i, row in self._ways(n, g):
            w = np.clip(target[i] / meters[i], enter[i], self.leave[n[i], g[i]])
            result[n[i], goal[i]] = self.begin_time[n[i], g[i]] + way.between(row, enter[i], w)[0]
        i = np.nonzero((g > 1) & (enter * meters > target))[0]
        if i.size:  # downhill it is reached in the shift
            took, before, line, bend = self._shift((n[i], g[i]))
            gain = target[i] - before
            share = 2.0 * gain / (line + np.sqrt(np.maximum(line**2 + 4.0 * bend * gain, 0.0)))
            result[n[i], goal[i]] = self.begin_time[n[i], g[i]] - took * (1.0 - share)
        return result

    def over(self, goal: float) -> tuple[Array, Array]:
        """Time over a distance, and the speed there: in a leg, in the shift before it, or at the speed the run ends with."""
        every = np.arange(len(self.used))
        result, final = np.full((2, every.size), np.nan)
        reached = self.used & (self.end_distance >= goal)
        g = reached.argmax(axis=1)
        left = goal - self.begin_distance[every, g]
        n = np.nonzero(reached.any(axis=1) & (left >= 0.0))[0]
        for way, i, row in self._ways(n, g[n]):
            at = n[i], g[n[i]]
            time, final[at[0]] = _into(way, row, self.enter[at], self.leave[at], left[at[0]])
            result[at[0]] = self.begin_time[at] + time
        n = np.nonzero(reached.any(axis=1) & (left < 0.0))[0]
        if n.size:
            took, before, line, bend = self._shift((n, g[n]))
            whole = self.shift_distance[n, g[n]]
            share = part = 1.0 + left[n] / whole
            for _ in range(3):  # of Newton's method on the distance, which is nearly straight
                gone = (before + (line / 2.0 + bend / 3.0 * share) * share) * share
                share = share - (gone - part * whole / took) / (before + (line + bend * share) * share)
            result[n] = self.begin_time[n, g[n]] - took * (1.0 - share)
            final[n] = before + (line + bend * share) * share
        last = self.used.shape[1] - 1 - self.used[:, ::-1].argmax(axis=1)
        speed, time, gone = (a[every, last] for a in (self.leave * self.meters, self.end_time, self.end_distance))
        n = np.nonzero(~reached.any(axis=1) & self.used[:, 0] & ~self.lost & (time < NEVER_S) & (speed > 0.0))[0]
        result[n], final[n] = time[n] + (goal - gone[n]) / speed[n], speed[n]
        return result, final

    def trace(self) -> list[Array]:
        """Time, distance, road speed and gear at the end of the slip and of every cell that is crossed, (S, 1 + G J); nan elsewhere."""
        edges = self.geared.rows.cells.edges
        enter, leave, meters = (a[:, 1:, None] for a in (self.enter, self.leave, self.meters))
        ends = np.clip(edges[1:], enter, leave)
        crossed = self.used[:, 1:, None] & (ends > np.clip(edges[:-1], enter, leave))
        row = np.repeat(np.arange(enter.size), edges.size - 1)
        own = self.geared.between(row, np.broadcast_to(enter, ends.shape).ravel(), ends.ravel())
        time, distance = (a.reshape(ends.shape) for a in own)
        there, *columns = (
            np.concatenate([first[:, :1], a.reshape(len(first), -1)], axis=1)
            for first, a in (
                (self.used, crossed),
                (self.end_time, self.begin_time[:, 1:, None] + time),
                (self.end_distance, self.begin_distance[:, 1:, None] + distance),
                (self.leave * self.meters, meters * ends),
            )
        )
        gear = np.append(1, np.repeat(np.arange(enter.shape[1]) + 1, edges.size - 1))
        return [*(np.where(there, column, np.nan) for column in columns), np.broadcast_to(gear, there.shape)]


def _into(way: Passage, row: Index, enter: Array, leave: Array, goal: Array) -> tuple[Array, Array]:
    """Time over a distance that ends between two engine speeds of a row, and the road speed there.

    In the cell it ends in the acceleration is first taken to change evenly with the speed; what that misses is made good with the
    acceleration there.
    """
    cells, meters = way.rows.cells, way.rows["meters_per_radian"][row]
    edges, first = cells.edges, cells.cell_of(enter)
    _, in_first = way.between(row, enter, np.minimum(edges[first + 1], leave))
    gone = way.distance[:, row] - way.distance[first + 1, row] + in_first  # at the edges
    gone[np.arange(edges.size)[:, None] <= first] = 0.0
    j = np.clip((gone < goal).sum(axis=0) - 1, first, cells.cell_of(leave))
    low, high = np.maximum(edges[j], enter), np.minimum(edges[j + 1], leave)
    a0, a1 = way.pulls(row, np.array([low, high]))
    stalls = np.nonzero((a1 <= 0.0) & (a0 > 0.0))[0]
    if stalls.size:  # a hollow in which the pull falls to nothing: as near to it as to a top speed
        hollow = root_between(lambda w: way.pulls(row[stalls], w), low[stalls], high[stalls])
        high[stalls] = np.maximum(low[stalls], hollow * (1.0 - NEAR_TOP))
        a1[stalls] = way.pulls(row[stalls], high[stalls])
    slowest, fastest = meters * low, meters * high
    v = _evenly(slowest, fastest - slowest, a0, a1, goal - gone[j, np.arange(row.size)])
    for _ in range(2):
        v = np.clip(v, slowest, fastest)
        time, there = way.between(row, enter, v / meters)
        miss, before = goal - there, v
        v = np.sqrt(np.maximum(v * v + 2.0 * way.pulls(row, v / meters) * miss, 0.0))
        time += 2.0 * miss / np.maximum(before + v, 1e-9)
    return time, np.clip(v, slowest, fastest)


@np.errstate(over="ignore", invalid="ignore")  # against a pull that never gets there the time runs away
def _evenly(v: Array, gain: Array, a0: Array, a1: Array, goal: Array) -> Array:
    """Speed after a distance from speed v on, the acceleration changing evenly from a0 to a1 over the gain: Newton on the time."""
    k = (a0 - a1) / np.maximum(gain, 1e-12)
    t = 2.0 * goal / np.maximum(v + np.sqrt(v * v + 2.0 * np.maximum(np.minimum(a0, a1), 0.0) * goal), 1e-9)
    for _ in range(6):
        y = k * t
        near = np.abs(y) < 1e-3
        safe = np.where(near, 1.0, y)
        e = -np.expm1(-safe)
        first, second = np.where(near, 1.0 - 0.5 * y, e / safe), np.where(near, 0.5 - y / 6.0, (safe - e) / safe**2)
        speed = v + a0 * t * first
        t = t - (v * t + a0 * t * t * second - goal) / np.maximum(speed, 1e-9)
    return speed
