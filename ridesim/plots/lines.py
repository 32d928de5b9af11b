"""Lines over two axes, for one set-up or two: color and line style both tell which is which."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np

from ridesim.plots.style import DASHES, LEGEND, Figure, blank, inks, rule, trace, verbatim, word


@dataclass(frozen=True, kw_only=True)
class Line:
    """One line: numbers to draw, whose it is ("now", "planned", "road" or "warn"), a name, and a word at its end.

    legend is what the legend calls it, that of its role unless given; nan is a gap; thin and points are how it is
    drawn.
    """

    x: Any
    y: Any
    role: str = "now"
    name: str = ""
    end: str = ""
    legend: str = ""
    thin: bool = False
    points: bool = False


@dataclass(frozen=True, kw_only=True)
class Mark:
    """A straight line across the chart at a value of one axis ("x" or "y"), with a word."""

    axis: str
    at: float | None
    text: str
    role: str = "road"


def lines(
    drawn: Sequence[Line],
    *,
    x_title: str,
    y_title: str,
    dark: bool,
    marks: Sequence[Mark] = (),
    from_zero: str = "xy",
    y_range: tuple[float, float] | None = None,
    x_range: tuple[float, float] | None = None,
    x_upto: Sequence[float | None] = (),
) -> Figure:
    """A chart of lines.

    Parameters
    ----------
    drawn : sequence of Line
        Each role, or legend, stands once in the legend.
    marks : sequence of Mark
        Lines across the chart, each with a word.
    from_zero : str
        "x", "y", both or neither: which axes begin at 0.
    x_range, y_range : (least, most), optional
        What is seen; else all of it, with a little room for the words at the ends.
    x_upto : sequence of float or None
        Places along x that must be seen, with half as much room again after them.

    Examples
    --------
    >>> figure = lines([Line(x=[0, 1], y=[0, 2], end="1")], x_title="Road speed [km/h]", y_title="Engine speed [rev/min]", dark=False)
    >>> figure["layout"]["xaxis"]["title"]["text"]
    'Road speed [km/h]'
    """
    figure = blank(dark=dark, x_title=x_title, y_title=y_title)
    in_legend: set[str] = set()
    for line in drawn:
        legend = line.legend or LEGEND.get(line.role, "")
        figure["data"].append(_trace(line, legend, legend not in in_legend, dark))
        in_legend.add(legend)
    figure["data"] += _ends(drawn, dark)
    for name, limits in (("x", x_range), ("y", y_range)):
        axis = figure["layout"][f"{name}axis"]
        if name in from_zero:
            axis["rangemode"] = "tozero"
        if limits:
            axis["range"] = list(limits)
    if not x_range:  # words beside the lines must not widen the axis
        figure["layout"]["xaxis"] |= {"range": _reach([line.x for line in drawn], "x" in from_zero)}
    seen = [at for at in x_upto if at is not None]
    if seen:
        figure["layout"]["xaxis"] |= {"range": [0, 1.5 * max(seen)]}
    for mark in marks:
        _mark(figure, mark, dark)
    return figure


def _reach(places: Sequence[Any], zero: bool) -> list[float]:
    """From the least to the most of some places, with a little room for the words at the ends."""
    every = np.concatenate([np.asarray(one, dtype=float).ravel() for one in places]) if places else np.zeros(1)
    every = every[np.isfinite(every)]
    least, most = (float(every.min()), float(every.max())) if every.size else (0.0, 1.0)
    least = min(least, 0.0) if zero else least
    room = 0.04 * (most - least) or 1.0
    return [least - (0.0 if zero else room / 2), most + room]


def _trace(line: Line, legend: str, first: bool, dark: bool) -> dict[str, Any]:
    hover = f"{verbatim(line.name or legend)}<br>%{{y:,.4~g}} at %{{x:,.4~g}}<extra></extra>"
    return trace(line.x, line.y, "lines+markers" if line.points else "lines", hovertemplate=hover) | {
        "name": verbatim(legend or line.name),
        "legendgroup": legend,
        "showlegend": bool(legend) and first,
        "marker": {"size": 7, "symbol": "circle" if line.role == "now" else "diamond"},
        "line": {
            "color": getattr(inks(dark), line.role),
            "width": 1.3 if line.thin else 2.6,
            "dash": DASHES[line.role],
        },
        "connectgaps": False,
    }


def _ends(drawn: Sequence[Line], dark: bool) -> list[dict[str, Any]]:
    """The words at the ends of the lines, one trace a role: beside them for now, under them for what is planned, so that the two
    keep apart. Words of their own for each line would cost the browser more than the lines.
    """
    ends_of: dict[str, list[tuple[float, float, str]]] = {}
    for line in drawn:
        x, y = np.asarray(line.x, dtype=float), np.asarray(line.y, dtype=float)
        there = np.flatnonzero(np.isfinite(x) & np.isfinite(y))
        if line.end and there.size:
            ends_of.setdefault(line.role, []).append((float(x[there[-1]]), float(y[there[-1]]), line.end))
    halo = ", ".join(f"{x}px {y}px 1px {inks(dark).paper}" for x in (-2, 0, 2) for y in (-2, 0, 2))
    return [
        trace([x for x, _, _ in ends], [y for _, y, _ in ends], "text")
        | {
            "text": [f" {text}" for _, _, text in ends],
            "textposition": "bottom center" if role == "planned" else "middle right",
            "textfont": {"color": getattr(inks(dark), role), "size": 13, "shadow": halo},
            "hoverinfo": "skip",
            "showlegend": False,
            "cliponaxis": False,
        }
        for role, ends in ends_of.items()
    ]


def _far(figure: Figure, at: float) -> bool:
    """Whether a place lies so far right that words after it might be cut off."""
    low, high = figure["layout"]["xaxis"].get("range", (at, at))
    return bool(at > low + 0.6 * (high - low))


def _mark(figure: Figure, mark: Mark, dark: bool) -> None:
    if mark.at is None:
        return
    upright, color = mark.axis == "x", getattr(inks(dark), mark.role)
    figure["layout"]["shapes"].append(rule(mark.axis, mark.at, color, dash=DASHES[mark.role], layer="below"))
    late = upright and _far(figure, mark.at)
    place: dict[str, Any] = {"xref": "x", "yref": "paper"} if upright else {"xref": "paper", "yref": "y"}
    place |= {"xanchor": "right" if late else "left", "yanchor": "bottom", "xshift": -4 if late else 4, "yshift": 2}
    x, y = (mark.at, 0) if upright else (0, mark.at)
    figure["layout"]["annotations"].append(word(mark.text, x, y, color, dark, **place))
