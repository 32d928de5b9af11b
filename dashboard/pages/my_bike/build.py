"""The bike: its build file, field by field, as text, and its power curve."""

from __future__ import annotations

from dataclasses import asdict, replace
from secrets import token_hex
from typing import Any

from dash import ALL, MATCH, Dash, Input, Output, State, dcc, html, no_update
from dash.exceptions import PreventUpdate

from dashboard import components, ids, queries, uploads
from dashboard.forms import build_form, curve, form
from dashboard.pages.page import Section, pressed, view, writes
from dashboard.security.payloads import Typed, refuse
from dashboard.url_state import State as Looked
from dashboard.url_state import demos, from_query, to_query
from dashboard.url_state.fields import STANDARDS
from ridesim.errors import InputError

KEY = "bike"
# The fields are not laid out anew under the rider's hands. They stand beside the text they were laid out from, under a mark of their own,
# and what they tell is a change of that text; what was made of it last carries the same mark. So what comes late from fields that have
# gone, another build having been opened meanwhile, is never taken for what the new ones show.
LAID, FORMED = ids.part(KEY, "laid"), ids.part(KEY, "formed")
UNITS = ("N*m", "ft*lb", "kgf*m", "kW", "hp", "PS")


def part(name: str) -> str:
    return ids.part(KEY, name)


def layout(state: Looked) -> Any:
    text = queries.build(state).text
    return html.Div(
        [
            html.P(id=part("said"), className="say", role="status"),
            _source(state),
            dcc.Store(id=FORMED),
            dcc.Download(id=part("download")),
            components.section(
                "Field by field",
                html.Div(id=part("stray"), role="alert", className="stray"),
                html.Div(_form(text), id=part("form")),
            ),
            _curve(state),
            html.Details([html.Summary("The file itself"), _text(text)], className="fold card"),
        ],
        className="page",
    )


def _form(text: str) -> list[Any]:
    return [dcc.Store(id=LAID, data={"mark": token_hex(8), "text": text}), *build_form.layout(text)]


def _text_of_fields(laid: dict[str, str] | None, formed: dict[str, str] | None) -> str:
    """The text that the fields show: what was made of them last, else what they were laid out from."""
    theirs = formed if formed and laid and formed.get("mark") == laid.get("mark") else laid
    return (theirs or {}).get("text", "")


def _source(state: Looked) -> Any:
    return components.section(
        "Where it comes from",
        html.Div(
            [
                form.choice_field(
                    part("demo"),
                    "A bike that comes along (invented)",
                    demos(),
                    None if state.own else state.demo,
                    placeholder="your own is shown",
                ),
                html.Div(
                    [
                        html.Span("Your own build file", className="field-label", id=part("upload-label")),
                        form.upload(part("upload"), "Open a .toml file", ".toml,text/plain", uploads.LARGEST),
                    ]
                ),
                html.Button("Save as a file", id=part("save"), className="button"),
            ],
            className="sources",
        ),
        html.Div(id=part("upload-error"), role="alert", className="error"),
    )


def _text(text: str) -> Any:
    return html.Div(
        [
            form.code(part("text"), "Build file (TOML)", text, rows=(10, 40)),
            html.Button("Use this text", id=part("use-text"), className="button"),
        ],
        className="stack",
    )


def _curve(state: Looked) -> Any:
    sheet = curve.of(state)
    return components.section(
        "Power curve",
        dcc.Store(id=part("curve"), data=asdict(sheet)),
        html.P(
            "One line for each point: engine speed in rev/min, then torque or power. Paste it from a spreadsheet, open a CSV file, or fill in the grid; it is drawn as you type.",
            className="quiet",
        ),
        html.Div(
            [
                form.text_field(part("tune"), "Tune", sheet.name, "a new name makes a new tune", debounce=False),
                form.choice_field(part("unit"), "Unit of the figures", _units(sheet), sheet.unit),
                form.choice_field(part("at"), "Measured at", ("crank", "wheel"), sheet.measured_at),
                form.choice_field(
                    part("standard"),
                    "Corrected to",
                    _standards(sheet),
                    sheet.standard,
                    clearable=True,
                    placeholder="not said",
                ),
            ],
            className="grid-fields",
        ),
        html.Div(
            [
                html.Div(
                    [
                        form.code(part("points"), "Points", sheet.text, rows=(8, 24), debounce=300),
                        form.upload(part("csv"), "Open a CSV file", ".csv,.txt,text/csv", uploads.LARGEST),
                    ],
                    className="stack",
                ),
                html.Details(
                    [html.Summary("As a grid"), html.Div(curve.grid(sheet.text), id=part("grid"))],
                    className="fold",
                    open=True,
                ),
                components.chart(KEY, "curve"),
            ],
            className="curve-desk",
        ),
        html.Button("Use this curve", id=part("use-curve"), className="button main"),
        html.Div(id=part("curve-error"), role="alert", className="error"),
    )


