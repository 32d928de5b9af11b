"""Ride logs in GPX: checked as XML before they are parsed, so that no entity and no outside file is ever opened."""

from __future__ import annotations

import codecs
import io
import math
import re
from collections.abc import Callable, Iterator, Sequence
from typing import Any

import numpy as np

from ridesim.errors import InputError, shown
from ridesim.roadlog.log import Log
from ridesim.roadlog.proof import APART, doubt_of, proved_unit, shown_per_moved
from ridesim.roadlog.tidy import NO_FIX, NO_HEIGHT, Samples, log_of
from ridesim.units import rad_s

LARGEST_GPX = 40_000_000  # bytes; ten hours at 10 Hz
DEEPEST = 40
MOST_ELEMENTS = 2_500_000
ENGINE_NAMES = ("rpm", "enginespeed", "enginerpm")
RAD_S_PER_RPM = float(rad_s(1.0))
_MARKS = (
    (codecs.BOM_UTF8, "utf-8-sig"),
    (codecs.BOM_UTF16_LE, "utf-16"),
    (codecs.BOM_UTF16_BE, "utf-16"),
    (b"<\0", "utf-16-le"),
    (b"\0<", "utf-16-be"),
)
_ENCODINGS = frozenset(
    [
        "utf-8",
        "utf8",
        "utf-8-sig",
        "utf-16",
        "utf-16-le",
        "utf-16-be",
        "us-ascii",
        "ascii",
        "iso-8859-1",
        "latin-1",
        "latin1",
        "iso-8859-2",
        "iso-8859-15",
        "windows-1250",
        "windows-1252",
    ]
)
_DECLARED = re.compile(rb"\s*<\?xml[^>]{0,200}?encoding\s*=\s*[\"']([A-Za-z0-9._-]{1,40})[\"']")
_DECLARATION = re.compile(r"^\s*<\?xml\s[^>]{0,300}\?>")


def as_utf8(data: bytes, where: str) -> bytes:
    """The XML in UTF-8, without byte order mark and declaration: by its mark, else by what it declares, else as it is.

    What is checked and what is parsed are then the same bytes in the same encoding.

    Raises
    ------
    InputError
        An encoding no log comes in, or bytes that are not of it.

    Examples
    --------
    >>> as_utf8('<?xml version="1.0" encoding="ISO-8859-1"?><name>Höhe</name>'.encode("latin-1"), "ride.gpx").decode()
    '<name>Höhe</name>'
    >>> as_utf8("<gpx/>".encode("utf-16"), "ride.gpx")
    b'<gpx/>'
    """
    encoding = next((name for mark, name in _MARKS if data.startswith(mark)), None)
    if encoding is None:
        declared = _DECLARED.match(data)
        told = declared[1].decode().lower() if declared else "utf-8"
        # these bytes were read as single signs, so it cannot be in two-byte ones whatever it declares
        encoding = "utf-8" if told.startswith("utf-16") else told
    if encoding not in _ENCODINGS:
        raise InputError(where, encoding[:40], "is an encoding that cannot be read", "Save it as UTF-8.")
    try:
        text = data.decode(encoding)
    except UnicodeDecodeError:
        raise InputError(
            where, None, f"holds bytes that are not of its encoding ({encoding})", "Export the log again, as UTF-8."
        ) from None
    return _DECLARATION.sub("", text.removeprefix("\ufeff"), count=1).encode("utf-8", "surrogatepass")


