"""What is drawn of a carburetor and its intake: circuits by their share, needles from the side, readings of idle, openings to scale."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np

from ridesim.plots.lines import Line, Mark, lines
from ridesim.plots.scale import Circle, Stroke, drawing
from ridesim.plots.style import DASHES, Figure, blank, faint, inks, points, rule, stretch, trace, word

LOOKS = (("now", "solid"), ("planned", "dash"), ("warn", "dashdot"), ("road", "dot"), ("quiet", "longdash"))
FAINT = 0.16  # of the ink, inside a band
NEEDLES = {"now": "One", "planned": "Two"}
ROW = 4  # openings side by side before a new row is begun


def bands(
    at: Any, shares: Mapping[str, Any], *, x_title: str, y_title: str, dark: bool, here: float, meant: str | None
) -> Figure:
    """Overlapping bands; `here` is the place looked at and `meant` the band that is meant there.

    >>> figure = bands([0, 50, 100], {"one": [1, 0, 0], "two": [0, 1, 1]}, x_title="Opening [%]", y_title="Say [%]",
    ...                dark=False, here=50, meant="two")
    >>> [trace["name"] for trace in figure["data"]]
    ['one', 'two']
    """
    figure = blank(dark=dark, x_title=x_title, y_title=y_title)
    c = inks(dark)
    for n, ((name, share), (role, dash)) in enumerate(zip(shares.items(), LOOKS, strict=False)):
        ink = getattr(c, role)
        heavy = name == meant
        line = {"color": ink, "width": 3 if heavy else 1.8, "dash": dash}
        hover = f"{name}<br>%{{y:.0f}} at %{{x:.0f}}<extra></extra>"
        band = trace(at, share, name=name, showlegend=False, line=line, hovertemplate=hover)
        figure["data"].append(
            band | {"fill": "tozeroy", "fillcolor": faint(ink, 2 * FAINT if heavy else FAINT)},
        )
        figure["layout"]["annotations"].append(_name(at, share, name, ink, dark, 21 if n % 2 else 3))
    figure["layout"]["shapes"].append(rule("x", here, c.ink, width=2))
    figure["layout"]["yaxis"] |= {"range": [0, 118], "tickvals": [0, 25, 50, 75, 100]}
    figure["layout"]["xaxis"] |= {"range": [0, 100], "tickvals": [0, 12.5, 25, 50, 75, 100], "tickangle": 0}
    figure["layout"]["xaxis"]["ticktext"] = ["shut", "1/8", "1/4", "1/2", "3/4", "full"]
    return figure


def _name(at: Any, share: Any, name: str, ink: str, dark: bool, lift: int) -> dict[str, Any]:
    """The word of a band, over the middle of its top, kept inside the chart and off its neighbour's."""
    y = np.asarray(share, dtype=float)
    top = np.flatnonzero(y >= y.max() - 1e-9)
    x = float(np.asarray(at, dtype=float)[top[len(top) // 2]])
    side = "left" if x < 10 else "right" if x > 90 else "center"
    return word(name, x, float(y.max()), ink, dark, xanchor=side, yanchor="bottom", yshift=lift)


@dataclass(frozen=True, kw_only=True)
class Profile:
    """One needle by its clip: places along it from where the clip sits, its diameter there, and the jet's places."""

    along: Sequence[float]
    diameter: Sequence[float]
    shut: float
    full: float
    role: str = "now"


def profiles(drawn: Sequence[Profile], bore: float, *, x_title: str, y_title: str, dark: bool) -> Figure:
    """The outlines of needles about their axis, the bore of the jet as two lines, and the stretch of needle that it sees.

    >>> one = Profile(along=[0, 30, 60], diameter=[2.5, 2.5, 1.5], shut=25, full=55)
    >>> len(profiles([one], 2.6, x_title="x", y_title="y", dark=False)["data"])
    1
    """
    figure = blank(dark=dark, x_title=x_title, y_title=y_title)
    c = inks(dark)
    for one in drawn:
        ink = getattr(c, one.role)
        half = [d / 2 for d in one.diameter]
        x, y = [*one.along, *reversed(one.along), one.along[0]], [*half, *(-h for h in reversed(half)), half[0]]
        line = {"color": ink, "width": 2.4, "dash": DASHES[one.role]}
        figure["data"].append(trace(x, y, name=NEEDLES[one.role], showlegend=True, line=line, hoverinfo="skip"))
    for side in (-1, 1):
        figure["layout"]["shapes"].append(rule("y", side * bore / 2, c.warn, dash=DASHES["warn"]))
    first = drawn[0]
    for at, name, end in ((first.shut, "shut", "right"), (first.full, "full", "left")):
        figure["layout"]["shapes"].append(rule("x", at, c.quiet, width=1.4, dash=DASHES["road"]))
        figure["layout"]["annotations"].append(
            word(f"jet, {name}", at, -bore * 0.72, c.quiet, dark, xanchor=end, yanchor="middle")
        )
    figure["layout"]["annotations"].append(
        word("needle jet", 0, bore / 2, c.warn, dark, xanchor="left", yanchor="bottom", yshift=2)
    )
    figure["layout"]["yaxis"] |= {"range": [-bore * 0.85, bore * 0.85], "zeroline": True}
    return figure


def fitted(
    read: Sequence[tuple[float, float]],
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
    """Readings with the curve through them: those left out as crosses, the limits of the best as a shaded stretch.

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
    turns = [x for x, _ in (*read, *left_out, *((end, 0.0) for end in useful))]
    figure = lines(
        [line],
        x_title=x_title,
        y_title=y_title,
        dark=dark,
        marks=marks,
        from_zero="",
        x_range=(min(turns) - 0.2, max(turns) + 0.6),
    )
    looks = (("Readings", read, "circle", c.now), ("Left out", left_out, "x", c.warn))
    for name, some, symbol, ink in looks:
        if some:
            x, y = zip(*some, strict=True)
            figure["data"].append(points(x, y, name, ink, "%{y:.0f} at %{x:.3g} turns", size=10, symbol=symbol))
    low, high = limits
    if low is not None and high is not None:
        figure["layout"]["shapes"].append(stretch(low, high, c.fill))
    return figure


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
    for one in figure["data"]:
        one["name"] = "Stock" if one["legendgroup"] == "Now" else "To cut"
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
