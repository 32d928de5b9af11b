"""How steep a hill it climbs, and what ends it: the engine, the front wheel or the rear tire."""

from __future__ import annotations

from typing import Any

from dash import Dash

from dashboard import components, queries
from dashboard.display import axis
from dashboard.pages.page import Page, View, answers, both, drawn
from dashboard.url_state import State
from ridesim.plots.lines import Line, Mark, lines

KEY = "hills"
CAPTION = "The grade each gear climbs steadily at each speed; the engine's own limit is drawn, and the table says where the front wheel or the rear tire gives up first."


def layout(state: State) -> Any:
    return components.frame(
        KEY,
        "How steep a hill does it climb?",
        "A steady climb in each gear, ended by the engine, by the front wheel going light or by the rear tire.",
        components.chart(KEY, "grade", tall=True),
    )


def _grade(pair: Any, v: View) -> Any:
    x, y = axis("Road speed", "speed", v.system), axis("Grade", "percent", v.system)
    rows = []
    for role, answer in both(pair):
        s = answer.series
        rows += [
            Line(x=x(speed), y=y(grade), role=role, name=f"Gear {n}", end=str(n))
            for n, (speed, grade) in enumerate(zip(s["speed_m_s"], s["grade_by_engine"], strict=True), start=1)
        ]
    s = pair.now.series
    marks = [Mark(axis="y", at=y.one(100 / 100), text="as far up as along (45°)")]
    rows += [
        Line(x=x(s["speed_m_s"][0]), y=y(s[key][0]), role="warn", legend=legend, name=legend, thin=True)
        for key, legend in (("grade_by_front", "Front goes light, first gear"),)
    ]
    return lines(rows, x_title=x.title, y_title=y.title, dark=v.dark, marks=marks)


def register(app: Dash) -> None:
    @answers(app, KEY, "grade")
    def show(v: View) -> dict[str, Any]:
        pair = queries.pair("climbing", v.state)
        return {
            "common": components.common(pair, v.system),
            "grade": drawn(_grade(pair, v), CAPTION, components.twins(pair.now, pair.might, v.system)),
        }


PAGE = Page(key=KEY, path="/hills", name="Hills", layout=layout, register=register)
