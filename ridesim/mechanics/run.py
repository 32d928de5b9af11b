"""The standing start through the gears, and the roll-on in each gear."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray

from ridesim.mechanics.limits import Gears
from ridesim.mechanics.passage import NEVER_S, Passage, passage
from ridesim.mechanics.search import root_between
from ridesim.mechanics.setups import Ride
from ridesim.mechanics.torque import TorqueCells
from ridesim.mechanics.traction import GearRows

Array = NDArray[np.float64]
Index = NDArray[np.intp]
LAUNCH_SHARE = 0.6  # of the rev limit, at most, while the clutch slips
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


@dataclass(frozen=True, kw_only=True, eq=False)
class _Plan:
    """Engine speeds at which each gear is entered and left, and the shift before each gear, (S, G)."""

    enter: Array
    leave: Array
    used: NDArray[np.bool_]
    shift_from_m_s: Array
    shift_time: Array
    shift_distance: Array
    lost: NDArray[np.bool_]  # (S,): after a shift the engine would turn slower than the curve's first point


def launch_speed_rad_s(cells: TorqueCells, ride: Ride) -> float:
    """Engine speed held while the clutch slips: that of peak torque, at most 60 % of the rev limit, inside the curve."""
    limit = ride.rev_limit_rad_s or cells.last
    return min(max(min(cells.peak[0], LAUNCH_SHARE * limit), cells.first), cells.last)


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
    launch = launch_speed_rad_s(cells, ride)
    first_gear = setups.replaced(ratios=setups.ratios[:, :1], crank_inertia_kg_m2=0.0)
    slip = passage(GearRows(first_gear, cells, ride, launch_rad_s=launch), limited=True)
    start = _Start(slip, passage(rows, limited=True, free=free), _planned(rows, figures, launch))
    times, (at_distance, speed_there) = (
        start.times_to(np.array(ride.targets_m_s, dtype=float)),
        start.over(ride.distance_m),
    )
    never = ~(at_distance < NEVER_S)
    traced = start.trace() if trace else [np.empty((len(setups), 0))] * 4
    return StandingRun(
        times_s=np.where(times < NEVER_S, times, np.nan),
        distance_time_s=np.where(never, np.nan, at_distance),
        distance_speed_m_s=np.where(never, np.nan, speed_there),
        launch_rad_s=launch,
        trace_time_s=traced[0],
        trace_distance_m=traced[1],
        trace_speed_m_s=traced[2],
        trace_gear=traced[3].astype(np.int64),
    )


def untimed(count: int, ride: Ride) -> StandingRun:
    """The standing start of so many set-ups that nobody asks for."""
    nothing, never = np.empty((count, 0)), np.full(count, np.nan)
    return StandingRun(
        times_s=np.full((count, len(ride.targets_m_s)), np.nan),
        distance_time_s=never,
        distance_speed_m_s=never,
        launch_rad_s=float("nan"),
        trace_time_s=nothing,
        trace_distance_m=nothing,
        trace_speed_m_s=nothing,
        trace_gear=nothing.astype(np.int64),
    )


def _planned(rows: GearRows, figures: Gears, launch: float) -> _Plan:
    """Every gear to its best shift point, or as near to its top speed as counts."""
    cells, meters = rows.cells, rows.setups.meters_per_radian
    top = figures.top_speed_m_s / meters  # nan where the gear holds no speed
    shift = np.where(np.isnan(figures.upshift_rad_s), cells.last, figures.upshift_rad_s)
    tops_out = (top < shift) & ~figures.limited_by_revs
    leave = goal = np.where(tops_out, top * (1.0 - NEAR_TOP), shift)
    for _ in range(meters.shape[1]):
        before, after, gone = _coasted(rows, leave)
        enter = np.concatenate([np.full((len(meters), 1), launch), after[:, 1:] / meters[:, 1:]], axis=1)
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
    arrives = comes
    arrives[:, 1:] &= used[:, :-1]
    arrives[:, 0] = False
    return _Plan(
        enter=inside,
        leave=np.where(used, leave, inside),
        used=used,
        shift_from_m_s=before,
        shift_time=np.where(arrives, rows.setups.column("shift_time_s"), 0.0),
        shift_distance=np.where(arrives, gone, 0.0),
        lost=np.asarray((arrives & low).any(axis=1)),
    )


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
    """A standing start, timed: when and where each gear begins, after its shift, and ends, (S, G)."""

    def __init__(self, slip: Passage, geared: Passage, plan: _Plan) -> None:
        self.slip, self.geared, self.plan = slip, geared, plan
        self.meters, self.slipped = geared.rows.setups.meters_per_radian, (slip.time[-1], slip.distance[-1])
        time, distance = np.zeros((2, *plan.used.shape))
        k = np.nonzero(plan.used.ravel())[0]
        time.ravel()[k], distance.ravel()[k] = geared.between(k, plan.enter.ravel()[k], plan.leave.ravel()[k])
        self.end_time = self.slipped[0][:, None] + np.cumsum(time + plan.shift_time, axis=1)
        self.end_distance = self.slipped[1][:, None] + np.cumsum(distance + plan.shift_distance, axis=1)
        self.begin_time, self.begin_distance = self.end_time - time, self.end_distance - distance

    def times_to(self, targets: Array) -> Array:
        """Time to speeds, inf where the run never gets there, (S, targets)."""
        plan, caught = self.plan, self.slip.edges[-1] * self.meters[:, :1]
        result = np.full((len(caught), targets.size), np.inf)
        slips = plan.used[:, :1] & (caught >= targets)
        n, goal = np.nonzero(slips)
        if n.size:
            result[n, goal] = self.slip.between(n, np.zeros(n.size), targets[goal] / self.meters[n, 0])[0]
        there = plan.used & (plan.leave * self.meters >= targets[:, None, None] * (1.0 - 1e-12)) & ~slips.T[..., None]
        goal, n = np.nonzero(there.any(axis=2))
        g, target = there.argmax(axis=2)[goal, n], targets[goal]
        enter, meters = plan.enter[n, g], self.meters[n, g]
        w, row = np.clip(target / meters, enter, plan.leave[n, g]), n * plan.used.shape[1] + g
        result[n, goal] = self.begin_time[n, g] + self.geared.between(row, enter, w)[0]
        coasts = (g > 0) & (enter * meters > target)
        if coasts.any():  # downhill it is reached in the shift
            n, g, goal, target = n[coasts], g[coasts], goal[coasts], target[coasts]
            before = plan.shift_from_m_s[n, g]
            slows = self.geared.rows.take(row[coasts]).coasting_m_s2(
                np.array([before, 0.5 * (before + target), target])
            )
            time = (before - target) * (np.array([1.0, 4.0, 1.0]) / 6.0 @ (1.0 / slows))
            result[n, goal] = self.begin_time[n, g] - plan.shift_time[n, g] + time
        return result

    def over(self, goal: float) -> tuple[Array, Array]:
        """Time over a distance, and the speed there: in the slip, in a gear, in a shift, or at the speed the run ends with."""
        plan, shape = self.plan, self.plan.used.shape
        result, final = np.full((2, shape[0]), np.nan)
        slips = plan.used[:, 0] & (self.slipped[1] >= goal)
        reached = plan.used & (self.end_distance >= goal) & ~slips[:, None]
        arrives, every = reached.any(axis=1), np.arange(shape[0])
        n = np.nonzero(slips)[0]
        if n.size:
            launch = np.full(n.size, self.slip.edges[-1])
            result[n], final[n] = _into(self.slip, n, np.zeros(n.size), launch, np.full(n.size, goal))
        g = reached.argmax(axis=1)
        left = goal - self.begin_distance[every, g]
        n = np.nonzero(arrives & (left >= 0.0))[0]
        if n.size:
            k = g[n]
            time, final[n] = _into(self.geared, n * shape[1] + k, plan.enter[n, k], plan.leave[n, k], left[n])
            result[n] = self.begin_time[n, k] + time
        n = np.nonzero(arrives & (left < 0.0))[0]
        if n.size:
            k = g[n]
            took, gone = plan.shift_time[n, k], plan.shift_distance[n, k]
            ends = plan.shift_from_m_s[n, k], plan.enter[n, k] * self.meters[n, k]
            time, final[n] = _into_shift(*ends, took, gone, gone + left[n])
            result[n] = self.begin_time[n, k] - took + time
        last = shape[1] - 1 - plan.used[:, ::-1].argmax(axis=1)
        speed, time, gone = (a[every, last] for a in (plan.leave * self.meters, self.end_time, self.end_distance))
        n = np.nonzero(~arrives & ~slips & plan.used[:, 0] & ~plan.lost & (time < NEVER_S) & (speed > 0.0))[0]
        result[n], final[n] = time[n] + (goal - gone[n]) / speed[n], speed[n]
        return result, final

    def trace(self) -> list[Array]:
        """Time, distance, road speed and gear at the end of the slip and of every cell that is crossed, (S, 1 + G J); nan elsewhere."""
        plan, edges, (s, g) = self.plan, self.geared.edges, self.plan.used.shape
        cells = edges.size - 1
        enter, leave, meters = (a.reshape(-1, 1) for a in (plan.enter, plan.leave, self.meters))
        ends = np.clip(edges[1:], enter, leave)
        crossed = plan.used.reshape(-1, 1) & (ends > np.clip(edges[:-1], enter, leave))
        own = self.geared.between(np.repeat(np.arange(s * g), cells), np.repeat(enter, cells), ends.ravel())
        begins = (self.begin_time.reshape(-1, 1), self.begin_distance.reshape(-1, 1))
        rest = [*(begin + a.reshape(-1, cells) for begin, a in zip(begins, own, strict=True)), meters * ends]
        firsts = (*self.slipped, self.slip.edges[-1] * self.meters[:, 0])
        columns = [
            np.where(
                np.concatenate([plan.used[:, :1], crossed.reshape(s, -1)], axis=1),
                np.concatenate([first[:, None], a.reshape(s, -1)], axis=1),
                np.nan,
            )
            for first, a in zip(firsts, rest, strict=True)
        ]
        gear = np.append(1, np.repeat(np.arange(g) + 1, cells))
        return [*columns, np.broadcast_to(gear, (s, gear.size))]


def _into(way: Passage, row: Index, enter: Array, leave: Array, goal: Array) -> tuple[Array, Array]:
    """Time over a distance that ends between two engine speeds of a row, and the road speed there.

    In the cell it ends in the acceleration is first taken to change evenly with the speed; what that misses is made good with the
    acceleration there.
    """
    edges, first, meters = way.edges, way.cell_of(enter), way.rows.take(row)["meters_per_radian"]
    _, in_first = way.between(row, enter, np.minimum(edges[first + 1], leave))
    gone = way.distance[:, row] - way.distance[first + 1, row] + in_first  # at the edges
    gone[np.arange(edges.size)[:, None] <= first] = 0.0
    j = np.clip((gone < goal).sum(axis=0) - 1, first, way.cell_of(leave))
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


def _into_shift(before: Array, after: Array, time: Array, distance: Array, goal: Array) -> tuple[Array, Array]:
    """Time to go part of the way of a shift, and the speed there: the parabola with both ends' speeds and the distance below it."""
    fall, short = after - before, distance / time - before
    line, bend = 6.0 * short - 2.0 * fall, 3.0 * fall - 6.0 * short  # v = before + line s + bend s^2, s from 0 to 1
    s = goal / distance
    for _ in range(3):  # of Newton's method on the distance, which is nearly straight
        speed = before + (line + bend * s) * s
        s = s - ((before + (line / 2.0 + bend / 3.0 * s) * s) * s - goal / time) / speed
    return s * time, before + (line + bend * s) * s
