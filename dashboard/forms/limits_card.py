"""The fields in which the rider says what is needed of a sprocket pair: laid out, filled from a state, read back into one."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

import dash_mantine_components as dmc
from dash import Dash, Output, html

from dashboard import components, display, ids, queries
from dashboard.forms import form
from dashboard.queries import selection
from dashboard.url_state import State, put, read_value
from dashboard.url_state.fields import Spec
from dashboard.url_state.limits_form import GARAGE, LIMITS, NO_LIMIT, OF_LIBRARY, PARTS, RIDE_LIMITS
from ridesim.errors import InputError, each
from ridesim.selection.goals import EVERY_GOAL

PAGE = "sprockets"
PAUSE = 50  # ms of no typing before a field is read; what is wrong with half a figure shows only when the hand rests
GOALS = {"across": "From left to right", "up": "From bottom to top"}
CHAINS = {"keep": "Keep the fitted one", "travel": "Any within the axle's travel", "any": "Any, the axle anywhere"}
CHOSEN = ("chain", *GOALS)
KEYS = (*LIMITS, *PARTS, "tunes", "ride", *CHOSEN)
HINTED = (*LIMITS, *PARTS, "tunes", "chain")  # what stands in an empty field


def _id(key: str) -> str:
    return ids.part(PAGE, key)


def layout(state: State) -> html.Section:
    """The card, filled in."""
    values, hints, errors = shown(state), placeholders(state), troubles(state)[0]

    def common(key: str) -> dict[str, Any]:
        return {"error": errors.get(key), "debounce": PAUSE} | ({"placeholder": hints[key]} if key in HINTED else {})

    def text(key: str, spec: Spec) -> Any:
        return form.field(_id(key), spec, values[key], state.units, **common(key))

    def choose(key: str, label: str, options: Mapping[str, str], **more: Any) -> Any:
        plain = {name: value for name, value in common(key).items() if name != "debounce"}
        return form.choice_field(_id(key), label, options, values[key], **plain, className="wide-field", **more)

    tunes = dmc.MultiSelect(
        id=_id("tunes"),
        label="Tunes to consider",
        value=values["tunes"],
        error=errors.get("tunes"),
        placeholder=hints["tunes"],
        data=_tunes(state),
        className="wide-field",
    )
    goals = {key: goal.label_in(state.units).capitalize() for key, goal in EVERY_GOAL.items()}
    clear = {"clearable": True, "clearButtonProps": {"aria-label": "Take it out"}}
    limits = {key: text(key, one) for key, one in LIMITS.items()}
    ridden = [limits.pop(key) for key in RIDE_LIMITS]
    ride = choose("ride", "Ride", _rides(state), placeholder="None: open one on the Road page", **clear)
    lists = [text(key, one) for key, one in PARTS.items()]
    traded = [choose(key, label, goals) for key, label in GOALS.items()]
    lead = f"An empty field takes what the build file says, shown in gray; “{NO_LIMIT}” takes that limit away."
    return components.section(
        "What you need",
        html.P(lead, className="quiet"),
        form.group("At least and at most", form.grid(*limits.values())),
        form.group("Your own ride decides", form.grid(ride, *ridden)),
        form.group("Available parts", form.grid(*lists, tunes, choose("chain", "Chain", CHAINS, **clear))),
        form.group("The two figures to trade", form.grid(*traded)),
        html.Div(id=_id("trouble"), role="alert", className="stray"),
        form.filled(PAGE, shown(state)),
        kind="card desk-card needs",
    )


def _tunes(state: State) -> list[str]:
    return list(queries.loaded(state).record.tune)


def _rides(state: State) -> dict[str, str]:
    """The rides to choose from: those in the garage, and the one that the link names."""
    on_road = state.limits_form.ride
    named = {on_road: "The log opened on the Road page"} if on_road not in (None, GARAGE) else {}
    return {GARAGE: "Every log kept in the garage with this bike", **named}


def shown(state: State) -> dict[str, Any]:
    """What every field holds of a state."""
    values: dict[str, Any] = {key: state.limits_form.text(key) for key in KEYS}
    values |= dict(zip(GOALS, state.limits_form.goals, strict=True))
    return values | {
        "tunes": list(state.limits_form.tune_list or ()),
        "chain": state.limits_form.chain,
        "ride": state.limits_form.ride,
    }


def placeholders(state: State) -> dict[str, str]:
    """What the build file says, for the fields that are empty."""
    record = queries.loaded(state).record
    limits = record.limits
    hints = {}
    for key, one in LIMITS.items():
        limit = getattr(limits, one.of)
        hints[key] = "no limit" if limit is None else display.field_text(float(limit), one.reading, state.units)
    counted = selection.counted_above(state)
    hints["above-at"] = "" if counted is None else display.field_text(counted, "engine speed", state.units)
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


def troubles(state: State) -> form.Errors:
    """What keeps the library from answering a state, at its field, and what belongs to none."""
    try:
        selection.choice(state)
    except InputError as error:
        return form.errors_of(error, lambda where: OF_LIBRARY.get(where, where), KEYS)
    return {}, []


def told(
    values: Mapping[str, Any], query: str, dimmed: bool = True, filled: Mapping[str, Any] | None = None
) -> dict[str, Any]:
    """What the fields make of the link, and what stands beside them."""
    return form.judged(values, query, taken, troubles, dimmed, filled)


def register(app: Dash) -> None:
    """The callbacks of the fields."""
    form.register(
        app,
        PAGE,
        KEYS,
        told,
        lambda state, _: {"values": shown(state), "hints": placeholders(state), "tunes": _tunes(state)},
        hints={key: Output(_id(key), "placeholder") for key in HINTED},
        tunes=Output(_id("tunes"), "data"),
    )
