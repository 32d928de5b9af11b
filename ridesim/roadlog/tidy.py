"""From figures as logged to a Log: order, duplicates, gaps, limits, and all channels on the clock of the speed."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray

from ridesim.errors import InputError
from ridesim.roadlog.log import Array, Log, sealed
from ridesim.roadlog.places import EARTH_RADIUS_M, fresh_fixes, gaps, great_circle_m, speed_of_steps_m_s, standing
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


@dataclass(frozen=True, kw_only=True)
class Samples:
    """Checked figures in SI, one row a sample; nan where a cell was blank. at names the place of each row for an error."""

    where: str
    row: str
    at: NDArray[np.int64]
    time_s: Array
    speed_m_s: Array | None
    engine_speed_rad_s: Array | None = None
    elevation_m: Array | None = None
    latitude_deg: Array | None = None
    longitude_deg: Array | None = None


def log_of(samples: Samples, found: Sequence[Mapping[str, Any]], *, name: str, notes: Sequence[str] = ()) -> Log:
    """The Log of samples; InputError with the row for what no ride can hold. notes is what is to be minded of them already."""
    _limits(samples)
    time, keep = _in_order(samples)
    time, keep, held = _moved(samples, time, keep)
    rows = [*found]
    speed, step_m, said = _speed(samples, time, keep)
    notes = [*notes, *said]
    kept = keep
    if samples.speed_m_s is not None and not (known := np.isfinite(speed)).all():
        kept, time, speed = keep[known], time[known], speed[known]
    blank = keep.size - kept.size
    if time.size < FEWEST:
        raise InputError(
            samples.where,
            f"{time.size} samples",
            f"must have {FEWEST} samples or more with time and speed",
            "Choose a longer log.",
        )
    start = time[0]
    if time[-1] - start > LONGEST_S:
        raise InputError(
            samples.where,
            f"{(time[-1] - start) / 86400:.0f} days",
            "is longer than a week",
            "Check the unit of the time, or cut the log into rides.",
        )
    clock = sealed(time - start)
    east, north = _positions(samples, kept)
    duplicates = samples.time_s.size - keep.size - held
    rows += _clock_rows(clock, duplicates, blank)
    if held:
        rows.append({"what": "positions held", "taken_for": f"{held}", "detail": "rows between two fixes, left out"})
    if duplicates > MANY * samples.time_s.size:
        notes.append(
            "most rows have the time of the row before and are left out: let the logger write parts of a second"
        )
    if (step := float(np.median(np.diff(clock)))) > 1.5:
        notes.append(
            f"logged once in {step:.3g} s: too seldom for coast-downs and pulls; set the logger to 1 Hz or faster"
        )
    way = step_m if step_m is not None else np.diff(clock) * (speed[:-1] + speed[1:]) / 2
    engine = _onto(samples.engine_speed_rad_s, samples, kept)
    if engine is not None and 0 < np.nanmax(engine) < SLOWEST_ENGINE_RAD_S:
        notes.append(
            f"the engine speed never passes {np.nanmax(engine) * 60 / TWO_PI:.3g} rev/min and is left out: its unit is another"
        )
        engine = None
    return Log(
        name=name,
        time_s=clock,
        speed_m_s=sealed(speed),
        distance_m=sealed(np.concatenate([[0.0], np.cumsum(way)])),
        engine_speed_rad_s=engine,
        east_m=east,
        north_m=north,
        elevation_m=_onto(samples.elevation_m, samples, kept),
        found=tuple(rows),
        notes=tuple(notes),
    )


def _limits(samples: Samples) -> None:
    for what, values, low, high, reading in (
        ("speed", samples.speed_m_s, 0.0, FASTEST_M_S, "speed"),
        ("engine speed", samples.engine_speed_rad_s, 0.0, FASTEST_ENGINE_RAD_S, "engine speed"),
        ("elevation", samples.elevation_m, LOWEST_M, HIGHEST_M, "distance"),
        ("latitude", samples.latitude_deg, -90.0, 90.0, ""),
        ("longitude", samples.longitude_deg, -180.0, 180.0, ""),
        ("time", samples.time_s, -1e12, 1e12, "time"),
    ):
        if values is None:
            continue
        bad = np.flatnonzero((values < low) | (values > high) | np.isinf(values))
        if bad.size:
            k = bad[0]
            problem = (
                "is negative"
                if low == 0.0 and values[k] < 0
                else f"is beyond what a ride holds, {in_both(reading, low, high) if reading else f'{low:g} to {high:g} deg'}"
            )
            raise InputError(
                f"{samples.where}, {samples.row} {samples.at[k]}, {what}",
                in_both(reading, values[k]) if reading else float(values[k]),
                problem,
                "Check the unit, or delete the row.",
            )


def _in_order(samples: Samples) -> tuple[Array, NDArray[np.int64]]:
    """Rising times and the rows they come from; of rows with the same time the first one with a speed is kept."""
    time = samples.time_s
    if time.size < 2:
        raise InputError(
            samples.where, f"{time.size} rows", "must have more than one row of figures", "Choose a longer log."
        )
    back = np.flatnonzero(np.diff(time) < 0)
    if back.size:
        k = int(back[0]) + 1
        raise InputError(
            f"{samples.where}, {samples.row} {samples.at[k]}",
            None,
            f"goes back in time by {time[k - 1] - time[k]:.3g} s",
            "Sort the log, or cut it there into two.",
        )
    if np.all(np.diff(time) > 0):
        return time, np.arange(time.size)
    speed = samples.speed_m_s
    blank = np.zeros(time.size, dtype=bool) if speed is None else np.isnan(speed)
    first = np.lexsort((np.arange(time.size), blank, time))
    keep = first[np.concatenate([[True], np.diff(time[first]) > 0])]
    return time[keep], keep


def _moved(samples: Samples, time: Array, keep: NDArray[np.int64]) -> tuple[Array, NDArray[np.int64], int]:
    """Without the rows that repeat a position between two fixes, where the speed is taken from the positions; and their number."""
    if samples.speed_m_s is not None or samples.latitude_deg is None or samples.longitude_deg is None:
        return time, keep, 0
    stays = fresh_fixes(time, samples.latitude_deg[keep], samples.longitude_deg[keep])
    return time[stays], keep[stays], int(np.sum(~stays))


def _speed(samples: Samples, time: Array, keep: NDArray[np.int64]) -> tuple[Array, Array | None, list[str]]:
    if samples.speed_m_s is not None:
        return _rows(samples.speed_m_s, keep), None, []
    assert samples.latitude_deg is not None and samples.longitude_deg is not None
    if time.size < FEWEST:
        raise InputError(
            samples.where,
            f"{time.size} positions",
            f"must have {FEWEST} positions or more with different times",
            "Choose a longer log.",
        )
    step = great_circle_m(samples.latitude_deg[keep], samples.longitude_deg[keep])
    speed = speed_of_steps_m_s(time, step)
    over = np.flatnonzero(speed > FASTEST_M_S)
    if over.size:
        at = samples.at[keep[over[0]]]
        raise InputError(
            f"{samples.where}, {samples.row} {at}",
            in_both("speed", float(speed[over[0]])),
            "is a leap no ride makes",
            "Delete the stray position.",
        )
    stands = standing(time, samples.latitude_deg[keep], samples.longitude_deg[keep])
    speed[stands] = 0.0
    step[stands[:-1] & stands[1:]] = 0.0
    note = (
        "no speed was logged: it is taken from the positions and is several times noisier than a receiver's own speed"
    )
    return speed, step, [note]


def _rows(values: Array, keep: NDArray[np.int64]) -> Array:
    """The rows that are kept, without a copy where all of them are: rows are kept in the order of the file."""
    return values if keep.size == values.size else values[keep]


def _positions(samples: Samples, kept: NDArray[np.int64]) -> tuple[Array | None, Array | None]:
    if samples.latitude_deg is None or samples.longitude_deg is None:
        return None, None
    lat, lon = _rows(samples.latitude_deg, kept), _rows(samples.longitude_deg, kept)
    known = np.isfinite(lat) & np.isfinite(lon)
    if not known.any():
        return None, None
    first = int(np.argmax(known))
    east = np.radians(lon - lon[first]) * EARTH_RADIUS_M * np.cos(np.radians(lat[first]))
    return sealed(east), sealed(np.radians(lat - lat[first]) * EARTH_RADIUS_M)


def _onto(values: Array | None, samples: Samples, kept: NDArray[np.int64]) -> Array | None:
    """Samples of another channel at the times of the speed: as they are, or between two that are near."""
    if values is None:
        return None
    known = np.flatnonzero(np.isfinite(values))
    if not known.size:
        return None
    if known.size == values.size:
        return sealed(_rows(values, kept))
    here = values[kept]
    gaps = np.flatnonzero(np.isnan(here))
    if gaps.size:
        own, wanted = samples.time_s[known], samples.time_s[kept][gaps]
        place = np.clip(np.searchsorted(own, wanted), 1, max(own.size - 1, 1))
        near = np.minimum(np.abs(wanted - own[place - 1]), np.abs(own[np.minimum(place, own.size - 1)] - wanted))
        here[gaps] = np.where(near <= HELD_S, np.interp(wanted, own, values[known]), np.nan)
    return sealed(here) if np.isfinite(here).any() else None


def _clock_rows(clock: Array, duplicates: int, blank: int) -> list[dict[str, Any]]:
    step = np.diff(clock)
    median, gap = float(np.median(step)), gaps(step)
    jitter = float(np.std(step[~gap])) if (~gap).any() else 0.0
    rows: list[dict[str, Any]] = [
        {"what": "samples", "taken_for": f"{clock.size}", "detail": f"{clock[-1]:.1f} s long"},
        {
            "what": "rate",
            "taken_for": f"{1 / median:.3g} Hz",
            "detail": f"median step {median:.4g} s, jitter {jitter:.2g} s",
        },
        {
            "what": "gaps",
            "taken_for": f"{int(gap.sum())}",
            "detail": f"longest step {step.max():.3g} s" if gap.any() else "none longer than three steps and 2 s",
        },
        {"what": "duplicates dropped", "taken_for": f"{duplicates}", "detail": "rows with the time of the row before"},
    ]
    if blank:
        rows.append({"what": "rows without a speed", "taken_for": f"{blank}", "detail": "left out"})
    return rows
