"""A log and what was made of it: speed over time with the runs used, curves in their bands, gears as rays, shares of time."""

from __future__ import annotations

import itertools
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np

from ridesim.plots.lines import Line, Mark, lines
from ridesim.plots.style import DASHES, LEGEND, Figure, faint, inks, plain, points, stretch, trace

FAINT = 0.2
MOST_DRAWN = 3000  # samples; a screen has fewer columns
LOG_DASHES = ("solid", "dot", "dash", "longdash")  # tell several logs apart


@dataclass(frozen=True, kw_only=True)
class Banded:
    """A curve in its band, three arrays of one length over x; legend names all of it."""

    x: Any
    y: Any
    low: Any
    high: Any
    role: str = "now"
    legend: str = ""


def thinned(*arrays: Any, most: int = MOST_DRAWN) -> list[Any]:
    """Every so many-th of some arrays of one length, so that no more are drawn than a screen can show.

    >>> [a.tolist() for a in thinned([0, 1, 2, 3], [4, 5, 6, 7], most=2)]
    [[0, 2], [4, 6]]
    """
    size = len(arrays[0])
    step = max(-(-size // most), 1)
    return [np.asarray(a)[::step] for a in arrays]


def outline(x: Any, y: Any, most: int = MOST_DRAWN) -> list[Any]:
    """The least and the most of every so many samples, in their order: no peak of a long log is lost from the drawing.

    >>> [a.tolist() for a in outline([0, 1, 2, 3, 4, 5], [0, 9, 0, 0, -5, 0], most=4)]
    [[0, 1, 3, 4], [0, 9, 0, -5]]
    """
    xs, ys = np.asarray(x), np.asarray(y)
    if xs.size <= most:
        return [xs, ys]
    starts = np.unique(np.linspace(0, xs.size, most // 2 + 1).astype(int))
    pieces = [(a, a + ys[a:b].argmin(), a + ys[a:b].argmax()) for a, b in itertools.pairwise(starts.tolist())]
    at = np.unique([n for _, low, high in pieces for n in (low, high)])
    return [xs[at], ys[at]]


def log_chart(
    logs: Sequence[tuple[str, Any, Any]],
    runs: Sequence[Line],
    *,
    x_title: str,
    y_title: str,
    dark: bool,
    used: tuple[float | None, float | None] = (None, None),
) -> Figure:
    """Speed over time of some logs, (name, time, speed) each, with the runs on top and the part that is `used` shaded; a part can be dragged out.

    >>> figure = log_chart([("The log", [0, 1], [2, 3])], [], x_title="Time [s]", y_title="Speed [km/h]", dark=False)
    >>> figure["layout"]["dragmode"], figure["layout"]["selectdirection"]
    ('select', 'h')
    """
    drawn = [(name, *outline(time_s, speed)) for name, time_s, speed in logs]
    figure = lines(
        [*(Line(x=x, y=y, role="road", legend=name, name=name, thin=True) for name, x, y in drawn), *runs],
        x_title=x_title,
        y_title=y_title,
        dark=dark,
    )
    for one, dash in zip(figure["data"][: len(drawn)], itertools.cycle(LOG_DASHES), strict=False):
        one["line"] |= {"dash": dash, "width": 1.5}
    low, high = used
    if low is not None or high is not None:
        first, last = min(float(x[0]) for _, x, _ in drawn), max(float(x[-1]) for _, x, _ in drawn)
        ends = first if low is None else low, last if high is None else high
        figure["layout"]["shapes"].append(stretch(*ends, inks(dark).fill))
    figure["layout"] |= {
        "dragmode": "select",
        "selectdirection": "h",
        "selections": [],
        "selectionrevision": f"{low} {high}",
        "newselection": {"line": {"color": inks(dark).ink, "width": 1.5, "dash": "dot"}},
    }
    return figure


def banded(
    curves: Sequence[Banded],
    *,
    x_title: str,
    y_title: str,
    dark: bool,
    beside: Sequence[Line] = (),
    marks: Sequence[Mark] = (),
    from_zero: str = "y",
) -> Figure:
    """Curves in their bands, and plain lines beside them.

    >>> figure = banded([Banded(x=[0, 1], y=[2, 3], low=[1, 2], high=[3, 4], legend="Log")], x_title="a", y_title="b", dark=False)
    >>> [trace["name"] for trace in figure["data"]]
    ['Log: low', 'Log: high', 'Log']
    """
    drawn = [Line(x=c.x, y=c.y, role=c.role, legend=c.legend, name=c.legend) for c in curves]
    figure = lines([*beside, *drawn], x_title=x_title, y_title=y_title, dark=dark, marks=marks, from_zero=from_zero)
    edges = [edge for c in curves for edge in _edges(c, getattr(inks(dark), c.role))]
    figure["data"] = [*edges, *figure["data"]]
    return figure


def _edges(curve: Banded, ink: str) -> list[dict[str, Any]]:
    """The two edges of a band, what lies between them filled."""
    line = {"color": ink, "width": 0.8, "dash": DASHES[curve.role]}
    low, high = (
        trace(curve.x, y, name=f"{curve.legend}: {end}", showlegend=False, hoverinfo="skip", line=line)
        for end, y in (("low", curve.low), ("high", curve.high))
    )
    return [low, high | {"fill": "tonexty", "fillcolor": faint(ink, FAINT)}]


def rays(
    used: tuple[Any, Any], others: tuple[Any, Any], gears: Sequence[Line], *, x_title: str, y_title: str, dark: bool
) -> Figure:
    """Samples of engine speed over road speed, and the ray of each gear.

    >>> figure = rays(([1], [2]), ([3], [4]), [Line(x=[0, 1], y=[0, 2], end="1")], x_title="a", y_title="b", dark=False)
    >>> [trace["name"] for trace in figure["data"] if "name" in trace][1:]
    ['In a gear', 'Shifting or slipping']
    """
    figure = lines(gears, x_title=x_title, y_title=y_title, dark=dark)
    c = inks(dark)
    looks = (("In a gear", used, "circle", c.planned, 6), ("Shifting or slipping", others, "x-thin-open", c.quiet, 5))
    for name, (x, y), symbol, ink, size in looks:
        some = thinned(x, y, most=MOST_DRAWN // 2) if len(x) else [x, y]
        hover = "%{y:,.0f} at %{x:,.1f}"
        figure["data"].append(points(some[0], some[1], name, ink, hover, size=size, symbol=symbol, opacity=0.8))
    return figure


def shares(
    groups: Sequence[tuple[str, Any, Any]], *, x_title: str, y_title: str, dark: bool, marks: Sequence[Mark] = ()
) -> Figure:
    """Shares of the time by engine speed, a row of bars for each set-up ("now", "planned"): color and hatching tell them apart.

    >>> figure = shares([("now", [100, 350], [40, 60])], x_title="a", y_title="b", dark=False)
    >>> figure["data"][0]["type"], figure["data"][0]["name"]
    ('bar', 'Now')
    """
    c = inks(dark)
    figure = lines([], x_title=x_title, y_title=y_title, dark=dark, marks=marks)
    for role, x, y in groups:
        ink = getattr(c, role)
        figure["data"].append(
            {
                "type": "bar",
                "x": plain(x),
                "y": plain(y),
                "name": LEGEND[role],
                "showlegend": True,
                "marker": {
                    "color": ink if role == "now" else c.paper,
                    "line": {"color": ink, "width": 1.2},
                    "pattern": {"shape": "" if role == "now" else "/", "fgcolor": ink, "size": 5, "solidity": 0.45},
                },
                "hovertemplate": f"{LEGEND[role]}<br>%{{y:.1f}} % about %{{x:,.0f}}<extra></extra>",
            }
        )
    xs = [float(v) for _, x, y in groups for v, share in zip(x, y, strict=True) if share > 0]
    xs += [m.at for m in marks if m.axis == "x" and m.at is not None]
    room = 0.06 * (max(xs) - min(xs)) if len(xs) > 1 else 100.0
    figure["layout"]["xaxis"] |= {"range": [max(min(xs) - room, 0.0), max(xs) + 2 * room]} if xs else {}
    for text in figure["layout"]["annotations"]:
        text |= {"y": 1, "yanchor": "top", "yshift": -2}  # over the bars, not among them
        if xs and text["x"] > (min(xs) + max(xs)) / 2:
            text |= {"xanchor": "right", "xshift": -4}  # inside the chart on a phone too
    figure["layout"] |= {"barmode": "group", "bargap": 0.15}
    return figure
