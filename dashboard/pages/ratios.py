"""Gear ratios: which gears are in there, from a log with engine speed."""

from __future__ import annotations

from typing import Any

from dash import Dash, Input, Output, State

from dashboard import ask_log, bench_cards, cards, ids, log_cards, log_open
from dashboard.display import axis
from dashboard.figures.lines import Line
from dashboard.figures.log import rays
from dashboard.pages.page import INPUTS, Page, View, drawn, pressed, view
from dashboard.state import State as Looked
from ridesim.roadtest import Geared

KEY = "ratios"
FIELDS = ("gears",)
ALL = log_cards.names(FIELDS)
CAPTION = (
    "Every sample of the log, engine speed over road speed; in a gear the samples lie on a ray, numbered at its end."
)


def layout(state: Looked) -> Any:
    return bench_cards.frame(
        KEY,
        "Which gears are in there?",
        "A log of road speed and engine speed tells the ratios of an unknown gearbox, and in which gear each stretch was ridden. "
        "The rolling circumference comes from the build.",
        log_cards.fault(KEY),
        log_cards.section(KEY, "Your log with engine speed", "Open the invented log", fields=FIELDS),
        log_cards.result(KEY, cards.chart(KEY, "rays", tall=True)),
        log_cards.take(KEY, "Put these ratios into the build"),
    )


def _rays(found: Geared, v: View) -> Any:
    x, y = axis("Road speed", "speed", v.system), axis("Engine speed", "engine speed", v.system)
    s = found.answer.series
    speed, engine, inside = x(s["speed_m_s"]), y(s["engine_speed_rad_s"]), s["gear_at"] > 0
    gears = [
        Line(x=x(road), y=y(turns), legend="Gears found", name=f"Gear {n}", end=str(n))
        for n, (road, turns) in enumerate(s["rays"], start=1)
    ]
    others = ~inside
    return rays(
        (speed[inside], engine[inside]),
        (speed[others], engine[others]),
        gears,
        x_title=x.title,
        y_title=y.title,
        dark=v.dark,
    )


def shown(v: View, data: Any, fields: dict[str, Any]) -> dict[str, Any]:
    """Everything the page shows of a log and its fields."""
    log, error = ask_log.kept_log(data)
    if log is None:
        empty = log_cards.cleared("No log is open.")
        return log_cards.unopened(ALL, error) | {"log": empty, "rays": empty}
    asked = ask_log.gears(v.state, log, fields)
    chart = log_cards.drawn_log(log, None, fields, v)
    if asked.found is None:
        return log_cards.unanswered(asked, ALL, log, v) | {"log": chart, "rays": log_cards.no_chart()}
    table = [cards.plain_table(t.columns, t.rows, v.system, t.title) for t in asked.found.answer.tables]
    return log_cards.answered(asked, [asked.found.answer], ALL, log, v) | {
        "log": chart,
        "rays": drawn(_rays(asked.found, v), CAPTION, table),
    }


def register(app: Dash) -> None:
    log_open.register(app, KEY, "gears")

    @app.callback(
        output=log_cards.answer_outputs(KEY, ALL)
        | log_cards.chart_outputs(KEY, "log", "rays")
        | {"named": Output(ids.part(KEY, "named"), "children")},
        inputs={**INPUTS, "data": Input(ids.part(KEY, "kept"), "data"), "fields": log_cards.inputs(KEY, ALL)},
    )
    def show(query: str | None, theme: str | None, data: Any, fields: dict[str, Any]) -> dict[str, Any]:
        return shown(view(query, theme), data, fields)

    @app.callback(
        output=log_cards.take_outputs(KEY),
        inputs={
            "clicks": Input(ids.part(KEY, "take"), "n_clicks"),
            "query": State(ids.QUERY, "data"),
            "data": State(ids.part(KEY, "kept"), "data"),
            "fields": log_cards.states(KEY, ALL),
        },
        prevent_initial_call=True,
    )
    def take(clicks: int | None, query: str | None, data: Any, fields: dict[str, Any]) -> dict[str, Any]:
        pressed(clicks)
        state = view(query, "light").state
        return log_cards.taken(
            data, lambda log: ask_log.gears(state, log, fields), lambda found: ask_log.take_gears(state, found)
        )


PAGE = Page(key=KEY, path="/ratios", name="Gear ratios", layout=layout, register=register)
