"""The fields of the bench: laid out from their table, filled from a state, read back into one, each error beside its field."""

from __future__ import annotations

import re
from collections.abc import Callable, Mapping, Sequence
from typing import Any

import numpy as np
from dash import Dash, html

from dashboard import components, display, ids, queries
from dashboard.forms import form
from dashboard.url_state import State, put, read_value
from dashboard.url_state.fields import SPECS, place
from ridesim.environment.air import HIGHEST_M, LOWEST_M, standard_temperature_k
from ridesim.errors import InputError
from ridesim.units import quantity

SYSTEMS = ("metric", "us")
_AIR = {"altitude": "distance", "temperature": "temperature", "humidity": "percent", "pressure": "pressure"}


def _of_the_build(key: str, state: State) -> str:
    """The air of a field that has no text of its own: as the build has it, or as it is assumed there."""
    which, _, what = key.partition("-")
    if what == "temperature" and by_altitude(state, which):
        there = np.clip(number(state, f"{which}-altitude"), LOWEST_M, HIGHEST_M)
        return display.field_text(float(standard_temperature_k(there)), "temperature", "metric")
    if which not in ("set", "day") or what not in _AIR:
        return SPECS[key].plain
    bike = queries.now(state).bike
    given = bike.record.air
    figures = {
        "altitude": given.altitude,
        "temperature": bike.air.temperature_k,
        "humidity": bike.air.relative_humidity,
        "pressure": given.pressure,
    }
    found = figures[what]
    return "" if found is None else display.field_text(float(found), _AIR[what], "metric")


def by_altitude(state: State, which: str) -> bool:
    """Whether the temperature of an air follows from its altitude: no other is written, and it is not the build's own air."""
    written = {what: getattr(state.fields, place(f"{which}-{what}"), None) for what in ("altitude", "temperature")}
    return (
        f"{which}-temperature" in SPECS and not written["temperature"] and (which == "go" or bool(written["altitude"]))
    )


def text(state: State, key: str) -> str:
    """What a field holds: its own text, or what stands there while none is given."""
    own: str | None = getattr(state.fields, place(key))
    return own if own else _of_the_build(key, state)


def figure(state: State, key: str) -> float | None:
    """The number of a field, in SI; None where it is empty."""
    spec, held = SPECS[key], text(state, key)
    return float(quantity(held, spec.kind, spec.unit, key)) if held else None


def number(state: State, key: str) -> float:
    """The number of a field that is never empty."""
    found = figure(state, key)
    if found is None:
        raise InputError(key, None, "is empty", "Fill it in.")
    return found


def shown(state: State, key: str, system: str | None = None) -> str:
    """What a field shows: the text as it was typed where its unit is the one shown, else the figure in that unit."""
    spec, held, units = SPECS[key], text(state, key), system or state.units
    if not spec.reading or not held:
        return held
    unit = display.written_unit(spec.reading, units)
    if held.endswith(unit) and (held[: -len(unit)].strip() or "x")[-1].isdigit():
        return held
    return display.field_text(float(quantity(held, spec.kind, spec.unit, key)), spec.reading, units)


def with_unit(key: str, typed: str, system: str) -> str:
    """A bare number means the unit that is shown."""
    reading = SPECS[key].reading
    return display.with_unit(typed, reading, system) if reading else typed


def taken(values: Mapping[str, Any], state: State) -> tuple[State, dict[str, str]]:
    """The state that the fields ask for, and the error of each field that cannot be read."""
    found, errors = state, {}
    for key, value in values.items():
        typed = "" if value is None else str(value).strip()
        if typed in {shown(state, key, system) for system in SYSTEMS}:
            continue
        try:
            if not typed and SPECS[key].plain:
                raise InputError(key, None, "is empty", f"It was {shown(state, key)}.")
            found = put(found, key, read_value(key, with_unit(key, typed, state.units)) or None)
        except InputError as error:
            errors[key] = queries.words(error)
    return (state, errors) if errors else (found, {})


def group(page: str, title: str, keys: Sequence[str], state: State) -> html.Fieldset:
    """Fields that belong together, filled in."""
    fields = (form.field(ids.part(page, key), SPECS[key], shown(state, key)) for key in keys)
    return form.group(title, form.grid(*fields))


def desk(page: str, *groups: Any) -> html.Section:
    """The card with all the fields of a page, and a place for what belongs to none of them."""
    trouble = html.Div(id=ids.part(page, "trouble"), role="alert", className="stray")
    return components.section("What you have", *groups, trouble, kind="card desk-card")


def register(
    app: Dash, page: str, keys: Sequence[str], answer: Callable[[State], Any], places: Mapping[str, str]
) -> None:
    """The callbacks of a page's fields, which go into the link once the library can answer."""
    form.register(
        app,
        page,
        keys,
        lambda values, query, dimmed: told(values, query, answer, places, dimmed),
        lambda state: {"values": {key: shown(state, key) for key in keys}},
    )


def told(
    values: Mapping[str, Any],
    query: str,
    answer: Callable[[State], Any],
    places: Mapping[str, str],
    dimmed: bool = True,
) -> dict[str, Any]:
    """What the fields of a page make of the link, and what stands beside them."""

    def place(where: str) -> str:
        plain = re.sub(r"\[\d+\].*", "", where)
        return places.get(where, places.get(plain, plain))

    def troubles(state: State) -> form.Errors:
        try:
            answer(state)
        except InputError as error:
            return form.errors_of(error, place, values, retold=True)
        return {}, []

    return form.judged(values, query, taken, troubles, dimmed)
