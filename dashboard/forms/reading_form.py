"""The form in which a reading of the bike is written down: fields by the kind of reading, and what they make of the build file."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

from dash import html

from dashboard import display
from dashboard.forms import form
from ridesim.errors import InputError, InputErrors

THROUGH = "through the gears"


@dataclass(frozen=True, kw_only=True)
class Part:
    """One field of a kind: its key in the file, its label, how its figure is read, examples in both units, and whether a field for
    its error stands beside it; or the words to choose from.
    """

    key: str
    label: str
    reading: str = ""
    such_as: tuple[str, str] = ("", "")
    off: tuple[str, str] = ("", "")
    options: Mapping[str, str] | None = None
    gears: tuple[str, ...] | None = None  # beside the gears of the bike


def _figure(key: str, label: str, reading: str, such_as: str, off: str = "") -> Part:
    """A figure with its examples, in US units too where a stroke parts them from the metric ones."""
    examples, errors = ((metric, us or metric) for metric, _, us in (one.partition(" | ") for one in (such_as, off)))
    return Part(key=key, label=label, reading=reading, such_as=examples, off=errors)


_GEAR = Part(key="gear", label="Gear", gears=())
_SPEED = "95 km/h | 60 mph"
KINDS: Mapping[str, tuple[str, tuple[Part, ...]]] = {
    "roll-out": (
        "Roll-out: one turn of the rear wheel",
        (_figure("value", "One turn, rider seated", "length", "2.071 m | 81.5 in", "4 mm | 0.16 in"),),
    ),
    "axle weight": (
        "Weight on one wheel",
        (
            Part(key="axle", label="Wheel on the scale", options={"rear": "Rear", "front": "Front"}),
            Part(key="with", label="On the bike", options={"rider": "You, in riding gear", "bike alone": "Nobody"}),
            _figure("value", "The scale reads", "mass", "150 kg | 331 lb", "1 kg | 2 lb"),
        ),
    ),
    "speed at engine speed": (
        "Road speed at an engine speed",
        (
            _GEAR,
            _figure("engine_speed", "Engine speed", "engine speed", "4500 rev/min"),
            _figure("speed", "True speed, by GPS", "speed", _SPEED, "0.5 km/h | 0.3 mph"),
        ),
    ),
    "consumption": (
        "Fuel used at a steady speed",
        (
            _figure("value", "Fuel used", "consumption", "3.9 l/100km | 60 mpg", "4 %"),
            _figure("speed", "Speed held", "speed", _SPEED),
        ),
    ),
    "coast-down": (
        "Coast-down: drag and rolling resistance",
        (
            _figure("drag_area", "Drag area", "area", "0.66 m^2 | 7.1 ft^2", "4 %"),
            _figure("rolling_resistance", "Rolling resistance", "ratio", "0.019", "6 %"),
        ),
    ),
    "timed run": (
        "Timed run from one speed to another",
        (
            Part(key="gear", label="Gear", gears=(THROUGH,)),
            _figure("from", "From", "speed", "60 km/h | 40 mph"),
            _figure("to", "To", "speed", "100 km/h | 60 mph"),
            _figure("time", "Time", "time", "7.4 s", "0.2 s"),
        ),
    ),
    "top speed": (
        "Top speed",
        (_figure("value", "True speed, by GPS", "speed", "120 km/h | 75 mph", "2 km/h | 1 mph"),),
    ),
    "wheel power": (
        "Power at the wheel",
        (
            _figure("engine_speed", "Engine speed", "engine speed", "6000 rev/min"),
            _figure("value", "Power at the wheel", "power", "16 kW | 21 hp", "3 %"),
        ),
    ),
}
AIR = {"altitude": ("Altitude", "distance"), "temperature": ("Temperature", "temperature")}
OFF = "-off"  # after the key of a figure: the field of its error


def name(field: str) -> dict[str, str]:
    """The name of one field of the form."""
    return {"kind": "reading", "field": field}


def layout(kind: str, system: str, gears: int, tunes: list[str]) -> list[Any]:
    """The fields of a kind of reading, empty."""
    us = system == "us"
    fields: list[Any] = []
    for one in KINDS[kind][1]:
        if one.options is not None or one.gears is not None:
            numbers = {str(n): str(n) for n in range(1, gears + 1)} | {word: word for word in one.gears or ()}
            fields.append(form.choice_field(name(one.key), one.label, one.options or numbers, placeholder="Choose"))
            continue
        fields.append(_text(one.key, one.label, one.such_as[us]))
        if one.off[us]:
            fields.append(_text(one.key + OFF, "Give or take", one.off[us]))
    air = [_text(key, f"{label} that day", "as in the build") for key, (label, _) in AIR.items()]
    tune = form.choice_field(name("tune"), "Tune", tunes, placeholder="the one of now", clearable=True)
    rest = [tune, *air, _text("note", "Note", "")]
    lead = "“Give or take” is how far off the reading may be: nine times in ten it is no further."
    return [html.P(lead, className="quiet"), form.grid(*fields), form.grid(*rest)]


def _text(key: str, label: str, such_as: str) -> Any:
    return form.text_field(name(key), label, placeholder=such_as or None, debounce=False)


def reading(kind: str, given: Mapping[str, Any], system: str) -> dict[str, Any]:
    """What the fields say, as a table of the build file; InputErrors with the field of each that is empty or cannot be read.

    >>> reading("roll-out", {"value": "2.071", "value-off": "4 mm"}, "metric")
    {'kind': 'roll-out', 'value': '2.071 +- 0.004 m'}
    """
    if kind not in KINDS:
        raise InputError("kind", None, "is no kind of reading", "Choose what you measured.")
    found: dict[str, Any] = {"kind": kind}
    errors: list[InputError] = []

    def text(key: str) -> str:
        return "" if given.get(key) is None else str(given[key]).strip()

    for one in KINDS[kind][1]:
        keys = (one.key, one.key + OFF) if one.off[0] else (one.key,)
        empty = [key for key in keys if not text(key)]
        errors += [InputError(key, None, "is empty", "Fill it in.") for key in empty]
        if not empty:
            try:
                found[one.key] = _value(one, text(one.key), text(one.key + OFF), system)
            except InputError as error:
                errors.append(InputError(one.key + OFF, error.got, error.problem, error.fix))
    if errors:
        raise InputErrors(errors)
    air = {key: display.with_unit(text(key), how, system) for key, (_, how) in AIR.items() if text(key)}
    return found | ({"air": air} if air else {}) | {key: text(key) for key in ("tune", "note") if text(key)}


def _value(one: Part, value: str, off: str, system: str) -> Any:
    if not one.reading:
        return int(value) if one.gears is not None and value.isdigit() else value
    return display.with_error(value, off, one.reading, system) if off else display.with_unit(value, one.reading, system)


def place(where: str) -> str:
    """The field that an error of the library belongs to.

    >>> place("evidence[3].value"), place("evidence[3].air.altitude")
    ('value', 'altitude')
    """
    return where.rpartition(".")[2]
