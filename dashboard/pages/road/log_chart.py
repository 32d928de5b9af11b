"""Logs drawn over time with the runs used, and the table twin of the drawing."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

from dashboard import components, display
from dashboard.display import axis
from dashboard.pages.page import View
from dashboard.static_html import static_html
from ridesim.answers import Answer
from ridesim.logs.log import Log
from ridesim.plots.lines import Line
from ridesim.plots.log import log_chart, thinned

SAMPLES_SHOWN = 60
NAME_SHOWN = 20  # characters; a phone is narrow
DRAG = "Drag across the chart to use only a part of it, or fill in where it starts and ends."


def drawn_logs(
    logs: Sequence[Log], answer: Answer | None, stretch: tuple[float | None, float | None], v: View
) -> dict[str, Any]:
    """Every log over its own clock with the runs used, and the table twin."""
    x, y = axis("Time", "time", v.system), axis("Road speed", "speed", v.system)
    used = () if answer is None else answer.series.get("runs", ())
    runs = [
        Line(x=x(t), y=y(speed), role="now" if way > 0 else "planned", legend="Used, out" if way > 0 else "Used, back")
        for t, speed, way in used
    ]
    names = [f"{n}. {log.name[:NAME_SHOWN]}" for n, log in enumerate(logs, start=1)] if len(logs) > 1 else ["The log"]
    figure = log_chart(
        [(name, x(log.time_s), y(log.speed_m_s)) for name, log in zip(names, logs, strict=True)],
        runs,
        x_title=x.title,
        y_title=y.title,
        dark=v.dark,
        used=stretch,
    )
    each = " each on its own clock" if len(logs) > 1 else ""
    counted = f"; {len(runs)} {'run is' if len(runs) == 1 else 'runs are'} used" if runs else ""
    caption = f"Speed over time{',' if each else ''}{each}{counted}. {DRAG}{' The part is the same for every log.' if each else ''}"
    tables = [table for log in logs for table in _tables(log, v)]
    return {"figure": figure, "caption": caption, "table": static_html(tables)}


def _tables(log: Log, v: View) -> list[Any]:
    read = [(one.what, one.read_as, one.detail) for one in log.found]
    found = components.row_table(f"What was found in {log.name}", ("What", "Read as", "Detail"), read)
    time, speed = thinned(log.time_s, log.speed_m_s, most=SAMPLES_SHOWN)
    heads = ("Time [s]", f"Road speed [{display.unit_of('speed', v.system)}]")
    samples = [
        (display.number(float(t), 1), display.shown(float(s), "speed", v.system, unit=False))
        for t, s in zip(time, speed, strict=True)
    ]
    label = f"Some samples of {log.name}"
    return [found, components.row_table(label, heads, samples, numbers=(0, 1), caption=log.name)]
