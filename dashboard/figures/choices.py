"""Many choices between two figures: those that fall, those that will do, and those nothing else beats."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

from dashboard.figures.style import Figure, blank, inks, plain, word

MOST_NAMED = 8  # more names than these would lie on each other
KINDS = {  # kind -> legend, colour, symbol, size
    "falls": ("Misses a limit", "road", "x-thin-open", 7),
    "meets": ("Meets every limit", "now", "circle-open", 8),
    "best": ("Nothing else beats it", "might", "diamond", 11),
}


@dataclass(frozen=True, kw_only=True)
class Option:
    """One choice: its two figures, its name, and its kind (a key of KINDS); `own` marks the one fitted now."""

    x: float | None
    y: float | None
    name: str
    kind: str
    own: bool = False


def choices(options: Sequence[Option], *, x_title: str, y_title: str, dark: bool) -> Figure:
    """The choices as points; the best ones are named.

    >>> figure = choices([Option(x=1.0, y=2.0, name="15/45", kind="best")], x_title="x", y_title="y", dark=False)
    >>> figure["data"][2]["text"]
    ['15/45']
    """
    figure, c = blank(dark=dark, x_title=x_title, y_title=y_title), inks(dark)
    there = [one for one in options if one.x is not None and one.y is not None]
    for kind, (legend, colour, symbol, size) in KINDS.items():
        figure["data"].append(
            _points([one for one in there if one.kind == kind], legend, getattr(c, colour), symbol, size)
        )
    for one in there:
        if one.own:
            figure["layout"]["annotations"].append(
                word(f"{one.name} now", float(one.x or 0), float(one.y or 0), c.ink, dark, yanchor="top", yshift=-9)
            )
    return figure


def _points(options: Sequence[Option], legend: str, colour: str, symbol: str, size: int) -> dict[str, Any]:
    named = size > 10 and len(options) <= MOST_NAMED
    return {
        "type": "scatter",
        "mode": "markers+text" if named else "markers",
        "x": plain([one.x for one in options]),
        "y": plain([one.y for one in options]),
        "text": [one.name for one in options],
        "textposition": "top right",
        "textfont": {"color": colour, "size": 12},
        "name": legend,
        "marker": {"symbol": symbol, "size": size, "color": colour, "line": {"color": colour, "width": 1.5}},
        "hovertemplate": "%{text}: %{y:,.4~g} at %{x:,.4~g}<extra></extra>",
    }
