"""Reading a phone's log, CSV or GPX, into a Log."""

from __future__ import annotations

import io
import itertools
from collections.abc import Callable, Mapping
from pathlib import Path
from typing import IO, Any

import numpy as np

from ridesim.errors import InputError
from ridesim.roadlog.csv_rows import SNIFFED, Raw, read_rows, text_lines
from ridesim.roadlog.csv_shape import HEAD_BYTES, Column, Shape, Taken, columns_of, encoding_of, shape_of
from ridesim.roadlog.gpx import LARGEST_GPX, read_gpx
from ridesim.roadlog.log import Array, Log
from ridesim.roadlog.proof import doubt_of, proved_unit, shown_per_moved
from ridesim.roadlog.stamps import OF_DAY, UNIT_S, clock_of_numbers, over_midnight, unit_of_numbers
from ridesim.roadlog.tidy import NO_FIX, NO_HEIGHT, Samples, log_of
from ridesim.units import rad_s
from ridesim.whole_file import opened

LARGEST_CSV = 200_000_000  # bytes
MOST_RAD_S = 1300.0


def read_log(
    path: str | Path,
    *,
    columns: Mapping[str, str] | None = None,
    units: Mapping[str, str] | None = None,
    progress: Callable[[float], None] | None = None,
) -> Log:
    """A log file as a Log: CSV of any common shape (up to 200 MB) or GPX (up to 40 MB).

    Parameters
    ----------
    path : str or Path
    columns : mapping, optional
        Which column is what, by heading, where the headings do not tell: {"time": "t", "speed": "GPS 2"}; the keys are time,
        speed, engine speed, elevation, latitude, longitude.
    units : mapping, optional
        Units the headings do not name: {"speed": "km/h"}.
    progress : callable, optional
        Told the share read, 0 to 1.

    Returns
    -------
    Log
        Its `found` tells in rows what each column was taken for.

    Raises
    ------
    InputError
        With the line and the reason, for everything that is not a log.
    """
    source = Path(path)
    name = _printable(source.name)
    try:
        with opened(source, name) as file:
            return _read(file, source.stat().st_size, name, columns, units, progress)
    except InputError:
        raise
    except (OSError, ValueError) as error:
        raise InputError(
            name,
            None,
            f"cannot be read ({getattr(error, 'strerror', None) or 'not a usable file name'})",
            "Check the file name.",
        ) from None


def read_log_bytes(
    data: bytes,
    name: str,
    *,
    columns: Mapping[str, str] | None = None,
    units: Mapping[str, str] | None = None,
    progress: Callable[[float], None] | None = None,
) -> Log:
    """The same as read_log for a file already in memory, such as one dropped on a page.

    Examples
    --------
    >>> text = "time [s],speed [km/h],rpm" + "".join(f"\\n{k},{36 + k},{4000 + 100 * k}" for k in range(5))
    >>> log = read_log_bytes(text.encode(), "pull.csv")
    >>> log.speed_m_s.round(3).tolist(), round(log.rate_hz, 3)
    ([10.0, 10.278, 10.556, 10.833, 11.111], 1.0)
    """
    return _read(io.BytesIO(data), len(data), _printable(name), columns, units, progress)


def _printable(name: str) -> str:
    return "".join(sign if sign.isprintable() else "?" for sign in name[:80]) or "log"


def _read(
    file: IO[bytes],
    size: int,
    name: str,
    columns: Mapping[str, str] | None,
    units: Mapping[str, str] | None,
    progress: Callable[[float], None] | None,
) -> Log:
    if size == 0:
        raise InputError(name, None, "is empty", "Choose a log with a header and at least two rows.")
    head = file.read(HEAD_BYTES)
    if _is_xml(head):
        if size > LARGEST_GPX:
            raise InputError(
                name,
                f"{size / 1e6:.0f} MB",
                f"is larger than {LARGEST_GPX / 1e6:.0f} MB, the most for GPX",
                "Export it as CSV, or cut it into shorter rides.",
            )
        file.seek(0)
        return read_gpx(file.read(LARGEST_GPX + 1), name, name=name, progress=progress)
    if size > LARGEST_CSV:
        raise InputError(
            name, f"{size / 1e6:.0f} MB", f"is larger than {LARGEST_CSV / 1e6:.0f} MB", "Cut it into shorter rides."
        )
    encoding = encoding_of(head, name)
    first = list(itertools.islice(text_lines(io.BytesIO(head), encoding, name, size), SNIFFED))
    if len(head) == HEAD_BYTES and 1 < len(first) < SNIFFED:
        first.pop()  # cut off by the end of the head, not by that of the file
    shape = shape_of(first, encoding, name)
    taken = columns_of(shape, name, columns, units)
    file.seek(0)
    raw = read_rows(text_lines(file, encoding, name, size, progress), shape, taken.columns, name)
    return _log(raw, shape, taken, name)


def _is_xml(head: bytes) -> bool:
    start = head.lstrip(b"\xef\xbb\xbf\xff\xfe \t\r\n\0")
    return start.startswith(b"<")


