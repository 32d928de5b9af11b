"""From figures as logged to a Log: order, duplicates, gaps, limits, and all channels on the clock of the speed."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import Any

import numpy as np
from numpy.typing import NDArray

from ridesim.errors import InputError
from ridesim.logs.log import Array, Found, Log, sealed
from ridesim.logs.plausible import jumps, stray
from ridesim.logs.reading.positions import (
    EARTH_RADIUS_M,
    fresh_fixes,
    gaps,
    great_circle_m,
    speed_of_steps_m_s,
    standing,
)
from ridesim.units import TWO_PI, in_both

FASTEST_M_S = 200.0
FASTEST_ENGINE_RAD_S = 3200.0  # 30 560 rev/min
LONGEST_S = 7 * 86400.0
LOWEST_M, HIGHEST_M = -500.0, 9500.0
HELD_S = 1.5  # how far an engine speed or elevation may be from the nearest of its samples
FEWEST = 3
NO_FIX = -1.0  # what receivers write where they know no speed, in m/s or in the unit of the column
SLOWEST_ENGINE_RAD_S = 30.0  # 286 rev/min: an engine that never turns faster is written in another unit
NO_HEIGHT = (-32768.0, -9999.0, -99999.0)  # and where they know no elevation
MANY = 0.5  # of the rows, with the time of the row before
FEW_BEYOND, FEW_BACK = 100, 20  # one cell in so many may hold what no ride holds, one row in so many step back in time


@dataclass(frozen=True, kw_only=True)
class Samples:
    """Figures in SI as a file gave them, one row a sample; nan where a cell was blank.

    Attributes
    ----------
    where, row : str
        The name of the file, and what a row of it is called in an error: "line", "track point".
    at : array of int (n,)
        The number of each row in the file, for an error.
    time_s : array (n,)
        As the file has it, mostly rising, from any zero. [s]
    speed_m_s, engine_speed_rad_s, elevation_m : array (n,) or None
        [m/s], [rad/s], [m]
    latitude_deg, longitude_deg : array (n,) or None
        [deg]
    """

    where: str
    row: str
    at: NDArray[np.int64]
    time_s: Array
    speed_m_s: Array | None
    engine_speed_rad_s: Array | None = None
    elevation_m: Array | None = None
    latitude_deg: Array | None = None
    longitude_deg: Array | None = None

    def only(self, rows: NDArray[Any]) -> Samples:
        """Some of the rows, by their places or by whether each of them stays."""
        if rows.dtype == bool and rows.all():
            return self
        columns = {name: one for name, one in vars(self).items() if isinstance(one, np.ndarray)}
        return replace(self, **{name: one[rows] for name, one in columns.items()})


def log_of(
    samples: Samples,
    found: Sequence[Found],
    *,
    name: str,
    notes: Sequence[str] = (),
    not_read: dict[str, str] | None = None,
) -> Log:
    """The Log of samples: in order, without what no ride can hold, and all channels on the clock of the speed.

    What is left out is counted in the Log's `found`. Where the file has no speed, it is taken from the positions.

    Parameters
    ----------
    samples : Samples
    found : sequence of Found
        What was found in the file so far.
    name : str
        Of the Log.
    notes : sequence of str, optional
        What is to be minded of the samples already.
    not_read : dict, optional
        Why a channel was left out, by channel.

    Returns
    -------
    Log

    Raises
    ------
    InputError
        With the row: figures that no ride holds in more than one row in a hundred, a clock that runs back; fewer than three
        samples, or more than a week.

    Examples
    --------
    Of two rows with one time the first stays; the clock starts at the first row:

    >>> rows = Samples(where="x", row="line", at=np.arange(2, 7), time_s=np.array([7.0, 8, 8, 9, 10]),
    ...                speed_m_s=np.array([10.0, 11, 99, 12, 13]))
    >>> log = log_of(rows, [], name="x")
    >>> log.time_s.tolist(), log.speed_m_s.tolist(), [(one.what, one.rows) for one in log.found[-1:]]
    ([0.0, 1.0, 2.0, 3.0], [10.0, 11.0, 12.0, 13.0], [('duplicates dropped', 1)])
    """
    whole, beyond = _limits(samples)
    samples, back = _in_order(whole)
    duplicates = whole.time_s.size - samples.time_s.size - back
    samples, repeated = _moved(samples)
    samples, unlikely = _likely(samples)
    speed, step_m, said = _speed(samples)
    notes, not_read = [*notes, *said], dict(not_read or {})
    known = np.isfinite(speed)
    samples, speed = samples.only(known), speed[known]
    time = samples.time_s
    if time.size < FEWEST:
        problem = f"must have {FEWEST} samples or more with time and speed"
        raise InputError(samples.where, f"{time.size} samples", problem, "Choose a longer log.")
    if time[-1] - time[0] > LONGEST_S:
        got, fix = f"{(time[-1] - time[0]) / 86400:.0f} days", "Check the unit of the time, or cut the log into rides."
        raise InputError(samples.where, got, "is longer than a week", fix)
    clock = sealed(time - time[0])
    left_out = (
        ("duplicates dropped", duplicates, "rows with the time of the row before"),
        ("rows back in time", back, "left out"),
        ("rows without a speed", int(np.sum(~known)), "left out"),
        ("positions held", repeated, "rows between two fixes, left out"),
    )
    rows = [*found, *beyond, *unlikely, *_clock_rows(clock)]
    rows += [Found(what, f"{n}", detail, n) for what, n, detail in left_out if n or what == "duplicates dropped"]
    if duplicates > MANY * whole.time_s.size:
        notes.append(
            "most rows have the time of the row before and are left out: let the logger write parts of a second"
        )
    if (step := float(np.median(np.diff(clock)))) > 1.5:
        notes.append(
            f"logged once in {step:.3g} s: too seldom for coast-downs and pulls; set the logger to 1 Hz or faster"
        )
    engine = _onto("engine_speed_rad_s", whole, samples)
    if engine is not None and 0 < np.nanmax(engine) < SLOWEST_ENGINE_RAD_S:
        fastest = np.nanmax(engine) * 60 / TWO_PI
        not_read["engine speed"] = f"never passes {fastest:.3g} rev/min and is left out: its unit is another"
        engine = None
    east, north = _positions(samples)
    way = step_m if step_m is not None else np.diff(clock) * (speed[:-1] + speed[1:]) / 2
    return Log(
        name=name,
        time_s=clock,
        speed_m_s=sealed(speed),
        distance_m=sealed(np.concatenate([[0.0], np.cumsum(way)])),
        engine_speed_rad_s=engine,
        east_m=east,
        north_m=north,
        elevation_m=_onto("elevation_m", whole, samples),
        found=tuple(rows),
        notes=(*notes, *(f"the {channel} {why}" for channel, why in not_read.items())),
        not_read=not_read,
    )


def _limits(samples: Samples) -> tuple[Samples, list[Found]]:
    """The samples without the few figures that no ride holds, counted; where they are many, the unit must be another."""
    found: list[Found] = []
    for what, channel, low, high, reading in (
        ("speed", "speed_m_s", 0.0, FASTEST_M_S, "speed"),
        ("engine speed", "engine_speed_rad_s", 0.0, FASTEST_ENGINE_RAD_S, "engine speed"),
        ("elevation", "elevation_m", LOWEST_M, HIGHEST_M, "distance"),
        ("latitude", "latitude_deg", -90.0, 90.0, ""),
        ("longitude", "longitude_deg", -180.0, 180.0, ""),
        ("time", "time_s", -1e12, 1e12, "time"),
    ):
        values = getattr(samples, channel)
        if values is None:
            continue
        bad = np.flatnonzero((values < low) | (values > high) | np.isinf(values))
        if not bad.size:
            continue
        if channel != "time_s" and samples.speed_m_s is not None and bad.size <= values.size // FEW_BEYOND:
            values = values.copy()
            values[bad] = np.nan
            samples = replace(samples, **{channel: values})
            at = f"the first in {samples.row} {samples.at[bad[0]]}"
            found.append(Found(f"{what} that no ride holds", f"{bad.size}", f"left out; {at}", int(bad.size)))
            continue
        k = bad[0]
        within = in_both(reading, low, high) if reading else f"{low:g} to {high:g} deg"
        negative = low == 0.0 and values[k] < 0
        raise InputError(
            f"{samples.where}, {samples.row} {samples.at[k]}, {what}",
            in_both(reading, values[k]) if reading else float(values[k]),
            "is negative" if negative else f"is beyond what a ride holds, {within}",
            "Check the unit, or delete the row.",
        )
    return samples, found


def _in_order(samples: Samples) -> tuple[Samples, int]:
    """The samples with rising times, and how many were left out because they step back in time.

    Of rows with the same time the first one with a speed is kept.
    """
    time = samples.time_s
    if time.size < 2:
        got, problem = f"{time.size} rows", "must have more than one row of figures"
        raise InputError(samples.where, got, problem, "Choose a longer log.")
    behind = time < np.maximum.accumulate(time)
    ahead = (
        time > np.minimum.accumulate(time[::-1])[::-1]
    )  # a clock that leaps forward once is wrong there, not after it
    wrong = ahead if ahead.sum() < behind.sum() else behind
    back = int(wrong.sum())
    if back > max(1, time.size // FEW_BACK):
        k = int(np.flatnonzero(np.diff(time) < 0)[0]) + 1
        problem = f"goes back in time by {time[k - 1] - time[k]:.3g} s"
        where = f"{samples.where}, {samples.row} {samples.at[k]}"
        raise InputError(where, None, problem, "Sort the log, or cut it there into two.")
    samples = samples.only(~wrong)
    time, speed = samples.time_s, samples.speed_m_s
    if np.all(np.diff(time) > 0):
        return samples, back
    blank = np.zeros(time.size, dtype=bool) if speed is None else np.isnan(speed)
    first = np.lexsort((np.arange(time.size), blank, time))
    return samples.only(first[np.concatenate([[True], np.diff(time[first]) > 0])]), back


def _moved(samples: Samples) -> tuple[Samples, int]:
    """Without the rows that repeat a position between two fixes, where the speed is taken from the positions; and their number."""
    if samples.speed_m_s is not None or samples.latitude_deg is None or samples.longitude_deg is None:
        return samples, 0
    stays = fresh_fixes(samples.time_s, samples.latitude_deg, samples.longitude_deg)
    return samples.only(stays), int(np.sum(~stays))


def _likely(samples: Samples) -> tuple[Samples, list[Found]]:
    """Without what no ride does, counted: rows by their speeds, and single positions."""
    speed = samples.speed_m_s
    if speed is None:
        return samples, []
    known = np.flatnonzero(np.isfinite(speed))
    zero, jump = np.zeros((2, speed.size), dtype=bool)
    zero[known], jump[known] = jumps(samples.time_s[known], speed[known])
    found = [
        ("fixes lost and written as zero", zero, "rows between two leaps of the speed that no brake makes, left out"),
        ("speeds that no tire gives", jump, "rows between two leaps of the speed, left out"),
    ]
    stays = ~(zero | jump)
    samples = samples.only(stays)
    if samples.latitude_deg is not None and samples.longitude_deg is not None:
        lat, lon = samples.latitude_deg, samples.longitude_deg
        far = stray(samples.time_s, np.nan_to_num(speed[stays]), lat, lon)
        samples = replace(samples, latitude_deg=np.where(far, np.nan, lat), longitude_deg=np.where(far, np.nan, lon))
        found.append(("positions far from where the speeds lead", far, "the position left out, the row kept"))
    return samples, [Found(what, f"{n}", detail, n) for what, rows, detail in found if (n := int(rows.sum()))]


def _speed(samples: Samples) -> tuple[Array, Array | None, list[str]]:
    if samples.speed_m_s is not None:
        return samples.speed_m_s, None, []
    time, lat, lon = samples.time_s, samples.latitude_deg, samples.longitude_deg
    assert lat is not None and lon is not None
    if time.size < FEWEST:
        problem = f"must have {FEWEST} positions or more with different times"
        raise InputError(samples.where, f"{time.size} positions", problem, "Choose a longer log.")
    step = great_circle_m(lat, lon)
    speed = speed_of_steps_m_s(time, step)
    over = np.flatnonzero(speed > FASTEST_M_S)
    if over.size:
        where, got = f"{samples.where}, {samples.row} {samples.at[over[0]]}", in_both("speed", float(speed[over[0]]))
        raise InputError(where, got, "is a leap no ride makes", "Delete the stray position.")
    stands = standing(time, lat, lon)
    speed[stands] = 0.0
    step[stands[:-1] & stands[1:]] = 0.0
    note = (
        "no speed was logged: it is taken from the positions and is several times noisier than a receiver's own speed"
    )
    return speed, step, [note]


def _positions(samples: Samples) -> tuple[Array | None, Array | None]:
    lat, lon = samples.latitude_deg, samples.longitude_deg
    if lat is None or lon is None:
        return None, None
    known = np.isfinite(lat) & np.isfinite(lon)
    if not known.any():
        return None, None
    first = int(np.argmax(known))
    east = np.radians(lon - lon[first]) * EARTH_RADIUS_M * np.cos(np.radians(lat[first]))
    return sealed(east), sealed(np.radians(lat - lat[first]) * EARTH_RADIUS_M)


def _onto(channel: str, whole: Samples, kept: Samples) -> Array | None:
    """Another channel at the times of the speed: as it is there, or between two of all its samples that are near."""
    values, here = getattr(whole, channel), getattr(kept, channel)
    if values is None or not (known := np.isfinite(values)).any():
        return None
    gaps = np.flatnonzero(np.isnan(here))
    if gaps.size:
        own, wanted = whole.time_s[known], kept.time_s[gaps]
        place = np.clip(np.searchsorted(own, wanted), 1, max(own.size - 1, 1))
        near = np.minimum(np.abs(wanted - own[place - 1]), np.abs(own[np.minimum(place, own.size - 1)] - wanted))
        here = here.copy()
        here[gaps] = np.where(near <= HELD_S, np.interp(wanted, own, values[known]), np.nan)
    return sealed(here) if np.isfinite(here).any() else None


def _clock_rows(clock: Array) -> list[Found]:
    step = np.diff(clock)
    median, gap = float(np.median(step)), gaps(step)
    jitter = float(np.std(step[~gap])) if (~gap).any() else 0.0
    longest = f"longest step {step.max():.3g} s" if gap.any() else "none longer than three steps and 2 s"
    return [
        Found("samples", f"{clock.size}", f"{clock[-1]:.1f} s long", clock.size),
        Found("rate", f"{1 / median:.3g} Hz", f"median step {median:.4g} s, jitter {jitter:.2g} s"),
        Found("gaps", f"{int(gap.sum())}", longest, int(gap.sum())),
    ]
