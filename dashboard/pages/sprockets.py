"""Which sprockets: every pair near the ones fitted held to the rider's limits, and the pair for a wanted engine speed."""

from __future__ import annotations

from typing import Any

import dash_ag_grid as dag
import dash_mantine_components as dmc
from dash import Dash, Input, Output, dcc, html

from dashboard import ask, cards, display, ids
from dashboard.display import axis
from dashboard.figures.choices import Option, choices
from dashboard.pages.page import INPUTS, Page, View, drawn, outputs, view
from dashboard.state import State

KEY = "sprockets"
CAPTION = (
    "Every pair: engine speed at the cruising speed against wheel force in first. Diamonds are the pairs nothing else beats "
    "in both, circles meet your limits, crosses miss one; the table names them."
)
VERDICTS = {"best": "nothing beats it", "meets": "meets all", "falls": "misses a limit"}
PLACES = ("says", "wanted-says", "pairs", "working", "assumed", "notes", "cautions")


def layout(state: State) -> Any:
    return html.Article(
        [
            cards.page_head(
                KEY,
                "Which sprockets?",
                "Every pair near the ones fitted, with the tires, tune and load of now, held to what you ask of it.",
            ),
            cards.slot(KEY, "says", className="says", role="status"),
            cards.chart(KEY, "choice", tall=True),
            html.Section(
                [
                    html.H2("For one engine speed"),
                    dmc.TextInput(
                        id=ids.part(KEY, "wanted"),
                        label="Wanted engine speed",
                        description="in the top gear, at the cruising speed",
                        value=ask.wanted_words(state),
                        debounce=450,
                        autoComplete="off",
                        w=240,
                    ),
                    cards.slot(KEY, "wanted-says", role="status", className="wanted"),
                    cards.slot(KEY, "pairs"),
                ],
                className="card",
                **{"aria-label": "For one engine speed"},
            ),
            cards.folded(KEY, "working", "The working, step by step"),
            cards.folded(KEY, "assumed", "What was assumed"),
            cards.slot(KEY, "notes"),
            cards.slot(KEY, "cautions"),
        ],
        className="page",
    )


def _kind(candidate: Any) -> str:
    return "best" if candidate.unbeaten else "meets" if candidate.meets_limits else "falls"


def _drawing(choice: Any, v: View) -> Any:
    across, up = choice.goals[:2]
    x, y = (axis(goal.label.capitalize(), goal.reading, v.system) for goal in (across, up))
    bike = ask.now(v.state).bike
    options = [
        Option(
            x=x.one(c.figures[across.key]),
            y=y.one(c.figures[up.key]),
            name=f"{c.front}/{c.rear}",
            kind=_kind(c),
            own=(c.front, c.rear) == (bike.front_teeth, bike.rear_teeth),
        )
        for c in choice.candidates
    ]
    return choices(options, x_title=x.title, y_title=y.title, dark=v.dark)


def _table(choice: Any, v: View) -> Any:
    """Every pair: too many for a plain table, which the browser would lay out cell by cell."""
    goals = list(ask.goals().values())
    columns = [
        {"field": "pair", "headerName": "Pair", "pinned": "left", "width": 84},
        {"field": "verdict", "headerName": "Verdict", "width": 150},
        *({"field": g.key, "headerName": _head(g, v), "type": "numericColumn", "width": 150} for g in goals),
        {"field": "misses", "headerName": "Misses", "width": 420},
    ]
    rows = [
        {
            "pair": f"{c.front}/{c.rear}",
            "verdict": VERDICTS[_kind(c)],
            "misses": "; ".join(fall.says for fall in c.falls),
            **{g.key: display.rounded(c.figures[g.key], g.reading, v.system) for g in goals},
        }
        for c in (*choice.unbeaten, *(c for c in choice.candidates if not c.unbeaten))
    ]
    return dag.AgGrid(
        rowData=rows,
        columnDefs=columns,
        defaultColDef={"sortable": True, "resizable": True, "wrapHeaderText": True, "autoHeaderHeight": True},
        dashGridOptions={
            "suppressColumnVirtualisation": True,
            "suppressPaginationPanel": True,
        },
        style={"height": "420px"},
    )


def _head(goal: Any, v: View) -> str:
    unit = display.unit_of(goal.reading, v.system)
    return goal.label.capitalize() + (f" [{unit}]" if unit else "")


def _says(choice: Any, query: str) -> list[Any]:
    where = ["Your limits stand in the build: change them under ", dcc.Link("Bike", href=f"/bike{query}"), "."]
    return [html.P(choice.sentence, className="say"), html.P(where, className="quiet")]


def _wanted(answer: Any, v: View) -> dict[str, Any]:
    return {
        "wanted-says": html.P(display.say(answer, v.system)),
        "pairs": [cards.plain_table(t.columns, t.rows, v.system, t.title) for t in answer.tables],
        "working": cards.working([answer], True),
        "assumed": cards.assumed([answer]),
        "cautions": cards.cautions([answer]),
    }


def register(app: Dash) -> None:
    @app.callback(
        output={
            "choice": outputs(KEY, "choice")["choice"],
            "parts": {name: Output(ids.part(KEY, name), "children") for name in PLACES},
            "error": Output(ids.part(KEY, "wanted"), "error"),
        },
        inputs={**INPUTS, "wanted": Input(ids.part(KEY, "wanted"), "value")},
    )
    def show(query: str | None, theme: str | None, wanted: str | None) -> dict[str, Any]:
        v = view(query, theme)
        choice = ask.choice(v.state)
        answer, error = ask.wanted(v.state, wanted)
        parts = cards.kept(*PLACES) if answer is None else cards.kept(*PLACES) | _wanted(answer, v)
        parts |= {"says": _says(choice, query or ""), "notes": cards.noted([choice])}
        return {
            "choice": drawn(_drawing(choice, v), CAPTION, _table(choice, v)),
            "parts": parts,
            "error": error or None,
        }


PAGE = Page(key=KEY, path="/sprockets", name="Sprockets", layout=layout, register=register)
