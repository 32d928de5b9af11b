"""What the tires give and carry, and what another size does."""

from __future__ import annotations

from typing import Any

from dash import Dash, html

from dashboard import components, display, queries
from dashboard.pages.page import Page, Section, View, answers, drawn
from dashboard.url_state import State
from ridesim.plots import charts

KEY = "tires"
CAPTION = (
    "Both wheels to scale, standing on the same ground: outer line the tire, inner line the rim, the dots the axles."
)


def layout(state: State) -> Any:
    return components.frame(
        KEY,
        components.section("Does the other tire fit?", components.slot(KEY, "swap")),
        components.chart(KEY, "view", shape="flat"),
    )


def _swap(swap: Any, v: View) -> list[Any]:
    if swap.series["now"] == swap.series["planned"]:
        return [html.P("Both set-ups have the same tires. Write another size under Planned.", className="quiet")]
    return [
        html.P(display.say(swap, v.system), className="say small"),
        components.figure_table(swap.figures.values(), v.system),
        *components.tables([swap], v.system),
    ]


def register(app: Dash) -> None:
    @answers(app, KEY, "view")
    def show(v: View) -> dict[str, Any]:
        pair, swap = queries.pair("tires", v.state), queries.tire_swap(v.state)
        return {
            "common": components.common(pair, v.system, swap),
            "view": drawn(charts.tires(swap, **v.look), CAPTION, components.twins(pair.now, pair.planned, v.system)),
            "swap": _swap(swap, v),
        }


SECTION = Section(
    key=KEY,
    title="What do the tires give and carry?",
    lead="Roll-out, load and speed of the tires fitted, and what another size does to gearing, speedometer and steering. "
    "Write another size under Planned.",
    layout=layout,
    register=register,
)
PAGE = Page(
    path="/tires",
    name="Tires",
    lead="Another size, and what it does to gearing, speedometer, steering and load.",
    sections=(SECTION,),
)
