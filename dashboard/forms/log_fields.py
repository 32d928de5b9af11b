"""The fields beside a log: laid out from their table, filled from a link, and kept in it whether a log is open or not."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any

from dash import Dash, Input, Output
from dash import State as Held

from dashboard import ids
from dashboard.forms import form, link_fields
from dashboard.url_state import State, from_query
from dashboard.url_state.fields import ROAD, place
from ridesim.statements import BothWays

STRETCH = ("from-s", "to-s")
SPEEDS = ("from-speed", "to-speed")
AIR = ("altitude", "temperature", "humidity", "pressure")
NUMBERS = {"from-s", "to-s", "gear", "gears"}


def part(page: str, which: str, name: str) -> str:
    """A part of a page's log; which is empty where the page asks of one lot of logs."""
    return ids.part(page, f"{which}-{name}" if which else name)


def value(state: State, key: str) -> Any:
    """What a field holds for a link: a number where it counts, else the text as it was typed."""
    if key.endswith(tuple(f"-{name}" for name in NUMBERS)):
        found = link_fields.figure(state, key)
        return "" if found is None else int(found) if found.is_integer() else found
    return link_fields.shown(state, key)


def field(page: str, name: str, state: State, which: str = "") -> Any:
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


def states(page: str, names: Sequence[str], which: str = "") -> dict[str, Held]:
    """Some fields as states."""
    return {name: Held(part(page, which, name), "value") for name in names}


def of_page(page: str) -> tuple[str, ...]:
    """The names of all fields of a page."""
    return tuple(key.removeprefix(f"{page}-") for key in ROAD if key.startswith(f"{page}-"))


def of_state(page: str, state: State) -> dict[str, Any]:
    """What the fields of a page hold for a link."""
    return {name: value(state, ids.part(page, name)) for name in of_page(page)}


def filled(page: str, state: State) -> Any:
    """What the fields of a page are filled with."""
    return form.filled(page, of_state(page, state))


def taken(values: Mapping[str, Any], state: State) -> State:
    """The state with every field that can be read; what cannot stays as it was, and is told where it is used."""
    return link_fields.read({key: typed for key, typed in values.items() if typed != value(state, key)}, state)[0]


def chosen(state: State, page: str) -> list[str]:
    """What a link holds of choices for this page, each in words."""
    keys = {name: ids.part(page, name) for name in of_page(page)}
    return [_choice(state, name, key) for name, key in keys.items() if getattr(state.fields, place(key))]


def _choice(state: State, name: str, key: str) -> str:
    which = name.partition("-")[0]
    label, seconds, _ = ROAD[key].label.lower().partition(" [s]")
    words = f"{label} {link_fields.shown(state, key)}{' s' if seconds else ''}"
    return f"{which} the change, {words}" if which in ("before", "after") else words


def register(app: Dash, page: str) -> None:
    """The callbacks of a page's fields: into the link, and out of a link that is opened."""
    keys = of_page(page)
    hinted = [key for key in keys if isinstance(ROAD[ids.part(page, key)].hint, BothWays)]

    def judge(values: dict[str, Any], query: str, dimmed: bool, filled: dict[str, Any] | None) -> dict[str, Any]:
        typed = {ids.part(page, key): value for key, value in form.touched(values, filled).items()}
        return form.moved(taken(typed, from_query(query)[0]), query, values, wrong=False)

    def refill(state: State, _: Mapping[str, Any]) -> dict[str, Any]:
        hints = {key: ROAD[ids.part(page, key)].hint_in(state.units) for key in hinted}
        return {"values": of_state(page, state), "hints": hints}

    hints = {key: Output(ids.part(page, key), "placeholder") for key in hinted}
    form.register(app, page, keys, judge, refill, beside=False, hints=hints)
