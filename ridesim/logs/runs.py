"""The coast-downs and pulls of some logs: where each begins and ends, and which way it was ridden."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Literal

import numpy as np

from ridesim.errors import InputError, within
from ridesim.logs.fits.signal import smooth_log_acceleration
from ridesim.logs.log import MOST_RUNS, Array, Log, RoadRun, cut
from ridesim.units import in_both

Kind = Literal["coast-down", "pull"]
Span = tuple[float, float]

HARDEST_COAST_M_S2 = 1.6  # more is braking, or an engine that holds
SOFTEST_COAST_M_S2 = 0.02
BRAKED_SHARE = 0.5  # of the fall of a run under a brake: more is no coast-down that was braked, but braking
# a tail wind or a slope leaves 0.1 m/s2 at low speed, which a receiver's noise must not hide: a wide window
COAST_WINDOW_S = 4.0
LONGEST_STEP_S = 3.0
SHORTEST_PART_S, FEWEST_IN_PART, LEAST_FALL_M_S = 3.0, 5, 2.0  # of a coast-down that a gap parts
NARROWEST_M_S = 3.0
FAST_SHARE, SLOW_SHARE = 0.9, 0.35  # of the highest speed logged: runs begin above the one and pass the other
LOOK_S = 0.1  # step of the search for pulls
AROUND_S = 3.0  # what a pull takes along before it opens and after it shuts
LONGEST_PULL_S = 40.0


def coast_speeds(logs: Sequence[Log]) -> tuple[float, float]:
    """(from, to) to begin with: speeds that every good coast-down of these logs passes through. [m/s]

    Nine tenths and 35 % of the highest speed logged, of the slowest log if there are several; never below 5 m/s.

    Examples
    --------
    >>> t = np.arange(3.0)
    >>> ride = Log(name="x", time_s=t, speed_m_s=np.array([0.0, 30.0, 20.0]), distance_m=20.0 * t)
    >>> coast_speeds([ride])
    (27.0, 10.5)
    """
    fastest = min(float(log.speed_m_s.max()) for log in logs)
    return FAST_SHARE * fastest, max(SLOW_SHARE * fastest, 5.0)


def runs_of(
    logs: Sequence[Log], kind: Kind, *, from_m_s: float, to_m_s: float, directions: Sequence[int] | None = None
) -> tuple[RoadRun, ...]:
    """Every run of a kind in some logs, each with the direction it was ridden in.

    A coast-down is where the speed falls steadily and gently all the way from one speed to the other. A closed throttle in
    gear looks much the same: only a rider knows that the clutch was pulled or the gearbox in neutral. A gap in the log
    parts it in two. A pull is where the speed rises from a lull at or below the one speed to a top at or above the other; it
    takes along AROUND_S before and after. Look the runs over before they are fitted.

    Parameters
    ----------
    logs : sequence of Log
        In the order ridden.
    kind : "coast-down" or "pull"
    from_m_s, to_m_s : float
        Speeds that each run passes through. [m/s]
    directions : sequence of 1 and -1, optional
        One for each run, or one for all; from the positions when not given.

    Returns
    -------
    tuple of RoadRun

    Raises
    ------
    InputError
        No run in a log, or no way to tell the directions.

    Examples
    --------
    Up to 25 m/s, coasting down at 0.5 m/s2, and braking from 8 m/s on; the log has no positions, so the rider says which way:

    >>> t = np.arange(60.0)
    >>> speed = np.interp(t, [0, 10, 44, 48, 60], [0, 25, 8, 0, 0])
    >>> ride = Log(name="x", time_s=t, speed_m_s=speed, distance_m=np.cumsum(speed))
    >>> (run,) = runs_of([ride], "coast-down", from_m_s=24.0, to_m_s=10.0, directions=[1])
    >>> run.name, float(run.speed_m_s[0]), float(run.speed_m_s[-1])
    ('coast-down 1', 24.0, 9.5)
    """
    _wide_enough(*((from_m_s, to_m_s) if kind == "coast-down" else (to_m_s, from_m_s)))
    find = coast_spans if kind == "coast-down" else pull_spans
    ends = [(log, parts) for log in logs for parts in _some(find(log, from_m_s, to_m_s), log, kind)]
    if directions is None:
        moved = np.array([_moved(log, (parts[0][0], parts[-1][1])) for log, parts in ends])
        ways = [1 if along >= 0 else -1 for along in moved @ moved[0]]
    else:
        ways = list(directions) * (len(ends) if len(directions) == 1 else 1)
    if len(ways) != len(ends):
        problem = f"do not go with the {len(ends)} runs found"
        fix = "Write out or back for each run, in the order ridden."
        raise InputError("directions", f"{len(ways)} directions", problem, fix)
    runs: list[RoadRun] = []
    for number, ((log, parts), way) in enumerate(zip(ends, ways, strict=True)):
        count = sum(other is log for other, _ in ends[:number]) + 1
        name = f"{kind} {count}{f' of {log.name}' if len(logs) > 1 else ''}"
        for part, span in enumerate(parts, 1):
            own = f"{name}, part {part}" if len(parts) > 1 else name
            runs.append(_pull(log, span, way, own) if kind == "pull" else cut(log, *span, direction=way, name=own))
    return tuple(runs)


def _pull(log: Log, throttle: Span, way: int, name: str) -> RoadRun:
    """A pull with what surrounds it."""
    opens, shuts = throttle
    return cut(log, opens - AROUND_S, shuts + AROUND_S, direction=way, name=name, throttle=throttle)


def _wide_enough(high: float, low: float) -> None:
    within("speed", high, 1.0, 120.0, "m/s")
    within("speed", low, 0.0, 120.0, "m/s")
    if high - low < NARROWEST_M_S:
        fix = f"Leave {in_both('speed', NARROWEST_M_S)} or more between the two speeds."
        raise InputError("speed", in_both("speed", low, high), "is too narrow a range", fix)


def _some(found: list[list[Span]], log: Log, kind: Kind) -> list[list[Span]]:
    """The runs of a log, if there are any and not too many."""
    if not found:
        fix = "Choose speeds that the run passed through without braking or shifting."
        raise InputError("log", log.name, f"holds no {kind} between these speeds", fix)
    if len(found) > MOST_RUNS:
        raise InputError("log", f"{len(found)} runs", f"holds more than {MOST_RUNS} of them", "Cut the log.")
    return found


def _near(begin: float, end: float) -> float:
    """How far from the mark the first and last speed of a run may be. [m/s]"""
    return max(1.0, 0.12 * abs(begin - end))


def coast_spans(log: Log, begin: float, end: float) -> list[list[Span]]:
    """When each coast-down of a log begins and ends, in as many parts as gaps make of it. [s]

    It falls by 0.02 to 1.6 m/s2, looked at over 4 s to each side, from near `begin` to near `end` [m/s]. A part is 3 s and
    five samples long or more and loses 2 m/s. A run that is braked for less than half of its fall is one all the same.
    """
    time, speed = log.time_s, log.speed_m_s
    rate = smooth_log_acceleration(log, COAST_WINDOW_S)
    falls = (rate < -SOFTEST_COAST_M_S2) & (speed <= begin + 1.0) & (speed >= end - 0.5)
    hard = falls & (rate <= -HARDEST_COAST_M_S2)
    step, fall = np.diff(time), -np.diff(speed)
    gap = step > LONGEST_STEP_S
    # over a gap it went on coasting if the speed fell as it falls when coasting
    other = gap & ~((fall > SOFTEST_COAST_M_S2 * step) & (fall < HARDEST_COAST_M_S2 * step))
    free, spans = np.ones(time.size, dtype=bool), {}
    # a brake in the middle of a run that coasts for the rest: it is a run, for the fit to name
    for inside, braked in ((falls & ~hard, False), (falls, True)):
        for run in np.split(np.arange(time.size), np.flatnonzero((np.diff(inside.astype(int)) != 0) | other) + 1):
            if run.size < FEWEST_IN_PART or not inside[run[0]] or not free[run].all():
                continue
            if braked and np.sum(fall[run[:-1]] * hard[run[:-1]]) > BRAKED_SHARE * (speed[run[0]] - speed[run[-1]]):
                continue
            # a step that passes much: the first and last sample need not be on the mark
            first, last = (max(_near(begin, end), abs(float(speed[b] - speed[a]))) for a, b in (run[:2], run[-2:]))
            if abs(speed[run[0]] - begin) > first or abs(speed[run[-1]] - end) > last:
                continue
            parts = [p for p in np.split(run, np.flatnonzero(gap[run[:-1]]) + 1) if p.size >= FEWEST_IN_PART]
            long_enough = [
                (float(time[p[0]]), float(time[p[-1]]))
                for p in parts
                if time[p[-1]] - time[p[0]] >= SHORTEST_PART_S and speed[p[0]] - speed[p[-1]] >= LEAST_FALL_M_S
            ]
            if long_enough:
                spans[run[0]], free[run] = long_enough, False
    return [spans[start] for start in sorted(spans)]


def pull_spans(log: Log, begin: float, end: float) -> list[list[Span]]:
    """When the throttle of each pull of a log opens and shuts by what the log shows: from the last lull to the top. [s]

    The lull lies at or near `begin` [m/s] or below, the top at or near `end` [m/s] or above, no more than 40 s later. What no log
    tells within some tenths of a second, the fit finds out.
    """
    clock = np.arange(log.time_s[0], log.time_s[-1], LOOK_S)
    speed = np.interp(clock, log.time_s, log.speed_m_s)
    if clock.size < 3:
        return []
    smooth = np.convolve(np.pad(speed, 5, "edge"), np.ones(11) / 11, "valid")
    rate = np.gradient(smooth, LOOK_S)
    most = round(LONGEST_PULL_S / LOOK_S)
    near = _near(begin, end)
    spans = []
    fast = np.concatenate([[False], smooth >= end - near, [False]])
    for first, after in np.flatnonzero(np.diff(fast.astype(int))).reshape(-1, 2):
        ahead = smooth[first : min(after, first + most)]
        low = np.flatnonzero(ahead < 0.9 * np.maximum.accumulate(ahead))
        top = first + int(np.argmax(ahead[: low[0]] if low.size else ahead))
        span = _throttle_of(smooth, rate, top, begin + near, most)
        if span is not None:
            opens, shuts = clock[span[0]] - 0.4, clock[span[1]] - 0.3
            inside = log.time_s[(log.time_s > opens - 1.0) & (log.time_s < shuts + 1.0)]
            if inside.size >= FEWEST_IN_PART and np.diff(inside).max() < LONGEST_STEP_S:
                spans.append([(float(max(opens, clock[0])), float(shuts))])
    return spans


def _throttle_of(smooth: Array, rate: Array, top: int, begin: float, most: int) -> tuple[int, int] | None:
    """From where the speed begins to rise in earnest to its top, if it rises from a lull at or below `begin`."""
    back = np.arange(max(top - most, 0), top)
    slow = back[smooth[back] < 0.15 * smooth[top]]
    back = back[back > slow[-1]] if slow.size else back
    lulls = back[smooth[back] <= begin]
    if not lulls.size:
        return None
    lull = int(lulls[np.argmin(np.where(lulls > lulls[-1] - 60, rate[lulls], np.inf))])
    rising = rate[lull : top + 1]
    return lull + int(np.argmax(rising > 0.5 * rising.max())), top


def _moved(log: Log, span: Span) -> Array:
    """Where a run led, east and north. [m]"""
    fix = "Say which way each run went, in the order ridden, such as out, back; or out alone for all of them."
    if log.east_m is None or log.north_m is None:
        raise InputError("directions", None, f"are not known: {log.name} holds no positions", fix)
    inside = (log.time_s >= span[0]) & (log.time_s <= span[1]) & np.isfinite(log.east_m + log.north_m)
    known = np.flatnonzero(inside)
    if known.size < 2:
        raise InputError("directions", None, "are not known: positions are missing in a run", fix)
    first, last = known[0], known[-1]
    return np.array([log.east_m[last] - log.east_m[first], log.north_m[last] - log.north_m[first]])
