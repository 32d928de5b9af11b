"""Where a rider begins: a first answer from a few figures, a look around, and every question answered in a sentence."""

from __future__ import annotations

from typing import Any

import dash_mantine_components as dmc
from dash import Dash, Input, Output, State, html, no_update

from dashboard import components, display, ids, queries
from dashboard.forms import form
from dashboard.pages.page import Section, View, pressed, view
from dashboard.security.payloads import Typed
from dashboard.static_html import internal_link, static_html
from dashboard.url_state import SetUp, to_query
from dashboard.url_state import State as Looked
from ridesim.buildfile.first import FIELDS

KEY = "start"
LABELS = {
    "bike": ("Bike, all fluids", "172 kg", "with half a tank"),
    "rider": ("You, in riding gear", "79 kg", ""),
    "tire": ("Rear tire", "120/90-17", "as marked on its side"),
    "front": ("Front sprocket", "14", "teeth"),
    "rear": ("Rear sprocket", "41", "teeth"),
    "primary": ("Primary drive", "70/29", "teeth driven/driving, or a ratio"),
    "gears": ("Gears, first to top", "2.58 1.71 1.30 1.05 0.87", "ratios, or teeth as 31/12"),
    "torque": ("Peak torque", "35.4 N*m", "with its unit"),
    "torque_at": ("at engine speed", "4500 rev/min", ""),
    "power": ("Peak power", "26 hp", "with its unit"),
    "power_at": ("at engine speed", "6100 rev/min", ""),
}
GROUPS = (
    ("Masses", ("bike", "rider")),
    ("Rear wheel and sprockets", ("tire", "front", "rear")),
    ("Gearbox", ("primary", "gears")),
    ("Engine", ("torque", "torque_at", "power", "power_at")),
)
DOORS = (
    (
        "One tooth more in front",
        "What a calmer highway costs in first gear.",
        "/gearing#gears",
        Looked(planned=SetUp(front=15)),
    ),
    (
        "Other tires",
        "A taller rear and a wider front: gearing, speedometer, trail.",
        "/tires",
        Looked(planned=SetUp(rear_tire="130/90-17 M/C 68S", front_tire="100/90-19 M/C 57S")),
    ),
    (
        "Stock against re-jetted",
        "Leaner jets and a freer silencer for thin air: what they gave, gear by gear.",
        "/power#pull",
        Looked(demo="plateau-single", now=SetUp(tune="stock"), planned=SetUp(tune="rejetted")),
    ),
)
QUESTIONS = (
    ("speeds", "/gearing#gears"),
    ("cruising", "/gearing#cruise"),
    ("tires", "/tires"),
    ("power", "/power#engine"),
    ("pull", "/power#pull"),
    ("climbing", "/power#hills"),
    ("front_lift", "/power#lift"),
    ("standing_run", "/power#run"),
    ("chain", "/gearing#chain"),
)


def _field(key: str) -> Any:
    label, example, hint = LABELS[key]
    return form.text_field(ids.part(KEY, key), label, hint=hint, placeholder=f"such as {example}", debounce=False)


def layout(state: Looked) -> Any:
    groups = [
        html.Fieldset([html.Legend(title), html.Div([_field(k) for k in keys], className="grid-fields")])
        for title, keys in GROUPS
    ]
    return html.Div(
        [
            components.section(
                "A first answer from a few figures",
                *groups,
                dmc.Checkbox(id=ids.part(KEY, "guess"), label="The gear ratios are a guess", checked=False),
                html.Button("Show my first answer", id=ids.part(KEY, "go"), className="button main"),
                html.Div(id=ids.part(KEY, "error"), role="alert", className="error"),
                kind="card stack",
            ),
            html.Section(
                [
                    html.H3("Or look around with an invented bike"),
                    html.Ul(
                        [
                            html.Li([internal_link(title, place, to_query(looked)), html.P(text)])
                            for title, text, place, looked in DOORS
                        ],
                        className="doors",
                    ),
                ],
                className="card",
                **{"aria-label": "Or look around"},
            ),
            html.Section(
                [html.H3(id=ids.part(KEY, "of")), components.slot(KEY, "says", role="status")],
                className="card",
                **{"aria-label": "Every question in a sentence"},
            ),
        ],
        className="page",
    )


def _answer(question: str, place: str, query: str, v: View) -> Any:
    pair = queries.pair(question, v.state)
    return html.Li(
        [
            internal_link(pair.question, place, query),
            components.says(pair, v.system, pair.now.figures == pair.planned.figures),
        ]
    )


def register(app: Dash) -> None:
    @app.callback(
        output={"of": Output(ids.part(KEY, "of"), "children"), "says": Output(ids.part(KEY, "says"), "children")},
        inputs={"query": Input(ids.QUERY, "data"), "theme": Input(ids.THEME, "data")},
    )
    def show(query: str | None, theme: str | None) -> dict[str, Any]:
        v = view(query, theme)
        answers = [_answer(question, place, query or "", v) for question, place in QUESTIONS]
        bike = queries.now(v.state).bike
        note = bike.record.tune[bike.tune].note
        told = [html.P(f"{bike.tune}: {note}")] if note else []
        return {
            "of": display.name_of(queries.now(v.state)),
            "says": static_html(html.Div([html.Ul(answers, className="answers"), *told])),
        }

    @app.callback(
        output={
            "link": Output(ids.REPLACE, "data", allow_duplicate=True),
            "errors": {key: Output(ids.part(KEY, key), "error") for key in FIELDS},
            "error": Output(ids.part(KEY, "error"), "children"),
        },
        inputs={
            "clicks": Input(ids.part(KEY, "go"), "n_clicks"),
            "given": {key: State(ids.part(KEY, key), "value") for key in FIELDS},
            "guess": State(ids.part(KEY, "guess"), "checked"),
            "query": State(ids.QUERY, "data"),
        },
        prevent_initial_call=True,
    )
    def go(clicks: int | None, given: dict[str, Typed], guess: bool | None, query: str | None) -> dict[str, Any]:
        pressed(clicks)
        build, errors = queries.first(given, guessed_ratios=bool(guess))
        link = no_update if build is None else to_query(Looked(own=build.text, units=view(query, "light").state.units))
        return {"link": link, "errors": {key: errors.get(key) for key in FIELDS}, "error": errors.get("", "")}


SECTION = Section(
    key=KEY,
    title="What would the change do?",
    lead="Gearing, tires and tuning of your bike in numbers, before money is spent. Begin with what you know by heart.",
    layout=layout,
    register=register,
)
