"""The fields of the bench: laid out from their table, filled from a state, read back into one, each error beside its field."""

from __future__ import annotations

import re
from collections.abc import Callable, Mapping, Sequence
from dataclasses import replace
from typing import Any

import numpy as np
from dash import Dash, Output, html, no_update

from dashboard import components, display, ids, queries
from dashboard.forms import form
from dashboard.url_state import State, from_query, put, read_value
from dashboard.url_state.fields import EXAMPLES, NEEDED, SPECS, place
from ridesim.environment.air import HIGHEST_M, LOWEST_M, standard_temperature_k
from ridesim.errors import InputError
from ridesim.statements import BothWays, in_units
from ridesim.units import quantity

SYSTEMS = ("metric", "us")
CLIMB = ("climb-from", "climb-to")
_AIR = {"altitude": "distance", "temperature": "temperature", "humidity": "percent", "pressure": "pressure"}


def _of_the_build(key: str, state: State) -> str:
    """What stands in a field without a text of its own: the air of the rider's own build; an invented build's is nobody's."""
    which, _, what = key.partition("-")
    if what == "temperature" and by_altitude(state, which):
        there = np.clip(number(state, f"{which}-altitude"), LOWEST_M, HIGHEST_M)
        return display.field_text(float(standard_temperature_k(there)), "temperature", "metric")
    if which not in ("set", "day") or what not in _AIR or state.own is None:
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
    """Whether the temperature of an air follows from an altitude that was written: no other is."""
    written = {what: getattr(state.fields, place(f"{which}-{what}"), None) for what in ("altitude", "temperature")}
    return f"{which}-temperature" in SPECS and not written["temperature"] and bool(written["altitude"])


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
    found, errors = read(values, state)
    return (state, errors) if errors else (found, {})


def read(values: Mapping[str, Any], state: State) -> tuple[State, dict[str, str]]:
    """The state with every field that can be read, and the error of each that cannot."""
    found, errors = state, {}
    for key, value in values.items():
        typed = "" if value is None else str(value).strip()
        if typed in {shown(state, key, system) for system in SYSTEMS}:
            continue
        try:
            if not typed and SPECS[key].plain:
                raise InputError(key, None, "is empty", f"It was {shown(state, key)}.")
            found = put(found, key, read_value(key, with_unit(key, typed, state.units)) or None)
            found = replace(found, example=",".join(one for one in exampled(found) if one != key) or None)
        except InputError as error:
            errors[key] = queries.words(error)
    return found, errors


def exampled(state: State, page: str | None = None) -> tuple[str, ...]:
    """The fields that hold figures of an example: all, or those of a page."""
    keys = tuple(state.example.split(",")) if state.example else ()
    return keys if page is None else tuple(key for key in keys if key in EXAMPLES.get(page, ()))


def with_example(state: State, page: str) -> State:
    """The example of a page filled in where its fields are empty; where it stands already, taken out again."""
    standing = exampled(state, page)
    keys = standing or tuple(key for key in EXAMPLES[page] if not text(state, key))
    for key in keys:
        state = put(state, key, None if standing else in_units(EXAMPLES[page][key], state.units))
    rest = [key for key in exampled(state) if key not in keys]
    return replace(state, example=",".join(rest if standing else [*rest, *keys]) or None)


def missing(state: State, page: str) -> tuple[str, ...]:
    """The fields that a page cannot answer without, and that are empty; heights are not needed where a ride has them."""
    empty = tuple(key for key in NEEDED.get(page, ()) if not text(state, key))
    return (
        tuple(key for key in empty if key not in CLIMB) if state.limits_form.ride and set(CLIMB) <= {*empty} else empty
    )


def marks(state: State, keys: Sequence[str]) -> dict[str, str]:
    """How each field is drawn: wide or not, and marked while it holds a figure of an example."""
    held = exampled(state)
    return {
        key: " ".join(filter(None, ("wide-field" if SPECS[key].wide else "", "example-field" if key in held else "")))
        for key in keys
    }


def filled(page: str, keys: Sequence[str], state: State) -> Any:
    """What the fields of a page are filled with."""
    return form.filled(page, {key: shown(state, key) for key in keys})


def group(page: str, title: str, keys: Sequence[str], state: State) -> html.Fieldset:
    """Fields that belong together, filled in."""
    drawn = marks(state, keys)
    fields = (
        form.field(ids.part(page, key), SPECS[key], shown(state, key), system=state.units, className=drawn[key])
        for key in keys
    )
    return form.group(title, form.grid(*fields))


def desk(page: str, *groups: Any) -> html.Section:
    """The card with all the fields of a page, and a place for what belongs to none of them."""
    trouble = html.Div(id=ids.part(page, "trouble"), role="alert", className="stray")
    return components.section("What you have", *groups, trouble, kind="card desk-card", landmark=False)


def register(
    app: Dash, page: str, keys: Sequence[str], answer: Callable[[State], Any], places: Mapping[str, str]
) -> None:
    """The callbacks of a page's fields, which go into the link once the library can answer, or while the page still lacks some."""
    hinted = [key for key in keys if isinstance(SPECS[key].hint, BothWays)]

    def looks(**more: Any) -> dict[str, Output]:
        return {key: Output(ids.part(page, key), "className", **more) for key in keys}

    form.register(
        app,
        page,
        keys,
        lambda values, query, dimmed, filled: told(page, values, query, answer, places, dimmed, filled),
        lambda state, _: {
            "values": {key: shown(state, key) for key in keys},
            "marks": marks(state, keys),
            "hints": {key: SPECS[key].hint_in(state.units) for key in hinted},
        },
        told={"marks": looks(allow_duplicate=True)},
        marks=looks(),
        hints={key: Output(ids.part(page, key), "description") for key in hinted},
    )


def told(
    page: str,
    values: Mapping[str, Any],
    query: str,
    answer: Callable[[State], Any],
    places: Mapping[str, str],
    dimmed: bool = True,
    filled: Mapping[str, Any] | None = None,
) -> dict[str, Any]:
    """What the fields of a page make of the link, and what stands beside them."""

    def where_of(where: str) -> str:
        plain = re.sub(r"\[\d+\].*", "", where)
        return places.get(where, places.get(plain, plain))

    def troubles(state: State) -> form.Errors:
        try:
            if not missing(state, page):
                answer(state)
        except InputError as error:
            return form.errors_of(error, where_of, values, retold=True)
        return {}, []

    was = from_query(query)[0]
    judged = form.judged(values, query, taken, troubles, dimmed, filled)
    new = was if judged["query"] is no_update else from_query(judged["query"])[0]
    before, after = marks(was, list(values)), marks(new, list(values))
    return judged | {"marks": {key: no_update if before[key] == one else one for key, one in after.items()}}
