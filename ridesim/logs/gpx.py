"""Ride logs in XML, GPX and TCX: read in one pass that opens no entity and no outside file."""

from __future__ import annotations

import codecs
import io
import re
from collections.abc import Callable
from typing import Any

import numpy as np

from ridesim.errors import InputError
from ridesim.logs.clean import NO_FIX, NO_HEIGHT, Samples, log_of
from ridesim.logs.log import Array, Found, Log
from ridesim.logs.reading.positions import APART, great_circle_m, proved_unit, shown_per_moved, warning_of
from ridesim.logs.reading.stamps import iso_s
from ridesim.units import rad_s

LARGEST_GPX = 40_000_000  # bytes; ten hours at 10 Hz
DEEPEST = 40
MOST_ELEMENTS = 2_500_000
KINDS = {"gpx": "GPX", "trainingcenterdatabase": "TCX"}  # by the name of the outermost element
SEGMENTS, POINTS = ("trkseg", "track"), ("trkpt", "trackpoint")
ROUTE, ROUTE_POINT = "rte", "rtept"
FIELDS = {  # of a point, whatever the name space, and in an extension of either format
    "time": "time",
    "ele": "elevation",
    "altitudemeters": "elevation",
    "speed": "speed",
    "rpm": "engine",
    "enginespeed": "engine",
    "enginerpm": "engine",
    "latitudedegrees": "lat",
    "longitudedegrees": "lon",
}
Point = dict[str, str]
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


def read_track(data: bytes, where: str, *, name: str, progress: Callable[[float], None] | None = None) -> Log:
    """The Log of the track points of a GPX or TCX file, all tracks and segments one after the other.

    Segments in the wrong order are put right. A speed, in an extension too, is in m/s unless the positions prove another unit.

    Parameters
    ----------
    data : bytes
        The file.
    where, name : str
        What errors call it, and what the Log does.
    progress : callable, optional
        Told the share done, 0 to 1.

    Returns
    -------
    Log

    Raises
    ------
    InputError
        Neither GPX nor TCX, no times, fewer than three points, or points no ride can hold.

    Examples
    --------
    A thousandth of a degree northward each 10 s is 11.1 m/s:

    >>> point = '<trkpt lat="{:.3f}" lon="14"><time>2026-05-03T10:00:{}0Z</time></trkpt>'
    >>> points = "".join(point.format(46 + k / 1000, k) for k in range(5))
    >>> track = f"<gpx><trk><trkseg>{points}</trkseg></trk></gpx>".encode()
    >>> read_track(track, "ride.gpx", name="ride.gpx").speed_m_s.round(1).tolist()
    [11.1, 11.1, 11.1, 11.1, 11.1]
    """
    kind, segments = _walked(as_utf8(data, where), where)
    if progress:
        progress(0.8)
    segments, sorted_by_time = _in_order([one for one in segments if one], where)
    points = [point for one in segments for point in one]
    samples, unit, notes = _samples(points, where)
    spoken = samples.speed_m_s is not None
    found = [
        Found("file", kind, f"{len(points)} track points"),
        Found("time", "time of each track point", "ISO 8601"),
        Found("speed", "speed of each track point", unit)
        if spoken
        else Found("speed", "positions", "distance over time"),
    ]
    if samples.elevation_m is not None:
        found.append(Found("elevation", "elevation of each track point", "m"))
    if samples.engine_speed_rad_s is not None:
        found.append(Found("engine speed", "rpm of each track point", "rpm"))
    if lost := len(points) - samples.time_s.size:
        found.append(Found("points without time or place", f"{lost}", "left out", lost))
    if sorted_by_time:
        found.append(Found("segments", "put in the order ridden", "by their first time"))
    log = log_of(samples, found, name=name, notes=notes)
    if progress:
        progress(1.0)
    return log


