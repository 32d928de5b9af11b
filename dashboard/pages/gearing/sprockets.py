"""Which sprockets: every combination held to what the rider needs, one of them picked, and the pair for a wanted engine speed."""

from __future__ import annotations

from types import SimpleNamespace
from typing import Any

import dash_ag_grid as dag
from dash import ClientsideFunction, Dash, Input, Output, dcc, html, no_update
from dash import State as Held

from dashboard import components, display, ids, queries
from dashboard.forms import form, limits_card, link_fields
from dashboard.pages.page import INPUTS, Section, View, drawn, view, writes
from dashboard.queries import selection, selection_rows
from dashboard.static_html import static_html
from dashboard.url_state import State, from_query, put
from dashboard.url_state.fields import SPECS
from ridesim.errors import InputError
from ridesim.plots import charts
from ridesim.selection import CHECKS, MOST_COMPARED, Verdict, indistinguishable, name, verdict_words
from ridesim.selection import words as choice_words

KEY = "sprockets"
DECIDE, WISHES = "decide", ("need-wish", "need-sure")
CAPTION = (
    "Every set-up by the two figures you trade. Diamonds are the best trade-offs: no other pair is better in both. Circles meet your limits, "
    "crosses miss one; the larger marks are the two set-ups. Choose a point, or a row of the table, and it is the planned pair."
)
MOST_ALIKE = 8  # pairs that are shown at once
SAID = ("says", "chosen", "notes")
WANTED = ("wanted-says", "pairs", "working", "assumed", "cautions")


def _id(name: str) -> str:
    return ids.part(KEY, name)


def layout(state: State) -> Any:
    if queries.loaded(state).record.final_drive.teeth is None:
        return html.P(
            "A shaft drives the rear wheel: there are no sprockets to choose.", className="says", id=_id("page")
        )
    return html.Div(
        [
            *(dcc.Store(id=_id(name)) for name in ("drawn", "listed", "settled", "rested", "point")),
            components.slot(KEY, "verdict", className="says", role="status"),
            _wishes(state),
            limits_card.layout(state),
            components.slot(KEY, "says"),
            components.chart(KEY, "choice", shape="tall"),
            components.slot(KEY, "chosen", role="status"),
            _table_card(),
            components.slot(KEY, "alike", role="status"),
            _wanted_card(state),
            *components.foot(KEY),
        ],
        className="page",
        id=_id("page"),
    )


def _wishes(state: State) -> html.Div:
    """What decides among the pairs that meet every limit."""
    fields = [form.field(ids.part(DECIDE, key), SPECS[key], link_fields.shown(state, key)) for key in WISHES]
    trouble = html.Div(id=ids.part(DECIDE, "trouble"), role="alert", className="stray")
    return html.Div(
        [form.grid(*fields), trouble, link_fields.filled(DECIDE, WISHES, state)],
        id=ids.part(DECIDE, "page"),
        className="page",
    )


def _table_card() -> html.Section:
    """Every combination: too many for a plain table, which the browser would lay out cell by cell."""
    grid = dag.AgGrid(
        id=_id("grid"),
        rowData=[],
        columnDefs=[{"field": "pair", "headerName": "Pair"}],  # a head without a column is no head to a screen reader
        getRowId="params.data.id",
        defaultColDef={"sortable": True, "resizable": True, "wrapHeaderText": True, "autoHeaderHeight": True},
        dashGridOptions={
            "rowSelection": {"mode": "singleRow", "checkboxes": False, "enableClickSelection": False},
            "suppressPaginationPanel": True,
            "ensureDomOrder": True,
        },
        eventListeners={name: ["takeRow(params, setEventData)"] for name in ("cellKeyDown", "rowClicked")},
        style={"height": "420px"},
    )
    return components.section(
        "Every set-up",
        html.P("Choose a row, or press Enter on it, and it is planned on every page.", className="quiet"),
        grid,
        html.Details(
            [
                html.Summary(id=_id("missed")),
                html.P("At the end of the table, the nearest miss first.", className="quiet"),
            ],
            className="fold",
            id=_id("fold"),
        ),
    )


def _wanted_card(state: State) -> html.Section:
    return components.section(
        "For one engine speed",
        form.text_field(
            _id("wanted"),
            "Wanted engine speed",
            state.limits_form.revs or "",
            "in the top gear, at the cruising speed",
            placeholder=queries.wanted_words(state),
            w=240,
        ),
        components.slot(KEY, "wanted-says", role="status", className="wanted"),
        components.slot(KEY, "pairs"),
    )


def _best(choice: Any, v: View) -> Any:
    columns, rows = selection_rows.best_table(choice, v.system)
    more = len(choice.unbeaten) - len(rows)
    title = "Best trade-offs" + (f", the first {len(rows)}; {more} more in the table below" if more > 0 else "")
    return components.plain_table(columns, rows, v.system, title)


