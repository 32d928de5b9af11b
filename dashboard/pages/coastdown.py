"""Coast-down: what holds the bike back, from one's own log."""

from __future__ import annotations

from typing import Any

from dash import Dash, Input, Output, State

from dashboard import ask_log, bench_cards, cards, ids, log_cards, log_open
from dashboard.display import axis
from dashboard.figures.lines import Line
from dashboard.figures.log import Banded, banded
from dashboard.pages.page import INPUTS, Page, View, drawn, pressed, view
from dashboard.state import State as Looked
from ridesim.roadtest import Coasted

KEY = "coast-down"
FIELDS = ("from-speed", "to-speed", "ways", *log_cards.AIR, "wind", "slope")
ALL = log_cards.names(FIELDS)
CAPTION = "Resistance on a level road without wind, in its 5 to 95 % band, beside that of the build as it is now."


def layout(state: Looked) -> Any:
    return bench_cards.frame(
        KEY,
        "What holds the bike back?",
        "Coast in neutral, or with the clutch pulled, from a high speed to a low one, out and back along the same level stretch, "
        "with the phone logging: drag area and rolling resistance come out, with how sure they are.",
        log_cards.fault(KEY),
        log_cards.section(KEY, "Your coast-downs", "Open the invented coast-downs", fields=FIELDS),
        log_cards.result(KEY, cards.chart(KEY, "force", tall=True)),
        log_cards.take(KEY, "Put it into the build"),
    )


def _force(found: Coasted, v: View) -> Any:
    x, y = axis("Road speed", "speed", v.system), axis("Resistance", "force", v.system)
    s = found.answer.series
    speed = x(s["speed_m_s"])
    curve = Banded(x=speed, y=y(s["force_n"]), low=y(s["low_n"]), high=y(s["high_n"]), role="might", legend="Your log")
    build = Line(x=speed, y=y(s["build_n"]), role="now", legend="The build as it is")
    return banded([curve], x_title=x.title, y_title=y.title, dark=v.dark, beside=[build], from_zero="y")


def shown(v: View, data: Any, fields: dict[str, Any]) -> dict[str, Any]:
    """Everything the page shows of a log and its fields."""
    log, error = ask_log.kept_log(data)
    if log is None:
        empty = log_cards.cleared("No log is open.")
        return log_cards.unopened(ALL, error) | {"log": empty, "force": empty, "chosen": ["", ""]}
    asked = ask_log.coast(v.state, log, fields)
    chosen = [asked.chosen.get(name, "") for name in log_cards.SPEEDS]
    if asked.found is None:
        stay = {"log": log_cards.drawn_log(log, None, fields, v), "force": log_cards.no_chart(), "chosen": chosen}
        return log_cards.unanswered(asked, ALL, log, v) | stay
    answer = asked.found.answer
    table = [cards.plain_table(t.columns, t.rows, v.system, t.title) for t in answer.tables]
    return log_cards.answered(asked, [answer], ALL, log, v) | {
        "log": log_cards.drawn_log(log, answer, fields, v),
        "force": drawn(_force(asked.found, v), CAPTION, table),
        "chosen": chosen,
    }


def register(app: Dash) -> None:
    log_open.register(app, KEY, "coast-down")

    @app.callback(
        output=log_cards.answer_outputs(KEY, ALL)
        | log_cards.chart_outputs(KEY, "log", "force")
        | {
            "named": Output(ids.part(KEY, "named"), "children"),
            "chosen": [Output(ids.part(KEY, name), "placeholder") for name in log_cards.SPEEDS],
        },
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
            data, lambda log: ask_log.coast(state, log, fields), lambda found: ask_log.take_road_load(state, found)
        )


PAGE = Page(key=KEY, path="/coast-down", name="Coast-down", layout=layout, register=register)
