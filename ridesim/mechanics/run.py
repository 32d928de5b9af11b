"""The standing start through the gears and the roll-on in each gear, by quadrature over engine speed with exact break points."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from ridesim.mechanics.crossing import Crossings
from ridesim.mechanics.forces import Forces
from ridesim.mechanics.part_way import into_stretch, part_way
from ridesim.mechanics.plan import Plan, coasting, part_of_shift, plan
from ridesim.mechanics.quadrature import crossing_times
from ridesim.mechanics.roots import bracketed_root
from ridesim.mechanics.slip import slip_times, slipping, sums
from ridesim.mechanics.thrust import Gears

Array = NDArray[np.float64]
Index = NDArray[np.intp]
LAUNCH_SHARE = 0.6  # of the rev limit, at most, while the clutch slips


@dataclass(frozen=True, kw_only=True, eq=False)
class Run:
    """A standing start. Times are nan where the speed is never reached.

    times_s (S, targets); distance_time_s (S,); the trace, stretch by stretch in order (S, Q): time, distance, road speed
    at the end of each, gear of each (1 is first); nan where nothing is crossed; Q is 0 where no trace was asked for.
    """

    times_s: Array
    distance_time_s: Array
    distance_speed_m_s: Array
    launch_rad_s: float
    trace_time_s: Array
    trace_distance_m: Array
    trace_speed_m_s: Array
    trace_gear: NDArray[np.int64]


@dataclass(frozen=True, kw_only=True, eq=False)
class _Legs:
    """Time and distance in the slipping clutch (S,) and in each gear without its shift (S, G); the rough parts of the gears apart.

    enter_time and enter_distance (S x G,) are the running integrals where a gear is entered. rough_leg counts set-up by set-up, gear by gear; parts that lie after everything asked for are left out.
    """

    slip_time: Array
    slip_distance: Array
    time: Array
    distance: Array
    enter_time: Array
    enter_distance: Array
    rough_leg: Index
    rough_piece: Index
    rough_time: Array
    rough_distance: Array


def launch_speed_rad_s(forces: Forces) -> float:
    """Engine speed held while the clutch slips: that of peak torque, at most 60 % of the rev limit, inside the curve."""
    pieces = forces.pieces
    peak = float(pieces.grid[int(np.argmax(pieces.grid_torque))])
    limit = forces.ride.rev_limit_rad_s or pieces.last
    return min(max(min(peak, LAUNCH_SHARE * limit), pieces.first), pieces.last)


def standing_start(forces: Forces, figures: Gears, trace: bool = True) -> Run:
    """From standstill: slip the clutch, then every gear to its shift point, to the targets and the distance of the ride."""
    launch = launch_speed_rad_s(forces)
    way = plan(forces, figures, launch)
    legs = _legs(forces, way, launch, everything=trace)
    # time and distance at the end of the shift into each gear
    shape = way.used.shape
    begin_time, begin_distance = np.empty(shape), np.empty(shape)
    for begin, slip, own, shift in (
        (begin_time, legs.slip_time, legs.time, way.shift_time),
        (begin_distance, legs.slip_distance, legs.distance, way.shift_distance),
    ):
        begin[:, 0] = slip
        begin[:, 1:] = slip[:, None] + np.cumsum(own[:, :-1] + shift[:, 1:], axis=1)
    times = _times_to(forces, way, legs, begin_time, launch)
    at_distance, speed_there = _to_distance(forces, way, legs, begin_time, begin_distance, launch)
    traced = _trace(forces, way, legs, begin_time, begin_distance, launch) if trace else [np.empty((shape[0], 0))] * 3
    gears = np.broadcast_to(
        np.repeat(np.arange(shape[1]), forces.pieces.count) + 1, (shape[0], shape[1] * forces.pieces.count)
    )
    return Run(
        times_s=np.where(np.isfinite(times), times, np.nan),
        distance_time_s=np.where(np.isfinite(at_distance), at_distance, np.nan),
        distance_speed_m_s=np.where(np.isfinite(at_distance), speed_there, np.nan),
        launch_rad_s=launch,
        trace_time_s=traced[0],
        trace_distance_m=traced[1],
        trace_speed_m_s=traced[2],
        trace_gear=np.concatenate([np.ones((shape[0], 1), int), gears], axis=1)
        if trace
        else np.empty((shape[0], 0), int),
    )


def roll_on_times_s(forces: Forces) -> Array:
    """Time between the two roll-on speeds in each gear, full throttle, no shift: integral of m_k / (F_k - R) dv, (S, G).

    nan where the gear cannot turn at one of the speeds, or never gets there.
    """
    v1, v2 = forces.ride.roll_on_m_s
    known, pieces = forces.crossings, forces.pieces
    w1, w2 = v1 / known.motion.metres, v2 / known.motion.metres
    slack = 1e-12 * pieces.last
    rows = np.nonzero((w1 >= pieces.first - slack) & (w2 <= pieces.last + slack))[0]
    total = np.full(w1.size, np.nan)
    low, high = w1[rows], w2[rows]
    time, _ = known.plain_between(rows, low, high)
    k, j, start, end = known.rough(rows, low, high)
    if k.size:
        time += sums(k, known.crossing(rows[k], j, start, end)[0], rows.size)
    total[rows] = np.where(np.isfinite(time), time, np.nan)
    return total.reshape(forces.setups.ratios.shape)


def _legs(forces: Forces, way: Plan, launch: float, *, everything: bool) -> _Legs:
    known, shape = forces.crossings, way.used.shape
    legs = np.nonzero(way.used.ravel())[0]
    rows, low, high = known.run_row[legs], way.enter.ravel()[legs], way.leave.ravel()[legs]
    metres, size = known.motion.metres[legs], legs.size
    times, distances = known.running(np.concatenate([rows, rows]), np.concatenate([low, high]))
    time, distance, enter_time, enter_distance = np.zeros((4, way.used.size))
    enter_time[legs], enter_distance[legs] = times[:size], distances[:size]
    time[legs], distance[legs] = (
        metres * (times[size:] - times[:size]),
        metres * metres * (distances[size:] - distances[:size]),
    )
    k, j, start, end = known.rough(rows, low, high)
    if k.size and not everything:
        wanted = _before_the_end(forces, way, distance, enter_distance, legs[k], j, start)
        k, j, start, end = k[wanted], j[wanted], start[wanted], end[wanted]
    starts = np.nonzero(way.used[:, 0])[0]
    owner, stretches = slipping(forces, starts, np.full(starts.size, launch), launch)
    slip_time, slip_distance = (sums(starts[owner], d, shape[0]) for d in crossing_times(stretches))
    leg = legs[k]
    dt, dx = known.crossing(rows[k], j, start, end)
    time += sums(leg, dt, time.size)
    distance += sums(leg, dx, time.size)
    return _Legs(
        slip_time=slip_time,
        slip_distance=slip_distance,
        time=time.reshape(shape),
        distance=distance.reshape(shape),
        enter_time=enter_time,
        enter_distance=enter_distance,
        rough_leg=leg,
        rough_piece=j,
        rough_time=dt,
        rough_distance=dx,
    )


def _before_the_end(
    forces: Forces, way: Plan, distance: Array, enter_distance: Array, leg: Index, j: Index, start: Array
) -> NDArray[np.bool_]:
    """Which rough parts, that begin at `start` in piece j, do so before the distance and the targets are all reached, by the plain
    pieces alone."""
    known, shape = forces.crossings, way.used.shape
    plain = distance.reshape(shape)
    before = np.cumsum(plain + way.shift_distance, axis=1) - plain
    metres = known.motion.metres[leg]
    in_leg = metres * metres * (known.seen.distance[j, known.run_row[leg]] - enter_distance[leg])
    speed = metres * start
    return (before.ravel()[leg] + in_leg < forces.ride.distance_m) | (speed < max(forces.ride.targets_m_s, default=0.0))


def _times_to(forces: Forces, way: Plan, legs: _Legs, begin: Array, launch: float) -> Array:
    """Time to each of the ride's target speeds, inf where the run never gets to it, (S, targets)."""
    known, metres, targets = (
        forces.crossings,
        forces.setups.metres_per_radian,
        np.array(forces.ride.targets_m_s, dtype=float),
    )
    result = np.full((len(metres), targets.size), np.inf)
    slipping = way.used[:, 0] & (launch * metres[:, 0] >= targets[:, None])
    goal, rows = np.nonzero(slipping)
    if rows.size:
        result[rows, goal] = slip_times(forces, rows, targets[goal] / metres[rows, 0], launch)[0]
    there = way.used & (way.leave * metres >= targets[:, None, None] * (1.0 - 1e-12)) & ~slipping[..., None]
    goal, rows = np.nonzero(there.any(axis=2))
    gear, target = np.argmax(there, axis=2)[goal, rows], targets[goal]
    leg = rows * metres.shape[1] + gear
    row, per_radian = known.run_row[leg], known.motion.metres[leg]
    enter = way.enter.ravel()[leg]
    w = np.minimum(np.maximum(target / per_radian, enter), way.leave.ravel()[leg])
    time = per_radian * (known.running(row, w)[0] - legs.enter_time[leg])
    k, j, start, end = known.rough(row, enter, w)
    if k.size:
        time += sums(k, known.crossing(row[k], j, start, end)[0], rows.size)
    result[rows, goal] = begin.ravel()[leg] + time
    shifting = np.nonzero((gear > 0) & (enter * per_radian > target))[0]  # downhill it is reached in the shift
    if shifting.size:
        which, k, target = rows[shifting], gear[shifting], target[shifting]
        before = way.leave[which, k - 1] * metres[which, k - 1]
        slows = coasting(forces, which)(np.array([before, 0.5 * (before + target), target]))
        time = (before - target) * (np.array([1.0, 4.0, 1.0]) / 6.0 @ (1.0 / slows))
        result[which, goal[shifting]] = begin[which, k] - way.shift_time[which, k] + time
    return result


