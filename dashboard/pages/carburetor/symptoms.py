"""Which part of the carburetor to change for what the engine says at a throttle opening, and which to leave alone."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any

from dash import Dash, Input, Output, html
from dash.exceptions import PreventUpdate

from dashboard import components, ids
from dashboard.display import axis
from dashboard.forms import link_fields
from dashboard.pages.carburetor import answered, bench_cards
from dashboard.pages.page import Page, View, drawn, view
from dashboard.queries import fueling
from dashboard.url_state import State
from ridesim.errors import InputError
from ridesim.plots.bands import bands

KEY = "symptoms"
CAPTION = (
    "How much each part matters, from shut to full: the bands overlap, because the parts hand over gradually. "
    "The upright line is the opening you look at; the part that is meant there has the heavier line."
)


def layout(state: State) -> Any:
    return bench_cards.frame(
        KEY,
        "Which part, for this symptom?",
        "The throttle opening at which it runs wrong says which part of the carburetor is meant, and which is not.",
        link_fields.desk(
            KEY, link_fields.group(KEY, "The symptom", fueling.SYMPTOM_KEYS, state), html.Div(id=ids.part(KEY, "signs"))
        ),
        html.Section(
            [html.H2("What to do"), components.slot(KEY, "todo")], className="card", **{"aria-label": "What to do"}
        ),
        components.chart(KEY, "bands", tall=True),
    )


def _chart(told: fueling.Told, v: View) -> Any:
    d = told.drawn
    x, y = axis("Throttle opening", "percent", v.system), axis("Share of the mixture", "percent", v.system)
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


def _drawn(told: fueling.Told, v: View) -> dict[str, Any]:
    return {"bands": drawn(_chart(told, v), CAPTION, answered.tables(told, v.system))}


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
    link_fields.register(app, KEY, fueling.SYMPTOM_KEYS, fueling.symptom, {"throttle_opening": "opening"})
    answered.register(app, KEY, ("bands",), fueling.symptom, _drawn)

    @app.callback(
        output={"todo": Output(ids.part(KEY, "todo"), "children"), "signs": Output(ids.part(KEY, "signs"), "children")},
        inputs={"query": Input(ids.QUERY, "data"), "theme": Input(ids.THEME, "data")},
    )
    def more(query: str | None, theme: str | None) -> dict[str, Any]:
        try:
            d = fueling.symptom(view(query, theme).state).drawn
        except InputError:
            raise PreventUpdate from None
        return {"todo": _todo(d["told"]), "signs": _signs(d["signs"])}


PAGE = Page(key=KEY, path="/symptoms", name="Symptoms", layout=layout, register=register)
