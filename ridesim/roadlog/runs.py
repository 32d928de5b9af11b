"""Finding the coast-downs and the pulls in a log, and which way along the road each was ridden."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray

from ridesim.errors import InputError
from ridesim.roadlog.log import Array, Log, Run, cut
from ridesim.roadlog.signal import smooth_log_acceleration
from ridesim.surroundings.checks import within
from ridesim.units import in_both

HARDEST_COAST_M_S2 = 1.6  # more is braking, or an engine that holds
SOFTEST_COAST_M_S2 = 0.02
SOFTEST_PULL_M_S2 = 0.25
# a tail wind or a slope leaves 0.1 m/s2 at low speed, which a receiver's noise must not hide: a wide window with few bends
COAST_WINDOW_S, COAST_ORDER = 4.0, 2
LONGEST_STEP_S = 3.0
NARROWEST_M_S = 3.0
MOST_RUNS = 200


def find_coast_downs(
    log: Log,
    *,
    from_m_s: float,
    to_m_s: float,
    directions: Sequence[int] | None = None,
) -> tuple[Run, ...]:
    """Stretches in which the speed falls steadily and gently all the way from one speed to the other.

    A closed throttle in gear looks much like coasting: only a rider knows that the clutch was pulled or the gearbox in
    neutral. Look the runs over before they are fitted.

    Parameters
    ----------
    log : Log
    from_m_s, to_m_s : float
        [m/s]
    directions : sequence of 1 and -1, optional
        Which way each run found was ridden, where the log holds no positions.

    Returns
    -------
    tuple of Run

    Raises
    ------
    InputError
        No such stretch, or no way to tell the directions.
    """
    fast, slow = _speeds(from_m_s, to_m_s)
    rate = smooth_log_acceleration(log, COAST_WINDOW_S, COAST_ORDER)
    gentle = (rate < -SOFTEST_COAST_M_S2) & (rate > -HARDEST_COAST_M_S2)
    return _runs(
        log,
        gentle & (log.speed_m_s <= fast + 1.0) & (log.speed_m_s >= slow - 0.5),
        fast,
        slow,
        directions,
        "coast-down",
    )


def find_pulls(
    log: Log,
    *,
    from_m_s: float,
    to_m_s: float,
    directions: Sequence[int] | None = None,
) -> tuple[Run, ...]:
    """Stretches in which the speed rises steadily all the way from one speed to the other, without a shift between them.

    Parameters
    ----------
    log : Log
    from_m_s, to_m_s : float
        [m/s]
    directions : sequence of 1 and -1, optional
        Which way each run found was ridden, where the log holds no positions.

    Returns
    -------
    tuple of Run

    Raises
    ------
    InputError
        No such stretch, or no way to tell the directions.
    """
    fast, slow = _speeds(to_m_s, from_m_s)
    rising = smooth_log_acceleration(log) > SOFTEST_PULL_M_S2
    return _runs(
        log, rising & (log.speed_m_s <= fast + 0.5) & (log.speed_m_s >= slow - 0.5), slow, fast, directions, "pull"
    )


def _speeds(fast: float, slow: float) -> tuple[float, float]:
    high, low = float(within("speed", fast, 1.0, 120.0, "m/s")), float(within("speed", slow, 0.0, 120.0, "m/s"))
    if high - low < NARROWEST_M_S:
        raise InputError(
            "speed",
            in_both("speed", low, high),
            "is too narrow a range",
            f"Leave {in_both('speed', NARROWEST_M_S)} or more between the two speeds.",
        )
    return high, low


def _runs(
    log: Log, inside: NDArray[np.bool_], begin: float, end: float, directions: Sequence[int] | None, word: str
) -> tuple[Run, ...]:
    step = np.diff(log.time_s) > LONGEST_STEP_S
    edges = np.flatnonzero((np.diff(inside.astype(int)) != 0) | step) + 1
    spans = []
    for part in np.split(np.arange(inside.size), edges):
        if part.size >= 5 and inside[part[0]]:
            speed = log.speed_m_s[part]
            near = max(1.0, 0.12 * abs(begin - end))  # the first and last sample need not be on the mark
            first, last = (max(near, abs(float(a - b))) for a, b in ((speed[1], speed[0]), (speed[-1], speed[-2])))
            if abs(speed[0] - begin) <= first and abs(speed[-1] - end) <= last:  # a hard pull passes much in a sample
                spans.append((float(log.time_s[part[0]]), float(log.time_s[part[-1]])))
    if not spans:
        raise InputError(
            "log",
            log.name,
            f"holds no {word} between these speeds",
            "Choose speeds that the run passed through without braking or shifting.",
        )
    if len(spans) > MOST_RUNS:
        raise InputError("log", f"{len(spans)} runs", f"holds more than {MOST_RUNS} of them", "Cut the log.")
    ways = _ways(log, spans, directions, word)
    return tuple(
        cut(log, a, b, direction=way, name=f"{word} {k}")
        for k, ((a, b), way) in enumerate(zip(spans, ways, strict=True), 1)
    )


def _ways(log: Log, spans: Sequence[tuple[float, float]], directions: Sequence[int] | None, word: str) -> list[int]:
    if directions is not None:
        if len(directions) != len(spans):
            raise InputError(
                "directions",
                f"{len(directions)} directions",
                f"do not go with {len(spans)} runs found",
                "Write 1 or -1 for each run, in the order they were ridden.",
            )
        return [int(way) for way in directions]
    if log.east_m is None or log.north_m is None:
        raise InputError(
            "directions",
            None,
            "are not known: the log holds no positions",
            f"Write 1 or -1 for each {word}, in the order they were ridden: directions=[1, -1, ...].",
        )
    moved = np.array([_moved(log, span) for span in spans])
    if not np.isfinite(moved).all():
        raise InputError(
            "directions", None, "are not known: positions are missing in a run", "Give directions=[1, -1, ...]."
        )
    return [1 if way >= 0 else -1 for way in moved @ moved[0]]


def _moved(log: Log, span: tuple[float, float]) -> Array:
    assert log.east_m is not None and log.north_m is not None
    ends = np.searchsorted(log.time_s, span)
    return np.array([log.east_m[ends[1]] - log.east_m[ends[0]], log.north_m[ends[1]] - log.north_m[ends[0]]])
