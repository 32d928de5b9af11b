"""What stands around every page: the address, the two set-ups, units, theme, and what went wrong."""

from __future__ import annotations

import logging
import traceback
from collections.abc import Callable
from dataclasses import replace
from pathlib import Path
from typing import Any

import dash_mantine_components as dmc
from dash import ALL, MATCH, ClientsideFunction, Dash, Input, Output, State, dcc, html, no_update, set_props
from dash.exceptions import PreventUpdate
from werkzeug.exceptions import HTTPException

from dashboard import behind, ids, pages, queries, strip
from dashboard.forms import set_ups
from dashboard.pages.page import Page, inside, pressed, presses, room, room_title
from dashboard.security.payloads import Typed, refuse
from dashboard.static_html import Address, internal_link, static_html, static_layout
from dashboard.url_state import Problem, SetUp, from_query, to_query
from dashboard.url_state import State as Looked
from ridesim.errors import InputError, shown

log = logging.getLogger("dashboard")
STEEL = ["#eef3f6", "#dbe5eb", "#b5cad6", "#8badc0", "#6794ad", "#5085a2", "#42799a", "#336786", "#265b79", "#17567f"]
THEME = {
    "fontFamily": "system-ui, -apple-system, 'Segoe UI', Roboto, 'Liberation Sans', sans-serif",
    "colors": {"steel": STEEL},
    "primaryColor": "steel",
    "primaryShade": {"light": 9, "dark": 4},
    "defaultRadius": "sm",
    "respectReducedMotion": True,
}


def layout() -> Any:
    """The frame of the app."""
    return dmc.MantineProvider(
        [
            dcc.Location(id=ids.PLACE, refresh=False),
            dcc.Store(id=ids.LINK),
            dcc.Store(id=ids.REPLACE),
            Address(id=ids.QUERY),
            dcc.Store(id=ids.THEME),
            dcc.Store(id=ids.SINK),
            html.A("Skip to the answer", href=f"#{ids.MAIN}", className="skip"),
            html.A("Skip to the two set-ups", href=f"#{ids.SET_UPS}", className="skip"),
            static_layout(
                html.Header([html.Div([_brand(), _switches()], className="top-row"), _nav()], className="top")
            ),
            html.Div(id=ids.FAULT, role="alert", className="fault"),
            html.Div(id=ids.NOTICE, role="status", className="notice"),
            html.Div(
                [
                    html.Aside(_set_ups(), className="side", **{"aria-label": "Set-ups"}),
                    html.Main([strip.layout(), html.Div(id=ids.PAGE)], id=ids.MAIN, tabIndex=-1),
                ],
                className="desk",
                id=ids.DESK,
            ),
            static_layout(_foot()),
        ],
        id="provider",
        theme=THEME,
        forceColorScheme="light",
    )


def _brand() -> Any:
    mark = html.Span(className="mark-brand", **{"aria-hidden": "true"})
    return static_html(internal_link([mark, "ridesim"], "/", className="brand"))


def _foot() -> Any:
    return html.Footer(
        [
            "Figures are computed from what the build file says and what is assumed where it is silent. "
            "They advise; the maker's manual, local law and a qualified mechanic decide. ",
            internal_link("How we know", behind.PATH),
        ],
        className="foot",
    )


def _nav() -> Any:
    links = [html.Li(internal_link(page.name, page.path)) for page in pages.PAGES]
    return html.Nav(static_html(html.Ul(links)), **{"aria-label": "Pages"})


def _switches() -> Any:
    return html.Div(
        [
            html.Button("Undo", id=ids.UNDO, className="plain", title="Undo the last change (Ctrl+Z)", disabled=True),
            html.Button("Redo", id=ids.REDO, className="plain", title="Do it again (Ctrl+Shift+Z)", disabled=True),
            html.Button("Metric", id=ids.UNITS, className="plain", title="Change between metric and US units"),
            html.Button("Dark", id=ids.THEME_SWITCH, className="plain", title="Change between light and dark"),
            html.Button("Copy link", id=ids.COPY, className="plain"),
            html.Span(id=ids.COPIED, role="status", className="quiet"),
        ],
        className="switches",
    )


def _set_ups() -> Any:
    return html.Details(
        [
            html.Summary(html.Span("The two set-ups", id=ids.SUMMARY)),
            static_layout(html.Div(set_ups.layout(), className="fields")),
        ],
        id=ids.SET_UPS,
        open=True,
    )


def desk(page: Page) -> str:
    """How the page stands: beside the set-ups, or alone."""
    return "desk" if page.set_ups else "desk alone"


