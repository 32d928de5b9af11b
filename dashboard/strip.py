"""The strip that stays in view: what counts, now and planned, and the teeth to try, beside every control."""

from __future__ import annotations

from typing import Any

from dash import ClientsideFunction, Dash, Input, Output, State, html

from dashboard import display, ids, queries
from dashboard.pages.page import View, view
from dashboard.static_html import static_html
from ridesim.answers import Figure

# the question, its figure, and what it is called in few words
FIGURES = (
    ("speeds", "cruise_rpm", "At cruise"),
    ("pull", "first_force", "Pull in first"),
    ("pull", "roll_on", "Roll-on"),
    ("standing_run", "top", "Top speed"),
    ("chain", "links", "Chain links"),
)
SPROCKETS = {"front": "Front", "rear": "Rear"}


def part(name: str) -> str:
    return ids.part("strip", name)


def layout() -> html.Section:
    """The strip, with a button less and one more for each sprocket."""
    teeth = [_teeth(key, name) for key, name in SPROCKETS.items()]
    return html.Section(
        [html.Div(id=part("figures"), className="strip-figures"), html.Div(teeth, className="strip-teeth")],
        className="strip",
        **{"aria-label": "Now and planned"},
    )


def _teeth(key: str, name: str) -> html.Div:
    def button(sign: str, word: str) -> html.Button:
        said = f"One tooth {word}, {name.lower()} sprocket, planned"
        return html.Button(sign, id=part(f"{key}-{word}"), className="plain", **{"aria-label": said})

    return html.Div([html.Span(name), button("−", "less"), html.Output(id=part(key)), button("+", "more")])


def _figure(question: str, key: str, name: str, v: View) -> html.Div:
    pair = queries.pair(question, v.state)
    now, planned = (answer.figures.get(key) for answer in (pair.now, pair.planned))
    was, unit = _words(now, v.system)
    will, unit = _words(planned, v.system)
    before = None if was == will else html.Span(f"{was} → ", className="now")
    value = [
        before,
        html.Span(will, className="" if was == will else "planned"),
        html.Span(f" {unit}", className="unit"),
    ]
    return html.Div([html.Dt(name), html.Dd(value)])


def _words(figure: Figure | None, system: str) -> tuple[str, str]:
    """A figure and its unit."""
    number, _, unit = ("unknown" if figure is None else display.figure_words(figure, system)).partition(" ")
    return number, unit


def shown(v: View) -> Any:
    """The figures of both set-ups; those of an example say so."""
    rows = [_figure(*one, v) for one in FIGURES]
    example = html.Span("Example", className="tag example") if v.state.own is None else None
    return static_html([example, html.Dl(rows)])


def register(app: Dash) -> None:
    """The callbacks of the strip."""

    @app.callback(
        output={
            "figures": Output(part("figures"), "children"),
            **{key: Output(part(key), "children") for key in SPROCKETS},
        },
        inputs={"query": Input(ids.QUERY, "data")},
    )
    def show(query: str | None) -> dict[str, Any]:
        v = view(query, "light")
        front, rear = queries.planned(v.state).bike.teeth or ("—", "—")  # a shaft has none
        return {"figures": shown(v), "front": str(front), "rear": str(rear)}

    for key in SPROCKETS:
        app.clientside_callback(
            ClientsideFunction(namespace="ridesim", function_name="tooth"),
            Output(ids.field(f"planned-{key}"), "value", allow_duplicate=True),
            Input(part(f"{key}-less"), "n_clicks"),
            Input(part(f"{key}-more"), "n_clicks"),
            State(ids.field(f"planned-{key}"), "value"),
            prevent_initial_call=True,
        )
