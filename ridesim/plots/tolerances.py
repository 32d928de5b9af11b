"""Figures with their tolerances before and after something was learnt, each on the scale of its own tolerance before."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

from ridesim.plots.style import DASHES, Figure, blank, inks, plain, points, verbatim

READ = {"now": "As written", "planned": "With the readings"}
APART = 0.17  # rows: how far the two bands of a figure stand from its line


@dataclass(frozen=True, kw_only=True)
class Moved:
    """A figure: by how much it moved and how wide it is left, both as shares of its tolerance before.

    shift 1 is at the upper end of what was written, width 0.5 half as open as it was.
    """

    label: str
    shift: float
    width: float


def tolerances(rows: Sequence[Moved], *, x_title: str, dark: bool) -> Figure:
    """A line for each figure: its band before, from -1 to 1, and under it the band after.

    >>> figure = tolerances([Moved(label="Drag area", shift=0.4, width=0.5)], x_title="Tolerance as written", dark=False)
    >>> [(trace["name"], trace["x"], trace["error_x"]["array"]) for trace in figure["data"]]
    [('As written', [0.0], [1.0]), ('With the readings', [0.4], [0.5])]
    """
    figure = blank(dark=dark, x_title=x_title, y_title="")
    places = list(range(len(rows)))
    before = [(0.0, 1.0)] * len(rows)
    after = [(one.shift, one.width) for one in rows]
    for role, up, bands in (("now", -APART, before), ("planned", APART, after)):
        figure["data"].append(_bands(role, [n + up for n in places], bands, rows, dark))
    figure["layout"]["yaxis"] |= {
        "tickvals": places,
        "ticktext": [verbatim(one.label) for one in rows],
        "range": [len(rows) - 0.5, -0.5],
        "zeroline": False,
    }
    figure["layout"]["xaxis"] |= {"zeroline": True}
    return figure


def _bands(
    role: str, at: list[float], bands: Sequence[tuple[float, float]], rows: Sequence[Moved], dark: bool
) -> dict[str, Any]:
    ink = getattr(inks(dark), role)
    middles, widths = ([band[n] for band in bands] for n in (0, 1))
    symbol = "circle" if DASHES[role] == "solid" else "diamond"
    drawn = points(middles, at, READ[role], ink, "%{text}: %{x:.2f}", size=9, symbol=symbol)
    error = {"type": "data", "array": plain(widths), "color": ink, "thickness": 3, "width": 5}
    return drawn | {"text": [verbatim(one.label) for one in rows], "error_x": error}