def opened(link: str | None) -> tuple[Looked, tuple[Problem, ...]]:
    """The state a link opens; what keeps the library from answering is left out, and told."""
    state, problems = from_query(link)
    found = queries.troubles(state)
    if not found:
        return state, problems
    if any(problem.key == "own" for problem in found) and state.own is not None:
        return Looked(units=state.units), (*problems, *found)
    plain = replace(state, now=SetUp(), planned=SetUp())
    told = (
        *problems,
        *(Problem(key=p.key, text=f"{p.key}: {p.text} The set-up stays as in the build file.") for p in found),
    )
    return (plain, told) if not queries.troubles(plain) else (Looked(units=state.units), told)


def summary(state: Looked) -> Any:
    """Both set-ups in a few words."""
    parts = []
    for kind, solved in (("now", queries.now(state)), ("planned", queries.planned(state))):
        bike = solved.bike
        words = f"{bike.drive} · {bike.rear_tire.marking.written} · {bike.tune}"
        parts.append(html.Span(words, className=f"brief {kind}"))
    return static_html(parts if not queries.alike(state) else parts[:1])


def fault(error: Exception) -> None:
    """Tell the rider of an error that no field stands for; a fault of the program is told as one."""
    if isinstance(error, PreventUpdate | HTTPException):
        raise error
    known = isinstance(error, InputError)
    if not known:
        log.error("a callback failed: %s", in_one_line(error))
    set_props(
        ids.FAULT,
        {"children": str(error) if known else "The program failed at this. What is drawn is the last good answer."},
    )


def in_one_line(error: Exception) -> str:
    """An error and the way to it, the innermost place first."""
    places = reversed(traceback.extract_tb(error.__traceback__))
    way = " < ".join(f"{Path(at.filename).name}:{at.lineno}" for at in places)
    return f"{type(error).__name__}: {shown(str(error), 200)} at {way}"


def register(app: Dash) -> None:
    """The callbacks of the frame."""

    @app.callback(
        output={
            "query": Output(ids.QUERY, "data"),
            "values": {key: Output(ids.field(key), "value") for key in ids.FIELDS},
            "data": {key: Output(ids.field(key), "data") for key in ("tune", "planned-tune", "surface")},
            "slides": {key: Output(ids.slider(key), "value") for key in set_ups.SLIDERS},
            "ends": {
                f"{key}-{name}": Output(ids.slider(key), name) for key in set_ups.SLIDERS for name in ("min", "max")
            },
            "notice": Output(ids.NOTICE, "children"),
            "summary": Output(ids.SUMMARY, "children"),
            "units": Output(ids.UNITS, "children"),
        },
        inputs={"link": Input(ids.LINK, "data")},
        prevent_initial_call=True,
    )
    def open_link(link: str | None) -> dict[str, Any]:
        state, problems = opened(link)
        return {
            "query": to_query(state),
            "values": set_ups.shown(state),
            "data": set_ups.choices(state),
            "slides": set_ups.slides(state),
            "ends": set_ups.slider_ends(state),
            "notice": [html.P(problem.text) for problem in problems],
            "summary": summary(state),
            "units": "Units: metric" if state.units == "metric" else "Units: US",
        }

    @app.callback(
        output={
            "query": Output(ids.QUERY, "data", allow_duplicate=True),
            "errors": {key: Output(ids.field(key), "error") for key in ids.FIELDS},
            "dim": Output(ids.MAIN, "className"),
            "fault": Output(ids.FAULT, "children"),
            "summary": Output(ids.SUMMARY, "children", allow_duplicate=True),
        },
        inputs={
            "values": {key: Input(ids.field(key), "value") for key in ids.FIELDS},
            "query": State(ids.QUERY, "data"),
            "dimmed": State(ids.MAIN, "className"),
        },
        prevent_initial_call=True,
    )
    def take(values: dict[str, Typed], query: str | None, dimmed: str | None) -> dict[str, Any]:
        state, problems = set_ups.taken(values, from_query(query)[0])
        told = to_query(state)
        new = not problems and told != query
        said = (
            problems or dimmed
        )  # where nothing is to be told and nothing was, nothing is sent: it costs the browser time
        if not (new or said):
            raise PreventUpdate
        return {
            "query": told if new else no_update,
            "summary": summary(state) if new else no_update,
            "errors": set_ups.errors(problems) if said else dict.fromkeys(ids.FIELDS, no_update),
            "dim": ("dim" if problems else "") if said else no_update,
            "fault": set_ups.elsewhere(problems) if said else no_update,
        }

    buttons: tuple[tuple[str, Callable[[Looked], Looked]], ...] = (
        (ids.UNITS, lambda s: replace(s, units="us" if s.units == "metric" else "metric")),
        (ids.SAME, lambda s: replace(s, planned=SetUp())),
        (ids.SWAP, set_ups.swapped),
        (ids.TAKE_OVER, lambda s: replace(s, now=s.planned_whole, planned=SetUp())),
    )
    for button, change in buttons:
        presses(app, button)(change)

    @app.callback(
        output={
            "link": Output(ids.LINK, "data", allow_duplicate=True),
            "errors": Output({"kind": "assumed", "path": ALL}, "error"),
        },
        inputs={
            "values": Input({"kind": "assumed", "path": ALL}, "value"),
            "names": State({"kind": "assumed", "path": ALL}, "id"),
            "query": State(ids.QUERY, "data"),
        },
        prevent_initial_call=True,
    )
    def mend(values: list[str | None], names: list[dict[str, str]], query: str | None) -> dict[str, Any]:
        state, errors = set_ups.mended(
            {n["path"]: v for n, v in zip(names, values, strict=True) if v}, from_query(query)[0]
        )
        return {
            "link": to_query(state) if any(values) and not any(errors.values()) else no_update,
            "errors": [errors.get(n["path"]) for n in names],
        }

    @app.callback(
        output={"page": Output(ids.PAGE, "children"), "desk": Output(ids.DESK, "className")},
        inputs={
            "path": Input(ids.PLACE, "pathname"),
            "query": State(ids.QUERY, "data"),
            "search": State(ids.PLACE, "search"),
            "anchor": State(ids.PLACE, "hash"),
        },
    )
    def turn(path: str | None, query: str | None, search: str | None, anchor: str | None) -> dict[str, Any]:
        page = pages.at(path)
        shown = page.layout(_looked_at(query, search), (anchor or "").lstrip("#"))
        return {"page": shown, "desk": desk(page)}

    @app.callback(
        Output(room(MATCH), "children"),
        Input(room_title(MATCH), "n_clicks"),
        State(room_title(MATCH), "id"),
        State(room(MATCH), "children"),
        State(ids.QUERY, "data"),
        State(ids.PLACE, "search"),
        prevent_initial_call=True,
    )
    def unfold(clicks: int | None, name: dict[str, str], there: Any, query: str | None, search: str | None) -> Any:
        section = pages.SECTIONS.get(name["room"]) or refuse("there is no such section")
        pressed(None if there else clicks)
        return inside(section, _looked_at(query, search))

    _clientside(app)
    strip.register(app)
    for section in pages.SECTIONS.values():
        section.register(app)


