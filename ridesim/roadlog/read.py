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
from ridesim.roadlog.csv_shape import HEAD_BYTES, Column, Shape, columns_of, encoding_of, shape_of
from ridesim.roadlog.gpx import LARGEST_GPX, read_gpx
from ridesim.roadlog.log import Array, Log
from ridesim.roadlog.stamps import OF_DAY, UNIT_S, over_midnight, unit_of_numbers
from ridesim.roadlog.tidy import Samples, great_circle_m, log_of, speed_of_steps_m_s
from ridesim.units import quantity

LARGEST_CSV = 200_000_000  # bytes
_SPEED_UNITS = ("m/s", "km/h", "mph", "kn")


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
        if source.is_dir():
            raise InputError(name, None, "is a folder, not a log", "Name the file inside it.")
        if source.exists() and not source.is_file():
            raise InputError(name, None, "is not a file", "Name a CSV or GPX file.")
        size = source.stat().st_size
        with source.open("rb") as file:
            return _read(file, size, name, columns, units, progress)
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
    raw = read_rows(text_lines(file, encoding, name, size, progress), shape, taken, name)
    return _log(raw, shape, taken, name)


def _is_xml(head: bytes) -> bool:
    start = head.lstrip(b"\xef\xbb\xbf\xff\xfe \t\r\n\0")
    return start.startswith(b"<")


def _log(raw: Raw, shape: Shape, taken: Mapping[str, Column], name: str) -> Log:
    if raw.values["time"].size < 2:
        raise InputError(
            name, f"{raw.values['time'].size} rows", "must have more than one row of figures", "Choose a longer log."
        )
    time, time_unit, why = _time(raw, taken["time"], name)
    found: list[dict[str, Any]] = [
        {
            "what": "file",
            "taken_for": f"CSV, {shape.encoding}",
            "detail": f"delimiter {shape.delimiter!r}, decimal {'comma' if shape.decimal_comma else 'point'}",
        },
        {"what": "time", "taken_for": taken["time"].name[:60], "detail": f"{time_unit}; {why}"},
    ]
    si: dict[str, Array] = {}
    for role, column in taken.items():
        if role == "time":
            continue
        unit, scale, reason = column.unit, column.scale, column.why
        if scale is None:
            unit, scale, reason = _unit_still_open(column, raw, time, name)
        si[role] = raw.values[role]
        if scale != 1.0:
            with np.errstate(over="ignore"):
                si[role] *= scale
        found.append({"what": role, "taken_for": column.name[:60], "detail": f"{unit}; {reason}"})
    if raw.without_time:
        found.append({"what": "rows without a time", "taken_for": f"{raw.without_time}", "detail": "left out"})
    where_is = si.keys() >= {"latitude", "longitude"}
    if "speed" not in si:
        known = np.isfinite(si["latitude"]) & np.isfinite(si["longitude"])
        time, si, raw.lines = time[known], {k: v[known] for k, v in si.items()}, raw.lines[known]
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
    return log_of(samples, found, name=name)


def _time(raw: Raw, column: Column, name: str) -> tuple[Array, str, str]:
    values = raw.values["time"]
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
        f'Tell it: units={{"{column.role}": "{"km/h" if column.role == "speed" else "rpm"}"}}.',
    )
    if column.role != "speed" or not raw.values.keys() >= {"latitude", "longitude"}:
        raise ask
    lat, lon, speed = (raw.values[role] for role in ("latitude", "longitude", "speed"))
    known = np.isfinite(lat) & np.isfinite(lon) & np.isfinite(speed) & (np.abs(lat) <= 90) & (np.abs(lon) <= 180)
    known &= np.concatenate([[True], np.diff(time) > 0])
    if known.sum() < 20:
        raise ask
    moved = speed_of_steps_m_s(time[known], great_circle_m(lat[known], lon[known]))
    riding = (moved > 3.0) & (moved < 100.0)
    if riding.sum() < 20:
        raise ask
    ratio = float(np.median(speed[known][riding] / moved[riding]))
    for unit in _SPEED_UNITS:
        scale = float(quantity(1.0, "speed", unit, "unit"))
        if abs(ratio * scale - 1.0) < 0.04:
            return unit, scale, f"{column.why}; unit proved by the positions in the log"
    raise ask
