"""Reading a phone's log into a Log: tables of any common shape, JSON lines, GPX and TCX."""

from __future__ import annotations

import io
import itertools
import json
from collections.abc import Callable, Iterator, Mapping
from pathlib import Path
from typing import IO, Any

import numpy as np

from ridesim.environment.climb import Climb, climb_along
from ridesim.errors import InputError
from ridesim.files import opened, read_plain
from ridesim.logs.clean import NO_FIX, NO_HEIGHT, Samples, log_of
from ridesim.logs.gpx import LARGEST_GPX, read_track, untimed_way
from ridesim.logs.log import Array, Found, Log
from ridesim.logs.reading.headings import ROLES as ROLES
from ridesim.logs.reading.positions import proved_unit, shown_per_moved, warning_of
from ridesim.logs.reading.shape import (
    HEAD_BYTES,
    ColumnOf,
    Columns,
    HeadingError,
    Shape,
    columns_of,
    encoding_of,
    shape_of,
)
from ridesim.logs.reading.stamps import OF_DAY, UNIT_S, clock_of_numbers, over_midnight, unit_of_numbers
from ridesim.logs.reading.table import SNIFFED, Raw, read_rows, text_lines
from ridesim.units import rad_s

LARGEST_TABLE = 200_000_000  # bytes
MOST_KEYS = 500  # of JSON lines
MOST_RAD_S = 1300.0
Progress = Callable[[float], None] | None


def read_log(
    path: str | Path,
    *,
    columns: Mapping[str, str] | None = None,
    units: Mapping[str, str] | None = None,
    progress: Progress = None,
) -> Log:
    """A log file as a Log: a table of any common shape or JSON lines (up to 200 MB), GPX or TCX (up to 40 MB).

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
        Its `found` tells what each column was read as, and what was left out.

    Raises
    ------
    InputError
        With the line and the reason, for everything that is not a log; HeadingError where a column must be chosen.
    """
    source = Path(path)
    name = _printable(source.name)
    try:
        with opened(source, name) as file:
            return _read(file, source.stat().st_size, name, columns, units, progress)
    except InputError:
        raise
    except (OSError, ValueError) as error:
        why = getattr(error, "strerror", None) or "not a usable file name"
        raise InputError(name, None, f"cannot be read ({why})", "Check the file name.") from None


def read_climb(source: str | Path | Log) -> Climb:
    """The heights and the hills of a logged ride, or of a file with a track or route that has places and heights but no times.

    Parameters
    ----------
    source : str, Path or Log
        A file as for read_log, or a GPX or TCX file of what was only drawn on a map.

    Returns
    -------
    Climb

    Raises
    ------
    InputError
        Neither a log nor such a track, or no heights.
    """
    path = None if isinstance(source, Log) else Path(source)
    if path and path.suffix.lower() in (".gpx", ".tcx"):
        drawn = untimed_way(read_plain(path, LARGEST_GPX), _printable(path.name))
        if drawn is not None:
            return climb_along(*drawn, timed=False)
    log = source if isinstance(source, Log) else read_log(source)
    return climb_along(log.distance_m, [] if log.elevation_m is None else log.elevation_m)


