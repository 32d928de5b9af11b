"""Openings side by side, to scale: what is there, and what is to be cut."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

from ridesim.plots.scale import Circle, Stroke, drawing
from ridesim.plots.style import Figure, inks, word

ROW = 4  # openings side by side before a new row is begun


@dataclass(frozen=True, kw_only=True)
class Hole:
    """One opening: its width, its height, "round", "slot" or "rectangle", whether it is there already, and a word."""

    wide: float
    high: float
    shape: str = "round"
    there: bool = False
    text: str = ""


def holes(drawn: Sequence[Hole], *, x_title: str, y_title: str, dark: bool) -> Figure:
    """The openings in rows, each on a middle line, its word under it.

    >>> figure = holes([Hole(wide=40, high=40, there=True), Hole(wide=25, high=25)], x_title="mm", y_title="mm", dark=False)
    >>> [trace["name"] for trace in figure["data"]]
    ['Stock', 'To cut']
    """
    gap = 0.45 * max(one.wide for one in drawn)
    parts, words, top, right = [], [], 0.0, 0.0
    for start in range(0, len(drawn), ROW):
        row = drawn[start : start + ROW]
        tall = max(one.high for one in row)
        x, middle = 0.0, top - tall / 2
        for one in row:
            role = "now" if one.there else "planned"
            parts += _outline(one, x + one.wide / 2, middle, role)
            ink = getattr(inks(dark), role)
            words.append(word(one.text, x + one.wide / 2, middle - one.high / 2, ink, dark, yanchor="top", yshift=-3))
            x += one.wide + gap
        top -= tall + gap
        right = max(right, x - gap)
    figure = drawing(parts, x_title=x_title, y_title=y_title, dark=dark)
    for trace in figure["data"]:
        trace["name"] = "Stock" if trace["legendgroup"] == "Now" else "To cut"
    figure["layout"]["annotations"] += words
    figure["layout"]["xaxis"]["range"] = [-gap / 2, right + gap / 2]
    figure["layout"]["yaxis"] |= {"range": [top + gap / 3, gap / 2], "showticklabels": False}
    return figure


def _outline(one: Hole, x: float, y: float, role: str) -> list[Any]:
    if one.shape == "round":
        return [Circle(x=x, y=y, r=one.wide / 2, role=role)]
    left, right, low, high = x - one.wide / 2, x + one.wide / 2, y - one.high / 2, y + one.high / 2
    if one.shape == "rectangle":
        return [Stroke(x=[left, right, right, left, left], y=[low, low, high, high, low], role=role)]
    r = one.high / 2
    ends = (
        [Circle(x=left + r, y=y, r=r, role=role), Circle(x=right - r, y=y, r=r, role=role)]
        if one.wide > one.high
        else []
    )
    return [*ends, *(Stroke(x=[left + r, right - r], y=[side, side], role=role) for side in (low, high))]