def checked_xml(data: bytes, where: str) -> None:
    """Go through the XML once with entities, document types and outside references forbidden.

    Raises
    ------
    InputError
        Forbidden or broken XML, or nesting no log has.

    Examples
    --------
    >>> checked_xml(b'<!DOCTYPE x [<!ENTITY a "b">]><gpx/>', "ride.gpx")
    Traceback (most recent call last):
    ridesim.errors.InputError: ride.gpx: declares a document type or entities, which a log never needs. Export the log again.
    """
    from xml.etree.ElementTree import ParseError

    from defusedxml.common import DefusedXmlException
    from defusedxml.ElementTree import iterparse

    above: list[Any] = []
    elements = 0
    try:
        for event, element in iterparse(io.BytesIO(data), events=("start", "end"), forbid_dtd=True):
            if event == "start":
                above.append(element)
                elements += 1
                if elements == 1 and (kind := str(element.tag).rsplit("}", 1)[-1]).lower() != "gpx":
                    raise InputError(where, kind[:40], "is XML, but not GPX", "Export the track as GPX 1.0 or 1.1.")
                if len(above) > DEEPEST or elements > MOST_ELEMENTS:
                    raise InputError(where, None, "is nested or long beyond what a log is", "Export the log again.")
            else:
                above.pop()
                element.clear()
                if above:
                    above[-1].remove(element)  # what has been looked at is let go, so that no tree builds up
    except InputError:
        raise
    except DefusedXmlException:
        raise InputError(
            where, None, "declares a document type or entities, which a log never needs", "Export the log again."
        ) from None
    except ParseError as error:
        line = error.position[0] if error.position else "?"
        raise InputError(
            f"{where}, line {line}", None, "is not whole XML: it is broken or cut off", "Export the log again."
        ) from None
    except (ValueError, LookupError) as error:
        raise InputError(
            where, None, f"is in an encoding that cannot be read ({error.__class__.__name__})", "Save it as UTF-8."
        ) from None


def read_gpx(data: bytes, where: str, *, name: str, progress: Callable[[float], None] | None = None) -> Log:
    """The Log of a GPX file's track points, all tracks and segments one after the other.

    Parameters
    ----------
    data : bytes
        The file, up to 40 MB.
    where : str
        For errors.
    name : str
    progress : callable, optional
        Told the share done.

    Returns
    -------
    Log

    Raises
    ------
    InputError
        Not GPX, no times, fewer than three points, or points no ride can hold.
    """
    import gpxpy

    data = as_utf8(data, where)
    checked_xml(data, where)
    if progress:
        progress(0.3)
    try:
        track = gpxpy.parse(data)
    except Exception as error:  # the parser raises many kinds; each means the same to the rider
        raise InputError(
            where,
            None,
            f"is not GPX: {shown(str(error) or error.__class__.__name__, 80)}",
            "Export the track as GPX 1.0 or 1.1.",
        ) from None
    if progress:
        progress(0.8)
    try:
        points, sorted_by_time = _points(track)
        samples, unit, notes = _samples(points, where)
    except InputError:
        raise
    except (ValueError, OverflowError, OSError):
        raise InputError(where, None, "has a time out of the calendar", "Export the track again.") from None
    spoken = samples.speed_m_s is not None
    found = [
        {"what": "time", "taken_for": "time of each track point", "detail": "ISO 8601"},
        {
            "what": "speed",
            "taken_for": "speed of each track point" if spoken else "positions",
            "detail": unit if spoken else "way between positions over time",
        },
        {
            "what": "elevation",
            "taken_for": "ele of each track point" if samples.elevation_m is not None else "not there",
            "detail": "m",
        },
        {"what": "track points", "taken_for": f"{len(points)}", "detail": f"{samples.time_s.size} with time and place"},
    ]
    if samples.engine_speed_rad_s is not None:
        found.append({"what": "engine speed", "taken_for": "rpm of each track point", "detail": "rpm"})
    if sorted_by_time:
        found.append({"what": "segments", "taken_for": "put in the order ridden", "detail": "by their first time"})
    log = log_of(samples, found, name=name, notes=notes)
    if progress:
        progress(1.0)
    return log


def _points(track: Any) -> tuple[list[Any], bool]:
    """The points of all segments in the order ridden, and whether the file holds them in another."""
    segments = [segment.points for one in track.tracks for segment in one.segments if segment.points]
    starts = [next((_utc_s(p.time) for p in points if p.time is not None), None) for points in segments]
    known = [start for start in starts if start is not None]
    turned = len(known) == len(starts) and known != sorted(known)
    if turned:
        segments = [points for _, points in sorted(zip(known, segments, strict=True), key=lambda one: one[0])]
    return [point for points in segments for point in points], turned


