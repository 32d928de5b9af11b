"""A ride to another height with the jets of today: power left, mixture, when to change the jet, and whether the hills are held."""

from __future__ import annotations

from typing import Any

from dashboard.display import axis
from dashboard.pages.carburetor.bench import bench_section
from dashboard.pages.page import Chart, View
from dashboard.queries import altitude, fueling
from ridesim.plots.lines import Line, Mark, lines

CLIMB = ("climb-from", "climb-to", "climb-grade", "climb-temperature")
PLACES = {
    "climb": "climb-to",
    "climb.from": "climb-from",
    "climb.to": "climb-to",
    "climb.temperature": "climb-temperature",
    "jet.size": "climb-jet",
    "jet.step": "jet-step",
    "jet.sizes": "jet-sizes",
}
LEFT = "The power left at each height with the jets of today in, over that at the start; the thin lines are the range of the mixture."
MIXTURE = "The mixture at each height with the jets of today in: 1 is right, above is richer. Upright lines say where another jet is nearer."


def _left(told: fueling.BenchAnswer, v: View) -> Any:
    series = told.answers[0].series
    x, y = axis("Height", "distance", v.system), axis("Power left", "percent", v.system)
    middle, least, most = series["power_left"].T
    rows = [Line(x=x(series["height_m"]), y=y(middle), role="planned", legend="With the jets of today")]
    rows += [
        Line(x=x(series["height_m"]), y=y(end), role="planned", legend="Range", thin=True) for end in (least, most)
    ]
    return lines(rows, x_title=x.title, y_title=y.title, dark=v.dark, from_zero="")


def _mixture(told: fueling.BenchAnswer, v: View) -> Any:
    answer = told.answers[0]
    x, y = axis("Height", "distance", v.system), axis("Mixture, 1 is right", "ratio", v.system)
    row = Line(
        x=x(answer.series["height_m"]), y=y(answer.series["richness"]), role="planned", legend="With the jets of today"
    )
    marks = [Mark(axis="y", at=1.0, text="right")]
    jets = [one for key, one in answer.figures.items() if key.startswith("jet_") and isinstance(one.value, float)]
    marks += [Mark(axis="x", at=x.one(one.value), text=one.key.removeprefix("jet_")) for one in jets]  # type: ignore[arg-type]
    return lines([row], x_title=x.title, y_title=y.title, dark=v.dark, marks=marks, from_zero="")


SECTION = bench_section(
    key="altitude",
    title="Up a mountain with these jets",
    lead="What is left of the power at another height, how far the mixture drifts, when another jet is due, and whether the "
    "planned gearing holds the hills. A ride opened for the choice of sprockets is taken where no heights are given.",
    groups={
        "The climb": CLIMB,
        "The jet": ("climb-jet", "numbering", "jet-step", "jet-sizes"),
        "The air it runs right in": tuple(f"set-{key}" for key in fueling.AIR_KEYS),
    },
    ask=altitude.climb,
    places=PLACES,
    charts=(
        Chart(name="left", caption=LEFT, draw=_left),
        Chart(name="mixture", caption=MIXTURE, draw=_mixture),
    ),
)
