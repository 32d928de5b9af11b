"""How easily the front comes up, gear by gear, and how far back the rider would have to sit."""

from __future__ import annotations

from typing import Any

import dash_mantine_components as dmc
from dash import Dash, Input, Output, State, html, no_update

from dashboard import components, display, ids, queries
from dashboard.pages.page import Section, View, answers, drawn
from dashboard.url_state import MOST_BACK_MM, from_query, put, to_query
from dashboard.url_state import State as Looked
from ridesim.plots import charts

KEY = "lift"
RATIO = "Where a line passes 1 the throttle alone lifts the front in that gear; under it, the rider's own weight has to help."
VIEW = "The bike as it is now, to scale: the centers of mass of bike, rider and luggage, and the one of all together, which moves with the slider."


def layout(state: Looked) -> Any:
    return components.frame(
        KEY,
        components.chart(KEY, "ratio", shape="tall"),
        components.section(
            "With the rider farther back",
            html.Label("How far back the rider moves", id=ids.part(KEY, "back-label"), className="field-label"),
            dmc.Slider(
                id=ids.part(KEY, "back"),
                min=0,
                max=MOST_BACK_MM,
                step=5,
                value=queries.millimeters(state.back),
                label=None,
                thumbSize=22,
                updatemode="drag",
                thumbLabel="How far back the rider moves, in millimeters",
            ),
            components.slot(KEY, "moved", role="status"),
        ),
        components.chart(KEY, "view", shape="flat"),
    )


def _moved(moved: Any, back_m: float, v: View) -> list[Any]:
    words = display.shown(back_m, "small length", v.system)
    return [html.P([html.Strong(f"Rider {words} farther back: "), display.say(moved, v.system)])]


def register(app: Dash) -> None:
    @answers(app, KEY, "ratio", "view")
    def show(v: View) -> dict[str, Any]:
        pair = queries.pair("front_lift", v.state)
        moved, back_m = queries.moved_back(v.state)
        table = components.twins(pair.now, pair.planned, v.system)
        return {
            "common": components.common(pair, v.system),
            "ratio": drawn(charts.front_lift(pair.now, pair.planned, **v.look), RATIO, table),
            "view": drawn(
                charts.masses(pair.now, moved, **v.look),
                VIEW,
                components.figure_table(moved.figures.values(), v.system),
            ),
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


SECTION = Section(
    key=KEY,
    title="How easily does the front come up?",
    lead="The lift ratio is the acceleration the engine gives over the one at which the front wheel carries nothing: at 1 and over it comes up.",
    layout=layout,
    register=register,
)