def _chosen(picked: Any) -> Any:
    """What to order for what is planned, and why it falls if it does."""
    verdict = (
        "It misses: " + "; ".join(picked.falls) + "."
        if picked.falls
        else "It meets every limit and is one of the best trade-offs."
        if picked.best
        else "It meets every limit."
    )
    head = f"Fitted now: {picked.name}" if picked.alike else f"For {picked.name}"
    parts = [html.H3(head), html.P(verdict, className="say small")]
    if not picked.alike:
        parts += [
            html.H4("To order"),
            html.Ul([html.Li(components.sentence(text)) for text in picked.order], className="plain-list"),
            html.H4("Before the chain is cut"),
            html.Ul([html.Li(components.sentence(text)) for text in CHECKS], className="plain-list"),
        ]
    return static_html(html.Section(parts, className="card", **{"aria-label": head}))


def _decided(found: Verdict, system: str, others: tuple[str, ...] = ()) -> Any:
    """The verdict: its sentence, and what stands behind it."""
    parts: list[Any] = [html.P(verdict_words.sentence(found, system), className="say")]
    for title, lines in verdict_words.behind(found, system, others):
        if lines:
            parts += [
                html.H3(title, className="minor"),
                html.Ul([html.Li(components.sentence(line)) for line in lines], className="plain-list"),
            ]
    return static_html(html.Section(parts, **{"aria-label": "The verdict"}))


def _alike(choice: Any, system: str) -> Any:
    """Which of the best trade-offs the inputs leave too open to tell apart, two by two."""
    pairs = [[name(choice, one.n) for one in both] for both in indistinguishable(choice)]
    if not pairs:
        return None
    by = " or ".join(goal.label_in(system) for goal in choice.goals)
    some = (
        f"the first {MOST_COMPARED} of the best trade-offs"
        if len(choice.unbeaten) > MOST_COMPARED
        else "the best trade-offs"
    )
    lead = f"Of {some}, these cannot be told apart by {by} within what the inputs leave open:"
    lines = [html.Li(" and ".join(pair)) for pair in pairs]
    parts: list[Any] = [html.H3("Too close to call"), html.P(lead), html.Ul(lines[:MOST_ALIKE], className="alike")]
    if len(lines) > MOST_ALIKE:
        more = html.Summary(f"And {len(lines) - MOST_ALIKE} more")
        parts.append(html.Details([more, html.Ul(lines[MOST_ALIKE:], className="alike")], className="fold"))
    return static_html(html.Section(parts, className="card notes"))


def _tokens(state: State) -> dict[str, str]:
    """What a drawn choice is known by: itself, the heads of its table, and the combination picked in it."""
    planned = selection.planned(state)
    return {
        "choice": selection.token(state),
        "heads": selection.token(state, heads=True),
        "picked": "" if planned is None else selection.name(planned),
    }


def _answered(v: View, before: dict[str, Any] | None) -> dict[str, Any]:
    """All but the long table; what the browser has already is not sent again."""
    choice, now = selection.choice(v.state), _tokens(v.state)
    same = now["heads"] == (before or {}).get("heads")
    fitted, planned = selection.now(v.state), selection.planned(v.state)
    planned = None if planned == fitted else planned
    drawing = charts.choices(choice, fitted, planned, picks=selection.names(choice), **v.look)
    return {
        "choice": drawn(drawing, no_update if before else CAPTION, _best(choice, v)),
        "said": {
            "says": static_html(html.P(choice_words.sentence(choice, v.system), className="quiet")),
            "chosen": _chosen(selection.picked(v.state)),
            "notes": components.noted([SimpleNamespace(notes=choice.notes_in(v.system))], v.system),
        },
        "hints": dict.fromkeys(limits_card.HINTED, no_update) if same else limits_card.placeholders(v.state),
        "drawn": now,
    }


def _listed(v: View, before: dict[str, Any] | None, *, misses: bool) -> dict[str, Any]:
    """The long table, which follows the sentence and the drawing, its misses folded away as long as anything meets the limits."""
    choice, now, was = selection.choice(v.state), _tokens(v.state), before or {}
    now["choice"] += " with misses" * misses
    same, meeting = now["heads"] == was.get("heads"), int(choice.held.meets.sum())
    return {
        "missed": f"{len(choice.crossing) - meeting} that miss a limit",
        "no_fold": meeting in (0, len(choice.crossing)),
        "grid": {
            "rowData": no_update
            if same and now["choice"] == was.get("choice")
            else selection_rows.rows(choice, v.system, misses=misses),
            "columnDefs": no_update if same else selection_rows.heads(choice, v.system),
            "selectedRows": no_update if now == was else {"ids": [now["picked"]] if now["picked"] else []},
        },
        "listed": now,
    }


def _unanswered(error: InputError) -> dict[str, Any]:
    """A link whose needs cannot be answered: why, and nothing else changes."""
    return {
        "choice": components.chart_kept(),
        "hints": dict.fromkeys(limits_card.HINTED, no_update),
        "said": {**dict.fromkeys(SAID, no_update), "says": static_html(html.P(str(error), className="say small"))},
        "drawn": no_update,
    }


