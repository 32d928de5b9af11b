"""Needles drawn from the side, thickness many times over, with the edge of the jet where it stands at both ends of the lift."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

from ridesim.plots.style import DASHES, Figure, blank, inks, plain, word

LEGEND = {"now": "One", "planned": "Two"}


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
        figure["data"].append(
            {
                "type": "scatter",
                "mode": "lines",
                "x": plain([*one.along, *reversed(one.along), one.along[0]]),
                "y": plain([*half, *(-h for h in reversed(half)), half[0]]),
                "name": LEGEND[one.role],
                "showlegend": True,
                "line": {"color": ink, "width": 2.4, "dash": DASHES[one.role]},
                "hoverinfo": "skip",
            }
        )
    for side in (-1, 1):
        figure["layout"]["shapes"].append(_line(side * bore / 2, c.warn))
    first = drawn[0]
    for at, name, end in ((first.shut, "shut", "right"), (first.full, "full", "left")):
        figure["layout"]["shapes"].append(_mark(at, c.quiet))
        figure["layout"]["annotations"].append(
            word(f"jet, {name}", at, -bore * 0.72, c.quiet, dark, xanchor=end, yanchor="middle")
        )
    figure["layout"]["annotations"].append(
        word("needle jet", 0, bore / 2, c.warn, dark, xanchor="left", yanchor="bottom", yshift=2)
    )
    figure["layout"]["yaxis"] |= {"range": [-bore * 0.85, bore * 0.85], "zeroline": True}
    return figure


def _line(y: float, ink: str) -> dict[str, Any]:
    line = {"color": ink, "width": 1.6, "dash": DASHES["warn"]}
    return {"type": "line", "x0": 0, "x1": 1, "y0": y, "y1": y, "xref": "paper", "yref": "y", "line": line}


def _mark(x: float, ink: str) -> dict[str, Any]:
    line = {"color": ink, "width": 1.4, "dash": DASHES["road"]}
    return {"type": "line", "x0": x, "x1": x, "y0": 0, "y1": 1, "xref": "x", "yref": "paper", "line": line}
