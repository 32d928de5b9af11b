"""What the pages of the bench share: one answer drawn, or the sentence that says why there is none."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from typing import Any

from dash import Dash, no_update

from dashboard import components
from dashboard.pages.carburetor import bench_cards
from dashboard.pages.page import INPUTS, View, outputs, view
from dashboard.queries.fueling import Told
from dashboard.url_state import State
from ridesim.errors import InputError

Draw = Callable[[Told, View], dict[str, Any]]


def register(app: Dash, page: str, charts: Sequence[str], ask: Callable[[State], Told], draw: Draw) -> None:
    """The callback that answers a page of the bench."""

    @app.callback(output=outputs(page, *charts), inputs=INPUTS)
    def show(query: str | None, theme: str | None) -> dict[str, Any]:
        v = view(query, theme)
        try:
            told = ask(v.state)
        except InputError as error:
            return unanswered(error, charts)
        return {"common": bench_cards.common(told.answers, told.working, v.system), **draw(told, v)}


def unanswered(error: InputError, charts: Sequence[str]) -> dict[str, Any]:
    """Nothing drawn anew, and why."""
    common = dict.fromkeys(components.COMMON, no_update) | {"says": bench_cards.unanswered(error)}
    return {"common": common, **{name: components.chart_kept() for name in charts}}


def tables(told: Told, system: str) -> list[Any]:
    """Every table of the answers."""
    return [
        components.plain_table(table.columns, table.rows, system, table.title)
        for answer in told.answers
        for table in answer.tables
    ]
