"""How charts look, in light and in dark: our own colors, told apart by line style too.

A figure is a plain dictionary as the chart library reads it: building checked objects instead costs more time than all
the physics. The tests check every figure against the chart library's own schema.
"""

from __future__ import annotations

from dataclasses import dataclass
from html import escape
from typing import Any

import numpy as np

FONT = "system-ui, -apple-system, 'Segoe UI', Roboto, 'Liberation Sans', sans-serif"
Figure = dict[str, Any]


@dataclass(frozen=True, kw_only=True)
class Inks:
    """The colors of one theme. Blue and rust differ in hue for every common color vision, and in lightness."""

    paper: str
    ink: str
    quiet: str
    grid: str
    now: str
    planned: str
    road: str
    warn: str
    fill: str


LIGHT = Inks(
    paper="#ffffff",
    ink="#1d2529",
    quiet="#586369",
    grid="#e3e5e1",
    now="#17567f",
    planned="#b04a16",
    road="#6a737a",
    warn="#9b1c31",
    fill="#eceae3",
)
DARK = Inks(
    paper="#1e2326",
    ink="#e9ebe8",
    quiet="#a9b2b6",
    grid="#343b3f",
    now="#83bfe9",
    planned="#f2a676",
    road="#98a2a8",
    warn="#ff9aa8",
    fill="#2a3034",
)
LEGEND = {"now": "Now", "planned": "Planned"}
DASHES = {"now": "solid", "planned": "dash", "road": "dot", "warn": "dashdot"}
CLEAR = "rgba(0,0,0,0)"
LONGEST_TITLE = 32  # characters of a line under a chart that a phone can show


def inks(dark: bool) -> Inks:
    """The colors of the theme."""
    return DARK if dark else LIGHT


def plain(numbers: Any) -> list[float | None]:
    """An array as a list with gaps where there is no number, to six digits of the largest: more than a screen shows.

    >>> plain([1.0, float("nan"), 200.00004]), plain([1.5e-4, 1.6e-4])
    ([1.0, None, 200.0], [0.00015, 0.00016])
    """
    array = np.asarray(numbers, dtype=float)
    largest = float(np.max(np.abs(array), initial=0.0, where=np.isfinite(array)))
    decimals = 5 - int(np.floor(np.log10(largest))) if largest else 0
    return [None if value != value else value for value in np.round(array, decimals).tolist()]


def blank(*, dark: bool, x_title: str, y_title: str) -> Figure:
    """An empty chart in the theme, its axes named with their units; nothing global is touched.

    A title too long for a phone breaks before its unit:

    >>> figure = blank(dark=False, x_title="Change of the power at the rear wheel [kW]", y_title="")
    >>> figure["layout"]["xaxis"]["title"]["text"]
    'Change of the power at the rear wheel<br>[kW]'
    """
    c = inks(dark)

    def axis(title: str) -> dict[str, Any]:
        return {
            "title": {"text": title, "font": {"size": 14, "color": c.ink}, "standoff": 8},
            "gridcolor": c.grid,
            "linecolor": c.quiet,
            "zerolinecolor": c.quiet,
            "zerolinewidth": 1,
            "tickfont": {"size": 13, "color": c.quiet},
            "automargin": True,
            "fixedrange": True,
            "separatethousands": True,
        }

    layout = {
        "autosize": True,
        "template": {"layout": {}},
        "paper_bgcolor": CLEAR,
        "plot_bgcolor": CLEAR,
        "font": {"family": FONT, "size": 14, "color": c.ink},
        "margin": {"l": 8, "r": 24, "t": 34, "b": 8},
        "xaxis": axis(x_title if len(x_title) <= LONGEST_TITLE else x_title.replace(" [", "<br>[")),
        "yaxis": axis(y_title),
        "legend": {
            "orientation": "h",
            "x": 0,
            "y": 1.0,
            "xanchor": "left",
            "yanchor": "bottom",
            "font": {"size": 14},
            "bgcolor": CLEAR,
        },
        "hovermode": "closest",
        "hoverlabel": {"bgcolor": c.paper, "bordercolor": c.quiet, "font": {"color": c.ink, "family": FONT}},
        "dragmode": False,
        "uirevision": "steady",
        "separators": ".,",
        "shapes": [],
        "annotations": [],
    }
    return {"data": [], "layout": layout}


