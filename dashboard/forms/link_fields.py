"""The fields of the bench: laid out from their table, filled from a state, read back into one, each error beside its field."""

from __future__ import annotations

import re
from collections.abc import Callable, Mapping, Sequence
from typing import Any

import dash_mantine_components as dmc
import numpy as np
from dash import Dash, Input, Output, html, no_update
from dash import State as Held
from dash.exceptions import PreventUpdate

from dashboard import components, display, ids, queries
from dashboard.security.payloads import Typed
from dashboard.url_state import State, from_query, put, read_value, to_query
from dashboard.url_state.fields import SPECS, place
from ridesim.environment.air import HIGHEST_M, LOWEST_M, standard_temperature_k
from ridesim.errors import InputError, each
from ridesim.units import quantity

PAUSE = 450  # ms of no typing before a field is read
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


def at_fields(
    error: InputError, typed: Mapping[str, Any], places: Mapping[str, str]
) -> tuple[dict[str, str], list[str]]:
    """The errors of the library at their fields, with what was typed there, and those that belong to none."""
    beside: dict[str, str] = {}
    stray: list[str] = []
    for one in each(error):
        where = re.sub(r"\[\d+\].*", "", one.where)
        key = places.get(one.where, places.get(where, where))
        if key in typed:
            said = queries.words(InputError(key, typed[key] or None, one.problem, one.fix))
            beside[key] = " ".join(filter(None, (beside.get(key), said)))
        else:
            stray.append(str(one))
    return beside, stray


def field(page: str, key: str, state: State) -> Any:
    """One field, filled in."""
    spec = SPECS[key]
    wide = "wide-field" if spec.wide else None
    if spec.options is not None:
        return dmc.Select(
            id=ids.part(page, key),
            label=spec.label,
            data=[{"value": value, "label": label} for value, label in spec.options.items()],
            value=shown(state, key),
            allowDeselect=False,
            checkIconPosition="right",
            className=wide,
        )
    return dmc.TextInput(
        id=ids.part(page, key),
        label=spec.label,
        description=spec.hint or None,
        value=shown(state, key),
        className=wide,
        inputWrapperOrder=["label", "input", "description", "error"],
        debounce=PAUSE,
        spellCheck=False,
        autoComplete="off",
    )


def group(page: str, title: str, keys: Sequence[str], state: State, *more: Any) -> html.Fieldset:
    """Fields that belong together."""
    return html.Fieldset(
        [
            html.Legend(html.Span(title, className="tag ride")),
            *more,
            html.Div([field(page, key, state) for key in keys], className="grid-fields"),
        ],
        className="bench-fields",
    )


def desk(page: str, *groups: Any) -> html.Section:
    """The card with all the fields of a page, and a place for what belongs to none of them."""
    return components.section(
        "What you have",
        *groups,
        html.Div(id=ids.part(page, "trouble"), role="alert", className="stray"),
        kind="card desk-card",
    )


def register(
    app: Dash, page: str, keys: Sequence[str], answer: Callable[[State], Any], places: Mapping[str, str]
) -> None:
    """The callbacks of a page's fields: into the link once the library can answer, and out of a link that is opened."""
    fields = {key: ids.part(page, key) for key in keys}

    @app.callback(
        output={
            "query": Output(ids.QUERY, "data", allow_duplicate=True),
            "errors": {key: Output(name, "error") for key, name in fields.items()},
            "trouble": Output(ids.part(page, "trouble"), "children"),
            "dim": Output(ids.part(page, "page"), "className"),
        },
        inputs={
            "values": {key: Input(name, "value") for key, name in fields.items()},
            "query": Held(ids.QUERY, "data"),
            "name": Held(ids.part(page, "page"), "className"),
        },
        prevent_initial_call=True,
    )
    def take(values: dict[str, Typed], query: str | None, name: str | None) -> dict[str, Any]:
        if query is None:
            raise PreventUpdate
        return told(values, query, keys, answer, places, name != "page")

    @app.callback(
        output={key: Output(name, "value") for key, name in fields.items()},
        inputs={"link": Input(ids.LINK, "data")},
        prevent_initial_call=True,
    )
    def refill(link: str | None) -> dict[str, str]:
        state = from_query(link)[0]
        return {key: shown(state, key) for key in keys}


def told(
    values: Mapping[str, Any],
    query: str,
    keys: Sequence[str],
    answer: Callable[[State], Any],
    places: Mapping[str, str],
    dimmed: bool = True,
) -> dict[str, Any]:
    """What the fields of a page make of the link, and what stands beside them."""
    was = from_query(query)[0]
    state, beside = taken(values, was)
    stray: list[str] = []
    if not beside:
        try:
            answer(state)
        except InputError as error:
            beside, stray = at_fields(error, values, places)
    asked = to_query(state)
    return {
        "query": no_update if beside or stray or asked == query else asked,
        **standing(keys, beside, stray, dimmed),
    }


def standing(keys: Sequence[str], beside: Mapping[str, str], stray: Sequence[str], dimmed: bool) -> dict[str, Any]:
    """What stands beside the fields of a page and under them. Where nothing was wrong (the page not `dimmed`) and nothing is,
    nothing is sent: it costs the browser time.
    """
    wrong = bool(beside or stray)
    if not (wrong or dimmed):
        return {"errors": dict.fromkeys(keys, no_update), "trouble": no_update, "dim": no_update}
    return {
        "errors": {key: beside.get(key) for key in keys},
        "trouble": [html.P(one) for one in stray],
        "dim": "page dim" if wrong else "page",
    }
