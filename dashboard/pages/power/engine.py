"""What the engine gives: torque and power by engine speed, at the crank and at the wheel on the day."""

from __future__ import annotations

from typing import Any

from dash import Dash

from dashboard import components, queries
from dashboard.pages.page import Page, View, answers, drawn
from dashboard.url_state import State
from ridesim.plots import charts

KEY = "engine"
TORQUE = "Torque at the crank in the standard air of its sheet."
POWER = "Power at the crank in standard air (thick) and at the wheel on this day (thin)."


def layout(state: State) -> Any:
    return components.frame(
        KEY,
        "What does the engine give?",
        "The torque and power of each state of tune; choose another under Planned to compare two.",
        components.chart(KEY, "torque"),
        components.chart(KEY, "power"),
    )


def register(app: Dash) -> None:
    @answers(app, KEY, "torque", "power")
    def show(v: View) -> dict[str, Any]:
        pair = queries.pair("power", v.state)
        table = components.twins(pair.now, pair.might, v.system)
        return {
            "common": components.common(pair, v.system),
            "torque": drawn(charts.torque(pair.now, pair.might, **v.look), TORQUE, table),
            "power": drawn(charts.power(pair.now, pair.might, **v.look), POWER, table),
        }


PAGE = Page(key=KEY, path="/engine", name="Engine", layout=layout, register=register)
