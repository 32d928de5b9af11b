"""How steep a hill it climbs, and what ends it: the engine, the front wheel or the rear tire."""

from __future__ import annotations

from typing import Any

from dash import Dash

from dashboard import components, queries
from dashboard.pages.page import Page, View, answers, drawn
from dashboard.url_state import State
from ridesim.plots import charts

KEY = "hills"
CAPTION = "The grade each gear climbs steadily at each speed; the engine's own limit is drawn, and the table says where the front wheel or the rear tire gives up first."


def layout(state: State) -> Any:
    return components.frame(
        KEY,
        "How steep a hill does it climb?",
        "A steady climb in each gear, ended by the engine, by the front wheel going light or by the rear tire.",
        components.chart(KEY, "grade", tall=True),
    )


def register(app: Dash) -> None:
    @answers(app, KEY, "grade")
    def show(v: View) -> dict[str, Any]:
        pair = queries.pair("climbing", v.state)
        return {
            "common": components.common(pair, v.system),
            "grade": drawn(
                charts.climb(pair.now, pair.might, **v.look), CAPTION, components.twins(pair.now, pair.might, v.system)
            ),
        }


PAGE = Page(key=KEY, path="/hills", name="Hills", layout=layout, register=register)
