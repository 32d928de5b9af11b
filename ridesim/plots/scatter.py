"""Many choices between two figures: those that fall, those that will do, those nothing else beats, and the two set-ups."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

from ridesim.plots.style import Figure, blank, inks, points, verbatim, word

MOST_NAMED = 8  # more names than these would lie on each other
KINDS = {  # kind -> legend, color, symbol, size
    "falls": ("Misses a limit", "road", "x-thin-open", 7),
    "meets": ("Meets every limit", "now", "circle-open", 8),
    "best": ("Best trade-offs", "planned", "diamond", 10),
    "now": ("Now", "now", "square-open", 15),
    "planned": ("Planned", "planned", "circle-open", 19),
}
NAMED = ("now", "planned")


@dataclass(frozen=True, kw_only=True)
class Points:
    """The choices of one kind (a key of KINDS): their figures, their names, and the words by which one of them is
    picked.

    A figure that is None is not drawn.
    """

    kind: str
    x: Sequence[float | None]
    y: Sequence[float | None]
    names: Sequence[str]
    picks: Sequence[str] = ()


def scatter(groups: Sequence[Points], *, x_title: str, y_title: str, dark: bool) -> Figure:
    """The choices as points, one array a kind; the best ones are named while they are few, the two set-ups always.

    >>> figure = scatter([Points(kind="best", x=[1.0], y=[2.0], names=["15/43"])], x_title="x", y_title="y", dark=False)
    >>> figure["data"][0]["text"], figure["data"][0]["mode"]
    (['15/43'], 'markers+text')
    """
    figure, c = blank(dark=dark, x_title=x_title, y_title=y_title), inks(dark)
    for group in groups:
        figure["data"].append(_points(group, getattr(c, KINDS[group.kind][1])))
        if group.kind in NAMED:
            figure["layout"]["annotations"] += _words(group, getattr(c, KINDS[group.kind][1]), dark)
    return figure


def _points(group: Points, color: str) -> dict[str, Any]:
    legend, _, symbol, size = KINDS[group.kind]
    named = group.kind == "best" and len(group.names) <= MOST_NAMED
    line = {"color": color, "width": 2.5 if group.kind in NAMED else 1.5}
    hover = "%{text}: %{y:,.4~g} at %{x:,.4~g}"
    return points(group.x, group.y, legend, color, hover, symbol=symbol, size=size, line=line) | {
        "mode": "markers+text" if named else "markers",
        "text": [verbatim(name) for name in group.names],
        "customdata": list(group.picks),
        "textposition": "top right",
        "textfont": {"color": color, "size": 12},
    }


def _words(group: Points, color: str, dark: bool) -> list[dict[str, Any]]:
    below = group.kind == "planned"
    place = {"yanchor": "top", "yshift": -11} if below else {"yanchor": "bottom", "yshift": 11}
    word_of = "planned" if below else "now"
    return [
        word(f"{name.split(' ')[0]} {word_of}", x, y, color, dark, **place)
        for x, y, name in zip(group.x, group.y, group.names, strict=True)
        if x is not None and y is not None
    ]
