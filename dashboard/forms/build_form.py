"""The fields of a build file, laid out from its own records: what is typed goes in as typed, and errors come back to their field."""

from __future__ import annotations

import re
import tomllib
from collections.abc import Collection, Iterator, Mapping
from dataclasses import dataclass
from typing import Any, get_args

from dash import html
from pydantic import BaseModel

from dashboard import queries
from dashboard.forms import form
from ridesim.buildfile.differing import key_words
from ridesim.buildfile.first import ratios, ratios_text
from ridesim.buildfile.io import Build
from ridesim.buildfile.schema import BuildRecord, Quantity
from ridesim.buildfile.values import section_in
from ridesim.errors import InputError, each
from ridesim.units import unit_words

SECTIONS = {
    "masses": "Masses",
    "final_drive": "Sprockets and chain",
    "gearbox": "Gearbox",
    "engine": "Engine",
    "tires.rear": "Rear tire",
    "tires.front": "Front tire",
    "chassis": "Chassis and centers of mass",
    "suspension.fork": "Fork springs",
    "suspension.rear": "Rear spring",
    "inertia": "Turning parts",
    "speedometer": "Speedometer",
    "road_load": "Air and rolling resistance",
    "surface": "Surface",
    "air": "Air of the day",
    "fuel": "Fuel",
    "limits": "What you ask of a sprocket pair",
}
OPEN = ("masses", "final_drive")
_NUMBER = re.compile(r"[+-]?(\d+(\.\d*)?|\.\d+)")


@dataclass(frozen=True, kw_only=True)
class Entry:
    """One field of a build file: its path, its label, a hint, and how its text is read ("quantity", "ratios" and so on)."""

    path: str
    label: str
    hint: str
    kind: str
    options: tuple[str, ...] = ()


def _model(section: str) -> type[BaseModel]:
    model: Any = BuildRecord
    for name in section.split("."):
        model = section_in(model.model_fields[name].annotation)
    found: type[BaseModel] = model
    return found


def entries(section: str) -> Iterator[Entry]:
    """The fields of one section that fit on a line."""
    for name, field in _model(section).model_fields.items():
        path, label = f"{section}.{name}", key_words(name)
        quantity = next((m for m in field.metadata if isinstance(m, Quantity)), None)
        shape = repr(field.annotation)
        measured = "Quantity(" in shape
        literal = [
            a
            for c in (field.annotation, *get_args(field.annotation))
            for a in get_args(c)
            if isinstance(a, str | int) and not isinstance(a, bool)
        ]
        if name in ("gears", "primary", "ratio"):
            yield Entry(
                path=path,
                label=label,
                hint="ratios, or teeth as driven/driving",
                kind="ratios" if name == "gears" else "ratio",
            )
        elif "tuple" in shape.lower():
            if measured and section != "limits":
                yield Entry(path=path, label=label, hint="with units, separated by commas", kind="list")
        elif quantity is not None:
            yield Entry(path=path, label=label, hint=_hint(quantity.what, quantity.unit), kind="quantity")
        elif literal:
            yield Entry(path=path, label=label, hint="", kind="choice", options=tuple(map(str, literal)))
        elif field.annotation is bool:
            yield Entry(path=path, label=label, hint="", kind="bool", options=("no", "yes"))
        elif "int" in shape:
            yield Entry(path=path, label=label, hint="a whole number", kind="whole")
        else:
            yield Entry(path=path, label=label, hint="", kind="text")


# what a rider who thinks in US units may write for the unit of a plain number, which is that of the file
_OR_WRITE = {
    "kg": "lb",
    "mm": "in",
    "m": "in or ft",
    "km/h": "mph",
    "m^2": "ft^2",
    "N/mm": "lbf/in",
    "degC": "°F",
    "hPa": "inHg",
    "l": "gal",
    "l/100km": "mpg",
    "km": "mi",
    "cc": "in^3",
}


def _hint(what: str, unit: str) -> str:
    """What a figure is, and how its unit may be written.

    >>> _hint("in riding gear", "kg")
    'in riding gear; plain numbers are kg, or write lb'
    """
    told = f"plain numbers are {unit_words(unit).replace('*', '·')}" if unit else ""
    other = f", or write {_OR_WRITE[unit]}" if unit in _OR_WRITE else ""
    return "; ".join(part for part in (what, told + other) if part)