def _units(sheet: curve.Sheet) -> list[str]:
    return list(dict.fromkeys((sheet.unit, *UNITS)))


def _standards(sheet: curve.Sheet) -> list[str]:
    return list(dict.fromkeys((*filter(None, [sheet.standard]), *STANDARDS)))


def _opened(build: Any, state: Looked) -> str:
    """The link of another build, with the ride and the units as they were and no set-up of the old bike."""
    ride = {name: getattr(state, name) for name in ("cruise", "grade", "head_wind", "surface", "units")}
    return to_query(Looked(own=build.text, **ride))


def _kept(build: Any, state: Looked) -> str:
    """The link of the same build written anew."""
    return to_query(replace(state, own=build.text))


def register(app: Dash) -> None:
    link, other = (Output(name, "data", allow_duplicate=True) for name in (ids.LINK, ids.REPLACE))
    query = State(ids.QUERY, "data")
    fields = {"kind": "build", "path": ALL}

    @app.callback(
        output={
            "said": Output(part("said"), "children"),
            "form": Output(part("form"), "children"),
            "text": Output(part("text"), "value"),
            "demo": Output(part("demo"), "value"),
        },
        inputs={"query": Input(ids.QUERY, "data"), "laid": State(LAID, "data"), "formed": State(FORMED, "data")},
    )
    def follow(query: str | None, laid: dict[str, str] | None, formed: dict[str, str] | None) -> dict[str, Any]:
        state = view(query, "light").state
        build = queries.build(state)
        return {
            "said": f"{build.name}: {len(build.record.gearbox.gears)} gears, tunes {', '.join(build.record.tune)}.",
            "form": no_update if build.text == _text_of_fields(laid, formed) else _form(build.text),
            "text": build.text,
            "demo": None if state.own else state.demo,
        }

    @app.callback(
        output={
            "link": link,
            "formed": Output(FORMED, "data"),
            "errors": Output(fields, "error"),
            "stray": Output(part("stray"), "children"),
        },
        inputs={
            "values": Input(fields, "value"),
            "names": State(fields, "id"),
            "query": query,
            "laid": State(LAID, "data"),
            "formed": State(FORMED, "data"),
        },
        prevent_initial_call=True,
    )
    def edit(
        values: list[Typed],
        names: list[dict[str, str]],
        query: str | None,
        laid: dict[str, str] | None,
        formed: dict[str, str] | None,
    ) -> dict[str, Any]:
        state = view(query, "light").state
        try:
            was = queries.build_of(state.demo, _text_of_fields(laid, formed))
        except InputError:
            refuse("the fields show no build")
        if not all(n["path"] in build_form.ENTRIES for n in names):
            refuse("a field is none of the form")
        build, errors = build_form.edited(was, {n["path"]: v for n, v in zip(names, values, strict=True)})
        return {
            "link": no_update if build is was else _kept(build, state),
            "formed": no_update if build is was else {"mark": (laid or {}).get("mark"), "text": build.text},
            "errors": [errors.get(n["path"]) for n in names],
            "stray": build_form.elsewhere(errors, [n["path"] for n in names]),
        }

    @app.callback(
        Output({"kind": "section", "section": MATCH}, "children"),
        Input({"kind": "opener", "section": MATCH}, "n_clicks"),
        State({"kind": "opener", "section": MATCH}, "id"),
        State({"kind": "section", "section": MATCH}, "children"),
        query,
        prevent_initial_call=True,
    )
    def unfold(clicks: int | None, name: dict[str, str], there: list[Any], query: str | None) -> Any:
        pressed(clicks)
        state = view(query, "light").state
        return no_update if there else build_form.fields(name["section"], queries.build(state).text)

    @writes(app, Input(part("demo"), "value"), to=ids.REPLACE)
    def choose(state: Looked, demo: str | None) -> Looked | None:
        if demo is None or (state.own is None and demo == state.demo):
            return None
        return Looked(demo=demo, units=state.units)

    @app.callback(
        output={"link": other, "error": Output(part("upload-error"), "children")},
        inputs={
            "contents": Input(part("upload"), "contents"),
            "name": State(part("upload"), "filename"),
            "query": query,
        },
        prevent_initial_call=True,
    )
    def upload(contents: str | None, name: str | None, query: str | None) -> dict[str, Any]:
        pressed(contents is not None)
        build, error = uploads.build_of(contents, name)
        return {"link": no_update if build is None else _opened(build, view(query, "light").state), "error": error}

    @app.callback(
        output={"link": link, "error": Output(part("text"), "error")},
        inputs={"clicks": Input(part("use-text"), "n_clicks"), "text": State(part("text"), "value"), "query": query},
        prevent_initial_call=True,
    )
    def use_text(clicks: int | None, text: str | None, query: str | None) -> dict[str, Any]:
        pressed(clicks)
        build, error = uploads.parsed(text or "")
        return {"link": no_update if build is None else _kept(build, view(query, "light").state), "error": error}

    @app.callback(Output(part("download"), "data"), Input(part("save"), "n_clicks"), query, prevent_initial_call=True)
    def save(clicks: int | None, query: str | None) -> dict[str, Any]:
        state = from_query(query)[0]
        return {
            "content": queries.build(state).text,
            "filename": queries.build_file_name(state),
            "type": "text/plain",
        }

    _register_curve(app)


