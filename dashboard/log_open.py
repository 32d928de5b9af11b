"""Opening a log on a page and dragging a stretch out of it: what the browser keeps, and what stands in the two fields."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from dash import ClientsideFunction, Dash, Input, Output, State, ctx, no_update

from dashboard import logs
from dashboard.log_cards import HAND, STRETCH, part
from dashboard.pages.page import pressed
from ridesim.errors import InputError


def register(app: Dash, page: str, demo: str, *, which: str = "") -> None:
    """The callbacks of opening one log and of choosing a stretch of it."""

    def at(name: str) -> str:
        return part(page, which, name)

    app.clientside_callback(
        ClientsideFunction(namespace="ridesim_log", function_name="chosen"),
        Output(at("raw"), "data"),
        Output(at("open-error"), "children", allow_duplicate=True),
        Input(at("upload"), "contents"),
        State(at("upload"), "filename"),
        State(at("most"), "data"),
        prevent_initial_call=True,
    )

    @app.callback(
        output={
            "kept": Output(at("kept"), "data"),
            "error": Output(at("open-error"), "children"),
            "ends": [Output(at(name), "value") for name in STRETCH],
        },
        inputs={
            "raw": Input(at("raw"), "data"),
            "again": Input(at("again"), "n_clicks"),
            "hand": {name: State(at(f"hand-{name.replace(' ', '-')}"), "value") for name in HAND},
        },
        prevent_initial_call=True,
    )
    def open_log(raw: Any, again: int | None, hand: dict[str, str | None]) -> dict[str, Any]:
        pressed(bool(raw))
        return opened(raw, hand)

    for button, kept in (("demo", logs.demo(demo)), ("close", None)):
        _button(app, page, which, button, kept)

    @app.callback(
        output=[Output(at(name), "value", allow_duplicate=True) for name in STRETCH],
        inputs=[Input(at("log-graph"), "selectedData"), Input(at("whole"), "n_clicks")],
        prevent_initial_call=True,
    )
    def choose(selected: Any, clicks: int | None) -> list[Any]:
        return chosen(selected, whole=_last_pressed(at("whole")))


def _last_pressed(button: str) -> bool:
    return bool(ctx.triggered_id == button)


def _button(app: Dash, page: str, which: str, button: str, kept: Any) -> None:
    """A button that opens a log that comes along, or closes the one that is open."""

    @app.callback(
        output={
            "kept": Output(part(page, which, "kept"), "data", allow_duplicate=True),
            "error": Output(part(page, which, "open-error"), "children", allow_duplicate=True),
            "ends": [Output(part(page, which, name), "value", allow_duplicate=True) for name in STRETCH],
        },
        inputs={"clicks": Input(part(page, which, button), "n_clicks")},
        prevent_initial_call=True,
    )
    def press(clicks: int | None) -> dict[str, Any]:
        pressed(clicks)
        return {"kept": kept, "error": "", "ends": ["", ""]}


def opened(raw: Any, hand: Mapping[str, str | None]) -> dict[str, Any]:
    """What comes of a log that was chosen: kept by the browser when it reads well, else the reason."""
    stay = {"kept": no_update, "ends": [no_update, no_update]}
    if not isinstance(raw, Mapping):
        return stay | {"error": "The log did not arrive. Choose it again."}
    try:
        name = raw.get("name")
        kept = logs.opened(raw.get("contents"), name if isinstance(name, str) else None, hand)
    except InputError as error:
        return stay | {"error": in_fields(error)}
    return {"kept": kept, "error": "", "ends": ["", ""]}


def in_fields(error: InputError) -> str:
    """An error of reading, its mend told in the fields of the page."""
    text = str(error)
    cut = min((at for at in (text.find(" Tell it:"), text.find(" Choose with")) if at >= 0), default=-1)
    return text if cut < 0 else f"{text[:cut]} Say it under “Columns by hand” and read it again.{_among(text[cut:])}"


def _among(text: str) -> str:
    _, found, names = text.partition(" among ")
    return f" The columns are {names}" if found else ""


def chosen(selected: Any, *, whole: bool) -> list[Any]:
    """The two ends of the stretch that was dragged out of the chart."""
    if whole:
        return ["", ""]
    try:
        low, high = sorted(float(end) for end in selected["range"]["x"])
    except (KeyError, TypeError, ValueError):
        return [no_update, no_update]
    return [round(low, 1), round(high, 1)] if low < high else [no_update, no_update]
