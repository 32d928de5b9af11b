"""Shares over one axis as overlapping bands: each with its own ink, line style and word."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

import numpy as np

from ridesim.plots.style import Figure, blank, faint, inks, plain, word

LOOKS = (("now", "solid"), ("planned", "dash"), ("warn", "dashdot"), ("road", "dot"), ("quiet", "longdash"))
FAINT = 0.16  # of the ink, inside a band


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
        figure["data"].append(
            {
                "type": "scatter",
                "mode": "lines",
                "x": plain(at),
                "y": plain(share),
                "name": name,
                "showlegend": False,
                "fill": "tozeroy",
                "fillcolor": faint(ink, 2 * FAINT if heavy else FAINT),
                "line": {"color": ink, "width": 3 if heavy else 1.8, "dash": dash},
                "hovertemplate": f"{name}<br>%{{y:.0f}} at %{{x:.0f}}<extra></extra>",
            }
        )
        figure["layout"]["annotations"].append(_name(at, share, name, ink, dark, 21 if n % 2 else 3))
    figure["layout"]["shapes"].append(_upright(here, c.ink))
    figure["layout"]["yaxis"] |= {"range": [0, 118], "tickvals": [0, 25, 50, 75, 100]}
    figure["layout"]["xaxis"] |= {"range": [0, 100], "tickvals": [0, 12.5, 25, 50, 75, 100], "tickangle": 0}
    figure["layout"]["xaxis"]["ticktext"] = ["shut", "1/8", "1/4", "1/2", "3/4", "full"]
    return figure


def _upright(x: float, ink: str) -> dict[str, Any]:
    line = {"color": ink, "width": 2}
    return {"type": "line", "x0": x, "x1": x, "y0": 0, "y1": 1, "xref": "x", "yref": "paper", "line": line}


def _name(at: Any, share: Any, name: str, ink: str, dark: bool, lift: int) -> dict[str, Any]:
    """The word of a band, over the middle of its top, kept inside the chart and off its neighbour's."""
    y = np.asarray(share, dtype=float)
    top = np.flatnonzero(y >= y.max() - 1e-9)
    x = float(np.asarray(at, dtype=float)[top[len(top) // 2]])
    side = "left" if x < 10 else "right" if x > 90 else "center"
    return word(name, x, float(y.max()), ink, dark, xanchor=side, yanchor="bottom", yshift=lift)
