"""Lines over two axes, for one set-up or two: colour and line style both tell which is which."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
import plotly.graph_objects as go

from dashboard.figures.style import DASHES, blank, inks

LEGEND = {"now": "Now", "might": "Might be"}


@dataclass(frozen=True, kw_only=True)
class Line:
    """One line: numbers to draw, whose it is ("now", "might", "road" or "warn"), a name, and a word at its end."""

    x: Sequence[float]
    y: Sequence[float]
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
    at: float
    text: str
    role: str = "road"


@dataclass(frozen=True, kw_only=True)
class Band:
    """The room between two lines over the same x: what is left open by the doubts."""

    x: Sequence[float]
    low: Sequence[float]
    high: Sequence[float]
    role: str = "now"


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
) -> go.Figure:
    """A chart of lines.

    >>> figure = lines([Line(x=[0, 1], y=[0, 2], end="1")], x_title="Road speed [km/h]", y_title="Engine speed [rev/min]", dark=False)
    >>> figure.layout.xaxis.title.text
    'Road speed [km/h]'
    """
    c = inks(dark)
    figure = blank(dark=dark, x_title=x_title, y_title=y_title)
    told: set[str] = set()
    for line in drawn:
        colour = getattr(c, line.role)
        legend = line.legend or LEGEND.get(line.role, "")
        figure.add_trace(
            go.Scatter(
                x=np.asarray(line.x, dtype=float),
                y=np.asarray(line.y, dtype=float),
                name=legend or line.name,
                legendgroup=legend,
                showlegend=bool(legend) and legend not in told,
                mode="lines+markers" if line.points else "lines",
                marker={"size": 7, "symbol": "circle" if line.role == "now" else "diamond"},
                line={"color": colour, "width": 1.3 if line.thin else 2.6, "dash": DASHES[line.role]},
                hovertemplate=f"{line.name or legend}<br>%{{y:,.4~g}} at %{{x:,.4~g}}<extra></extra>",
                connectgaps=False,
            )
        )
        told.add(legend)
        if line.end:
            _word_at_end(figure, line, colour)
    for mark in marks:
        _mark(figure, mark, getattr(c, mark.role))
    if "x" in from_zero:
        figure.update_xaxes(rangemode="tozero")
    if "y" in from_zero:
        figure.update_yaxes(rangemode="tozero")
    if y_range:
        figure.update_yaxes(range=y_range)
    if x_range:
        figure.update_xaxes(range=x_range)
    return figure


def _word_at_end(figure: go.Figure, line: Line, colour: str) -> None:
    x, y = np.asarray(line.x, dtype=float), np.asarray(line.y, dtype=float)
    there = np.flatnonzero(np.isfinite(x) & np.isfinite(y))
    if there.size:
        n = int(there[-1])
        above = line.role != "might"
        figure.add_annotation(
            x=float(x[n]),
            y=float(y[n]),
            text=line.end,
            showarrow=False,
            xanchor="left" if above else "center",
            yanchor="middle" if above else "top",
            xshift=5 if above else 0,
            yshift=0 if above else -4,
            font={"color": colour, "size": 14},
        )


def _mark(figure: go.Figure, mark: Mark, colour: str) -> None:
    upright = mark.axis == "x"
    ends = (
        {"x0": mark.at, "x1": mark.at, "y0": 0, "y1": 1}
        if upright
        else {"y0": mark.at, "y1": mark.at, "x0": 0, "x1": 1}
    )
    figure.add_shape(
        type="line",
        xref="x" if upright else "paper",
        yref="paper" if upright else "y",
        line={"color": colour, "width": 1.6, "dash": "dot"},
        layer="below",
        **ends,
    )
    place = (
        {"x": mark.at, "y": 0.0, "xref": "x", "yref": "paper"}
        if upright
        else {"x": 0.0, "y": mark.at, "xref": "paper", "yref": "y"}
    )
    figure.add_annotation(
        text=mark.text,
        showarrow=False,
        xanchor="left",
        yanchor="bottom",
        xshift=4,
        yshift=2,
        font={"color": colour, "size": 13},
        **place,
    )
