"""The mixture screw: readings in a small grid, the curve through them, the best setting and what it means at either end."""

from __future__ import annotations

import re
from collections.abc import Mapping, Sequence
from typing import Any

from dash import ALL, Dash, Input, Output, html, no_update
from dash.exceptions import PreventUpdate

from dashboard import components, ids, queries
from dashboard.display import axis
from dashboard.forms import form, link_fields
from dashboard.pages.carburetor.bench import answered, desk, frame
from dashboard.pages.page import Chart, Section, View
from dashboard.queries import fueling
from dashboard.url_state import State, from_query
from ridesim.errors import InputError, each
from ridesim.fueling.mixture import PROCEDURE
from ridesim.plots.fueling import fitted

KEY = "idle"
KEYS = ("screw", "useful")
LEAST_ROWS = 12
CAPTION = "The readings, the curve through them, and the shaded part in which the best setting lies; dotted lines end the useful range of the screw."
ENDS = (
    (
        "Best with the screw all the way in, or nearly",
        "A fuel screw there means the pilot circuit is too rich: a smaller pilot jet, or more air. An air screw there means it is too lean.",
    ),
    (
        "Still better past the useful range outwards",
        "A fuel screw there means the pilot circuit is too lean: a larger pilot jet, or less air. An air screw there means it is too rich.",
    ),
    ("Best in between", "The pilot jet is right: leave it, and set the screw there."),
)


def cell(row: int, what: str) -> dict[str, Any]:
    """The name of one cell of the grid."""
    return {"kind": "idle", "row": row, "what": what}


def layout(state: State) -> Any:
    return frame(
        KEY,
        desk(
            KEY,
            link_fields.group(KEY, "The screw", KEYS, state),
            html.Fieldset(
                [
                    html.Legend(html.Span("Readings", className="tag ride")),
                    html.P(
                        "Idle stop untouched, engine warm; five readings or more, in any order. Leave the rest empty.",
                        className="quiet",
                    ),
                    html.Div(_grid(state), id=ids.part(KEY, "grid"), className=_grid_look(state)),
                    link_fields.filled(KEY, (*KEYS, "readings"), state),
                ],
                className="bench-fields",
            ),
        ),
        answer=(components.chart(KEY, "curve", shape="tall"),),
        after=(_ends(), _procedure()),
    )


def _grid_look(state: State) -> str:
    return "example-field" if "readings" in link_fields.exampled(state) else ""


def _grid(state: State) -> Any:
    pairs = fueling.readings(link_fields.text(state, "readings"))
    rows = max(LEAST_ROWS, len(pairs) + 2)
    pairs = [*pairs, *[("", "")] * (rows - len(pairs))]
    body = [
        html.Tr(
            [html.Th(str(n + 1), scope="row"), html.Td(_cell(n, "turns", turns)), html.Td(_cell(n, "speed", speed))]
        )
        for n, (turns, speed) in enumerate(pairs)
    ]
    head = [html.Th(text, scope="col") for text in ("No.", "Turns out", "Idle [rev/min]")]
    return html.Table([html.Thead(html.Tr(head)), html.Tbody(body)], className="table grid-table")


def _cell(row: int, what: str, value: str) -> Any:
    label = {"turns": "turns out", "speed": "engine speed"}[what]
    said = {"aria-label": f"Reading {row + 1}, {label}"}
    return form.text_field(cell(row, what), None, value, size="sm", inputProps={"inputMode": "decimal"}, **said)


def _ends() -> Any:
    return components.section(
        "What the best setting tells you",
        html.Dl([part for name, words in ENDS for part in (html.Dt(name), html.Dd(words))], className="pairs"),
    )


def _procedure() -> Any:
    steps = html.Ol([html.Li(one) for one in PROCEDURE], className="steps")
    return html.Details(
        [html.Summary("How to take the readings, step by step"), steps], className="fold card", open=True
    )


def _chart(told: fueling.BenchAnswer, v: View) -> Any:
    found = told.drawn["found"]
    y = axis("Idle", "engine speed", v.system)

    def pairs(some: Any) -> list[tuple[float, float]]:
        return [(turns, y.one(speed) or 0.0) for turns, speed in some]

    return fitted(
        pairs(found.used),
        pairs(found.left_out),
        pairs(found.curve()),
        x_title="Turns out",
        y_title=y.title,
        dark=v.dark,
        best=found.best_turns,
        limits=(found.low_turns, found.high_turns),
        useful=told.drawn["useful"],
    )


