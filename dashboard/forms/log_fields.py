"""The fields beside a log: laid out from their table, filled from a link, and kept in it whether a log is open or not."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any

from dash import Dash, Input, Output, State
from dash.exceptions import PreventUpdate

from dashboard import ids
from dashboard.forms import form, link_fields
from dashboard.security.payloads import Typed
from dashboard.url_state import State as Looked
from dashboard.url_state import from_query, put, read_value, to_query
from dashboard.url_state.fields import ROAD, place
from ridesim.errors import InputError
from ridesim.statements import BothWays

STRETCH = ("from-s", "to-s")
SPEEDS = ("from-speed", "to-speed")
AIR = ("altitude", "temperature", "humidity", "pressure")
NUMBERS = {"from-s", "to-s", "gear", "gears"}


def part(page: str, which: str, name: str) -> str:
    """A part of a page's log; which is empty where the page asks of one lot of logs."""
    return ids.part(page, f"{which}-{name}" if which else name)


def value(state: Looked, key: str) -> Any:
    """What a field holds for a link: a number where it counts, else the text as it was typed."""
    if key.endswith(tuple(f"-{name}" for name in NUMBERS)):
        found = link_fields.figure(state, key)
        return "" if found is None else int(found) if found.is_integer() else found
    return link_fields.shown(state, key)


def field(page: str, name: str, state: Looked, which: str = "") -> Any:
    """One field, filled in."""
    key = part(page, which, name)
    spec = ROAD[key]
    if name in NUMBERS:
        step = 1 if name in ("gear", "gears") else 0.5
        return form.number_field(
            key, spec.label, value=value(state, key), placeholder=spec.hint or None, min=0, step=step
        )
    more: dict[str, Any] = {} if spec.options else {"hint": "", "placeholder": spec.hint_in(state.units) or None}
    return form.field(key, spec, value(state, key), **more)


def hint(page: str, name: str) -> str:
    """What an empty field stands for while nothing is known."""
    return ROAD[part(page, "", name)].hint


def inputs(page: str, names: Sequence[str], which: str = "") -> dict[str, Input]:
    """Some fields as inputs."""
    return {name: Input(part(page, which, name), "value") for name in names}


def states(page: str, names: Sequence[str], which: str = "") -> dict[str, State]:
    """Some fields as states."""
    return {name: State(part(page, which, name), "value") for name in names}


def of_page(page: str) -> tuple[str, ...]:
    """The keys of all fields of a page."""
    return tuple(key for key in ROAD if key.startswith(f"{page}-"))


def of_state(page: str, state: Looked) -> dict[str, Any]:
    """What the fields of a page hold for a link."""
    return {key: value(state, key) for key in of_page(page)}


def filled(page: str, state: Looked) -> Any:
    """What the fields of a page are filled with."""
    return form.filled(page, of_state(page, state))


def taken(values: Mapping[str, Any], state: Looked) -> Looked:
    """The state with every field that can be read; what cannot stays as it was, and is told where it is used."""
    for key, typed in values.items():
        text = "" if typed is None else str(typed).strip()
        if text in {str(value(state, key)), *(link_fields.shown(state, key, s) for s in link_fields.SYSTEMS)}:
            continue
        try:
            read = read_value(key, link_fields.with_unit(key, text, state.units))
        except InputError:
            continue
        if read or not ROAD[key].plain:
            state = put(state, key, read or None)
    return state


def chosen(state: Looked, page: str) -> list[str]:
    """What a link holds of choices for this page, each in words."""
    keys = (key for key in of_page(page) if getattr(state.fields, place(key)))
    return [_choice(state, page, key) for key in keys]


def _choice(state: Looked, page: str, key: str) -> str:
    which = key.removeprefix(f"{page}-").partition("-")[0]
    label, seconds, _ = ROAD[key].label.lower().partition(" [s]")
    words = f"{label} {link_fields.shown(state, key)}{' s' if seconds else ''}"
    return f"{which} the change, {words}" if which in ("before", "after") else words


def register(app: Dash, page: str) -> None:
    """The callbacks of a page's fields: into the link, and out of a link that is opened."""
    keys = of_page(page)

    was = ids.part(page, "filled")

    @app.callback(
        output={"query": Output(ids.QUERY, "data", allow_duplicate=True), "filled": Output(was, "data")},
        inputs={
            "values": {key: Input(key, "value") for key in keys},
            "query": State(ids.QUERY, "data"),
            "filled": State(was, "data"),
        },
        prevent_initial_call=True,
    )
    def keep(values: dict[str, Typed], query: str | None, filled: dict[str, Typed] | None) -> dict[str, Any]:
        return {"query": kept(values, query, filled), "filled": values}

    hinted = [key for key in keys if isinstance(ROAD[key].hint, BothWays)]

    @app.callback(
        output={
            "values": {key: Output(key, "value", allow_duplicate=True) for key in keys},
            "filled": Output(was, "data", allow_duplicate=True),
            "hints": {key: Output(key, "placeholder") for key in hinted},
        },
        inputs={"link": Input(ids.LINK, "data")},
        prevent_initial_call=True,
    )
    def refill(link: str | None) -> dict[str, Any]:
        state = from_query(link)[0]
        found = of_state(page, state)
        return {
            "values": found,
            "filled": found,
            "hints": {key: ROAD[key].hint_in(state.units) for key in hinted},
        }


def kept(values: Mapping[str, Any], query: str | None, filled: Mapping[str, Any] | None = None) -> str:
    """The link with the fields in it; nothing happens where nothing changes."""
    if query is None:
        raise PreventUpdate
    told = to_query(taken(form.touched(values, filled), from_query(query)[0]))
    if told == query:
        raise PreventUpdate
    return told
