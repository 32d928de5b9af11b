"""Jets: from one size to another, and the size that keeps the mixture in other air."""

from __future__ import annotations

from typing import Any

from dash import Dash

from dashboard import components
from dashboard.display import axis
from dashboard.forms import link_fields
from dashboard.pages.carburetor import answered, bench_cards
from dashboard.pages.page import Page, View, drawn
from dashboard.queries import fueling
from dashboard.url_state import State
from ridesim.plots.lines import Line, Mark, lines

KEY = "jets"
SET = tuple(f"set-{key}" for key in fueling.AIR_KEYS)
GO = tuple(f"go-{key}" for key in fueling.AIR_KEYS)
KEYS = (*fueling.JET_KEYS, *SET, *GO)
PLACES = {
    "jet.size": "jet",
    "jet.new_size": "jet-to",
    "jet.numbering": "numbering",
    "jet.step": "jet-step",
    "jet.sizes": "jet-sizes",
    "air.density": "go-altitude",
    "air.reference_density": "set-altitude",
}
CAPTION = (
    "The mixture against the size of the jet: 1 is as it was when it was right, above is richer. "
    "The dots are the available sizes around it, in the air to come."
)


def layout(state: State) -> Any:
    return bench_cards.frame(
        KEY,
        "Which jet?",
        "What another main jet passes, and the one that keeps the mixture where the air is thinner or thicker.",
        link_fields.desk(
            KEY,
            link_fields.group(KEY, "Jets", fueling.JET_KEYS, state),
            link_fields.group(KEY, "The air it was right in", SET, state),
            link_fields.group(KEY, "The air to come", GO, state),
        ),
        components.chart(KEY, "mixture", tall=True),
    )


def _chart(told: fueling.Told, v: View) -> Any:
    d = told.drawn
    x, y = axis("Jet size", "number", v.system), axis("Mixture, 1 as it was", "ratio", v.system)
    rows = [
        Line(x=d["size"], y=d["before"], role="now", legend="In the air it was right in"),
        Line(x=d["size"], y=d["after"], role="might", legend="In the air to come"),
        Line(x=d["had"], y=d["had_richness"], role="might", legend="Available sizes", points=True, thin=True),
    ]
    marks = [
        Mark(axis="y", at=1.0, text="the same mixture"),
        Mark(axis="x", at=d["exact"], text=f"keeps it: {d['exact']:.1f}", role="might"),
    ]
    return lines(rows, x_title=x.title, y_title=y.title, dark=v.dark, marks=marks, from_zero="")


def _drawn(told: fueling.Told, v: View) -> dict[str, Any]:
    return {"mixture": drawn(_chart(told, v), CAPTION, answered.tables(told, v.system))}


def register(app: Dash) -> None:
    link_fields.register(app, KEY, KEYS, fueling.jet, PLACES)
    answered.register(app, KEY, ("mixture",), fueling.jet, _drawn)


PAGE = Page(key=KEY, path="/jets", name="Jets", layout=layout, register=register)
