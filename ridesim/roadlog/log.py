"""The records of a road log: the log itself, one run cut out of it, and what to mind on the road."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from typing import Any

import numpy as np
from numpy.typing import NDArray

from ridesim.errors import InputError
from ridesim.units import in_both

Array = NDArray[np.float64]

CAUTIONS = (
    "Measure on a closed track or an empty, level, straight stretch where it is allowed: public roads are no test bench.",
    "Keep to the speed limits and to what the road, its traffic and the day allow; local rules come first.",
    "Start the log before you set off and read it after you have stopped: nothing is to be read or touched while riding.",
    "Eyes on the road; fix the phone or carry it where it cannot come loose, and wear full gear.",
    "Let tires, chain and brakes be checked first; follow the maker's manual, and ask a qualified mechanic when in doubt.",
)


def frozen(values: Any) -> Array:
    """A copy as an array of floats that nobody can write to."""
    array = np.array(values, dtype=float)
    array.setflags(write=False)
    return array


def sealed(values: Array) -> Array:
    """The same figures, not copied, as an array that nobody can write to; for figures that nobody else holds."""
    array = values.view()
    array.setflags(write=False)
    return array


@dataclass(frozen=True, kw_only=True)
class Log:
    """A ride as it was logged, in SI, with rising time that starts at 0.

    engine_speed_rad_s and elevation_m are None when they were not logged, and nan where they were not known;
    east_m and north_m are metres from the first point, None without positions. found tells in rows what each column was
    taken for and what was done to the samples.
    """

    name: str
    time_s: Array
    speed_m_s: Array
    distance_m: Array
    engine_speed_rad_s: Array | None = None
    elevation_m: Array | None = None
    east_m: Array | None = None
    north_m: Array | None = None
    found: tuple[Mapping[str, Any], ...] = ()
    notes: tuple[str, ...] = ()

    @property
    def rate_hz(self) -> float:
        """Samples a second, from the median step."""
        return float(1.0 / np.median(np.diff(self.time_s)))


@dataclass(frozen=True, kw_only=True)
class Run:
    """One stretch of a log: a coast-down or a pull in one gear.

    direction is +1 one way along the road and -1 the other way; time starts at 0. notes are those of the log it was cut from.
    """

    time_s: Array
    speed_m_s: Array
    direction: int
    engine_speed_rad_s: Array | None = None
    name: str = "run"
    starts_at_s: float = field(default=0.0)
    notes: tuple[str, ...] = ()

    def __post_init__(self) -> None:
        time, speed = np.asarray(self.time_s, dtype=float), np.asarray(self.speed_m_s, dtype=float)
        where = f"{self.name}.time_s"
        if time.ndim != 1 or time.shape != speed.shape or time.size < 3:
            raise InputError(
                where,
                f"{time.size} samples",
                "needs three samples or more, as many speeds as times",
                "Cut a longer stretch.",
            )
        if not (np.all(np.isfinite(time)) and np.all(np.isfinite(speed))):
            raise InputError(where, None, "has a sample that is not a number", "Read the log again.")
        if not np.all(np.diff(time) > 0):
            raise InputError(
                where, None, "must rise from sample to sample", "Read the log with read_log, which checks."
            )
        if np.any(speed < 0) or np.any(speed > 200):
            raise InputError(
                f"{self.name}.speed_m_s",
                None,
                f"must be from {in_both('speed', 0.0, 200.0)}",
                "Check the unit of the speed.",
            )
        if self.direction not in (1, -1):
            raise InputError(
                f"{self.name}.direction",
                self.direction,
                "must be 1 or -1",
                "Call one way along the road 1 and the other -1.",
            )


def cut(log: Log, from_s: float, to_s: float, *, direction: int = 1, name: str = "run") -> Run:
    """The stretch of a log between two times of its clock.

    Parameters
    ----------
    log : Log
    from_s, to_s : float
        [s]
    direction : 1 or -1
        Which way along the road.

    Returns
    -------
    Run

    Raises
    ------
    InputError
        Fewer than three samples between them.

    Examples
    --------
    >>> import numpy as np
    >>> t = np.arange(0.0, 10.0)
    >>> ride = Log(name="x", time_s=t, speed_m_s=20.0 - t, distance_m=20.0 * t - t**2 / 2)
    >>> cut(ride, 2.0, 6.0).speed_m_s.tolist()
    [18.0, 17.0, 16.0, 15.0, 14.0]
    """
    inside = (log.time_s >= from_s) & (log.time_s <= to_s)
    if inside.sum() < 3:
        raise InputError(
            name,
            f"{from_s:g} s to {to_s:g} s",
            "holds fewer than three samples of the log",
            f"The log runs from 0 to {log.time_s[-1]:.1f} s.",
        )
    time = log.time_s[inside]
    engine = None if log.engine_speed_rad_s is None else frozen(log.engine_speed_rad_s[inside])
    return Run(
        time_s=frozen(time - time[0]),
        speed_m_s=frozen(log.speed_m_s[inside]),
        direction=direction,
        name=name,
        engine_speed_rad_s=engine,
        starts_at_s=float(time[0]),
        notes=log.notes,
    )


def notes_of(runs: Sequence[Run]) -> tuple[str, ...]:
    """What is to be minded of the logs from which some runs were cut, each once."""
    return tuple(dict.fromkeys(note for run in runs for note in run.notes))


def both_ways(runs: Sequence[Run]) -> bool:
    """Whether the runs were ridden both ways along the road."""
    return {run.direction for run in runs} == {1, -1}