def _register_curve(app: Dash) -> None:
    cells = {"kind": "point", "row": ALL, "column": ALL}

    @app.callback(
        output={
            "laid": Output(part("curve"), "data"),
            "name": Output(part("tune"), "value"),
            "units": Output(part("unit"), "data"),
            "unit": Output(part("unit"), "value"),
            "measured_at": Output(part("at"), "value"),
            "standards": Output(part("standard"), "data"),
            "standard": Output(part("standard"), "value"),
            "text": Output(part("points"), "value", allow_duplicate=True),
        },
        inputs={"query": Input(ids.QUERY, "data"), "laid": State(part("curve"), "data")},
        prevent_initial_call="initial_duplicate",
    )
    def follow(query: str | None, laid: dict[str, str | None] | None) -> dict[str, Any]:
        """Another build's curve goes into the fields; while the build still has the one they began from, they are the rider's own."""
        state = view(query, "light").state
        if curve.stands(queries.build(state), laid or {}):
            raise PreventUpdate
        sheet = curve.of(state)
        fields = asdict(sheet)
        return {**fields, "laid": fields, "units": _units(sheet), "standards": _standards(sheet)}

    @app.callback(
        output={
            **components.chart_places(KEY, "curve"),
            "error": Output(part("points"), "error"),
            "grid": Output(part("grid"), "children"),
        },
        inputs={
            "text": Input(part("points"), "value"),
            "unit": Input(part("unit"), "value"),
            "theme": Input(ids.THEME, "data"),
            "cells": State(cells, "value"),
        },
    )
    def draw(text: str | None, unit: str | None, theme: str | None, cells: list[Typed]) -> dict[str, Any]:
        return curve.drawn(text or "", unit, theme == "dark", cells)

    @app.callback(
        output={"text": Output(part("points"), "value"), "error": Output(part("curve-error"), "children")},
        inputs={
            "contents": Input(part("csv"), "contents"),
            "cells": Input(cells, "value"),
            "text": State(part("points"), "value"),
            "name": State(part("csv"), "filename"),
        },
        prevent_initial_call=True,
    )
    def fill(contents: str | None, cells: list[Typed], text: str | None, name: str | None) -> dict[str, Any]:
        told, error = curve.filled(contents, name, cells, text or "")
        return {"text": no_update if told == text else told, "error": error}

    @app.callback(
        output={
            "link": Output(ids.LINK, "data", allow_duplicate=True),
            "error": Output(part("curve-error"), "children", allow_duplicate=True),
        },
        inputs={
            "clicks": Input(part("use-curve"), "n_clicks"),
            "given": {name: State(part(name), "value") for name in ("tune", "unit", "at", "standard", "points")},
            "query": State(ids.QUERY, "data"),
        },
        prevent_initial_call=True,
    )
    def use(clicks: int | None, given: dict[str, Typed], query: str | None) -> dict[str, Any]:
        pressed(clicks)
        state, error = curve.put(from_query(query)[0], given)
        return {"link": no_update if error else to_query(state), "error": error}


SECTION = Section(
    key=KEY,
    title="What the answers are computed from",
    lead="Type figures with their units, as they stand in the manual or on the scale; what you leave empty is assumed, and said.",
    layout=layout,
    register=register,
)