def verbatim(text: str) -> str:
    """Text that is drawn as it stands: plotly reads tags and entities in every text, and places to fill in on a pointer's label.

    >>> verbatim("<b>wet</b> %{x}")
    '&lt;b&gt;wet&lt;/b&gt; %&#123;x}'
    """
    return escape(text, quote=False).replace("%{", "%&#123;")


def faint(ink: str, share: float) -> str:
    """An ink seen through.

    >>> faint("#102030", 0.5)
    'rgba(16,32,48,0.5)'
    """
    red, green, blue = (int(ink[n : n + 2], 16) for n in (1, 3, 5))
    return f"rgba({red},{green},{blue},{share:g})"


def word(text: str, x: float, y: float, color: str, dark: bool, **more: Any) -> dict[str, Any]:
    """A word on a chart, on a little paper of its own so that lines do not strike it out."""
    return {
        "text": verbatim(text),
        "x": x,
        "y": y,
        "showarrow": False,
        "font": {"color": color, "size": 13},
        "bgcolor": inks(dark).paper,
        "opacity": 0.92,
        "borderpad": 1,
        **more,
    }


def rule(axis: str, at: float, ink: str, *, width: float = 1.6, dash: str = "solid", **more: Any) -> dict[str, Any]:
    """A straight line across the whole chart at a place of one axis ("x" or "y").

    >>> line = rule("x", 95.0, "#1d2529")
    >>> line["x0"], line["x1"], line["y0"], line["y1"], line["yref"]
    (95.0, 95.0, 0, 1, 'paper')
    """
    across = "y" if axis == "x" else "x"
    line = {"color": ink, "width": width, "dash": dash}
    ends = {f"{axis}0": at, f"{axis}1": at, f"{across}0": 0, f"{across}1": 1}
    return {"type": "line", **ends, f"{axis}ref": axis, f"{across}ref": "paper", "line": line, **more}


def stretch(low: float, high: float, ink: str) -> dict[str, Any]:
    """A part of the x axis, filled over the whole height of the chart, below all that is drawn.

    >>> part = stretch(1.2, 2.1, "#eceae3")
    >>> part["x0"], part["x1"], part["layer"]
    (1.2, 2.1, 'below')
    """
    place = {"x0": low, "x1": high, "y0": 0, "y1": 1, "yref": "paper"}
    return {"type": "rect", **place, "fillcolor": ink, "line": {"width": 0}, "layer": "below"}


def trace(x: Any, y: Any, mode: str = "lines", **more: Any) -> dict[str, Any]:
    """Places along two axes, drawn as "lines", "markers" or "text"; more is what else the chart library is told of
    them.

    >>> trace([1, 2], [3.0, float("nan")], name="Readings")
    {'type': 'scatter', 'mode': 'lines', 'x': [1.0, 2.0], 'y': [3.0, None], 'name': 'Readings'}
    """
    return {"type": "scatter", "mode": mode, "x": plain(x), "y": plain(y), **more}


def points(x: Any, y: Any, name: str, ink: str, hover: str, **marker: Any) -> dict[str, Any]:
    """Places marked one by one, named in the legend; `hover` is what the pointer says of one, `marker` how it looks."""
    look = {"name": name, "showlegend": True, "marker": {"color": ink, **marker}}
    return trace(x, y, "markers", **look, hovertemplate=f"{hover}<extra></extra>")


def only_words(text: str, figure: Figure, dark: bool) -> Figure:
    """A figure that has nothing to draw, and says so in place of its axes."""
    place = {"xref": "paper", "yref": "paper", "xanchor": "center", "yanchor": "middle"}
    figure["layout"]["annotations"].append(word(text, 0.5, 0.5, inks(dark).quiet, dark, **place))
    for name in ("xaxis", "yaxis"):
        figure["layout"][name]["visible"] = False
    return figure