def _to_distance(
    forces: Forces, way: Plan, legs: _Legs, begin_time: Array, begin_distance: Array, launch: float
) -> tuple[Array, Array]:
    """Time to, and speed at, the ride's distance: in the slip, in a shift, in a gear, or at the speed the run ends with."""
    goal, metres = forces.ride.distance_m, forces.setups.metres_per_radian
    shape = metres.shape
    result, final = np.full(shape[0], np.nan), np.full(shape[0], np.nan)
    end = begin_distance + legs.distance
    slipping = way.used[:, 0] & (begin_distance[:, 0] >= goal)
    reached = way.used & (end >= goal) & ~slipping[:, None]
    gear = np.argmax(reached, axis=1)
    found = reached[np.arange(shape[0]), gear]
    rows = np.nonzero(found)[0]
    gear = gear[rows]
    left = goal - begin_distance[rows, gear]
    shifting = left < 0.0
    if shifting.any():
        which, k = rows[shifting], gear[shifting]
        took, over = way.shift_time[which, k], way.shift_distance[which, k]
        ends = way.leave[which, k - 1] * metres[which, k - 1], way.enter[which, k] * metres[which, k]
        time, final[which] = part_of_shift(*ends, took, over, over + left[shifting])
        result[which] = begin_time[which, k] - took + time
        rows, gear, left = rows[~shifting], gear[~shifting], left[~shifting]
    if rows.size:
        dt, w = _in_gear(forces.crossings, way, legs, rows * shape[1] + gear, left)
        result[rows], final[rows] = begin_time[rows, gear] + dt, w * metres[rows, gear]
    if slipping.any():
        rows = np.nonzero(slipping)[0]
        w = bracketed_root(
            lambda to: np.minimum(slip_times(forces, rows, to, launch)[1], 2.0 * goal) - goal,
            np.zeros(rows.size),
            np.full(rows.size, launch),
        )
        result[rows], final[rows] = slip_times(forces, rows, w, launch)[0], w * metres[rows, 0]
    _ridden_out(forces, way, legs, begin_time, end, ~found & ~slipping, result, final)
    return result, final