def read_log_bytes(
    data: bytes,
    name: str,
    *,
    columns: Mapping[str, str] | None = None,
    units: Mapping[str, str] | None = None,
    progress: Progress = None,
) -> Log:
    """The same as read_log for a file already in memory, such as one dropped on a page.

    Examples
    --------
    >>> text = "time [s],speed [km/h],rpm" + "".join(f"\\n{k},{36 + k},{4000 + 100 * k}" for k in range(5))
    >>> log = read_log_bytes(text.encode(), "pull.csv")
    >>> log.speed_m_s.round(3).tolist(), round(log.rate_hz, 3)
    ([10.0, 10.278, 10.556, 10.833, 11.111], 1.0)

    Where the headings do not tell, the rider does:

    >>> text = "a;b" + "".join(f"\\n{k};{36 + k}" for k in range(5))
    >>> log = read_log_bytes(text.encode(), "odd.csv", columns={"time": "a", "speed": "b"}, units={"time": "s", "speed": "km/h"})
    >>> log.speed_m_s.round(3).tolist()
    [10.0, 10.278, 10.556, 10.833, 11.111]
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
    progress: Progress,
) -> Log:
    if size == 0:
        raise InputError(name, None, "is empty", "Choose a log with a header and at least two rows.")
    head = file.read(HEAD_BYTES)
    file.seek(0)
    starts = head.lstrip(b"\xef\xbb\xbf\xff\xfe \t\r\n\0")[:1]
    if starts == b"<":
        _small_enough(name, size, LARGEST_GPX, "GPX and TCX", "Export it as CSV, or cut it into shorter rides.")
        return read_track(file.read(LARGEST_GPX + 1), name, name=name, progress=progress)
    _small_enough(name, size, LARGEST_TABLE, "a table", "Cut it into shorter rides.")
    encoding = encoding_of(head, name)
    lines = text_lines(file, encoding, name, size, progress)
    kind = "table"
    if starts in (b"{", b"["):
        lines, kind = _lines_of_json(lines, name), "JSON lines"
    first = list(itertools.islice(lines, SNIFFED))
    shape = shape_of(first, encoding, name)
    chosen = columns_of(shape, name, columns, units)
    raw = read_rows(itertools.chain(first, lines), shape, chosen.by_role, name)
    if raw.values["time"].size < 2:
        problem = "must have more than one row of figures"
        raise InputError(name, f"{raw.values['time'].size} rows", problem, "Choose a longer log.")
    return _log(raw, shape, chosen, name, kind)


def _small_enough(name: str, size: int, largest: int, what: str, fix: str) -> None:
    if size > largest:
        problem = f"is larger than {largest / 1e6:.0f} MB, the most for {what}"
        raise InputError(name, f"{size / 1e6:.0f} MB", problem, fix)


def _lines_of_json(lines: Iterator[str], where: str) -> Iterator[str]:
    """JSON objects, one a line (or the lines of one list), as the lines of a table with tabs; the keys are its headings."""
    keys: list[str] = []
    for number, line in enumerate(lines, start=1):
        text = line.strip().strip("\ufeff").lstrip("[").rstrip("],").strip()
        if not text:
            continue
        try:
            records = [_flat(one) for one in json.loads(f"[{text}]")]
        except (ValueError, RecursionError, AttributeError):
            records = []
        if not records or len(records[0]) > MOST_KEYS:
            if not keys:
                problem, fix = (
                    "is not a JSON object",
                    'Write one object a line, such as {"time": 0.0, "speed_kmh": 36.0}.',
                )
                raise InputError(f"{where}, line {number}", text[:40], problem, fix)
            yield text.replace("\t", " ")
            continue
        if not keys:
            keys = list(records[0])
            yield "\t".join(keys)
        yield from ("\t".join(cells.get(key, "") for key in keys) for cells in records)


def _flat(record: Mapping[str, Any], before: str = "") -> dict[str, str]:
    """The values of an object as text, those of an object in it by "outer inner".

    >>> _flat({"t": 1.5, "gps": {"lat": 45, "ok": None}})
    {'t': '1.5', 'gps lat': '45', 'gps ok': ''}
    """
    out: dict[str, str] = {}
    for key, value in record.items():
        name = f"{before}{key}".translate({9: 32, 10: 32, 13: 32})
        if isinstance(value, Mapping):
            out |= _flat(value, f"{name} ")
        else:
            out[name] = "" if value is None else str(value).translate({9: 32, 10: 32, 13: 32})
    return out


def _log(raw: Raw, shape: Shape, columns: Columns, name: str, kind: str) -> Log:
    by_role = columns.by_role
    time, time_unit, why = _time(raw, by_role["time"], name)
    mark = {"\t": "tabs", " ": "blanks"}.get(shape.delimiter, repr(shape.delimiter))
    decimals = sorted({one for one in raw.marks.values() if one})
    written = (
        f"cells separated by {mark}, decimals by {' and '.join(map(repr, decimals))}"
        if decimals
        else f"cells separated by {mark}"
    )
    found = [Found("file", f"{kind}, {shape.encoding}", written), _read_as("time", by_role["time"], time_unit, why)]
    _without_fix(raw)
    not_read: dict[str, str] = {}
    si = _in_si(raw, by_role, time, name, found, not_read)
    for role, among in columns.unsure.items():
        listed = ", ".join(one[:40] for one in among)
        not_read[role] = f"is not read from the log: several columns could be it ({listed}); choose one by hand"
    if columns.not_used:
        listed = ", ".join(one[:40] for one in columns.not_used[:20])
        found.append(Found("columns not used", f"{len(columns.not_used)}", listed))
    found += [
        Found(what, f"{count}", "left out", count)
        for what, count in {"rows without a time": raw.without_time, **raw.odd}.items()
        if count
    ]
    notes: tuple[str, ...] = ()
    where_is = si.keys() >= {"latitude", "longitude"}
    if "speed" in si and where_is:
        notes = warning_of(shown_per_moved(time, si["speed"], si["latitude"], si["longitude"]))
    if "speed" not in si:
        known = np.isfinite(si["latitude"]) & np.isfinite(si["longitude"])
        time, si, raw.lines = time[known], {k: v[known] for k, v in si.items()}, raw.lines[known]
        if lost := int(np.sum(~known)):
            found.append(Found("rows without a position", f"{lost}", "left out", lost))
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
    return log_of(samples, found, name=name, notes=notes, not_read=not_read)


def _read_as(role: str, column: ColumnOf, unit: str, why: str) -> Found:
    return Found(role, column.name[:60], f"{unit}; {why}")


def _in_si(
    raw: Raw,
    columns: Mapping[str, ColumnOf],
    time: Array,
    name: str,
    found: list[Found],
    not_read: dict[str, str],
) -> dict[str, Array]:
    """The figures in SI; what they were read as goes to found, and what cannot be to not_read."""
    si: dict[str, Array] = {}
    for role, column in columns.items():
        if role == "time":
            continue
        unit, scale, why = column.unit, column.scale, column.why
        if scale is None and role == "engine speed":
            if not _as_rpm(raw.values[role]):
                not_read[role] = (
                    f"is not read from the column {column.name[:40]}: its heading names no unit; write one behind it, such as [rpm]"
                )
                continue
            unit, scale, why = "rpm", float(rad_s(1.0)), f"{why}; no unit named, too large for any other"
        elif scale is None:
            unit, scale, why = _unit_still_open(column, raw, time, name)
        si[role] = raw.values[role]
        if scale != 1.0:
            with np.errstate(over="ignore"):
                si[role] *= scale
        found.append(_read_as(role, column, unit or "", why))
    if "speed" in si:
        si["speed"][np.abs(si["speed"] - NO_FIX) < 1e-3] = np.nan
    return si


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


def _time(raw: Raw, column: ColumnOf, name: str) -> tuple[Array, str, str]:
    values = raw.values["time"]
    if raw.time_kind == "number" and column.unit is None and (clock := clock_of_numbers(values)) is not None:
        return over_midnight(clock), "time of day", f"{column.why}; written as hhmmss: 60 to 99 never come"
    if raw.time_kind == "number":
        try:
            unit, why = unit_of_numbers(values, column.unit)
        except ValueError as error:
            at, fix = f"{name}, column {column.name[:40]!r}", 'Tell it: units={"time": "s"}.'
            raise HeadingError(InputError(at, None, str(error), fix), "unit", "time", [column.name]) from None
        return values * UNIT_S[unit], unit, f"{column.why}; {why}"
    if raw.time_kind in OF_DAY:
        return over_midnight(values), "time of day", f"{column.why}; midnight found where the clock falls by half a day"
    return values, "date and time", column.why


def _unit_still_open(column: ColumnOf, raw: Raw, time: Array, name: str) -> tuple[str, float, str]:
    """The unit of a speed whose heading names none, proved by the positions in the same log; otherwise it is asked for."""
    proved = None
    if raw.values.keys() >= {"latitude", "longitude"}:
        ratio = shown_per_moved(time, *(raw.values[role] for role in ("speed", "latitude", "longitude")))
        proved = None if ratio is None else proved_unit(ratio)
    if proved is None:
        at, fix = f"{name}, column {column.name[:40]!r}", 'Tell it: units={"speed": "km/h"}.'
        raise HeadingError(InputError(at, None, "does not name its unit", fix), "unit", "speed", [column.name])
    return proved[0], proved[1], f"{column.why}; unit proved by the positions in the log"
