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


_GEAR = Part(key="gear", label="Gear", gears=())
_SPEED = ("95 km/h", "60 mph")
KINDS: Mapping[str, tuple[str, tuple[Part, ...]]] = {
    "roll-out": (
        "Roll-out: one turn of the rear wheel",
        (
            Part(
                key="value",
                label="One turn, rider seated",
                reading="length",
                such_as=("2.071 m", "81.5 in"),
                off=("4 mm", "0.16 in"),
            ),
        ),
    ),
    "axle weight": (
        "Weight on one wheel",
        (
            Part(key="axle", label="Wheel on the scale", options={"rear": "Rear", "front": "Front"}),
            Part(key="with", label="On the bike", options={"rider": "You, in riding gear", "bike alone": "Nobody"}),
            Part(
                key="value", label="The scale reads", reading="mass", such_as=("150 kg", "331 lb"), off=("1 kg", "2 lb")
            ),
        ),
    ),
    "speed at engine speed": (
        "Road speed at an engine speed",
        (
            _GEAR,
            Part(key="engine_speed", label="Engine speed", reading="engine speed", such_as=("4500 rev/min",) * 2),
            Part(key="speed", label="True speed, by GPS", reading="speed", such_as=_SPEED, off=("0.5 km/h", "0.3 mph")),
        ),
    ),
    "consumption": (
        "Fuel used at a steady speed",
        (
            Part(
                key="value",
                label="Fuel used",
                reading="consumption",
                such_as=("3.9 l/100km", "60 mpg"),
                off=("4 %",) * 2,
            ),
            Part(key="speed", label="Speed held", reading="speed", such_as=_SPEED),
        ),
    ),
    "coast-down": (
        "Coast-down: drag and rolling resistance",
        (
            Part(
                key="drag_area", label="Drag area", reading="area", such_as=("0.66 m^2", "7.1 ft^2"), off=("4 %",) * 2
            ),
            Part(
                key="rolling_resistance",
                label="Rolling resistance",
                reading="ratio",
                such_as=("0.019",) * 2,
                off=("6 %",) * 2,
            ),
        ),
    ),
    "timed run": (
        "Timed run from one speed to another",
        (
            Part(key="gear", label="Gear", gears=(THROUGH,)),
            Part(key="from", label="From", reading="speed", such_as=("60 km/h", "40 mph")),
            Part(key="to", label="To", reading="speed", such_as=("100 km/h", "60 mph")),
            Part(key="time", label="Time", reading="time", such_as=("7.4 s",) * 2, off=("0.2 s",) * 2),
        ),
    ),
    "top speed": (
        "Top speed",
        (
            Part(
                key="value",
                label="True speed, by GPS",
                reading="speed",
                such_as=("120 km/h", "75 mph"),
                off=("2 km/h", "1 mph"),
            ),
        ),
    ),
    "wheel power": (
        "Power at the wheel",
        (
            Part(key="engine_speed", label="Engine speed", reading="engine speed", such_as=("6000 rev/min",) * 2),
            Part(
                key="value", label="Power at the wheel", reading="power", such_as=("16 kW", "21 hp"), off=("3 %",) * 2
            ),
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