def _looked_at(query: str | None, search: str | None) -> Looked:
    """The state that is looked at; until it has been read, the one that the address asks for."""
    return from_query(search if query is None else query)[0]


def _clientside(app: Dash) -> None:
    def ours(name: str, namespace: str = "ridesim") -> ClientsideFunction:
        return ClientsideFunction(namespace=namespace, function_name=name)

    history = "ridesim_history"
    for button, function in (
        (ids.UNDO, ours("undo", history)),
        (ids.REDO, ours("redo", history)),
        (ids.UNITS, ours("units")),
    ):
        app.clientside_callback(function, Input(button, "n_clicks"), prevent_initial_call=True)
    app.clientside_callback(
        ours("replace", history),
        Output(ids.LINK, "data", allow_duplicate=True),
        Input(ids.REPLACE, "data"),
        State(ids.QUERY, "data"),
        prevent_initial_call=True,
    )
    app.clientside_callback(
        ours("open_address"),
        Output(ids.LINK, "data", allow_duplicate=True),
        Input(ids.PLACE, "search"),
        State(ids.QUERY, "data"),
        prevent_initial_call="initial_duplicate",
    )
    app.clientside_callback(
        ours("arrive"), Output(ids.SINK, "data"), Input(ids.PAGE, "children"), State(ids.PLACE, "pathname")
    )
    app.clientside_callback(
        ours("theme"),
        Output(ids.THEME, "data"),
        Output("provider", "forceColorScheme"),
        Output(ids.THEME_SWITCH, "children"),
        Input(ids.THEME_SWITCH, "n_clicks"),
    )
    app.clientside_callback(
        ours("copy"), Output(ids.COPIED, "children"), Input(ids.COPY, "n_clicks"), prevent_initial_call=True
    )
    app.clientside_callback(ours("narrow"), Output(ids.SET_UPS, "open"), Input(ids.PLACE, "id"))
    for key in set_ups.SLIDERS:
        app.clientside_callback(
            ours("slide"),
            Input(ids.slider(key), "value"),
            State(ids.field(key), "value"),
            State(ids.slider(key), "id"),
            State(ids.QUERY, "data"),
            prevent_initial_call=True,
        )
