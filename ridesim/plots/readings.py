"""Readings as points with the curve through them, the best place and how well it is known."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

from ridesim.plots.lines import Line, Mark, lines
from ridesim.plots.style import Figure, inks, plain


def fitted(
    points: Sequence[tuple[float, float]],
    left_out: Sequence[tuple[float, float]],
    curve: Sequence[tuple[float, float]],
    *,
    x_title: str,
    y_title: str,
    dark: bool,
    best: float | None,
    limits: tuple[float | None, float | None],
    useful: tuple[float, float],
) -> Figure:
    """The readings, those left out as crosses, the curve, the limits of the best as a shaded stretch.

    >>> figure = fitted([(1, 1000)], [], [(0, 990), (2, 1010)], x_title="Turns", y_title="rev/min", dark=False, best=1.0,
    ...                 limits=(0.9, 1.1), useful=(0.5, 3))
    >>> figure["data"][1]["name"]
    'Readings'
    """
    c = inks(dark)
    line = Line(x=[x for x, _ in curve], y=[y for _, y in curve], role="now", legend="Fitted", name="Fitted")
    marks = [Mark(axis="x", at=best, text="" if best is None else f"best {best:.2f}", role="planned")]
    marks += [
        Mark(axis="x", at=end, text="useful to" if n else "useful from", role="road") for n, end in enumerate(useful)
    ]
    turns = [x for x, _ in (*points, *left_out, *((end, 0.0) for end in useful))]
    figure = lines(
        [line],
        x_title=x_title,
        y_title=y_title,
        dark=dark,
        marks=marks,
        from_zero="",
        x_range=(min(turns) - 0.2, max(turns) + 0.6),
    )
    looks = (("Readings", points, "circle", c.now), ("Left out", left_out, "x", c.warn))
    for name, some, symbol, ink in looks:
        if some:
            figure["data"].append(_points(name, some, symbol, ink))
    if None not in limits:
        figure["layout"]["shapes"].append(
            {
                "type": "rect",
                "x0": limits[0],
                "x1": limits[1],
                "y0": 0,
                "y1": 1,
                "yref": "paper",
                "fillcolor": c.fill,
                "line": {"width": 0},
                "layer": "below",
            }
        )
    return figure


def _points(name: str, some: Sequence[tuple[float, float]], symbol: str, ink: str) -> dict[str, Any]:
    return {
        "type": "scatter",
        "mode": "markers",
        "x": plain([x for x, _ in some]),
        "y": plain([y for _, y in some]),
        "name": name,
        "showlegend": True,
        "marker": {"size": 10, "symbol": symbol, "color": ink},
        "hovertemplate": "%{y:.0f} at %{x:.3g} turns<extra></extra>",
    }
