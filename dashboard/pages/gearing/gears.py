"""What each gear gives: engine speed against road speed."""

from __future__ import annotations

from typing import Any

from dash import Dash

from dashboard import components, queries
from dashboard.pages.page import Page, View, answers, drawn
from dashboard.url_state import State
from ridesim.plots import charts

KEY = "gears"


def layout(state: State) -> Any:
    return components.frame(
        KEY,
        "Speed in each gear",
        "Engine speed against road speed in every gear, the drop at each shift, and where you cruise.",
        components.chart(KEY, "speed", tall=True),
    )


def register(app: Dash) -> None:
    @answers(app, KEY, "speed")
    def show(v: View) -> dict[str, Any]:
        pair = queries.pair("speeds", v.state)
        caption = "A line for each gear, numbered at its end; the thin upright lines are the best upshifts, from the engine speed before to the one after."
        return {
            "common": components.common(pair, v.system),
            "speed": drawn(
                charts.speeds(pair.now, pair.might, **v.look), caption, components.twins(pair.now, pair.might, v.system)
            ),
        }


PAGE = Page(key=KEY, path="/gears", name="Gears", layout=layout, register=register)