def _ridden_out(
    forces: Forces,
    way: Plan,
    legs: _Legs,
    begin_time: Array,
    end: Array,
    short: NDArray[np.bool_],
    result: Array,
    final: Array,
) -> None:
    """Where the run ends before the distance, the rest is ridden at the speed it ends with."""
    gear = way.used.shape[1] - 1 - np.argmax(way.used[:, ::-1], axis=1)
    every = np.arange(gear.size)
    time, distance = (begin_time + legs.time)[every, gear], end[every, gear]
    speed = (way.leave * forces.setups.metres_per_radian)[every, gear]
    rows = np.nonzero(short & way.used[:, 0] & ~way.lost & np.isfinite(time) & (speed > 0.0))[0]
    result[rows] = time[rows] + (forces.ride.distance_m - distance[rows]) / speed[rows]
    final[rows] = speed[rows]


def _in_gear(known: Crossings, way: Plan, legs: _Legs, leg: Index, goal: Array) -> tuple[Array, Array]:
    """Time to cover a distance that ends inside each leg, and the engine speed where it ends."""
    pieces, motion = known.motion.pieces, known.motion
    row, metres = known.run_row[leg], motion.metres[leg]
    enter = way.enter.ravel()[leg]
    enter_time, enter_distance = legs.enter_time[leg], legs.enter_distance[leg]
    # what the rough parts add, piece by piece: all of a part lies before the end of its piece
    place = np.full(way.used.size, -1)
    place[leg] = np.arange(leg.size)
    mine = place[legs.rough_leg]
    into = legs.rough_piece[mine >= 0] * leg.size + mine[mine >= 0]
    rough_x = sums(into, legs.rough_distance[mine >= 0], leg.size * pieces.count).reshape(pieces.count, leg.size)
    after = known.seen.distance[1:].take(row, axis=1) - enter_distance
    after *= metres * metres
    after += np.cumsum(rough_x, axis=0)
    j = np.argmax(after >= goal * (1.0 - 1e-12), axis=0)
    # of the rough parts, those in earlier pieces than that
    mine, past = mine[mine >= 0], legs.rough_piece[mine >= 0]
    earlier = past < j[mine]
    before_x, before_t = (
        sums(mine[earlier], v[place[legs.rough_leg] >= 0][earlier], leg.size)
        for v in (legs.rough_distance, legs.rough_time)
    )
    w, time = np.empty(leg.size), np.empty(leg.size)
    plain = known.seen.plain[j, row]
    p = np.nonzero(plain)[0]
    wanted = (goal[p] - before_x[p]) / metres[p] ** 2 + enter_distance[p] - known.seen.distance[j[p], row[p]]
    w[p], inside = part_way(known, row[p], j[p], wanted)
    time[p] = metres[p] * (known.seen.time[j[p], row[p]] + inside - enter_time[p]) + before_t[p]
    p = np.nonzero(~plain)[0]
    if p.size:
        edge = pieces.edges[j[p]]
        low, high = np.maximum(edge, enter[p]), np.minimum(pieces.edges[j[p] + 1], way.leave.ravel()[leg[p]])
        done_x = metres[p] ** 2 * (known.seen.distance[j[p], row[p]] - enter_distance[p]) + before_x[p]
        done_t = metres[p] * (known.seen.time[j[p], row[p]] - enter_time[p]) + before_t[p]
        dt, x = into_stretch(known.stretches(row[p], j[p], low, high), goal[p] - done_x)
        w[p], time[p] = edge + x, done_t + dt
    return time, w


