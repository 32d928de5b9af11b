"""How charts look, in light and in dark: our own colours, told apart by line style too."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import plotly.graph_objects as go

FONT = "system-ui, -apple-system, 'Segoe UI', Roboto, 'Liberation Sans', sans-serif"


@dataclass(frozen=True, kw_only=True)
class Inks:
    """The colours of one theme. Blue and rust differ in hue for every common colour vision, and in lightness."""

    paper: str
    ink: str
    quiet: str
    grid: str
    now: str
    might: str
    road: str
    warn: str
    fill: str


LIGHT = Inks(
    paper="#ffffff",
    ink="#1d2529",
    quiet="#586369",
    grid="#e3e5e1",
    now="#17567f",
    might="#b04a16",
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
    might="#f2a676",
    road="#98a2a8",
    warn="#ff9aa8",
    fill="#2a3034",
)
DASHES = {"now": "solid", "might": "dash", "road": "dot", "warn": "dashdot"}


def inks(dark: bool) -> Inks:
    """The colours of the theme."""
    return DARK if dark else LIGHT


def blank(*, dark: bool, x_title: str, y_title: str, **more: Any) -> go.Figure:
    """An empty chart in the theme, its axes named with their units; nothing global is touched."""
    c = inks(dark)
    axis = {
        "gridcolor": c.grid,
        "linecolor": c.quiet,
        "zerolinecolor": c.quiet,
        "zerolinewidth": 1,
        "tickfont": {"size": 13, "color": c.quiet},
        "title": {"font": {"size": 14, "color": c.ink}, "standoff": 8},
        "automargin": True,
        "fixedrange": True,
        "separatethousands": True,
    }
    layout = go.Layout(
        template=go.layout.Template(layout={}),
        paper_bgcolor="rgba(0,0,0,0)",
        plot_bgcolor="rgba(0,0,0,0)",
        font={"family": FONT, "size": 14, "color": c.ink},
        margin={"l": 8, "r": 24, "t": 34, "b": 8},
        xaxis={**axis, "title": {**axis["title"], "text": x_title}},
        yaxis={**axis, "title": {**axis["title"], "text": y_title}},
        legend={"orientation": "h", "x": 0, "y": 1.0, "xanchor": "left", "yanchor": "bottom", "font": {"size": 14}},
        hovermode="closest",
        hoverlabel={"bgcolor": c.paper, "bordercolor": c.quiet, "font": {"color": c.ink, "family": FONT}},
        dragmode=False,
        uirevision="steady",
        separators=".,",
    )
    return go.Figure(layout=layout).update_layout(**more)
