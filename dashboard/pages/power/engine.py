"""What the engine gives: torque and power by engine speed, at the crank and at the wheel on the day."""

from __future__ import annotations

from typing import Any

from dash import Dash

from dashboard import components, queries
from dashboard.display import axis
from dashboard.pages.page import Page, View, answers, both, drawn
from dashboard.url_state import State
from ridesim.plots.lines import Line, lines

KEY = "engine"
TORQUE = "Torque at the crank in the standard air of its sheet."
POWER = "Power at the crank in standard air (thick) and at the wheel on this day (thin)."


def layout(state: State) -> Any:
    return components.frame(
        KEY,
        "What does the engine give?",
        "The torque and power of each state of tune; choose another under Might be to compare two.",
        components.chart(KEY, "torque"),
        components.chart(KEY, "power"),
    )


def _curve(pair: Any, v: View, y: Any, *keys: str) -> Any:
    x = axis("Engine speed", "engine speed", v.system)
    rows = [
        Line(
            x=x(answer.series["engine_speed_rad_s"]),
            y=y(answer.series[key]),
            role=role,
            name="At the wheel" if n else "At the crank",
            end="wheel" if n else "",
            thin=bool(n),
        )
        for role, answer in both(pair)
        for n, key in enumerate(keys)
    ]
    return lines(rows, x_title=x.title, y_title=y.title, dark=v.dark, from_zero="y")


def register(app: Dash) -> None:
    @answers(app, KEY, "torque", "power")
    def show(v: View) -> dict[str, Any]:
        pair = queries.pair("power", v.state)
        torque, power = axis("Torque", "torque", v.system), axis("Power", "power", v.system)
        table = components.twins(pair.now, pair.might, v.system)
        return {
            "common": components.common(pair, v.system),
            "torque": drawn(_curve(pair, v, torque, "torque_n_m"), TORQUE, table),
            "power": drawn(_curve(pair, v, power, "power_w", "wheel_power_w"), POWER, table),
        }


PAGE = Page(key=KEY, path="/engine", name="Engine", layout=layout, register=register)