def written(turns: Sequence[Any], speeds: Sequence[Any]) -> tuple[str, list[int], dict[int, str]]:
    """The grid as the text of a link, the rows that are filled, and the errors by row."""
    pieces, filled, errors = [], [], {}
    for row, pair in enumerate(zip(turns, speeds, strict=True)):
        one, other = ("" if cell is None else re.sub(r"\s+", "", str(cell)).replace(",", ".") for cell in pair)
        if not one and not other:
            continue
        if not (one and other):
            errors[row] = "Fill in both, or neither."
        elif ":" in one + other or len(one + other) > 20:
            errors[row] = "Write plain numbers."
        else:
            pieces.append(f"{one}:{other}")
            filled.append(row)
    return " ".join(pieces), filled, errors


def _of_row(error: InputError, what: str, speed: Any) -> str:
    """The error of a reading; the library names an engine speed in its own unit, the rider typed another."""
    if what == "engine_speed" and isinstance(error.got, float):
        return f"“{speed}” rev/min is no idle speed. {error.fix}"
    return queries.words(error)


def judged(
    values: Mapping[str, Any],
    query: str,
    _: bool,
    filled: Mapping[str, Any] | None,
    turns: Sequence[Any],
    speeds: Sequence[Any],
) -> dict[str, Any]:
    """What the fields and the grid make of the link, and the errors beside them."""
    if not turns:
        raise PreventUpdate
    text, at_rows, rows = written(turns, speeds)
    was, given = from_query(query)[0], {**values, "readings": text}
    state, beside = link_fields.taken(form.touched(given, filled), was)
    stray = [beside.pop("readings")] if "readings" in beside else []
    if not (beside or rows or stray or link_fields.missing(state, KEY)):
        try:
            fueling.idle(state)
        except InputError as error:
            for one in each(error):
                at = re.fullmatch(r"readings\.(\w+)\[(\d+)\]", one.where)
                if at:
                    row = at_rows[int(at[2])]
                    rows[row] = _of_row(one, at[1], speeds[row])
                elif one.where in ("useful", "mixture.useful_turns"):
                    beside["useful"] = queries.words(one)
                else:
                    stray.append(f"The readings {one.problem}. {one.fix}" if one.where == "readings" else str(one))
    wrong = bool(beside or rows or stray)
    return {
        **form.standing(list(values), beside, stray, dimmed=True),
        **form.moved(state, query, given, wrong=wrong),
        "cells": [rows.get(n) for n in range(len(turns))],
        "dim": "page dim" if wrong else "page",
        "look": _grid_look(was if wrong else state),
    }


def refilled(state: State, filled: Mapping[str, Any]) -> dict[str, Any]:
    """What the fields and the grid hold for a link; a grid that holds it already stays under the rider's hands."""
    held = {key: link_fields.shown(state, key) for key in (*KEYS, "readings")}
    return {
        "values": {key: held[key] for key in KEYS},
        "grid": no_update if held["readings"] == filled.get("readings") else _grid(state),
        "filled": held,
        "look": _grid_look(state),
    }


def register(app: Dash) -> None:
    groups = {"The screw": KEYS, "Readings": ("readings",)}
    answered(app, KEY, [Chart(name="curve", caption=CAPTION, draw=_chart)], fueling.idle, groups)
    turns, speeds = ({"kind": "idle", "row": ALL, "what": what} for what in ("turns", "speed"))
    grid = ids.part(KEY, "grid")
    form.register(
        app,
        KEY,
        KEYS,
        judged,
        refilled,
        given={"turns": Input(turns, "value"), "speeds": Input(speeds, "value")},
        told={"cells": Output(turns, "error"), "look": Output(grid, "className", allow_duplicate=True)},
        grid=Output(grid, "children"),
        look=Output(grid, "className"),
    )


LEAD = "Turns out and idle speed, read at several settings: the top of the curve is the best setting, and where it lies says whether the pilot jet is right."
SECTION = Section(key=KEY, title="Where to set the mixture screw", lead=LEAD, layout=layout, register=register)
