"""What cruising takes: power needed and at hand by speed, the hill and the head wind held, fuel and range."""

from __future__ import annotations

from typing import Any

from dash import Dash

from dashboard import components, queries
from dashboard.display import axis
from dashboard.pages.page import Page, View, answers, both, drawn
from dashboard.url_state import State
from ridesim.plots.lines import Line, Mark, lines

KEY = "cruise"


def layout(state: State) -> Any:
    return components.frame(
        KEY,
        "What does cruising take?",
        "Hours at one speed: engine speed, power in hand, the hill and the head wind held without shifting down, fuel and range.",
        components.chart(KEY, "power", tall=True),
    )


def _chart(pair: Any, v: View) -> Any:
    x, y = axis("Road speed", "speed", v.system), axis("Power at the wheel", "power", v.system)
    needed = pair.now.series
    rows = [
        Line(
            x=x(needed["speed_m_s"]), y=y(needed["needed_by_speed_w"]), role="road", legend="Needed, now", name="Needed"
        )
    ]
    for role, answer in both(pair):
        s = answer.series
        for n, power in enumerate(s["available_by_speed_w"]):
            rows.append(
                Line(x=x(s["speed_m_s"]), y=y(power), role=role, name=f"Available in gear {n + 1}", end=str(n + 1))
            )
    cruise = pair.now.figure("cruise").value
    marks = [Mark(axis="x", at=x.one(cruise), text=f"cruise {x.words(cruise)}")]
    return lines(rows, x_title=x.title, y_title=y.title, dark=v.dark, marks=marks)


def register(app: Dash) -> None:
    @answers(app, KEY, "power")
    def show(v: View) -> dict[str, Any]:
        pair = queries.pair("cruising", v.state)
        caption = "Power at the wheel in each gear over what road and air take: the gap at the cruising speed is what is left for a hill or a head wind."
        return {
            "common": components.common(pair, v.system),
            "power": drawn(_chart(pair, v), caption, components.twins(pair.now, pair.might, v.system)),
        }


PAGE = Page(key=KEY, path="/cruise", name="Cruise", layout=layout, register=register)
