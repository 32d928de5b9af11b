"""What each gear gives: engine speed against road speed."""

from __future__ import annotations

from typing import Any

from dash import Dash

from dashboard import components, queries
from dashboard.display import axis
from dashboard.pages.page import Page, View, answers, both, drawn
from dashboard.url_state import State
from ridesim.plots.lines import Line, Mark, lines

KEY = "gears"


def layout(state: State) -> Any:
    return components.frame(
        KEY,
        "What does each gear give?",
        "Engine speed against road speed in every gear, the drop at each shift, and where you cruise.",
        components.chart(KEY, "speed", tall=True),
    )


def _chart(pair: Any, v: View) -> Any:
    x, y = axis("Road speed", "speed", v.system), axis("Engine speed", "engine speed", v.system)
    drawn_lines = []
    for role, answer in both(pair):
        s = answer.series
        for n, speed in enumerate(s["speed_m_s"]):
            drawn_lines.append(
                Line(x=x(speed), y=y(s["engine_speed_rad_s"]), role=role, name=f"Gear {n + 1}", end=str(n + 1))
            )
        for at, top, bottom in zip(s["shift_speed_m_s"], s["shift_from_rad_s"], s["shift_to_rad_s"], strict=True):
            drawn_lines.append(Line(x=x([at, at]), y=y([top, bottom]), role=role, name="Best upshift", thin=True))
    cruise, limit = pair.now.series["cruise_m_s"], pair.now.series["limit_rad_s"]
    marks = [
        Mark(axis="x", at=x.one(cruise), text=f"cruise {x.words(cruise)}"),
        Mark(axis="y", at=y.one(limit), text="rev limit", role="warn"),
    ]
    return lines(drawn_lines, x_title=x.title, y_title=y.title, dark=v.dark, marks=marks)


def register(app: Dash) -> None:
    @answers(app, KEY, "speed")
    def show(v: View) -> dict[str, Any]:
        pair = queries.pair("speeds", v.state)
        caption = "A line for each gear, numbered at its end; the thin upright lines are the best upshifts, from the engine speed before to the one after."
        return {
            "common": components.common(pair, v.system),
            "speed": drawn(_chart(pair, v), caption, components.twins(pair.now, pair.might, v.system)),
        }


PAGE = Page(key=KEY, path="/gears", name="Gears", layout=layout, register=register)
