"""Own ride: the same ride with both set-ups, and with every pair of sprockets about them."""

from __future__ import annotations

from typing import Any

from dash import Dash, Input, Output

from dashboard import ask_log, cards, ids, log_cards, log_open
from dashboard.ask_log import Rides
from dashboard.display import axis
from dashboard.figures.lines import Mark
from dashboard.figures.log import shares
from dashboard.pages.page import INPUTS, Page, View, both, drawn, view
from dashboard.state import State as Looked

KEY = "own-ride"
FIELDS = ("up", "down", "lugging")
ALL = log_cards.names(FIELDS)
CAPTION = "Where the engine spends the ride: share of the time on the move by engine speed, a bar for each set-up."


def layout(state: Looked) -> Any:
    return cards.frame(
        KEY,
        "What would your own ride be like?",
        "A ride you really rode, second by second, with both set-ups: engine speeds, shifts, time near the rev limit or lugging, "
        "and fuel. The speeds stay as ridden.",
        log_cards.fault(KEY),
        log_cards.section(KEY, "Your ride", "Open the invented ride", fields=FIELDS),
        log_cards.result(KEY, cards.chart(KEY, "shares", tall=True)),
        after=[log_cards.listed(KEY, "Every pair on the bike as it is now")],
    )


def _shares(found: Rides, v: View) -> Any:
    x, y = axis("Engine speed", "engine speed", v.system), axis("Share of the time", "percent", v.system)
    groups = [(role, x(a.series["bin_middles_rad_s"]), y(a.series["share"])) for role, a in both(found.pair)]
    s = found.now.answer.series
    marks = [
        Mark(axis="x", at=x.one(s["limit_rad_s"]), text="rev limit", role="warn"),
        Mark(axis="x", at=x.one(s["lugging_rad_s"]), text="lugging below"),
    ]
    return shares(groups, x_title=x.title, y_title=y.title, dark=v.dark, marks=marks)


def shown(v: View, data: Any, fields: dict[str, Any]) -> dict[str, Any]:
    """Everything the page shows of a ride and its fields."""
    log, error = ask_log.kept_log(data)
    if log is None:
        empty = log_cards.cleared("No ride is open.")
        return log_cards.unopened(ALL, error) | {"log": empty, "shares": empty, "pairs": None}
    asked = ask_log.rides(v.state, log, fields)
    chart = log_cards.drawn_log(log, None, fields, v)
    if asked.found is None:
        stay = {"log": chart, "shares": log_cards.no_chart(), "pairs": log_cards.STAYS}
        return log_cards.unanswered(asked, ALL, log, v) | stay
    pair, table = asked.found.pair, asked.found.now.answer.tables[0]
    twins = [
        cards.plain_table(t.columns, t.rows, v.system, f"{t.title}: {role}")
        for role, answer in both(pair)
        for t in (ask_log.share_table(answer),)
    ]
    return log_cards.answered(asked, [], ALL, log, v) | {
        "common": cards.common(pair, v.system),
        "log": chart,
        "shares": drawn(_shares(asked.found, v), CAPTION, twins),
        "pairs": cards.plain_table(table.columns, table.rows, v.system, table.title),
    }


def register(app: Dash) -> None:
    log_open.register(app, KEY, "ride")

    @app.callback(
        output=log_cards.answer_outputs(KEY, ALL)
        | log_cards.chart_outputs(KEY, "log", "shares")
        | {
            "named": Output(ids.part(KEY, "named"), "children"),
            "pairs": Output(ids.part(KEY, "listed"), "children"),
        },
        inputs={**INPUTS, "data": Input(ids.part(KEY, "kept"), "data"), "fields": log_cards.inputs(KEY, ALL)},
    )
    def show(query: str | None, theme: str | None, data: Any, fields: dict[str, Any]) -> dict[str, Any]:
        return shown(view(query, theme), data, fields)


PAGE = Page(key=KEY, path="/own-ride", name="Own ride", layout=layout, register=register)
