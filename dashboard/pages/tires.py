"""What the tires give and carry, and what another size does."""

from __future__ import annotations

from typing import Any

from dash import Dash, html

from dashboard import components, display, queries
from dashboard.display import axis
from dashboard.pages.page import Page, View, answers, drawn
from dashboard.url_state import State
from ridesim.plots.scale import Circle, Dot, Stroke, drawing

KEY = "tires"
CAPTION = (
    "Both wheels to scale, standing on the same ground: outer line the tire, inner line the rim, the dots the axles."
)


def layout(state: State) -> Any:
    return components.frame(
        KEY,
        "What do the tires give and carry?",
        "Roll-out, load and speed of the tires fitted, and what another size does to gearing, speedometer and steering. "
        "Write another size under Might be.",
        components.chart(KEY, "view", shape="flat"),
        after=[
            html.Section(
                [html.H2("What the swap does"), components.slot(KEY, "swap")],
                className="card",
                **{"aria-label": "What the swap does"},
            )
        ],
    )


def _wheels(swap: Any, v: View) -> Any:
    x = axis("Ahead of the rear axle", "small length", v.system)
    y = axis("Height", "small length", v.system)
    base = swap.series["wheelbase_m"]
    parts: list[Any] = [Stroke(x=x([-0.45, base + 0.45]), y=y([0.0, 0.0]), role="road")]
    alike = swap.series["now"] == swap.series["might"]
    for role in ("now",) if alike else ("now", "might"):
        for place, wheel in ((0.0, swap.series[role]["rear"]), (base, swap.series[role]["front"])):
            centre = {"x": x.one(place), "y": y.one(wheel["loaded_radius_m"])}
            parts.append(Circle(**centre, r=x.one(wheel["free_radius_m"]), role=role))
            parts.append(Circle(**centre, r=x.one(wheel["rim_radius_m"]), role=role, thin=True))
            parts.append(Dot(**centre, text=y.words(wheel["loaded_radius_m"]), role=role, below=role == "might"))
    return drawing(parts, x_title=x.title, y_title=y.title, dark=v.dark)


def _swap(swap: Any, v: View) -> list[Any]:
    if swap.series["now"] == swap.series["might"]:
        return [html.P("Both set-ups have the same tires. Write another size under Might be.", className="quiet")]
    return [
        html.P(display.say(swap, v.system), className="say small"),
        components.figure_table(swap.figures, v.system),
        *(components.plain_table(t.columns, t.rows, v.system, t.title) for t in swap.tables),
    ]


def register(app: Dash) -> None:
    @answers(app, KEY, "view")
    def show(v: View) -> dict[str, Any]:
        pair, swap = queries.pair("tires", v.state), queries.tire_swap(v.state)
        return {
            "common": components.common(pair, v.system, swap),
            "view": drawn(_wheels(swap, v), CAPTION, components.twins(pair.now, pair.might, v.system)),
            "swap": _swap(swap, v),
        }


PAGE = Page(key=KEY, path="/tires", name="Tires", layout=layout, register=register)