def _log(raw: Raw, shape: Shape, taken: Taken, name: str) -> Log:
    if raw.values["time"].size < 2:
        raise InputError(
            name, f"{raw.values['time'].size} rows", "must have more than one row of figures", "Choose a longer log."
        )
    columns = taken.columns
    time, time_unit, why = _time(raw, columns["time"], name)
    found: list[dict[str, Any]] = [
        {
            "what": "file",
            "taken_for": f"CSV, {shape.encoding}",
            "detail": f"delimiter {shape.delimiter!r}, decimal {'comma' if shape.decimal_comma else 'point'}",
        },
        {"what": "time", "taken_for": columns["time"].name[:60], "detail": f"{time_unit}; {why}"},
    ]
    _without_fix(raw)
    si, rows, notes = _in_si(raw, columns, time, name)
    found += rows
    for role, among in taken.unsure.items():
        listed = ", ".join(one[:40] for one in among)
        found.append(
            {"what": role, "taken_for": "not taken", "detail": f"could be any of {listed}: choose one by hand"}
        )
        notes.append(f"{role} is not taken from the log: several columns could be it; choose one by hand")
    found += _left_out(raw)
    where_is = si.keys() >= {"latitude", "longitude"}
    if "speed" in si and where_is:
        notes += doubt_of(shown_per_moved(time, si["speed"], si["latitude"], si["longitude"]))
    if "speed" not in si:
        known = np.isfinite(si["latitude"]) & np.isfinite(si["longitude"])
        time, si, raw.lines = time[known], {k: v[known] for k, v in si.items()}, raw.lines[known]
        if not known.all():
            found.append({"what": "rows without a position", "taken_for": f"{np.sum(~known)}", "detail": "left out"})
    samples = Samples(
        where=name,
        row="line",
        at=raw.lines,
        time_s=time,
        speed_m_s=si.get("speed"),
        engine_speed_rad_s=si.get("engine speed"),
        elevation_m=si.get("elevation"),
        latitude_deg=si["latitude"] if where_is else None,
        longitude_deg=si["longitude"] if where_is else None,
    )
    return log_of(samples, found, name=name, notes=notes)


def _in_si(
    raw: Raw, columns: Mapping[str, Column], time: Array, name: str
) -> tuple[dict[str, Array], list[dict[str, Any]], list[str]]:
    """The figures in SI, a row for each of what it was taken for, and what is to be minded."""
    si: dict[str, Array] = {}
    found: list[dict[str, Any]] = []
    notes: list[str] = []
    for role, column in columns.items():
        if role == "time":
            continue
        unit, scale, why = column.unit, column.scale, column.why
        if scale is None and role == "engine speed":
            if not _as_rpm(raw.values[role]):
                notes.append(
                    f"{role} is not taken from the log: its heading names no unit; write one behind it, such as [rpm]"
                )
                continue
            unit, scale, why = "rpm", float(rad_s(1.0)), f"{why}; no unit named, too large for any other"
        elif scale is None:
            unit, scale, why = _unit_still_open(column, raw, time, name)
        si[role] = raw.values[role]
        if scale != 1.0:
            with np.errstate(over="ignore"):
                si[role] *= scale
        found.append({"what": role, "taken_for": column.name[:60], "detail": f"{unit}; {why}"})
    if "speed" in si:
        si["speed"][np.abs(si["speed"] - NO_FIX) < 1e-3] = np.nan
    return si, found, notes


def _as_rpm(turns: Array) -> bool:
    """Whether engine speeds without a unit can only be rev/min: in rad/s their median would be over 12 400 rev/min."""
    turning = turns[np.isfinite(turns) & (turns > 0)]
    return bool(turning.size) and float(np.median(turning)) > MOST_RAD_S


def _without_fix(raw: Raw) -> None:
    """What a receiver writes while it knows nothing becomes nan: a speed or engine speed of -1, a place at 0 and 0 degrees."""
    for role in {"speed", "engine speed"} & raw.values.keys():
        raw.values[role][raw.values[role] == NO_FIX] = np.nan
    if "elevation" in raw.values:
        raw.values["elevation"][np.isin(raw.values["elevation"], NO_HEIGHT)] = np.nan
    if raw.values.keys() >= {"latitude", "longitude"}:
        nowhere = (raw.values["latitude"] == 0) & (raw.values["longitude"] == 0)
        for role in ("latitude", "longitude"):
            raw.values[role][nowhere] = np.nan


def _left_out(raw: Raw) -> list[dict[str, Any]]:
    """What was not read, in rows."""
    counted = {"rows without a time": raw.without_time, "lines after the last row": raw.after_the_last}
    return [{"what": what, "taken_for": f"{count}", "detail": "left out"} for what, count in counted.items() if count]


def _time(raw: Raw, column: Column, name: str) -> tuple[Array, str, str]:
    values = raw.values["time"]
    if raw.time_kind == "number" and column.unit is None and (clock := clock_of_numbers(values)) is not None:
        return over_midnight(clock), "time of day", f"{column.why}; written as hhmmss: 60 to 99 never come"
    if raw.time_kind == "number":
        try:
            unit, why = unit_of_numbers(values, column.unit)
        except ValueError as error:
            raise InputError(
                f"{name}, column {column.name[:40]!r}", None, str(error), 'Tell it: units={"time": "s"}.'
            ) from None
        return values * UNIT_S[unit], unit, f"{column.why}; {why}"
    if raw.time_kind in OF_DAY:
        return over_midnight(values), "time of day", f"{column.why}; midnight found where the clock falls by half a day"
    return values, "date and time", column.why


def _unit_still_open(column: Column, raw: Raw, time: Array, name: str) -> tuple[str, float, str]:
    """The unit of a speed whose heading names none, proved by the positions in the same log; otherwise it is asked for."""
    ask = InputError(
        f"{name}, column {column.name[:40]!r}",
        None,
        "does not name its unit",
        'Tell it: units={"speed": "km/h"}.',
    )
    if not raw.values.keys() >= {"latitude", "longitude"}:
        raise ask
    ratio = shown_per_moved(time, *(raw.values[role] for role in ("speed", "latitude", "longitude")))
    proved = None if ratio is None else proved_unit(ratio)
    if proved is None:
        raise ask
    return proved[0], proved[1], f"{column.why}; unit proved by the positions in the log"
