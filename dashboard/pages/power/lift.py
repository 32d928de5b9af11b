"""How easily the front comes up, gear by gear, and how far back the rider would have to sit."""

from __future__ import annotations

from typing import Any

import dash_mantine_components as dmc
from dash import Dash, Input, Output, State, html, no_update

from dashboard import components, display, ids, queries
from dashboard.display import axis
from dashboard.pages.page import Page, View, answers, both, drawn
from dashboard.url_state import MOST_BACK_MM, from_query, put, to_query
from dashboard.url_state import State as Looked
from ridesim.plots.lines import Line, Mark, lines
from ridesim.plots.scale import Circle, Dot, Stroke, drawing

KEY = "lift"
RATIO = "Where a line passes 1 the throttle alone lifts the front in that gear; under it, the rider's own weight has to help."
VIEW = "The bike as it is now, to scale: the centres of mass of bike, rider and luggage, and the one of all together, which moves with the slider."


def layout(state: Looked) -> Any:
    return components.frame(
        KEY,
        "How easily does the front come up?",
        "The lift ratio is the acceleration the engine gives over the one at which the front wheel carries nothing: at 1 and over it comes up.",
        components.chart(KEY, "ratio", tall=True),
        html.Section(
            [
                html.H2("With the rider farther back"),
                html.Label("How far back the rider moves", id=ids.part(KEY, "back-label"), className="field-label"),
                dmc.Slider(
                    id=ids.part(KEY, "back"),
                    min=0,
                    max=MOST_BACK_MM,
                    step=5,
                    value=queries.millimetres(state.back),
                    label=None,
                    thumbSize=22,
                    updatemode="drag",
                    thumbLabel="How far back the rider moves, in millimetres",
                ),
                components.slot(KEY, "moved", role="status"),
            ],
            className="card",
            **{"aria-label": "With the rider farther back"},
        ),
        components.chart(KEY, "view", shape="flat"),
    )


def _ratio(pair: Any, v: View) -> Any:
    x, y = axis("Engine speed", "engine speed", v.system), axis("Lift ratio", "ratio", v.system)
    rows = [
        Line(x=x(answer.series["engine_speed_rad_s"]), y=y(ratio), role=role, name=f"Gear {n}", end=str(n))
        for role, answer in both(pair)
        for n, ratio in enumerate(answer.series["lift_ratio"], start=1)
    ]
    marks = [Mark(axis="y", at=1.0, text="the front comes up", role="warn")]
    return lines(rows, x_title=x.title, y_title=y.title, dark=v.dark, marks=marks, from_zero="y")


def _side(seated: Any, moved: Any, v: View) -> Any:
    x = axis("Ahead of the rear axle", "small length", v.system)
    y = axis("Height", "small length", v.system)
    g, m = seated.series["geometry"], moved.series["geometry"]
    base = g["wheelbase_m"]
    parts: list[Any] = [
        Stroke(x=x([-0.5, base + 0.45]), y=y([0.0, 0.0]), role="road"),
        Circle(x=0.0, y=y.one(g["rear_radius_m"]), r=x.one(g["rear_radius_m"]), role="road"),
        Circle(x=x.one(base), y=y.one(g["front_radius_m"]), r=x.one(g["front_radius_m"]), role="road"),
        Dot(x=x.one(g["bike_ahead_m"]), y=y.one(g["bike_height_m"]), text="bike", role="road", below=True),
        Dot(x=x.one(m["rider_ahead_m"]), y=y.one(m["rider_height_m"]), text="rider", role="road"),
        Dot(x=x.one(g["ahead_m"]), y=y.one(g["height_m"]), text="all, seated", large=True),
    ]
    if g["luggage_kg"]:
        parts.append(Dot(x=x.one(g["luggage_ahead_m"]), y=y.one(g["luggage_height_m"]), text="luggage", role="road"))
    if m["ahead_m"] != g["ahead_m"]:
        parts.append(
            Dot(x=x.one(m["ahead_m"]), y=y.one(m["height_m"]), text="all, moved", role="might", large=True, below=True)
        )
        parts.append(
            Stroke(
                x=x([m["ahead_m"]] * 2), y=y([0.0, m["height_m"]]), role="might", thin=True, legend="Rider moved back"
            )
        )
    parts.append(Stroke(x=x([g["ahead_m"]] * 2), y=y([0.0, g["height_m"]]), role="now", thin=True, legend="Seated"))
    return drawing(parts, x_title=x.title, y_title=y.title, dark=v.dark)


def _moved(moved: Any, back_m: float, v: View) -> list[Any]:
    words = display.shown(back_m, "small length", v.system)
    return [html.P([html.Strong(f"Rider {words} farther back: "), display.say(moved, v.system)])]


def register(app: Dash) -> None:
    @answers(app, KEY, "ratio", "view")
    def show(v: View) -> dict[str, Any]:
        pair = queries.pair("front_lift", v.state)
        moved, back_m = queries.moved_back(v.state)
        table = components.twins(pair.now, pair.might, v.system)
        return {
            "common": components.common(pair, v.system),
            "ratio": drawn(_ratio(pair, v), RATIO, table),
            "view": drawn(_side(pair.now, moved, v), VIEW, components.figure_table(moved.figures, v.system)),
            "moved": _moved(moved, back_m, v),
        }

    @app.callback(
        Output(ids.QUERY, "data", allow_duplicate=True),
        Input(ids.part(KEY, "back"), "value"),
        State(ids.QUERY, "data"),
        prevent_initial_call=True,
    )
    def move(back: float | None, query: str | None) -> Any:
        told = to_query(put(from_query(query)[0], "back", f"{back:g} mm" if back else None))
        return no_update if query is None or told == query else told


PAGE = Page(key=KEY, path="/lift", name="Front lift", layout=layout, register=register)