ENTRIES = {entry.path: entry for section in SECTIONS for entry in entries(section)}


def typed(text: str) -> dict[str, str]:
    """Every field of a build file's text as it was typed."""
    data = tomllib.loads(text)
    return {path: _as_typed(_dig(data, path), entry.kind) for path, entry in ENTRIES.items()}


def _dig(data: Any, path: str) -> Any:
    for name in path.split("."):
        data = data.get(name) if isinstance(data, Mapping) else None
    return data


def _as_typed(value: Any, kind: str) -> str:
    if value is None:
        return ""
    if kind in ("ratios", "ratio"):
        return ratios_text(value if kind == "ratios" else [value])
    if isinstance(value, bool):
        return "yes" if value else "no"
    if isinstance(value, list):
        return ", ".join(str(one) for one in value)
    return str(value)


def _value(entry: Entry, text: str) -> Any:
    text = text.strip()
    if not text:
        return None
    if entry.kind == "ratios":
        return ratios(text, entry.path)
    if entry.kind == "ratio":
        return ratios(text, entry.path)[0]
    if entry.kind == "list":
        return [_plain(part.strip()) for part in text.split(",")]
    if entry.kind == "bool":
        return text == "yes"
    if entry.kind == "text":
        return text
    return _plain(text)


def _plain(text: str) -> Any:
    if text.isascii() and text.isdigit() and len(text) < 10:
        return int(text)
    return float(text) if _NUMBER.fullmatch(text) else text


def edited(build: Build, values: Mapping[str, Any]) -> tuple[Build, dict[str, str]]:
    """The build with what was typed, or the errors by path; what is not a field of the form goes under ""."""
    was, changes, errors = typed(build.text), {}, {}
    for path, value in values.items():
        text = "" if value is None else str(value)
        if text.strip() == was[path]:
            continue
        try:
            changes[path] = _value(ENTRIES[path], text)
        except InputError as error:
            errors[path] = queries.words(error)
    if errors:
        return build, errors
    if not changes:
        return build, {}
    try:
        return _checked(build.changed(changes)), {}
    except InputError as error:
        return build, by_path(error)


def _checked(build: Build) -> Build:
    """The build, once the library can make a bike of it."""
    from ridesim.bike import make_bike

    make_bike(build)
    return build


def by_path(error: InputError) -> dict[str, str]:
    """Errors by the path of their field."""
    found: dict[str, str] = {}
    for one in each(error):
        path = re.sub(r"\[\d+\]", "", one.where)
        path = {"tires.rear": "tires.rear.size", "tires.front": "tires.front.size"}.get(path, path)
        known = path in ENTRIES
        key = path if known else ""
        found[key] = " ".join(filter(None, (found.get(key, ""), queries.words(one) if known else str(one))))
    return found


def field(entry: Entry, text: str) -> Any:
    """The field of one entry."""
    name = {"kind": "build", "path": entry.path}
    if entry.options:
        more = {"clearable": entry.kind == "choice", "allowDeselect": True, "placeholder": "not said"}
        return form.choice_field(name, entry.label, entry.options, text or None, **more)
    return form.text_field(name, entry.label, text, entry.hint, debounce=True)


def fields(section: str, text: str) -> list[Any]:
    """The fields of one section, filled in."""
    values = typed(text)
    return [field(e, values[e.path]) for e in ENTRIES.values() if e.path.rpartition(".")[0] == section]


def layout(text: str) -> list[Any]:
    """Every section of a build file; the fields of a closed one are laid out when it is first opened."""
    return [
        html.Details(
            [
                html.Summary(title, id={"kind": "opener", "section": section}),
                html.Div(
                    fields(section, text) if section in OPEN else [],
                    id={"kind": "section", "section": section},
                    className="grid-fields",
                ),
            ],
            className="fold section",
            open=section in OPEN,
        )
        for section, title in SECTIONS.items()
    ]


def elsewhere(errors: Mapping[str, str], paths: Collection[str]) -> str:
    """The errors that stand at no field that is laid out."""
    return "\n".join(f"{path}: {text}" if path else text for path, text in errors.items() if path not in paths)
