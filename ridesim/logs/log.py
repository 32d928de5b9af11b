"""The records of a road log: the log itself, one run cut out of it, the runs to be found in it, and what to mind on the road."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field, replace
from typing import Any

import numpy as np
from numpy.typing import NDArray

from ridesim.errors import InputError

Array = NDArray[np.float64]

CAUTIONS = (
    "Measure on a closed track or an empty, level, straight stretch where it is allowed: public roads are no test bench.",
    "Keep to the speed limits and to what the road, its traffic and the day allow; local rules come first.",
    "Start the log before you set off and read it after you have stopped: nothing is to be read or touched while riding.",
    "Eyes on the road; fix the phone or carry it where it cannot come loose, and wear full gear.",
    "Have tires, chain and brakes checked first; follow the maker's manual, and ask a qualified mechanic when in doubt.",
)
MOST_RUNS = 200
DIRECTIONS = {"out": 1, "back": -1, "1": 1, "+1": 1, "-1": -1}


def frozen(values: Any) -> Array:
    """A copy as an array of floats that nobody can write to."""
    return sealed(np.array(values, dtype=float))


def sealed(values: Array) -> Array:
    """The same figures, not copied, as an array that nobody can write to; for figures that nobody else holds."""
    array = values.view()
    array.setflags(write=False)
    return array


@dataclass(frozen=True)
class Found:
    """One thing that was found in a file: what it is, the column or figure it was read from, and how or why.

    rows is how many rows it is about, where it was counted: rows, lines or cells that were left out.
    """

    what: str
    read_as: str
    detail: str = ""
    rows: int = 0


@dataclass(frozen=True, kw_only=True)
class Log:
    """A ride as it was logged: n samples of each channel, in SI, none of them to be written to.

    Attributes
    ----------
    name : str
        Of the file.
    time_s : array (n,)
        Rising, from 0. [s]
    speed_m_s : array (n,)
        As the receiver says, else from the positions; 0 to 200. [m/s]
    distance_m : array (n,)
        Ridden so far, from 0. [m]
    engine_speed_rad_s, elevation_m : array (n,) or None
        nan where it was not known, None where it was not logged. [rad/s], [m]
    east_m, north_m : array (n,) or None
        From the first known place; nan where none was known, None without positions. [m]
    found : tuple of Found
        What each column was read as, and what was done to the samples.
    notes : tuple of str
        What is to be minded of the log.
    not_read : dict
        Why a channel that the file names was left out, by channel.

    Examples
    --------
    Five samples at 2 Hz, speeding up by 2 m/s2:

    >>> t = np.arange(0.0, 2.5, 0.5)
    >>> ride = Log(name="x", time_s=t, speed_m_s=10.0 + 2.0 * t, distance_m=10.0 * t + t**2)
    >>> ride.rate_hz, ride.where(ride.speed_m_s > 12.0).time_s.tolist(), ride.engine_speed_rad_s is None
    (2.0, [1.5, 2.0], True)
    """

    name: str
    time_s: Array
    speed_m_s: Array
    distance_m: Array
    engine_speed_rad_s: Array | None = None
    elevation_m: Array | None = None
    east_m: Array | None = None
    north_m: Array | None = None
    found: tuple[Found, ...] = ()
    notes: tuple[str, ...] = ()
    not_read: dict[str, str] = field(default_factory=dict)

    @property
    def rate_hz(self) -> float:
        """Samples a second, one over the median step, so that gaps do not count. [Hz]"""
        return float(1.0 / np.median(np.diff(self.time_s)))

    def where(self, inside: NDArray[np.bool_]) -> Log:
        """The samples at some places, on the clock of the log; inside tells of each sample whether it stays, bool (n,)."""
        channels = ("time_s", "speed_m_s", "distance_m", "engine_speed_rad_s", "elevation_m", "east_m", "north_m")
        kept: dict[str, Any] = {
            name: frozen(one[inside]) for name in channels if (one := getattr(self, name)) is not None
        }
        return replace(self, **kept)


@dataclass(frozen=True, kw_only=True)
class RoadRun:
    """One segment of a log: a coast-down or a pull in one gear.

    Attributes
    ----------
    time_s, speed_m_s : array (n,)
        Time from the first sample of the segment. [s], [m/s]
    direction : int
        1 one way along the road, -1 the other way.
    engine_speed_rad_s : array (n,) or None
        [rad/s]
    name : str
        What messages call it.
    starts_at_s : float
        When it begins on the clock of its log. [s]
    notes : tuple of str
        Those of the log it was cut from.
    throttle_s : tuple of float or None
        When the throttle of a pull opens and shuts by what the log shows, on the run's own clock; what goes before and after
        belongs to the run. [s]

    Examples
    --------
    A pull from 10 to 16 m/s with two seconds before it and one after:

    >>> t = np.arange(0.0, 10.0)
    >>> run = RoadRun(time_s=t, speed_m_s=10.0 + np.clip(t - 2.0, 0.0, 6.0), direction=-1, throttle_s=(2.0, 8.0))
    >>> run.row()
    {'run': 'run', 'direction': -1, 'from_m_s': 10.0, 'to_m_s': 16.0, 'lasts_s': 6.0}
    """

    time_s: Array
    speed_m_s: Array
    direction: int
    engine_speed_rad_s: Array | None = None
    name: str = "run"
    starts_at_s: float = 0.0
    notes: tuple[str, ...] = ()
    throttle_s: tuple[float, float] | None = None

    @property
    def surrounded(self) -> bool:
        """Whether the log goes on for more than a second before the throttle opens and after it shuts.

        >>> run = RoadRun(time_s=np.arange(0.0, 9.0, 0.5), speed_m_s=np.full(18, 20.0), direction=1, throttle_s=(1.2, 7.4))
        >>> run.surrounded, replace(run, throttle_s=(0.9, 7.4)).surrounded, replace(run, throttle_s=(1.2, 7.6)).surrounded
        (True, False, False)
        """
        if self.throttle_s is None:
            return False
        opens, shuts = self.throttle_s
        return opens - float(self.time_s[0]) > 1.0 and float(self.time_s[-1]) - shuts > 1.0

    def row(self) -> dict[str, Any]:
        """The run as a row of a table, in SI."""
        ends = self.throttle_s or (self.time_s[0], self.time_s[-1])
        first, last = (float(v) for v in np.interp(ends, self.time_s, self.speed_m_s))
        return {
            "run": self.name,
            "direction": self.direction,
            "from_m_s": first,
            "to_m_s": last,
            "lasts_s": float(ends[1] - ends[0]),
        }


def cut(
    log: Log,
    from_s: float,
    to_s: float,
    *,
    direction: int = 1,
    name: str = "run",
    throttle: tuple[float, float] | None = None,
) -> RoadRun:
    """The segment of a log between two times of its clock, as a run; throttle is when that of a pull opens and shuts. [s]

    Examples
    --------
    >>> import numpy as np
    >>> t = np.arange(0.0, 10.0)
    >>> ride = Log(name="x", time_s=t, speed_m_s=20.0 - t, distance_m=20.0 * t - t**2 / 2)
    >>> cut(ride, 2.0, 6.0).speed_m_s.tolist()
    [18.0, 17.0, 16.0, 15.0, 14.0]
    """
    some = _between(log, from_s, to_s, 3, name)
    start = float(some.time_s[0])
    return RoadRun(
        time_s=frozen(some.time_s - start),
        speed_m_s=some.speed_m_s,
        direction=direction,
        name=name,
        engine_speed_rad_s=some.engine_speed_rad_s,
        starts_at_s=start,
        notes=log.notes,
        throttle_s=None if throttle is None else (throttle[0] - start, throttle[1] - start),
    )


def part_of(log: Log, from_s: float | None, to_s: float | None) -> Log:
    """The segment of a log between two times of its own clock, which it keeps; all of it where neither is given.

    Raises
    ------
    InputError
        Ends the wrong way round, or fewer than five samples between them.
    """
    if from_s is None and to_s is None:
        return log
    ends = (float(log.time_s[0]) if from_s is None else from_s, float(log.time_s[-1]) if to_s is None else to_s)
    return _between(log, *ends, 5, "stretch")


def _between(log: Log, from_s: float, to_s: float, fewest: int, where: str) -> Log:
    inside = (log.time_s >= from_s) & (log.time_s <= to_s)
    if inside.sum() < fewest:
        problem = f"holds fewer than {'three' if fewest == 3 else 'five'} samples of the log"
        raise InputError(
            where, f"{from_s:g} s to {to_s:g} s", problem, f"The log runs from 0 to {log.time_s[-1]:.1f} s."
        )
    return log.where(inside)


def notes_of(runs: Sequence[RoadRun]) -> tuple[str, ...]:
    """What is to be minded of the logs from which some runs were cut, each once, in the order of the runs."""
    return tuple(dict.fromkeys(note for run in runs for note in run.notes))


def both_ways(runs: Sequence[RoadRun]) -> bool:
    """Whether the runs were ridden both ways along the road."""
    return {run.direction for run in runs} == {1, -1}


def counted(runs: Sequence[RoadRun], most: int, fix: str) -> list[RoadRun]:
    """The runs as a list, if they are as many as a fit takes.

    Raises
    ------
    InputError
        No run, or more than `most`; fix tells how many make a good set.
    """
    if not 1 <= len(runs) <= most:
        raise InputError("runs", f"{len(runs)} runs", f"must be 1 to {most} runs", fix)
    return list(runs)


def directions_of(written: str) -> tuple[int, ...]:
    """Which way each run went, in the order ridden: 1 for out, -1 for back.

    Raises
    ------
    InputError
        A word that is neither, or more than 200 of them.

    Examples
    --------
    >>> directions_of("out, back, out")
    (1, -1, 1)
    """
    pieces = [piece.strip().lower() for piece in written.replace(";", ",").split(",", MOST_RUNS)]
    if len(pieces) > MOST_RUNS or not all(piece in DIRECTIONS for piece in pieces):
        fix = "Write one for each run, such as out, back."
        raise InputError("directions", written, "is not a list of out and back", fix)
    return tuple(DIRECTIONS[piece] for piece in pieces)
