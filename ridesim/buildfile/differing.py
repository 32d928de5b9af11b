"""The keys of a build file in a rider's words, and by which of them two builds differ."""

from __future__ import annotations

import math
import re
from collections.abc import Iterator
from typing import Any

from ridesim.buildfile.schema import BuildRecord, Quantity
from ridesim.buildfile.values import Record
from ridesim.units import Measured, unit_words

_IN_WORDS = {
    "final_drive.kind": "Kind of final drive",
    "fuel.density": "Density of the fuel",
    "gearbox.primary": "Primary drive",
    "speedometer.sensor": "Sensor of the speedometer",
    "surface.name": "Surface",
    "tires.rear.size": "Roll-out, rear tire",
}
_OF = {
    "air": "air of the day",
    "inertia": "inertia",
    "suspension.fork": "fork",
    "suspension.rear": "rear spring",
    "tires.front": "front tire",
    "tires.rear": "rear tire",
}
# what a comparison tells by itself, and what moves no figure: what the rider asks, pays and notes
_NOT_HERE = ("name", "tune", "active", "ride", "evidence", "limits", "prices", "points_are", "note", "trial")


def key_words(key: str) -> str:
    """The last part of a key in words.

    >>> key_words("bike_cg_height"), key_words("time_0_100_most"), key_words("rollout")
    ('Bike center of mass height', 'Time 0 to 100 km/h at most', 'Roll-out')
    """
    label = key.replace("_", " ").replace(" cg ", " center of mass ").capitalize()
    label = label.replace(" cg", " center of mass").replace("Centre", "Center").replace("Rollout", "Roll-out")
    return re.sub(" (most|least)$", r" at \1", re.sub(r"\b(\d+) 100", r"\1 to 100 km/h", label))


def label_of(path: str) -> str:
    """A figure of a build file in words.

    >>> label_of("road_load.drag_area"), label_of("tune.stock.curve_error"), label_of("tires.rear.size")
    ('Drag area', 'Power curve, stock', 'Roll-out, rear tire')
    """
    plain = re.sub(r"\[\d+\]$", "", path)
    section, _, key = plain.rpartition(".")
    if key == "curve_error":
        return f"Power curve, {section.removeprefix('tune.')}"
    if plain in _IN_WORDS:
        return _IN_WORDS[plain]
    label = key_words(key)
    if section == "masses":
        return f"Mass, {label.lower()}"
    return f"{label}, {_OF[section]}" if section in _OF else label


def differing(now: BuildRecord, planned: BuildRecord, tune: str | None) -> Iterator[tuple[str, str]]:
    """By what two builds differ in meaning: each key, and both values in words as they were written.

    Parameters
    ----------
    now, planned : BuildRecord
    tune : str or None
        The tune that both run; its points are told without their values. None where they run two.

    Examples
    --------
    >>> import ridesim as rs
    >>> build = rs.demo("coast-single").build
    >>> other = build.changed({"road_load.drag_area": "0.5 m^2", "engine.idle": 1400, "chassis.wheelbase": "1.418 m"})
    >>> dict(differing(build.record, other.record, "stock"))
    {'engine.idle': 'idle: 1350 rev/min -> 1400 rev/min', 'road_load.drag_area': 'drag area: 0.66 +- 0.06 m^2 -> 0.5 m^2'}
    """
    one, other = (dict(_leaves("", record)) for record in (now, planned))
    for path in dict.fromkeys((*one, *other)):
        label = label_of(path)
        yield from _told(path, label[0].lower() + label[1:], one.get(path), other.get(path))
    if tune is None:
        return
    one, other = (dict(_leaves("", record.tune[tune])) for record in (now, planned))
    for key in dict.fromkeys((*one, *other)):
        told = tuple(
            _told(f"tune.{tune}.{key}", f"{key_words(key).lower()}, tune {tune}", one.get(key), other.get(key))
        )
        yield from ((path, f"the points of tune {tune} differ" if key == "points" else words) for path, words in told)


def _leaves(before: str, record: Record) -> Iterator[tuple[str, tuple[Any, str]]]:
    """Every value that is given, by its path, with the unit of a bare number."""
    for key, field in type(record).model_fields.items():
        path, value = f"{before}{key}", getattr(record, key)
        if path in _NOT_HERE or value is None:
            continue
        if isinstance(value, Record):
            yield from _leaves(f"{path}.", value)
        else:
            yield path, (value, next((one.unit for one in field.metadata if isinstance(one, Quantity)), ""))


def _told(path: str, label: str, now: Any, planned: Any) -> Iterator[tuple[str, str]]:
    if now is None or planned is None or not _same(now[0], planned[0]):
        yield path, f"{label}: {_words(now)} -> {_words(planned)}"


def _same(one: Any, other: Any) -> bool:
    """Equal but for rounding, in what they may be off too: 1418 mm is 1.418 m."""
    if isinstance(one, tuple) and isinstance(other, tuple):
        return len(one) == len(other) and all(map(_same, one, other))
    if isinstance(one, float) and isinstance(other, float):
        off = (getattr(value, "plus_minus", 0.0) for value in (one, other))
        return math.isclose(one, other, rel_tol=1e-9) and math.isclose(*off, rel_tol=1e-9)
    return bool(one == other)


def _words(given: tuple[Any, str] | None) -> str:
    if given is None:
        return "not given"
    value, unit = given
    if isinstance(value, tuple):
        return ", ".join(_words((one, unit)) for one in value)
    if isinstance(value, Measured):
        bare = not re.search(r"[^\d.,+\-\s±]", value.written)
        return f"{value.written} {unit_words(unit)}".rstrip() if bare else value.written
    if isinstance(value, bool):
        return "yes" if value else "no"
    return f"{value:.4g}" if isinstance(value, float) else str(value)
