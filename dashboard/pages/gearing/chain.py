"""Whether the chain fits: links, where the axle ends up, and what pulls on it."""

from __future__ import annotations

from typing import Any

from dash import Dash

from dashboard import components, queries
from dashboard.display import axis
from dashboard.pages.page import Page, View, answers, both, drawn
from dashboard.url_state import State
from ridesim.plots.scale import Box, Circle, Dot, Stroke, drawing

KEY = "chain"
CAPTION = "Sprockets at the radius the chain runs on, to scale; the shaded box is the travel of the axle from where it is now."


def layout(state: State) -> Any:
    return components.frame(
        KEY,
        "Does the chain fit?",
        "Links to order, where the axle ends up between its stops, and how hard the chain is pulled.",
        components.chart(KEY, "view", shape="flat"),
    )


def _view(pair: Any, v: View) -> Any:
    x = axis("Behind the countershaft", "small length", v.system)
    y = axis("Height over the shaft", "small length", v.system)
    parts: list[Any] = []
    s = pair.now.series
    if s["centre_now_m"] is not None:
        ends = [s["centre_now_m"] + end for end in s["travel_m"]]
        parts.append(Box(x0=x.one(ends[0]), x1=x.one(ends[1]), y0=y.one(-0.012), y1=y.one(0.012), text="axle travel"))
    for role, answer in both(pair):
        parts += _loop(answer.series, role, x, y)
    return drawing(parts, x_title=x.title, y_title=y.title, dark=v.dark)


def _loop(s: Any, role: str, x: Any, y: Any) -> list[Any]:
    centre = s["centre_m"] if s["centre_m"] is not None else s["centre_now_m"]
    small, large = s["front_radius_m"], s["rear_radius_m"]
    if centre is None:
        return [Circle(x=0.0, y=0.0, r=x.one(small), role=role)]
    return [
        Circle(x=0.0, y=0.0, r=x.one(small), role=role),
        Circle(x=x.one(centre), y=0.0, r=x.one(large), role=role),
        *Stroke.tangents(x.one(centre), x.one(small), x.one(large), role),
        Dot(x=x.one(centre), y=0.0, text=x.words(centre), role=role, below=role == "might"),
    ]


def register(app: Dash) -> None:
    @answers(app, KEY, "view")
    def show(v: View) -> dict[str, Any]:
        pair = queries.pair("chain", v.state)
        return {
            "common": components.common(pair, v.system),
            "view": drawn(_view(pair, v), CAPTION, components.twins(pair.now, pair.might, v.system)),
        }


PAGE = Page(key=KEY, path="/chain", name="Chain", layout=layout, register=register)
