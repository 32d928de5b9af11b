"""The fields in which the rider says what is needed of a sprocket pair: laid out, filled from a state, read back into one."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from typing import Any

import dash_mantine_components as dmc
from dash import Dash, Input, Output, html, no_update
from dash import State as Held
from dash.exceptions import PreventUpdate

from dashboard import components, display, ids, queries
from dashboard.forms import link_fields
from dashboard.queries import selection
from dashboard.security.payloads import Typed
from dashboard.url_state import State, from_query, put, read_value, to_query
from dashboard.url_state.limits_form import LIMITS, NO_LIMIT, OF_LIBRARY
from ridesim.errors import InputError, each

PAGE = "sprockets"
PAUSE = 50  # ms of no typing before a field is read; what is wrong with half a figure shows only when the hand rests
GOALS = {"across": "From left to right", "up": "From bottom to top"}
CHAINS = {"keep": "Keep the fitted one", "travel": "Any within the axle's travel", "any": "Any, the axle anywhere"}
CHOSEN = ("chain", *GOALS)
LISTS = {
    "fronts": ("Front sprockets available", "such as 13:18 or 14, 15"),
    "rears": ("Rear sprockets available", "such as 40:50"),
    "tires": ("Rear tires to consider", "markings with commas between"),
}
KEYS = (*LIMITS, *LISTS, "tunes", *CHOSEN)
HINTED = (*LIMITS, *LISTS, "tunes", "chain")  # what stands in an empty field


def _id(key: str) -> str:
    return ids.part(PAGE, key)


def layout(state: State) -> html.Section:
    """The card, filled in."""
    values, hints, errors = shown(state), placeholders(state), troubles(state)[0]

    def common(key: str, label: str, hint: str = "") -> dict[str, Any]:
        return {
            "id": _id(key),
            "label": label,
            "description": hint or None,
            "value": values[key],
            "error": errors.get(key),
            "inputWrapperOrder": ["label", "input", "description", "error"],
            **({"placeholder": hints[key]} if key in HINTED else {}),
        }

    def text(key: str, label: str, hint: str) -> dmc.TextInput:
        wide = "wide-field" if key == "tires" else None
        return dmc.TextInput(
            **common(key, label, hint), className=wide, debounce=PAUSE, spellCheck=False, autoComplete="off"
        )

    def choose(key: str, label: str, options: Mapping[str, str], **more: Any) -> dmc.Select:
        data = [{"value": value, "label": words} for value, words in options.items()]
        wide = {"checkIconPosition": "right", "className": "wide-field"}
        return dmc.Select(**common(key, label), data=data, **wide, **more)

    tunes = dmc.MultiSelect(**common("tunes", "Tunes to consider"), data=_tunes(state), className="wide-field")
    lead = f"An empty field takes what the build file says, shown in gray; “{NO_LIMIT}” takes that limit away."
    return components.section(
        "What you need",
        html.P(lead, className="quiet"),
        *_groups(text, choose, tunes),
        html.Div(id=_id("trouble"), role="alert", className="stray"),
        kind="card desk-card needs",
    )


def _groups(text: Callable[..., Any], choose: Callable[..., Any], tunes: Any) -> list[html.Fieldset]:
    goals = {key: goal.label.capitalize() for key, goal in selection.goals().items()}
    clear = {"clearable": True, "clearButtonProps": {"aria-label": "Take it out"}}
    lists = [text(key, label, hint) for key, (label, hint) in LISTS.items()]
    return [
        _group("At least and at most", [text(key, one.label, one.hint) for key, one in LIMITS.items()]),
        _group("Available parts", [*lists, tunes, choose("chain", "Chain", CHAINS, **clear)]),
        _group(
            "The two figures to trade",
            [choose(key, label, goals, allowDeselect=False) for key, label in GOALS.items()],
        ),
    ]


def _group(title: str, fields: list[Any]) -> html.Fieldset:
    return html.Fieldset(
        [html.Legend(html.Span(title, className="tag ride")), html.Div(fields, className="grid-fields")],
        className="bench-fields",
    )


def _tunes(state: State) -> list[str]:
    return list(queries.loaded(state).record.tune)


def shown(state: State) -> dict[str, Any]:
    """What every field holds of a state."""
    values: dict[str, Any] = {key: state.limits_form.text(key) for key in KEYS}
    values |= dict(zip(GOALS, state.limits_form.goals, strict=True))
    return values | {"tunes": list(state.limits_form.tune_list or ()), "chain": state.limits_form.chain}


def placeholders(state: State) -> dict[str, str]:
    """What the build file says, for the fields that are empty."""
    limits, record = selection.build_limits(state), queries.loaded(state).record
    hints = {}
    for key, one in LIMITS.items():
        limit = getattr(limits, one.of)
        hints[key] = "no limit" if limit is None else display.field_text(float(limit), one.reading, state.units)
    if limits.walking_engine_speed is None:
        idle = record.engine.idle
        hints["walk-at"] = "" if idle is None else display.field_text(float(idle), "engine speed", state.units)
    now = selection.parts(state, state.now)
    plain = State(demo=state.demo, own=state.own, now=state.now)
    fronts, rears = selection.sprockets(plain)
    chain = "keep" if limits.keep_chain else "travel" if limits.within_axle_travel else "any"
    return hints | {
        "fronts": span(fronts),
        "rears": span(rears),
        "tires": ", ".join(limits.rear_tires or (now["rear_tire"],)),
        "tunes": ", ".join(limits.tunes or (now["tune"],)) if not state.limits_form.tunes else "",
        "chain": CHAINS[chain],
    }


def span(teeth: tuple[int, ...]) -> str:
    """Tooth counts in few words.

    >>> span((13, 14, 15)), span((13, 15))
    ('13:15', '13, 15')
    """
    whole = len(teeth) > 2 and teeth == tuple(range(teeth[0], teeth[0] + len(teeth)))
    return f"{teeth[0]}:{teeth[-1]}" if whole else ", ".join(map(str, teeth))


def typed(key: str, value: Any, system: str) -> str:
    """What a field says, as it goes into the link: a bare number with the unit that is shown."""
    if isinstance(value, list):
        return "\n".join(value)
    text = "" if value is None else str(value).strip()
    if text.lower() == NO_LIMIT:
        return NO_LIMIT
    return display.with_unit(text, LIMITS[key].reading, system) if key in LIMITS else text


def taken(values: Mapping[str, Any], state: State) -> tuple[State, dict[str, str]]:
    """The state that the fields ask for, and the error of each field that cannot be read."""
    found, errors, plain = state, {}, State()
    for key, value in values.items():
        text = typed(key, value, state.units)
        if text == typed(key, shown(state)[key], state.units):
            continue
        try:
            usual = key in GOALS and text == shown(plain)[key]
            found = put(found, f"need-{key}", None if usual else read_value(f"need-{key}", text))
        except InputError as error:
            errors[key] = " ".join(queries.words(InputError(key, text, one.problem, one.fix)) for one in each(error))
    return (state, errors) if errors else (found, {})


def troubles(state: State) -> tuple[dict[str, str], list[str]]:
    """What keeps the library from answering a state, at its field, and what belongs to none."""
    beside: dict[str, str] = {}
    stray: list[str] = []
    try:
        selection.choice(state)
    except InputError as error:
        for one in each(error):
            key = OF_LIBRARY.get(one.where, one.where)
            if key in KEYS:
                beside[key] = queries.words(one)
            else:
                stray.append(str(one))
    return beside, stray


def told(values: Mapping[str, Any], query: str, dimmed: bool = True) -> dict[str, Any]:
    """What the fields make of the link, and what stands beside them; the last good answer stays while one is wrong."""
    state, beside = taken(values, from_query(query)[0])
    stray: list[str] = []
    if not beside:
        beside, stray = troubles(state)
    asked = to_query(state)
    return {
        "query": no_update if beside or stray or asked == query else asked,
        **link_fields.standing(KEYS, beside, stray, dimmed),
    }


def register(app: Dash) -> None:
    """The callbacks of the fields: into the link once the library can answer, and out of a link that is opened."""

    @app.callback(
        output={
            "query": Output(ids.QUERY, "data", allow_duplicate=True),
            "errors": {key: Output(_id(key), "error") for key in KEYS},
            "trouble": Output(_id("trouble"), "children"),
            "dim": Output(_id("page"), "className"),
        },
        inputs={
            "values": {key: Input(_id(key), "value") for key in KEYS},
            "query": Held(ids.QUERY, "data"),
            "page": Held(_id("page"), "className"),
        },
        prevent_initial_call=True,
    )
    def take(values: dict[str, Typed], query: str | None, page: str | None) -> dict[str, Any]:
        if query is None:
            raise PreventUpdate
        return told(values, query, page != "page")

    @app.callback(
        output={
            "values": {key: Output(_id(key), "value") for key in KEYS},
            "hints": {key: Output(_id(key), "placeholder") for key in HINTED},
            "tunes": Output(_id("tunes"), "data"),
        },
        inputs={"link": Input(ids.LINK, "data")},
        prevent_initial_call=True,
    )
    def refill(link: str | None) -> dict[str, Any]:
        state = from_query(link)[0]
        return {"values": shown(state), "hints": placeholders(state), "tunes": _tunes(state)}


__all__ = [
    "CHAINS",
    "KEYS",
    "layout",
    "placeholders",
    "register",
    "shown",
    "span",
    "taken",
    "told",
    "troubles",
    "typed",
]
