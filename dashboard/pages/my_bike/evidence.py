"""What was measured on the bike: its readings, what each changed, and what to measure next."""

from __future__ import annotations

from typing import Any

from dash import ALL, Dash, Input, Output, ctx, dcc, html, no_update
from dash import State as Held
from dash.exceptions import PreventUpdate

from dashboard import components, ids
from dashboard.forms import form, reading_form
from dashboard.pages.page import INPUTS, Section, View, drawn, pressed, view, writes
from dashboard.queries import evidence
from dashboard.security.payloads import Typed
from dashboard.static_html import static_html
from dashboard.url_state import State, from_query, to_query
from ridesim.answers import text
from ridesim.errors import InputError
from ridesim.evidence import FittedErrors, report
from ridesim.evidence.answers import sentence
from ridesim.plots.tolerances import Moved, tolerances
from ridesim.statements import in_units

KEY = "evidence"
LEAD = "Weigh it, roll it out, time it: every reading makes the figures of your bike surer, and those that do not fit are named."
CAPTION = (
    "Every figure with a tolerance: 0 is the figure as written, 1 the end of its tolerance. A shorter band is surer."
)
MOST_DRAWN = 10  # figures in the chart; the table has all


def part(name: str) -> str:
    return ids.part(KEY, name)


def layout(state: State) -> html.Div:
    kinds = {kind: words for kind, (words, _) in reading_form.KINDS.items()}
    wide = {"className": "wide-field"}
    chart = html.Div(components.chart(KEY, "moved", shape="tall"), id=part("drawn"), hidden=True)
    matters = form.choice_field(
        part("matters"), "The figure that matters to you", evidence.matters(state.units), "power_in_hand", **wide
    )
    return html.Div(
        [
            components.slot(KEY, "says", className="says", role="status"),
            components.section("Readings", components.slot(KEY, "list")),
            components.section(
                "Add a reading",
                form.grid(form.choice_field(part("kind"), "What you measured", kinds, placeholder="Choose", **wide)),
                html.Div(id=part("form"), className="stack"),
                html.Div(id=part("trouble"), role="alert", className="stray"),
                html.Div(
                    html.Button("Add this reading", id=part("add"), className="button main"),
                    id=part("adding"),
                    className="row-buttons",
                    hidden=True,
                ),
                dcc.Store(id=part("formed")),
                kind="card desk-card",
            ),
            chart,
            components.section("What to measure next", form.grid(matters), components.slot(KEY, "next")),
        ],
        className="page",
    )


def _fits(found: FittedErrors, n: int) -> str:
    return "not used" if found.z[n] is None else "does not fit" if n in found.conflicts else "fits"


def _readings(found: FittedErrors, v: View) -> Any:
    if not found.readings:
        return html.P("None yet.", className="quiet")
    rows = []
    for n, one in enumerate(found.readings):
        label = report.label(one, v.system)
        out = html.Button(
            "Take out",
            id={"kind": "reading-out", "n": n},
            className="plain",
            **{"aria-label": f"Take out reading {n + 1}, {label}"},
        )
        note = html.Small(one.note, className="between wrap") if one.note else None
        rows.append(
            (str(n + 1), [evidence.sentence_case(label), note], *report.shown(found, n, v.system), _fits(found, n), out)
        )
    heads = ("No.", "Reading", "Measured", "Worked out", "With the others", "")
    notes = report.notes(found, v.system)
    told = static_html(components.listed("Note", map(evidence.sentence_case, notes))) if notes else None
    return html.Div([components.row_table("Readings", heads, rows), told], className="stack")


def _moved(rows: tuple[evidence.Learnt, ...], v: View) -> dict[str, Any]:
    figure = tolerances(
        [Moved(label=one.label, shift=one.shift, width=one.width) for one in rows if one.taught][:MOST_DRAWN],
        x_title="Tolerance as written",
        dark=v.dark,
    )
    cells = [(one.label, one.before, one.after, f"{max(100 * (1 - one.width), 0.0):.0f} %") for one in rows]
    heads = ("Figure", "As written", "With the readings", "Narrower by")
    return drawn(figure, CAPTION, components.row_table("Figures and their tolerances", heads, cells, numbers=(1, 2, 3)))


