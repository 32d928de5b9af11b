"""A change over two things at once: blue is less, rust is more, and the paper's own color is no change."""

from __future__ import annotations

from typing import Any

import numpy as np

from ridesim.plots.style import CLEAR, Figure, blank, inks, only_words, plain

NOTHING = 1e-9  # a change that is only rounding


def change_map(x: Any, rows: Any, change: Any, *, x_title: str, y_title: str, change_title: str, dark: bool) -> Figure:
    """A map of a change: `change` has one row for each of `rows`, one column for each of `x`. Where nothing changes it says so.

    >>> figure = change_map([1, 2], [1], [[-1.0, 3.0]], x_title="x", y_title="Gear", change_title="N", dark=False)
    >>> figure["data"][0]["zmin"], figure["data"][0]["zmax"]
    (-3.0, 3.0)
    >>> change_map([1, 2], [1], [[0.0, 0.0]], x_title="x", y_title="Gear", change_title="N", dark=False)["layout"]["annotations"][0]["text"]
    'No difference to draw'
    """
    c = inks(dark)
    z = np.asarray(change, dtype=float)
    most = float(np.max(np.abs(z), initial=0.0, where=np.isfinite(z)))
    figure = blank(dark=dark, x_title=x_title, y_title=y_title)
    if most <= NOTHING:
        return only_words("No difference to draw", figure, dark)
    figure["data"].append(
        {
            "type": "heatmap",
            "x": plain(x),
            "y": [str(row) for row in rows],
            "z": [plain(row) for row in z],
            "zmin": -most,
            "zmax": most,
            "colorscale": [[0.0, c.now], [0.5, c.paper], [1.0, c.planned]],
            "ygap": 3,
            "colorbar": {
                "title": {"text": change_title, "side": "right", "font": {"size": 13}},
                "thickness": 14,
                "outlinewidth": 0,
                "tickfont": {"size": 12, "color": c.quiet},
                "bgcolor": CLEAR,
            },
            "hovertemplate": "%{z:+,.4~g} at %{x:,.0f}, gear %{y}<extra></extra>",
        }
    )
    figure["layout"]["yaxis"] |= {"type": "category", "showgrid": False}
    figure["layout"]["xaxis"]["showgrid"] = False
    return figure
