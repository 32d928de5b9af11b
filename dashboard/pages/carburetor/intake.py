"""The intake opening: which holes make a wanted area, drawn to scale, and the way back plug by plug."""

from __future__ import annotations

from typing import Any

from dashboard.display import axis
from dashboard.pages.carburetor.bench import bench_section
from dashboard.pages.page import Chart, View
from dashboard.queries import fueling, needle_intake
from ridesim.plots.fueling import Hole, holes

PLACES = {
    **{
        f"intake.{where}": "stock-opening"
        for where in ("circle.diameter", "circle.count", "slot.length", "slot.width", "slot.count", "stock")
    },
    **{f"intake.rectangle.{where}": "stock-opening" for where in ("length", "width", "count")},
    **{f"intake.{where}": "wanted" for where in ("wanted", "wanted_area", "wanted_over_stock")},
    **{f"intake.{where}": "saws" for where in ("saws", "saw.diameter", "saw.most")},
    "intake.tolerance": "near",
    "intake.stock_coefficients": "coefficients",
}
CAPTION = "The stock opening and the holes of the best set, to scale and beside each other; where they go on the airbox is yours to choose."


def _view(told: fueling.BenchAnswer, v: View) -> Any:
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


SECTION = bench_section(
    key="intake",
    title="Holes for the intake",
    lead="Which holes beside the stock opening make the area you want, cut with the hole saws you have, and how to close them again one by one.",
    groups={"The opening": needle_intake.INTAKE_KEYS},
    ask=needle_intake.opening,
    places=PLACES,
    charts=(Chart(name="view", caption=CAPTION, draw=_view, shape="tall"),),
)