def _next(state: State, figure: str) -> Any:
    try:
        found = evidence.worth_measuring(state.demo, state.own, figure, state.units)
    except InputError as error:
        return html.P(evidence.refusal(error), className="quiet")
    told = html.P(text.sentence(found, state.units), className="say small")
    cells = [[in_units(one, state.units) for one in row.values()] for row in found.tables[0].rows]
    if not cells:
        return told
    table = components.row_table(
        "What to measure next", ("Reading", "Would leave", "Narrower by"), cells, numbers=(1, 2)
    )
    notes = [evidence.sentence_case(in_units(note, state.units)) for note in found.notes]
    lists = components.listed("How to take them", notes), components.listed("Take care", found.cautions)
    return static_html(html.Div([told, table, *lists], className="stack"))


def register(app: Dash) -> None:
    _show(app)
    _form(app)
    _change(app)

    @app.callback(Output(part("next"), "children"), Input(ids.QUERY, "data"), Input(part("matters"), "value"))
    def worth(query: str | None, figure: str | None) -> Any:
        return _next(view(query, "light").state, figure or "power_in_hand")


def _show(app: Dash) -> None:
    @app.callback(
        output={name: Output(part(name), "children") for name in ("says", "list")}
        | {"moved": components.chart_places(KEY, "moved"), "hidden": Output(part("drawn"), "hidden")},
        inputs=INPUTS,
    )
    def show(query: str | None, theme: str | None) -> dict[str, Any]:
        v = view(query, theme)
        found, rows = evidence.fit(v.state), evidence.learnt(v.state)
        return {
            "says": [html.P(sentence(found, v.system), className="say")],
            "list": _readings(found, v),
            "moved": _moved(rows, v),
            "hidden": not any(one.taught for one in rows),
        }


def _form(app: Dash) -> None:
    @app.callback(
        output={
            "form": Output(part("form"), "children"),
            "formed": Output(part("formed"), "data"),
            "hidden": Output(part("adding"), "hidden"),
        },
        inputs={
            "kind": Input(part("kind"), "value"),
            "query": Input(ids.QUERY, "data"),
            "formed": Held(part("formed"), "data"),
        },
    )
    def fields(kind: str | None, query: str | None, formed: Any) -> dict[str, Any]:
        state = from_query(query)[0]
        tunes, gears = evidence.choices(state)
        mark = [kind, state.units, tunes, gears]
        if mark == formed:
            raise PreventUpdate
        if kind is None or kind not in reading_form.KINDS:
            return {"form": [], "formed": mark, "hidden": True}
        return {"form": reading_form.layout(kind, state.units, gears, tunes), "formed": mark, "hidden": False}


def _change(app: Dash) -> None:
    link = Output(ids.LINK, "data", allow_duplicate=True)
    fields = {"kind": "reading", "field": ALL}

    @app.callback(
        output={
            "link": link,
            "errors": Output(fields, "error"),
            "trouble": Output(part("trouble"), "children"),
            "kind": Output(part("kind"), "value"),
        },
        inputs={
            "clicks": Input(part("add"), "n_clicks"),
            "kind": Held(part("kind"), "value"),
            "values": Held(fields, "value"),
            "names": Held(fields, "id"),
            "query": Held(ids.QUERY, "data"),
        },
        prevent_initial_call=True,
    )
    def add(
        clicks: int | None, kind: str | None, values: list[Typed], names: list[dict[str, str]], query: str | None
    ) -> dict[str, Any]:
        pressed(clicks)
        return added(
            kind, {one["field"]: value for one, value in zip(names, values, strict=True)}, from_query(query)[0]
        )

    @writes(app, Input({"kind": "reading-out", "n": ALL}, "n_clicks"), to=ids.LINK)
    def take_out(state: State, clicks: list[int | None]) -> State:
        pressed(any(clicks) and ctx.triggered[0]["value"])
        return evidence.take_out(state, int(ctx.triggered_id["n"]))


def added(kind: str | None, given: dict[str, Any], state: State) -> dict[str, Any]:
    """The link with one more reading, or the errors at its fields."""
    try:
        new = evidence.add(state, reading_form.reading(kind or "", given, state.units))
    except InputError as error:
        found, stray = form.errors_of(error, reading_form.place, list(given))
        trouble = [html.P(one) for one in stray]
        return {"link": no_update, "errors": [found.get(key) for key in given], "trouble": trouble, "kind": no_update}
    return {"link": to_query(new), "errors": [None] * len(given), "trouble": None, "kind": None}


SECTION = Section(key=KEY, title="What was measured", lead=LEAD, layout=layout, register=register)