def _samples(points: list[Any], where: str) -> tuple[Samples, str, tuple[str, ...]]:
    """The points that have a time and a place, the unit of their speeds, and what is to be minded of it."""
    if not points:
        raise InputError(where, None, "holds no track points", "Routes and waypoints are no log: export the track.")
    timed = [(k, p) for k, p in enumerate(points, start=1) if p.time is not None and (p.latitude or p.longitude)]
    if len(timed) < 2:
        raise InputError(
            where,
            f"{len(timed)} timed points",
            "must have track points with times",
            "Switch the logging of times on; a drawn route is no log.",
        )
    at = np.array([k for k, _ in timed], dtype=np.int64)
    time = np.array([_utc_s(p.time) for _, p in timed], dtype=float)
    lat = _finite(np.array([p.latitude for _, p in timed], dtype=float), at, where)
    lon = _finite(np.array([p.longitude for _, p in timed], dtype=float), at, where)
    speed, unit, notes = _in_m_s(time, _column(points_speed(p) for _, p in timed), lat, lon)
    turns = _column(_extension(p, ENGINE_NAMES) for _, p in timed)
    samples = Samples(
        where=where,
        row="track point",
        at=at,
        time_s=time,
        speed_m_s=speed,
        engine_speed_rad_s=None if turns is None else np.where(turns == NO_FIX, np.nan, turns) * RAD_S_PER_RPM,
        elevation_m=_column(None if p.elevation in NO_HEIGHT else p.elevation for _, p in timed),
        latitude_deg=lat,
        longitude_deg=lon,
    )
    return samples, unit, notes


def _in_m_s(time: Any, speed: Any, lat: Any, lon: Any) -> tuple[Any, str, tuple[str, ...]]:
    """Speeds in m/s, in which the format has them, or in the unit that the positions prove; with what is to be minded."""
    if speed is None:
        return None, "m/s", ()
    speed = np.where(speed == NO_FIX, np.nan, speed)
    if not np.isfinite(speed).any():
        return None, "m/s", ()
    ratio = shown_per_moved(time, speed, lat, lon)
    proved = None if ratio is None or abs(ratio - 1.0) < APART else proved_unit(ratio)
    if proved is None:
        return speed, "m/s", doubt_of(ratio)
    unit, scale = proved
    return speed * scale, f"{unit}, proved by the positions; the format has m/s", ()


def _utc_s(moment: Any) -> float:
    from datetime import UTC

    return float((moment if moment.tzinfo else moment.replace(tzinfo=UTC)).timestamp())


def _finite(values: Any, at: Any, where: str) -> Any:
    bad = np.flatnonzero(~np.isfinite(values))
    if bad.size:
        raise InputError(
            f"{where}, track point {at[bad[0]]}", None, "has a position that is not a number", "Delete the point."
        )
    return values


def _column(values: Iterator[float | None]) -> Any:
    """An optional channel as figures, nan where it is missing or not a number; None when it is missing throughout."""
    column = np.array([math.nan if v is None else float(v) for v in values], dtype=float)
    return column if np.isfinite(column).any() else None


def points_speed(point: Any) -> float | None:
    """The receiver's own speed of a track point: GPX 1.0's element, or an extension of that name."""
    return float(point.speed) if point.speed is not None else _extension(point, ("speed",))


def _extension(point: Any, names: Sequence[str]) -> float | None:
    """The figure in an extension of one of some names, whatever its name space."""
    for extension in point.extensions:
        for element in extension.iter():
            if isinstance(element.tag, str) and element.tag.rsplit("}", 1)[-1].lower() in names and element.text:
                try:
                    return float(element.text)
                except ValueError:
                    return None
    return None