def _trace(
    forces: Forces, way: Plan, legs: _Legs, begin_time: Array, begin_distance: Array, launch: float
) -> list[Array]:
    """Time, distance and road speed at the end of the slip and of every piece of every gear that is crossed, (S, 1 + G J)."""
    known, pieces = forces.crossings, forces.pieces
    metres = known.motion.metres[:, None]
    used, enter, leave = way.used.reshape(-1, 1), way.enter.reshape(-1, 1), way.leave.reshape(-1, 1)
    ends = np.minimum(np.maximum(pieces.edges[1:], enter), leave)
    crossed = used & (ends > enter) & (np.minimum(np.maximum(pieces.edges[:-1], enter), leave) < ends)
    count = pieces.count
    row = np.repeat(known.run_row, count)
    time, distance = known.plain_between(row, np.repeat(enter, count), ends.ravel())
    size = used.size * count
    into = legs.rough_leg * count + legs.rough_piece
    shape = (used.size, count)
    time, distance = (
        begin.reshape(-1, 1)
        + own.reshape(shape)
        + np.cumsum(np.bincount(into, weights=rough, minlength=size).reshape(shape), axis=1)
        for begin, own, rough in ((begin_time, time, legs.rough_time), (begin_distance, distance, legs.rough_distance))
    )
    slip = np.where(way.used[:, :1], [[1.0]], np.nan)
    s = way.used.shape[0]
    return [
        np.concatenate([first[:, None] * slip, np.where(crossed, rest, np.nan).reshape(s, -1)], axis=1)
        for first, rest in (
            (legs.slip_time, time),
            (legs.slip_distance, distance),
            (launch * forces.setups.metres_per_radian[:, 0], metres * ends),
        )
    ]
