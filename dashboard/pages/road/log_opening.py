"""Opening logs on a page, taking them off again, and dragging a stretch out: what the browser keeps, and the two fields."""

from __future__ import annotations

from typing import Any

from dash import ALL, ClientsideFunction, Dash, Input, Output, State, ctx, no_update
from dash.exceptions import PreventUpdate

from dashboard import open_logs
from dashboard.forms.log_fields import STRETCH, part
from dashboard.pages.page import pressed
from dashboard.pages.road.log_section import LogCard, hand_id
from dashboard.pages.road.log_upload import HAND


def register(app: Dash, page: str, s: LogCard) -> None:
    """The callbacks of opening the logs of a section, of closing them, and of choosing a stretch."""

    def at(name: str) -> str:
        return part(page, s.which, name)

    ends = [Output(at(name), "value", allow_duplicate=True) for name in STRETCH]
    kept = Output(at("kept"), "data", allow_duplicate=True)

    app.clientside_callback(
        ClientsideFunction(namespace="ridesim_log", function_name="chosen"),
        kept,
        Output(at("open-error"), "children"),
        Output(at("reading"), "children"),
        Output(at("upload"), "contents"),
        *ends,
        Input(at("upload"), "contents"),
        Input(at("again"), "n_clicks"),
        State(at("upload"), "filename"),
        State(at("kept"), "data"),
        State(at("upload"), "id"),
        *(State(hand_id(page, s.which, name), "value") for name in HAND),
        prevent_initial_call=True,
    )

    @app.callback(
        output={"kept": kept, "error": Output(at("open-error"), "children", allow_duplicate=True), "ends": ends},
        inputs={"clicks": Input(at("demo"), "n_clicks"), "data": State(at("kept"), "data")},
        prevent_initial_call=True,
    )
    def demo(clicks: int | None, data: Any) -> dict[str, Any]:
        pressed(clicks)
        return instead(data, s.demo)

    @app.callback(
        output={"kept": kept, "ends": ends},
        inputs={
            "clicks": Input({"kind": "log-remove", "of": at("kept"), "n": ALL}, "n_clicks"),
            "data": State(at("kept"), "data"),
        },
        prevent_initial_call=True,
    )
    def remove(clicks: list[int | None], data: Any) -> dict[str, Any]:
        pressed(max((n or 0 for n in clicks), default=0))
        return removed(data, _which())

    @app.callback(
        output=ends,
        inputs=[Input(at("log-graph"), "selectedData"), Input(at("whole"), "n_clicks")],
        prevent_initial_call=True,
    )
    def choose(selected: Any, clicks: int | None) -> list[Any]:
        return chosen(selected, whole=bool(ctx.triggered_id == at("whole")))


def _which() -> int:
    """The log whose button was pressed."""
    if ctx.triggered_id is None:
        raise PreventUpdate
    return int(ctx.triggered_id["n"])


def instead(data: Any, demo: str) -> dict[str, Any]:
    """The log that comes along in place of those that were open; the stretch of another log goes with it."""
    entries = open_logs.entries(data)
    for one in entries:
        open_logs.close(one)
    return {"kept": [open_logs.demo(demo)], "error": "", "ends": ["", ""] if entries else [no_update, no_update]}


def removed(data: Any, n: int) -> dict[str, Any]:
    """The list without one log; with the last one goes the stretch that was taken out of it."""
    entries = open_logs.entries(data)
    if n < len(entries):
        open_logs.close(entries.pop(n))
    return {"kept": entries or None, "ends": [no_update, no_update] if entries else ["", ""]}


def chosen(selected: Any, *, whole: bool) -> list[Any]:
    """The two ends of the stretch that was dragged out of the chart."""
    if whole:
        return ["", ""]
    try:
        low, high = sorted(float(end) for end in selected["range"]["x"])
    except (KeyError, TypeError, ValueError):
        return [no_update, no_update]
    return [round(low, 1), round(high, 1)] if low < high else [no_update, no_update]
