"""How quickly it gets going: the standing start through the gears."""

from __future__ import annotations

from itertools import pairwise
from typing import Any

from dash import Dash

from dashboard import components, queries
from dashboard.display import axis
from dashboard.pages.page import Page, View, answers, both, drawn
from dashboard.url_state import State
from ridesim.plots.lines import Line, lines

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


def _run(pair: Any, v: View, along: Any, key: str, upto: str) -> Any:
    y = axis("Road speed", "speed", v.system)
    rows = []
    for role, answer in both(pair):
        s = answer.series
        rows.append(Line(x=along(s[key]), y=y(s["speed_m_s"]), role=role, name="Speed"))
        for place in _shifts(s["gear"]):
            rows.append(
                Line(
                    x=along(s[key][place : place + 1]),
                    y=y(s["speed_m_s"][place : place + 1]),
                    role=role,
                    name=f"Into gear {s['gear'][place]}",
                    end=str(int(s["gear"][place])),
                    points=True,
                )
            )
    seen = [along.one(answer.figure(upto).value) for answer in (pair.now, pair.might)]
    return lines(rows, x_title=along.title, y_title=y.title, dark=v.dark, x_upto=seen)


def _shifts(gears: Any) -> list[int]:
    """Where in a run a higher gear is first in use."""
    return [n for n, (before, after) in enumerate(pairwise(gears), start=1) if after != before]


def register(app: Dash) -> None:
    @answers(app, KEY, "time", "distance")
    def show(v: View) -> dict[str, Any]:
        pair = queries.pair("standing_run", v.state)
        time, distance = axis("Time", "time", v.system), axis("Distance", "distance", v.system)
        table = components.twins(pair.now, pair.might, v.system)
        return {
            "common": components.common(pair, v.system),
            "time": drawn(_run(pair, v, time, "time_s", "distance_time"), TIME, table),
            "distance": drawn(_run(pair, v, distance, "distance_m", "distance"), DISTANCE, table),
        }


PAGE = Page(key=KEY, path="/run", name="Run", layout=layout, register=register)
