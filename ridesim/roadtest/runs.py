"""Which runs of one or more logs to use: the stretch, the speeds, and the way each was ridden."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from typing import Literal

import numpy as np

from ridesim.bike import Bike
from ridesim.errors import InputError
from ridesim.roadlog import Log, Run, find_coast_downs, find_pulls
from ridesim.roadlog.log import Array, frozen

Kind = Literal["coast-down", "pull"]
WORDS = {"out": 1, "back": -1, "1": 1, "+1": 1, "-1": -1}
MOST_RUNS = 200
FAST_SHARE, SLOW_SHARE = 0.9, 0.35  # of the highest speed logged: runs begin above the one and pass the other
PULL_FROM, PULL_TO = 0.42, 0.90  # of the rev limit


def part_of(log: Log, from_s: float | None, to_s: float | None) -> Log:
    """The stretch of a log between two times of its own clock, which it keeps.

    Raises
    ------
    InputError
        Ends the wrong way round, or fewer than five samples between them.
    """
    if from_s is None and to_s is None:
        return log
    low = float(log.time_s[0]) if from_s is None else float(from_s)
    high = float(log.time_s[-1]) if to_s is None else float(to_s)
    inside = (log.time_s >= low) & (log.time_s <= high)
    if not inside.sum() >= 5:
        raise InputError(
            "stretch",
            f"{low:g} s to {high:g} s",
            "holds fewer than five samples of the log",
            f"The log runs from 0 to {log.time_s[-1]:.0f} s.",
        )

    def some(values: Array | None) -> Array | None:
        return None if values is None else frozen(values[inside])

    return replace(
        log,
        time_s=frozen(log.time_s[inside]),
        speed_m_s=frozen(log.speed_m_s[inside]),
        distance_m=frozen(log.distance_m[inside]),
        engine_speed_rad_s=some(log.engine_speed_rad_s),
        elevation_m=some(log.elevation_m),
        east_m=some(log.east_m),
        north_m=some(log.north_m),
    )


def ways_of(written: str) -> tuple[int, ...]:
    """Which way each run went, in the order ridden.

    >>> ways_of("out, back, out")
    (1, -1, 1)
    """
    pieces = [piece.strip().lower() for piece in written.replace(";", ",").split(",", MOST_RUNS)]
    if len(pieces) > MOST_RUNS or not all(piece in WORDS for piece in pieces):
        raise InputError("ways", written, "is not a list of out and back", "Write one for each run, such as out, back.")
    return tuple(WORDS[piece] for piece in pieces)


def coast_speeds(logs: Sequence[Log]) -> tuple[float, float]:
    """(from, to) to begin with: speeds that every good coast-down of these logs passes through. [m/s]"""
    fastest = min(float(log.speed_m_s.max()) for log in logs)
    return FAST_SHARE * fastest, max(SLOW_SHARE * fastest, 5.0)


def pull_speeds(bike: Bike, gear: int) -> tuple[float, float]:
    """(from, to) to begin with: most of the rev range in that gear. [m/s]"""
    per = float(bike.setups.metres_per_radian[0, gear - 1]) * bike.rev_limit_rad_s
    return PULL_FROM * per, PULL_TO * per


def runs_of(
    logs: Sequence[Log], kind: Kind, *, from_m_s: float, to_m_s: float, ways: Sequence[int] | None = None
) -> tuple[Run, ...]:
    """Every run of a kind in some logs, each with the way it was ridden.

    Parameters
    ----------
    logs : sequence of Log
        In the order ridden.
    kind : "coast-down" or "pull"
    from_m_s, to_m_s : float
        Speeds that each run passes through. [m/s]
    ways : sequence of 1 and -1, optional
        One for each run, or one for all; from the positions when not given.

    Returns
    -------
    tuple of Run

    Raises
    ------
    InputError
        No run in a log, or no way to tell how it was ridden.
    """
    find = find_coast_downs if kind == "coast-down" else find_pulls
    told = ways is not None
    found: list[Run] = []
    first: Array | None = None
    for log in logs:
        placed = log.east_m is not None and log.north_m is not None
        if not (told or placed):
            raise InputError(
                "ways",
                None,
                f"are not known: {log.name} holds no positions",
                "Say which way each run went, in the order ridden, such as out, back; or out alone for all of them.",
            )
        stand_in = replace(log, east_m=log.distance_m, north_m=frozen(np.zeros_like(log.distance_m))) if told else log
        runs = find(stand_in, from_m_s=from_m_s, to_m_s=to_m_s)
        if not told:
            way = _moved(log, runs[0])
            first = way if first is None else first
            turned = 1 if float(way @ first) >= 0 else -1  # each log calls its own first run 1
            runs = tuple(replace(run, direction=turned * run.direction) for run in runs)
        found += [replace(run, name=f"{run.name} of {log.name}") if len(logs) > 1 else run for run in runs]
    if ways is not None:
        each = tuple(ways) * len(found) if len(ways) == 1 else tuple(ways)
        if len(each) != len(found):
            raise InputError(
                "ways",
                f"{len(each)} ways",
                f"do not go with the {len(found)} runs found",
                "Write out or back for each run, in the order ridden.",
            )
        found = [replace(run, direction=way) for run, way in zip(found, each, strict=True)]
    return tuple(found)


def _moved(log: Log, run: Run) -> Array:
    """Where a run led, east and north. [m]"""
    assert log.east_m is not None and log.north_m is not None
    a, b = np.searchsorted(log.time_s, (run.starts_at_s, run.starts_at_s + float(run.time_s[-1])))
    b = min(int(b), log.time_s.size - 1)
    return np.array([log.east_m[b] - log.east_m[a], log.north_m[b] - log.north_m[a]])


def way_word(direction: int) -> str:
    """The way of a run in a word."""
    return "out" if direction > 0 else "back"
