"""Which part of the carburetor to change for what the engine says at a throttle opening, and which to leave alone."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any

from dash import Dash, Input, Output, html
from dash.exceptions import PreventUpdate

from dashboard import cards, fields, ids
from dashboard.display import axis
from dashboard.pages import bench
from dashboard.pages.page import Page, View, drawn, view
from dashboard.state import State
from dashboard.workshop import ask_bench, bench_cards
from ridesim.errors import InputError
from ridesim.plots.bands import bands

KEY = "symptoms"
CAPTION = (
    "How much say each part has, from shut to full: the bands overlap, because the parts hand over gradually. "
    "The upright line is the opening you look at; the part that is meant there has the heavier line."
)


def layout(state: State) -> Any:
    return bench_cards.frame(
        KEY,
        "Which part, for this symptom?",
        "The throttle opening at which it runs wrong says which part of the carburetor is meant, and which is not.",
        fields.desk(
            KEY, fields.group(KEY, "The symptom", ask_bench.SYMPTOM_KEYS, state), html.Div(id=ids.part(KEY, "signs"))
        ),
        html.Section(
            [html.H2("What to do"), cards.slot(KEY, "todo")], className="card", **{"aria-label": "What to do"}
        ),
        cards.chart(KEY, "bands", tall=True),
    )


def _chart(told: ask_bench.Told, v: View) -> Any:
    d = told.drawn
    x, y = axis("Throttle opening", "percent", v.system), axis("Say in the mixture", "percent", v.system)
    shares = {name: y(share) for name, share in d["bands"].items()}
    return bands(
        x(d["opening"]),
        shares,
        x_title="Throttle opening",
        y_title=y.title,
        dark=v.dark,
        here=x.one(d["at"]) or 0.0,
        told=d["part"],
    )


def _drawn(told: ask_bench.Told, v: View) -> dict[str, Any]:
    return {"bands": drawn(_chart(told, v), CAPTION, bench.tables(told, v.system))}


def _todo(rows: Sequence[tuple[str, str]]) -> Any:
    return html.Dl([part for name, words in rows for part in (html.Dt(name), html.Dd(words))], className="pairs")


def _signs(signs: Mapping[str, Sequence[str]]) -> Any:
    lists = [
        html.Div([html.H3(f"Signs of {name}"), html.Ul([html.Li(one) for one in some])]) for name, some in signs.items()
    ]
    return html.Details(
        [html.Summary("Lean or rich? How it shows"), html.Div(lists, className="two")], className="fold"
    )


def register(app: Dash) -> None:
    fields.register(app, KEY, ask_bench.SYMPTOM_KEYS, ask_bench.symptom, {"throttle_opening": "opening"})
    bench.register(app, KEY, ("bands",), ask_bench.symptom, _drawn)

    @app.callback(
        output={"todo": Output(ids.part(KEY, "todo"), "children"), "signs": Output(ids.part(KEY, "signs"), "children")},
        inputs={"query": Input(ids.QUERY, "data"), "theme": Input(ids.THEME, "data")},
    )
    def more(query: str | None, theme: str | None) -> dict[str, Any]:
        try:
            d = ask_bench.symptom(view(query, theme).state).drawn
        except InputError:
            raise PreventUpdate from None
        return {"todo": _todo(d["told"]), "signs": _signs(d["signs"])}


PAGE = Page(key=KEY, path="/symptoms", name="Symptoms", layout=layout, register=register)
