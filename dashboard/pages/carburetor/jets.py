"""Jets: from one size to another, and the size that keeps the mixture in other air."""

from __future__ import annotations

from typing import Any

from dash import Dash, Input, Output, html

from dashboard import ids
from dashboard.display import axis
from dashboard.pages.carburetor.bench import bench_section
from dashboard.pages.page import Chart, View, presses
from dashboard.queries import fueling, trials
from dashboard.url_state import State, from_query
from ridesim.plots.lines import Line, Mark, lines

SET = tuple(f"set-{key}" for key in fueling.AIR_KEYS)
GO = tuple(f"go-{key}" for key in fueling.AIR_KEYS)
TRIAL = ids.part("jets", "trial")
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
    "The dots are the available sizes around it, in the air you ride to."
)


def _chart(told: fueling.BenchAnswer, v: View) -> Any:
    d = told.drawn
    x, y = axis("Jet size", "number", v.system), axis("Mixture, 1 as it was", "ratio", v.system)
    rows = [
        Line(x=d["size"], y=d["before"], role="now", legend="In the air it was right in"),
        Line(x=d["size"], y=d["after"], role="planned", legend="In the air you ride to"),
        Line(x=d["had"], y=d["had_richness"], role="planned", legend="Available sizes", points=True, thin=True),
    ]
    marks = [
        Mark(axis="y", at=1.0, text="the same mixture"),
        Mark(axis="x", at=d["exact"], text=f"keeps it: {d['exact']:.1f}", role="planned"),
    ]
    return lines(rows, x_title=x.title, y_title=y.title, dark=v.dark, marks=marks, from_zero="")


def _trial(app: Dash) -> None:
    """The jet and the air of a trial that was right, on one click."""

    @app.callback(Output(TRIAL, "hidden"), Input(ids.QUERY, "data"))
    def offer(query: str | None) -> bool:
        return query is None or trials.right_trial(from_query(query)[0]) is None

    @presses(app, TRIAL)
    def fill(state: State) -> State | None:
        trial = trials.right_trial(state)
        return None if trial is None else trials.with_trial(state, trial)


SECTION = bench_section(
    key="jets",
    title="Which jet?",
    lead="How much fuel another main jet passes, and which one keeps the mixture in thinner or thicker air.",
    groups={"Jets": fueling.JET_KEYS, "The air it was right in": SET, "The air you ride to": GO},
    ask=fueling.jet,
    places=PLACES,
    under_fields=(html.Button("Fill in the last trial that was right", id=TRIAL, className="plain", hidden=True),),
    also=_trial,
    charts=(Chart(name="mixture", caption=CAPTION, draw=_chart, shape="tall"),),
)
