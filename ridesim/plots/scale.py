"""Drawings to scale: circles, strokes, boxes and dots on two axes of equal length."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np

from ridesim.plots.style import DASHES, LEGEND, Figure, blank, inks, trace, word


@dataclass(frozen=True, kw_only=True)
class Circle:
    """A circle, in the units of the axes."""

    x: float
    y: float
    r: float
    role: str = "now"
    thin: bool = False
    solid: bool = False  # whatever its role
    legend: str = ""


@dataclass(frozen=True, kw_only=True)
class Stroke:
    """A run of straight strokes."""

    x: Sequence[float]
    y: Sequence[float]
    role: str = "now"
    thin: bool = False
    solid: bool = False  # whatever its role
    legend: str = ""

    @classmethod
    def tangents(cls, center: float, small: float, large: float, role: str) -> tuple[Stroke, Stroke]:
        """The two straight runs of a belt or chain round a circle at the origin and a larger one at `center`:  sin a =
        (R - r) / c.

        >>> upper, lower = Stroke.tangents(100.0, 20.0, 80.0, "now")
        >>> upper.x, upper.y, lower.y
        ([-12.0, 52.0], [16.0, 64.0], [-16.0, -64.0])
        """
        sine = (large - small) / center
        cosine = float(np.sqrt(max(1.0 - sine * sine, 0.0)))
        x = [-small * sine, center - large * sine]
        y = [small * cosine, large * cosine]
        return cls(x=x, y=y, role=role), cls(x=x, y=[-one for one in y], role=role)


@dataclass(frozen=True, kw_only=True)
class Box:
    """A filled box, such as the room an axle has."""

    x0: float
    x1: float
    y0: float
    y1: float
    text: str = ""


@dataclass(frozen=True, kw_only=True)
class Dot:
    """A marked place with a word over it, or below; a large one is a center of mass of all."""

    x: float
    y: float
    text: str
    role: str = "now"
    below: bool = False
    large: bool = False


def drawing(parts: Sequence[Any], *, x_title: str, y_title: str, dark: bool, height: float | None = None) -> Figure:
    """A drawing in which a unit is as long up as along.

    Parameters
    ----------
    parts : sequence of Circle, Stroke, Box or Dot
        In the units of the axes; each role stands once in the legend.
    height : float, optional
        How far up is seen, with a strip of ground below 0.

    Examples
    --------
    >>> figure = drawing([Circle(x=0, y=1, r=1)], x_title="Ahead of the rear axle [mm]", y_title="Height [mm]", dark=False)
    >>> figure["layout"]["yaxis"]["scaleanchor"]
    'x'
    """
    figure = blank(dark=dark, x_title=x_title, y_title=y_title)
    layout = figure["layout"]
    layout["yaxis"] |= {"scaleanchor": "x", "scaleratio": 1, "zeroline": False, "constrain": "domain"}
    layout["xaxis"] |= {"zeroline": False, "constrain": "domain"}
    in_legend: set[str] = set()
    for part in parts:
        if isinstance(part, Box):
            _box(layout, part, dark)
        elif isinstance(part, Dot):
            figure["data"].append(_dot(part, dark))
            layout["annotations"].append(_dot_word(part, dark))
        else:
            x, y = _points(part)
            figure["data"].append(_outline(x, y, part, part.role not in in_legend, dark))
            in_legend.add(part.role)
    if height is not None:
        layout["yaxis"]["range"] = [-0.06 * height, height]
    return figure


def _points(part: Any) -> tuple[Any, Any]:
    if isinstance(part, Stroke):
        return part.x, part.y
    turn = np.linspace(0.0, 2.0 * np.pi, 121)
    return part.x + part.r * np.cos(turn), part.y + part.r * np.sin(turn)


def _outline(x: Any, y: Any, part: Any, first: bool, dark: bool) -> dict[str, Any]:
    legend = part.legend or LEGEND.get(part.role, "")
    return trace(x, y, hoverinfo="skip") | {
        "name": legend,
        "legendgroup": legend,
        "showlegend": bool(legend) and first,
        "line": {
            "color": getattr(inks(dark), part.role),
            "width": 1.3 if part.thin else 2.4,
            "dash": "solid" if part.solid else DASHES[part.role],
        },
    }


def _dot(part: Dot, dark: bool) -> dict[str, Any]:
    marker = {
        "size": 15 if part.large else 9,
        "symbol": "circle" if part.role == "now" else "diamond",
        "color": getattr(inks(dark), part.role),
        "line": {"color": inks(dark).paper, "width": 1.5},
    }
    hover = f"{part.text}<extra></extra>"
    return trace([part.x], [part.y], "markers", showlegend=False, hovertemplate=hover, marker=marker)


def _dot_word(part: Dot, dark: bool) -> dict[str, Any]:
    place = {"yanchor": "top", "yshift": -9} if part.below else {"yanchor": "bottom", "yshift": 9}
    return word(part.text, part.x, part.y, getattr(inks(dark), part.role), dark, **place)


def _box(layout: dict[str, Any], part: Box, dark: bool) -> None:
    c = inks(dark)
    layout["shapes"].append(
        {
            "type": "rect",
            "x0": part.x0,
            "x1": part.x1,
            "y0": part.y0,
            "y1": part.y1,
            "fillcolor": c.fill,
            "line": {"color": c.quiet, "width": 1},
            "layer": "below",
        }
    )
    if part.text:
        x = (part.x0 + part.x1) / 2
        layout["annotations"].append(
            word(part.text, x, min(part.y0, part.y1), c.quiet, dark, yanchor="top", yshift=-30)
        )
