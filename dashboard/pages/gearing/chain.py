"""Whether the chain fits: links, where the axle ends up, and what pulls on it."""

from __future__ import annotations

from typing import Any

from dash import Dash

from dashboard import components, queries
from dashboard.pages.page import Page, View, answers, drawn
from dashboard.url_state import State
from ridesim.plots import charts

KEY = "chain"
CAPTION = "Sprockets at the radius the chain runs on, to scale; the shaded box is the travel of the axle from where it is now."


def layout(state: State) -> Any:
    return components.frame(
        KEY,
        "Does the chain fit?",
        "Links to order, where the axle ends up between its stops, and how hard the chain is pulled.",
        components.chart(KEY, "view", shape="flat"),
    )


def register(app: Dash) -> None:
    @answers(app, KEY, "view")
    def show(v: View) -> dict[str, Any]:
        pair = queries.pair("chain", v.state)
        return {
            "common": components.common(pair, v.system),
            "view": drawn(
                charts.chain(pair.now, pair.might, **v.look), CAPTION, components.twins(pair.now, pair.might, v.system)
            ),
        }


PAGE = Page(key=KEY, path="/chain", name="Chain", layout=layout, register=register)
