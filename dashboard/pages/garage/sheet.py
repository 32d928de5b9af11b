"""The decision on one page, for the wall of the garage: printed by the browser, or taken away as a PDF."""

from __future__ import annotations

from typing import Any

from dash import ClientsideFunction, Dash, Input, Output, State, dcc, html

from dashboard import components, ids, queries
from dashboard.pages.page import INPUTS, Section, drawn, pressed, view
from dashboard.url_state import State as Looked
from dashboard.url_state import from_query
from ridesim.plots import charts

KEY = "sheet"
PAPERS = {"pdf-a4": "A4", "pdf-letter": "letter"}
CAPTION = "Wheel force over road speed, gear by gear."


def layout(state: Looked) -> Any:
    return html.Div(
        [
            html.Div(
                [
                    html.Button("Print", id=ids.part(KEY, "print"), className="button main"),
                    html.Button("PDF, A4", id=ids.part(KEY, "pdf-a4"), className="button"),
                    html.Button("PDF, US letter", id=ids.part(KEY, "pdf-letter"), className="button"),
                    dcc.Download(id=ids.part(KEY, "download")),
                    dcc.Store(id=ids.part(KEY, "printed")),
                ],
                className="buttons unprinted",
            ),
            html.Div(
                [
                    components.slot(KEY, "head"),
                    components.slot(KEY, "figures"),
                    components.chart(KEY, "force", shape="low", printed=True),
                    components.slot(KEY, "lists"),
                ],
                className="paper card",
            ),
        ],
        className="page",
    )


def _list(title: str, texts: Any, kind: str = "") -> Any:
    return components.listed(title, texts, kind) if texts else None


def _head(page: Any) -> list[Any]:
    names = [html.P([html.Span("Now", className="tag now"), " ", page.now])]
    if page.planned:
        names.append(html.P([html.Span("Planned", className="tag planned"), " ", page.planned]))
    return [
        html.H3(page.title),
        *names,
        _list("What differs", page.differs),
        _list("In words", page.sentences, "say-list"),
    ]


def _figures(page: Any) -> Any:
    two = bool(page.planned)
    heads = ("Figure", "Now", "Planned", "Change", "Verdict") if two else ("Figure", "Value")
    rows = [(x.label, x.now, x.planned, x.change, x.verdict) if two else (x.label, x.now) for x in page.lines]
    title = "Figures that decide"
    return components.row_table(title, heads, rows, numbers=range(1, min(len(heads), 4)), caption=title)


def register(app: Dash) -> None:
    @app.callback(
        output={name: Output(ids.part(KEY, name), "children") for name in ("head", "figures", "lists")}
        | {"force": components.chart_places(KEY, "force")},
        inputs=INPUTS,
    )
    def show(query: str | None, theme: str | None) -> dict[str, Any]:
        v = view(query, theme)
        page, pair = queries.sheet(v.state), queries.pair("pull", v.state)
        return {
            "head": _head(page),
            "figures": _figures(page),
            "force": drawn(
                charts.pull(pair.now, pair.planned, **v.look),
                CAPTION,
                components.twins(pair.now, pair.planned, v.system),
            ),
            "lists": [
                _list("Note", page.notes[:6]),
                _list("Take care", page.cautions),
                _list("Assumed", page.assumptions),
            ],
        }

    for button, paper in PAPERS.items():

        @app.callback(
            Output(ids.part(KEY, "download"), "data", allow_duplicate=True),
            Input(ids.part(KEY, button), "n_clicks"),
            State(ids.QUERY, "data"),
            prevent_initial_call=True,
        )
        def take(clicks: int | None, query: str | None, paper: str = paper) -> Any:
            pressed(clicks)
            name, content = queries.sheet_pdf(from_query(query)[0], paper)
            return dcc.send_bytes(content, name, type="application/pdf")

    app.clientside_callback(
        ClientsideFunction(namespace="ridesim", function_name="print"),
        Output(ids.part(KEY, "printed"), "data"),
        Input(ids.part(KEY, "print"), "n_clicks"),
        prevent_initial_call=True,
    )


LEAD = "Both set-ups, the figures that decide and what to look after, on one page for the wall of the garage."
SECTION = Section(key=KEY, title="The decision on one sheet", lead=LEAD, layout=layout, register=register)
