"""Which sprockets give a wanted engine speed at a wanted road speed."""

from __future__ import annotations

from typing import Any

import dash_mantine_components as dmc
from dash import Dash, Input, Output, html

from dashboard import ask, cards, display, ids
from dashboard.pages.page import INPUTS, Page, view
from dashboard.state import State

KEY = "sprockets"


def layout(state: State) -> Any:
    return html.Article(
        [
            cards.page_head(
                KEY,
                "Which sprockets?",
                "Say what the engine should turn at your cruising speed, and see the pairs that come nearest.",
            ),
            html.Section(
                [
                    html.Div(
                        [
                            dmc.TextInput(
                                id=ids.part(KEY, "wanted"),
                                label="Wanted engine speed",
                                description="in the top gear, at the cruising speed",
                                value=ask.wanted_words(state),
                                debounce=450,
                                autoComplete="off",
                            ),
                        ],
                        className="grid-fields",
                    ),
                ],
                className="card",
                **{"aria-label": "What you want"},
            ),
            cards.slot(KEY, "says", className="says", role="status"),
            html.Section(
                [html.H2("Nearest pairs"), cards.slot(KEY, "pairs")],
                className="card",
                **{"aria-label": "Nearest pairs"},
            ),
            cards.folded(KEY, "working", "The working, step by step"),
            cards.folded(KEY, "assumed", "What was assumed"),
            cards.slot(KEY, "cautions"),
        ],
        className="page",
    )


def register(app: Dash) -> None:
    @app.callback(
        output={
            name: Output(ids.part(KEY, name), "children")
            for name in ("says", "pairs", "working", "assumed", "cautions")
        }
        | {"error": Output(ids.part(KEY, "wanted"), "error")},
        inputs={**INPUTS, "wanted": Input(ids.part(KEY, "wanted"), "value")},
    )
    def show(query: str | None, theme: str | None, wanted: str | None) -> dict[str, Any]:
        v = view(query, theme)
        answer, error = ask.wanted(v.state, wanted)
        if answer is None:
            return cards.kept("says", "pairs", "working", "assumed", "cautions") | {"error": error}
        return {
            "says": [html.P(display.say(answer, v.system), className="say")],
            "pairs": [
                cards.figure_table(answer.figures, v.system),
                *(cards.plain_table(t.columns, t.rows, v.system, t.title) for t in answer.tables),
            ],
            "working": cards.working([answer], True),
            "assumed": cards.assumed([answer]),
            "cautions": cards.cautions([answer]),
            "error": None,
        }


PAGE = Page(key=KEY, path="/sprockets", name="Sprockets", layout=layout, register=register)
