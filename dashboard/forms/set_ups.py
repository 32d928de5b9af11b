"""The fields of the two set-ups and the ride: how they are laid out, filled from a state, and read back into one."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import replace
from typing import Any

from dash import html

from dashboard import display, ids, queries
from dashboard.forms import build_form, form
from dashboard.url_state import Problem, SetUp, State, get, put, read_value, teeth_limits
from ridesim.answers import Solved
from ridesim.environment.road import surfaces
from ridesim.errors import InputError, each
from ridesim.statements import Assumption, in_units

LABELS = {
    "front": "Front sprocket",
    "rear": "Rear sprocket",
    "rear-tire": "Rear tire",
    "front-tire": "Front tire",
    "tune": "Tune",
    "luggage": "Luggage",
    "cruise": "Cruising speed",
    "grade": "Grade",
    "head-wind": "Head wind",
    "surface": "Surface",
}
READING = {"luggage": "mass", "cruise": "speed", "grade": "percent", "head-wind": "speed"}
SLIDERS: Mapping[str, Any] = {  # least, most and step in the units shown
    "cruise": {"metric": (30, 180, 1), "us": (20, 110, 1)},
    "grade": {"metric": (-10, 40, 0.5), "us": (-10, 40, 0.5)},
}


def _field(key: str) -> Any:
    own = key.removeprefix("planned-")
    name, label = ids.field(key), LABELS[own]
    if own in ("front", "rear"):
        least, most = teeth_limits(own)
        return form.number_field(name, label, min=least, max=most, step=1, allowDecimal=False)
    return form.choice_field(name, label, ()) if own in ("tune", "surface") else form.text_field(name, label)


def _set_up(prefix: str, title: str, kind: str) -> html.Fieldset:
    return form.group(title, *(_field(prefix + key) for key in ids.SET_UP), kind=kind, look="set-up")


def _slid(key: str) -> html.Div:
    ends = SLIDERS[key]["metric"]
    slide = form.slider(ids.slider(key), LABELS[key], ends, ends[0], size="sm", thumbSize=20, color="steel")
    return html.Div([_field(key), slide], className="slid")


def layout() -> list[Any]:
    """The fields, in the order in which a rider thinks of them."""
    return [
        html.Div([_set_up("", "Now", "now"), _set_up("planned-", "Planned", "planned")], className="pair"),
        html.Div(
            [
                html.Button("Make both alike", id=ids.SAME, className="plain"),
                html.Button("Swap", id=ids.SWAP, className="plain"),
                html.Button(
                    "Take over", id=ids.TAKE_OVER, className="plain", title="The planned set-up becomes the one of now"
                ),
            ],
            className="buttons",
        ),
        form.group("The ride", *(_slid(key) if key in SLIDERS else _field(key) for key in ids.RIDE), look="ride"),
    ]


def _effective(solved: Solved, key: str, system: str) -> Any:
    """What a field shows of a solved bike."""
    bike = solved.bike
    plain = {
        "front": bike.teeth[0] if bike.teeth else None,
        "rear": bike.teeth[1] if bike.teeth else None,
        "rear-tire": bike.rear_tire.marking.written,
        "front-tire": bike.front_tire.marking.written,
        "tune": bike.tune,
        "surface": bike.surface,
    }
    if key in plain:
        return plain[key]
    figure = {
        "luggage": float(bike.raw["luggage_kg"]),
        "cruise": solved.ride.cruise_m_s,
        "grade": float(bike.record.ride.grade),
        "head-wind": solved.ride.headwind_m_s,
    }[key]
    return display.field_text(figure, READING[key], system)


def shown(state: State) -> dict[str, Any]:
    """What every field shows of a state."""
    now, planned = queries.now(state), queries.planned(state)
    values = {
        key: _effective(planned if key.startswith("planned-") else now, key.removeprefix("planned-"), state.units)
        for key in ids.FIELDS
    }
    if state.grade is not None:
        values["grade"] = state.grade
    return values


def choices(state: State) -> dict[str, list[str]]:
    """What can be chosen in the fields that choose."""
    tunes = list(queries.build(state).record.tune)
    return {"tune": tunes, "planned-tune": tunes, "surface": list({queries.now(state).bike.surface: 0, **surfaces()})}


def taken(values: Mapping[str, Any], state: State) -> tuple[State, tuple[Problem, ...]]:
    """The state that the fields ask for, and what of them cannot be used."""
    as_filed = shown(State(demo=state.demo, own=state.own, units=state.units))
    was, problems, asked = shown(state), [], state
    for key in ids.FIELDS:
        text = "" if values[key] is None else str(values[key]).strip()
        if text == ("" if was[key] is None else str(was[key])):  # a shaft has no sprockets
            continue
        if key in READING or key.removeprefix("planned-") in READING:
            text = display.with_unit(text, READING[key.removeprefix("planned-")], state.units)
        try:
            if not text:
                raise InputError(key, None, "is empty", f"It was {was[key]}.")
            value = read_value(key, text)
        except InputError as error:
            problems.append(Problem(key=key, text=queries.words(error)))
            continue
        asked = put(asked, key, None if not key.startswith("planned-") and text == str(as_filed[key]) else value)
    if problems:
        return state, tuple(problems)
    asked = _lean(asked, values)
    found = queries.troubles(asked)
    return (state if found else asked), found


def _lean(state: State, values: Mapping[str, Any]) -> State:
    """The state without what is planned but is so already; what is planned stays as its field shows it when now changes."""
    for key in (k for k in ids.FIELDS if k.startswith("planned-")):
        same = str(values[key]).strip() == str(values[key.removeprefix("planned-")]).strip()
        if same:
            state = put(state, key, None)
        elif get(state, key) is None:
            text = str(values[key]).strip()
            reading = READING.get(key.removeprefix("planned-"))
            state = put(state, key, read_value(key, display.with_unit(text, reading, state.units) if reading else text))
    return state


def errors(problems: Sequence[Problem]) -> dict[str, str | None]:
    """The error beside each field, or none."""
    told = {problem.key: problem.text for problem in problems}
    return {key: told.get(key) for key in ids.FIELDS}


def elsewhere(problems: Sequence[Problem]) -> list[Any]:
    """Problems that no field of the set-ups stands for."""
    return [html.P(problem.text) for problem in problems if problem.key not in ids.FIELDS]


def slides(state: State) -> dict[str, float]:
    """Where the sliders stand."""
    texts = {key: shown(state)[key] for key in SLIDERS}
    return {
        key: min(max(float(text.split()[0]), SLIDERS[key][state.units][0]), SLIDERS[key][state.units][1])
        for key, text in texts.items()
    }


def slider_ends(state: State) -> dict[str, float]:
    """The least and most of each slider in the units shown."""
    return {f"{key}-{name}": SLIDERS[key][state.units][n] for key in SLIDERS for n, name in enumerate(("min", "max"))}


def swapped(state: State) -> State:
    """What is now becomes planned, and the other way round."""
    values = shown(state)
    turned = replace(state, now=state.planned_whole, planned=SetUp())
    for key in (k for k in ids.FIELDS if k.startswith("planned-")):
        own = key.removeprefix("planned-")
        if values[own] != values[key]:
            turned = put(turned, key, read_value(own, str(values[own])))
    return turned


def mended(figures: Mapping[str, str], state: State) -> tuple[State, dict[str, str]]:
    """The state with the rider's own figures in place of assumed ones, and what of them cannot be used."""
    if not figures:
        return state, {}
    try:
        build = queries.build(state).changed(figures)
        wanted = replace(state, own=build.text)
        found = queries.troubles(wanted)
        return (state, dict.fromkeys(figures, found[0].text)) if found else (wanted, {})
    except InputError as error:
        told = {one.where: queries.words(one) for one in each(error)}
        return state, {path: told.get(path, str(error)) for path in figures}


def assumption_path(text: str) -> str | None:
    """The key of the build file that an assumption stands for, when a rider can fill it in."""
    path = text.path if isinstance(text, Assumption) else ""
    return path if path in build_form.ENTRIES else None


def assumption(text: str, system: str) -> Any:
    """An assumption, with a field to put the rider's own figure in its place where the build file has a key for it."""
    path = assumption_path(text)
    if path is None:
        return html.Span(in_units(text, system))
    own = form.text_field(
        {"kind": "assumed", "path": path},
        f"Your own: {build_form.ENTRIES[path].label.lower()}",
        placeholder="with its unit",
        debounce=True,
        size="xs",
    )
    return html.Div([html.Span(in_units(text, system)), own], className="assumption")