def untimed_way(data: bytes, where: str) -> tuple[Array, Array] | None:
    """Way and height of the points of a track or a route that has no times; None where it has some, so that it is a log. [m, m]

    >>> points = "".join(f'<rtept lat="{46 + k / 100}" lon="14"><ele>{300 + 50 * k}</ele></rtept>' for k in range(3))
    >>> way, height = untimed_way(f"<gpx><rte>{points}</rte></gpx>".encode(), "drawn.gpx")
    >>> way.round(0).tolist(), height.tolist()
    ([0.0, 1112.0, 2224.0], [300.0, 350.0, 400.0])
    """
    _, segments = _walked(as_utf8(data, where), where, routes=True)
    points = [point for one in segments for point in one]
    if any("time" in point for point in points):
        return None
    placed = [(k, point) for k, point in enumerate(points, start=1) if _placed(point, k, where)]
    height = _channel(placed, "elevation", NO_HEIGHT)
    if len(placed) < 2 or height is None:
        fix = "Export it with positions and heights, or give the heights yourself."
        raise InputError(where, None, "holds no points with places and heights", fix)
    steps = great_circle_m(*([float(point[key]) for _, point in placed] for key in ("lat", "lon")))
    return np.concatenate([[0.0], np.cumsum(steps)]), height


def _walked(data: bytes, where: str, *, routes: bool = False) -> tuple[str, list[list[Point]]]:
    """The kind of an XML log and the points of each segment, or of drawn routes too, as text; what has been looked at is let go.

    Examples
    --------
    >>> _walked(b'<gpx><trk><trkseg><trkpt lat="1" lon="2"><ele>3</ele></trkpt></trkseg></trk></gpx>', "ride.gpx")
    ('GPX', [[{'lat': '1', 'lon': '2', 'elevation': '3'}]])
    >>> _walked(b'<!DOCTYPE x [<!ENTITY a "b">]><gpx/>', "ride.gpx")
    Traceback (most recent call last):
    ridesim.errors.InputError: ride.gpx: declares a document type or entities, which a log never needs. Export the log again.
    """
    from xml.etree.ElementTree import ParseError

    from defusedxml.common import DefusedXmlException
    from defusedxml.ElementTree import iterparse

    above: list[Any] = []
    segments: list[list[Point]] = []
    point: Point | None = None
    kind, elements = "", 0
    of_points = (*POINTS, ROUTE_POINT) if routes else POINTS
    try:
        for event, element in iterparse(io.BytesIO(data), events=("start", "end"), forbid_dtd=True):
            tag = str(element.tag).rsplit("}", 1)[-1].lower()
            if event == "start":
                above.append(element)
                elements += 1
                if elements == 1:
                    kind = _kind(tag, where)
                if len(above) > DEEPEST or elements > MOST_ELEMENTS:
                    raise InputError(where, None, "is nested or long beyond what a log is", "Export the log again.")
                if tag in SEGMENTS or (routes and tag == ROUTE):
                    segments.append([])
                elif tag in of_points:
                    point = {key: element.attrib[key] for key in ("lat", "lon") if key in element.attrib}
                continue
            if point is not None and tag in FIELDS and element.text:
                point.setdefault(FIELDS[tag], element.text.strip())
            if tag in of_points and point is not None and segments:
                segments[-1].append(point)
                point = None
            above.pop()
            element.clear()
            if above:
                above[-1].remove(element)
    except InputError:
        raise
    except DefusedXmlException:
        problem = "declares a document type or entities, which a log never needs"
        raise InputError(where, None, problem, "Export the log again.") from None
    except ParseError as error:
        at = f"{where}, line {error.position[0] if error.position else '?'}"
        raise InputError(at, None, "is not whole XML: it is broken or cut off", "Export the log again.") from None
    except (ValueError, LookupError) as error:
        problem = f"is in an encoding that cannot be read ({error.__class__.__name__})"
        raise InputError(where, None, problem, "Save it as UTF-8.") from None
    return kind, segments


