"""Which part of the carburetor to change for what the engine says at a throttle opening, and which to leave alone."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any

from dash import html

from dashboard.display import axis
from dashboard.pages.carburetor.bench import bench_section
from dashboard.pages.page import Chart, View
from dashboard.queries import fueling
from ridesim.fueling.circuits import SIGNS
from ridesim.plots.fueling import bands

CAPTION = (
    "How much each part matters, from shut to full throttle; they take over from each other gradually. "
    "The upright line is the opening you look at; the part to change there has the heavier line."
)


def _chart(told: fueling.BenchAnswer, v: View) -> Any:
    d = told.drawn
    x, y = axis("Throttle opening", "percent", v.system), axis("Share of the mixture", "percent", v.system)
    shares = {name: y(share) for name, share in d["bands"].items()}
    return bands(
        x(d["opening"]),
        shares,
        x_title="Throttle opening",
        y_title=y.title,
        dark=v.dark,
        here=x.one(d["at"]) or 0.0,
        meant=d["part"],
    )


def _signs(signs: Mapping[str, Sequence[str]]) -> Any:
    lists = [
        html.Div([html.H4(f"Signs of {name}"), html.Ul([html.Li(one) for one in some])]) for name, some in signs.items()
    ]
    return html.Details(
        [html.Summary("Lean or rich? How it shows"), html.Div(lists, className="two")], className="fold"
    )


SECTION = bench_section(
    key="symptoms",
    title="Which part to change",
    lead="Where on the throttle it runs badly tells which part of the carburetor to change, and which to leave alone.",
    groups={"The symptom": fueling.SYMPTOM_KEYS},
    ask=fueling.symptom,
    places={"throttle_opening": "opening"},
    charts=(Chart(name="bands", caption=CAPTION, draw=_chart, shape="tall"),),
    under_fields=(_signs(SIGNS),),
)