def _wanted(answer: Any, v: View) -> dict[str, Any]:
    return {
        "wanted-says": static_html(html.P(display.say(answer, v.system))),
        "pairs": [components.plain_table(t.columns, t.rows, v.system, t.title) for t in answer.tables],
        "working": components.working([answer], True, v.system),
        "assumed": components.assumed([answer], v.system),
        "cautions": components.cautions([answer]),
    }


def register(app: Dash) -> None:
    limits_card.register(app)
    link_fields.register(app, DECIDE, WISHES, selection.verdict, {"sure": "need-sure"})
    _register_choice(app)
    _register_wanted(app)
    _register_picks(app)

    @app.callback(
        Output(_id("alike"), "children"),
        Input(_id("rested"), "data"),
        Held(ids.QUERY, "data"),
        prevent_initial_call=True,
    )
    def apart(rested: str | None, query: str | None) -> Any:
        state = view(query, rested and "light").state
        return _alike(selection.choice(state), state.units)


def _register_choice(app: Dash) -> None:
    @app.callback(
        output={
            "choice": components.chart_places(KEY, "choice"),
            "said": {name: Output(_id(name), "children") for name in SAID},
            "hints": {key: Output(_id(key), "placeholder") for key in limits_card.HINTED},
            "drawn": Output(_id("drawn"), "data"),
        },
        inputs={**INPUTS, "before": Held(_id("drawn"), "data")},
    )
    def show(query: str | None, theme: str | None, before: dict[str, Any] | None) -> dict[str, Any]:
        v = view(query, theme)
        try:
            return _answered(v, before)
        except InputError as error:
            return _unanswered(error)

    @app.callback(
        output={
            "grid": {name: Output(_id("grid"), name) for name in ("rowData", "columnDefs", "selectedRows")},
            "missed": Output(_id("missed"), "children"),
            "no_fold": Output(_id("fold"), "hidden"),
            "listed": Output(_id("listed"), "data"),
        },
        inputs={
            "now": Input(_id("drawn"), "data"),
            "folds": Input(_id("missed"), "n_clicks"),
            "query": Held(ids.QUERY, "data"),
            "before": Held(_id("listed"), "data"),
        },
    )
    def show_table(now: Any, folds: int | None, query: str | None, before: dict[str, Any] | None) -> dict[str, Any]:
        return _listed(view(query, "light" if now else None), before, misses=(folds or 0) % 2 == 1)

    @app.callback(
        Output(_id("verdict"), "children"),
        Input(_id("drawn"), "data"),
        Held(ids.QUERY, "data"),
        prevent_initial_call=True,
    )
    def decide(drawn: dict[str, Any] | None, query: str | None) -> Any:
        v = view(query, "light" if drawn else None)
        found = selection.verdict(v.state)
        return _decided(found, v.system, selection.other_ways(v.state, found))

    app.clientside_callback(
        ClientsideFunction(namespace="ridesim_sprockets", function_name="rest"),
        Input(_id("drawn"), "data"),
        Held(_id("rested"), "data"),
    )


def _register_wanted(app: Dash) -> None:
    @app.callback(
        output={
            "parts": {name: Output(_id(name), "children") for name in WANTED},
            "error": Output(_id("wanted"), "error"),
            "hint": Output(_id("wanted"), "placeholder"),
        },
        inputs={
            "settled": Input(_id("settled"), "data"),
            "wanted": Input(_id("wanted"), "value"),
            "query": Held(ids.QUERY, "data"),
        },
    )
    def show_wanted(settled: str | None, wanted: str | None, query: str | None) -> dict[str, Any]:
        v = view(query, settled and "light")
        hint = queries.wanted_words(v.state)
        answer, error = queries.wanted(v.state, wanted or hint)
        parts = components.kept(*WANTED) if answer is None else _wanted(answer, v)
        return {"parts": parts, "error": error or None, "hint": hint}

    @writes(app, Input(_id("wanted"), "value"))
    def keep_wanted(state: State, wanted: str | None) -> State | None:
        if wanted and queries.wanted(state, wanted)[0] is None:
            return None
        return put(state, "need-revs", wanted or None)

    @app.callback(Output(_id("wanted"), "value"), Input(ids.LINK, "data"), prevent_initial_call=True)
    def refill_wanted(link: str | None) -> str:
        return from_query(link)[0].limits_form.revs or ""


def _register_picks(app: Dash) -> None:
    app.clientside_callback(
        ClientsideFunction(namespace="ridesim_sprockets", function_name="point"),
        Output(_id("point"), "data"),
        Input(_id("choice-graph"), "clickData"),
        prevent_initial_call=True,
    )
    for source, key in ((Input(_id("point"), "data"), "name"), (Input(_id("grid"), "eventData"), "data")):

        @writes(app, source, to=ids.LINK)
        def take(state: State, told: dict[str, Any] | None, key: str = key) -> State | None:
            name = (told or {}).get(key)
            return selection.pick(state, str(name)) if name else None


SECTION = Section(
    key=KEY,
    title="Which sprockets?",
    lead="Every pair you can get, with the tires and tunes to consider, checked against what you need at today's load and ride.",
    layout=layout,
    register=register,
)