def _kind(root: str, where: str) -> str:
    if root not in KINDS:
        raise InputError(where, root[:40], "is XML, but neither GPX nor TCX", "Export the track as GPX 1.0 or 1.1.")
    return KINDS[root]


def _in_order(segments: list[list[Point]], where: str) -> tuple[list[list[Point]], bool]:
    """The segments in the order ridden, and whether the file holds them in another."""
    starts = [next((_seconds(p["time"], where) for p in points if "time" in p), None) for points in segments]
    known = [start for start in starts if start is not None]
    if len(known) < len(starts) or known == sorted(known):
        return segments, False
    return [points for _, points in sorted(zip(known, segments, strict=True), key=lambda one: one[0])], True


def _seconds(text: str, where: str) -> float:
    try:
        return iso_s(text)
    except (ValueError, OverflowError, OSError):
        raise InputError(where, text[:40], "has a time that cannot be read", "Export the track again.") from None


def _samples(points: list[Point], where: str) -> tuple[Samples, str, tuple[str, ...]]:
    """The points that have a time and a place, the unit of their speeds, and what is to be minded of it."""
    if not points:
        raise InputError(where, None, "holds no track points", "Routes and waypoints are no log: export the track.")
    timed = [(k, p) for k, p in enumerate(points, start=1) if "time" in p and _placed(p, k, where)]
    if len(timed) < 2:
        fix = "Switch the logging of times on; a drawn route is no log."
        raise InputError(where, f"{len(timed)} timed points", "must have track points with times", fix)
    time = np.array([_seconds(p["time"], where) for _, p in timed])
    lat, lon = (np.array([float(p[key]) for _, p in timed]) for key in ("lat", "lon"))
    speed, unit, notes = _in_m_s(time, _channel(timed, "speed", (NO_FIX,)), lat, lon)
    turns = _channel(timed, "engine", (NO_FIX,))
    samples = Samples(
        where=where,
        row="track point",
        at=np.array([k for k, _ in timed], dtype=np.int64),
        time_s=time,
        speed_m_s=speed,
        engine_speed_rad_s=None if turns is None else turns * float(rad_s(1.0)),
        elevation_m=_channel(timed, "elevation", NO_HEIGHT),
        latitude_deg=lat,
        longitude_deg=lon,
    )
    return samples, unit, notes


def _placed(point: Point, k: int, where: str) -> bool:
    """Whether a point has a place; one at 0 and 0 degrees is a receiver that knows nothing."""
    if "lat" not in point or "lon" not in point:
        return False
    try:
        lat, lon = float(point["lat"]), float(point["lon"])
    except ValueError:
        lat = lon = np.nan
    if not np.isfinite(lat + lon):
        raise InputError(f"{where}, track point {k}", None, "has a position that is not a number", "Delete the point.")
    return bool(lat or lon)


def _channel(timed: list[tuple[int, Point]], key: str, nothing: tuple[float, ...]) -> Array | None:
    """An optional channel as figures, nan where it is missing or not known; None when it is missing throughout."""

    def figure(text: str | None) -> float:
        try:
            return np.nan if text is None or float(text) in nothing else float(text)
        except ValueError:
            return np.nan

    column = np.array([figure(point.get(key)) for _, point in timed])
    return column if np.isfinite(column).any() else None


def _in_m_s(time: Array, speed: Array | None, lat: Array, lon: Array) -> tuple[Array | None, str, tuple[str, ...]]:
    """Speeds in m/s, in which both formats have them, or in the unit that the positions prove; with what is to be minded."""
    if speed is None:
        return None, "m/s", ()
    ratio = shown_per_moved(time, speed, lat, lon)
    proved = None if ratio is None or abs(ratio - 1.0) < APART else proved_unit(ratio)
    if proved is None:
        return speed, "m/s", warning_of(ratio)
    unit, scale = proved
    return speed * scale, f"{unit}, proved by the positions; the format has m/s", ()
