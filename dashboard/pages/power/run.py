"""How quickly it gets going: the standing start through the gears."""

from __future__ import annotations

from typing import Any

from dash import Dash

from dashboard import components, queries
from dashboard.pages.page import Page, View, answers, drawn
from dashboard.url_state import State
from ridesim.plots import charts

KEY = "run"
TIME = "Speed from rest at full throttle; the flats are the shifts, each numbered with the gear it goes to."
DISTANCE = "The same run over the distance covered."


def layout(state: State) -> Any:
    return components.frame(
        KEY,
        "How quickly does it get going?",
        "From rest through the gears at full throttle, held back only where the front would lift or the rear would spin.",
        components.chart(KEY, "time", tall=True),
        components.chart(KEY, "distance"),
    )


def register(app: Dash) -> None:
    @answers(app, KEY, "time", "distance")
    def show(v: View) -> dict[str, Any]:
        pair = queries.pair("standing_run", v.state)
        now, planned = pair.now, pair.might
        table = components.twins(pair.now, pair.might, v.system)
        return {
            "common": components.common(pair, v.system),
            "time": drawn(charts.run(now, planned, **v.look), TIME, table),
            "distance": drawn(charts.run(now, planned, over="distance", **v.look), DISTANCE, table),
        }


PAGE = Page(key=KEY, path="/run", name="Run", layout=layout, register=register)
