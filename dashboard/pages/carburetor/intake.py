"""The intake opening: which holes make a wanted area, drawn to scale, and the way back plug by plug."""

from __future__ import annotations

from typing import Any

from dash import Dash

from dashboard import components
from dashboard.display import axis
from dashboard.forms import link_fields
from dashboard.pages.carburetor import answered, bench_cards
from dashboard.pages.page import Page, View, drawn
from dashboard.queries import fueling, needle_intake
from dashboard.url_state import State
from ridesim.plots.holes import Hole, holes

KEY = "intake"
PLACES = {
    "intake.circle.diameter": "stock-opening",
    "intake.circle.count": "stock-opening",
    "intake.slot.length": "stock-opening",
    "intake.slot.width": "stock-opening",
    "intake.slot.count": "stock-opening",
    "intake.rectangle.length": "stock-opening",
    "intake.rectangle.width": "stock-opening",
    "intake.rectangle.count": "stock-opening",
    "intake.stock": "stock-opening",
    "intake.wanted": "wanted",
    "intake.wanted_area": "wanted",
    "intake.wanted_over_stock": "wanted",
    "intake.saws": "saws",
    "intake.saw.diameter": "saws",
    "intake.saw.most": "saws",
    "intake.tolerance": "near",
    "intake.stock_coefficients": "coefficients",
}
CAPTION = "The stock opening and the holes of the best set, to scale and beside each other; where they go on the airbox is yours to choose."


def layout(state: State) -> Any:
    return bench_cards.frame(
        KEY,
        "Which holes for the intake?",
        "Holes beside the stock opening that make the area you want, from the saws at hand, and how to close them again one by one.",
        link_fields.desk(KEY, link_fields.group(KEY, "The opening", needle_intake.INTAKE_KEYS, state)),
        components.chart(KEY, "view", tall=True),
    )


def _view(told: fueling.Told, v: View) -> Any:
    x, y = axis("Across", "small length", v.system), axis("Up", "small length", v.system)
    drawn_holes = [
        Hole(
            wide=x.one(one.wide_m) or 0.0,
            high=x.one(one.high_m) or 0.0,
            shape=one.shape,
            there=one.there,
            text=x.words(one.wide_m),
        )
        for one in told.drawn["openings"]
    ]
    return holes(drawn_holes, x_title=x.title, y_title=y.title, dark=v.dark)


def _drawn(told: fueling.Told, v: View) -> dict[str, Any]:
    return {"view": drawn(_view(told, v), CAPTION, answered.tables(told, v.system))}


def register(app: Dash) -> None:
    link_fields.register(app, KEY, needle_intake.INTAKE_KEYS, needle_intake.opening, PLACES)
    answered.register(app, KEY, ("view",), needle_intake.opening, _drawn)


PAGE = Page(key=KEY, path="/intake", name="Intake", layout=layout, register=register)
