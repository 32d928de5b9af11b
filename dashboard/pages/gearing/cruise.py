"""What cruising takes: power needed and at hand by speed, the hill and the head wind held, fuel and range."""

from __future__ import annotations

from typing import Any

from dash import Dash

from dashboard import components, queries
from dashboard.pages.page import Page, View, answers, drawn
from dashboard.url_state import State
from ridesim.plots import charts

KEY = "cruise"


def layout(state: State) -> Any:
    return components.frame(
        KEY,
        "What does cruising take?",
        "Hours at one speed: engine speed, power in hand, the hill and the head wind held without shifting down, fuel and range.",
        components.chart(KEY, "power", tall=True),
    )


def register(app: Dash) -> None:
    @answers(app, KEY, "power")
    def show(v: View) -> dict[str, Any]:
        pair = queries.pair("cruising", v.state)
        caption = "Power at the wheel in each gear over what road and air take: the gap at the cruising speed is what is left for a hill or a head wind."
        return {
            "common": components.common(pair, v.system),
            "power": drawn(
                charts.cruise(pair.now, pair.might, **v.look), caption, components.twins(pair.now, pair.might, v.system)
            ),
        }


PAGE = Page(key=KEY, path="/cruise", name="Cruise", layout=layout, register=register)
