"""The garage: builds with their history, compared, brought back, carried as files."""

from __future__ import annotations

from typing import Any

from dash import Dash, Input, Output, html, no_update
from dash import State as Held
from dash.exceptions import PreventUpdate

from dashboard import components, ids, queries
from dashboard.forms import form
from dashboard.pages.garage import garage_cards
from dashboard.pages.garage.garage_files import WHOLE
from dashboard.pages.page import Section, pressed, writes
from dashboard.queries import garage
from dashboard.url_state import State, from_query, garage_text, put, to_query
from ridesim.errors import InputError

KEY = "garage"
SECTIONS = ("says", "bikes", "archive", "history")
TAKE_BACK = "Undo does not reach the garage: to go back, restore the revision before it in the history below."
LEAD = "Every revision you save is kept, with its note and its trials. Nothing is ever deleted."


def part(name: str) -> str:
    return ids.part(KEY, name)


def layout(state: State) -> Any:
    return garage_cards.behind_door(
        KEY,
        components.slot(KEY, "says", className="says", role="status"),
        html.P(id=part("told"), className="told", role="status"),
        _save(state),
        components.section("Bikes", components.slot(KEY, "bikes"), _carry()),
        components.section("History of the bike that is open", components.slot(KEY, "history")),
        components.section("Compare two revisions", _pick(state), components.slot(KEY, "diff")),
        html.Details([html.Summary("The archive"), components.slot(KEY, "archive")], className="fold card"),
    )


def _save(state: State) -> html.Section:
    name = queries.build(state).record.name
    new = form.text_field(
        part("name"), "Name of the bike", name[:120], "while the open build is not in the garage", debounce=False
    )
    note = form.text_field(part("note"), "Note", hint="what was changed, in your words", debounce=False)
    button = html.Button("Save the open build", id=part("save"), className="button main")
    quiet = html.P("The set-up under Now is saved with it.", className="quiet")
    return components.section(
        "Save",
        html.Div([html.Div(new, id=part("naming")), note], className="grid-fields"),
        html.Div([button, quiet], className="row-buttons"),
    )


def _carry() -> html.Div:
    upload = form.upload(part("upload"), "Add a bike from a file", ".json,application/json", garage.LARGEST_UPLOAD)
    whole = html.A("Download a backup of the whole garage", href=WHOLE, download="", className="button")
    return html.Div(
        [upload, whole, html.Span("A .json file of up to 1.4 MB.", className="quiet")], className="row-buttons"
    )


def _pick(state: State) -> html.Div:
    return html.Div(
        [
            form.choice_field(part(which), label, (), getattr(state.fields, which), searchable=True, clearable=True)
            for which, label in (("old", "Older"), ("new", "Newer"))
        ],
        className="grid-fields wide",
    )


def _wrong(error: InputError) -> dict[str, Any]:
    """The errors of saving beside their fields; what belongs to none is told above."""
    found, stray = form.errors_of(error, lambda where: "name" if where == "bike" else where, ("name", "note"))
    return {"name": found.get("name"), "note": found.get("note"), "told": " ".join(stray)}


def register(app: Dash) -> None:
    _show(app)
    _save_it(app)
    garage_cards.acts(app, "garage-do", KEY, done)
    _compare(app)

    @app.callback(
        output={
            "told": Output(part("told"), "children", allow_duplicate=True),
            "kept": Output(part("kept"), "data", allow_duplicate=True),
        },
        inputs={"contents": Input(part("upload"), "contents"), "name": Held(part("upload"), "filename")},
        prevent_initial_call=True,
    )
    def take_in(contents: str | None, name: str | None) -> dict[str, Any]:
        if contents is None:
            raise PreventUpdate
        try:
            found = garage.take_in(contents, name)
        except InputError as error:
            return {"told": str(error), "kept": no_update}
        new = f"{found.revisions} new revisions, {found.trials} new trials, {found.logs} new logs"
        return {"told": " ".join([f"Added: {found.bike}, {new}.", *found.notes]), "kept": f"{name} {found}"}


def _show(app: Dash) -> None:
    @app.callback(
        output={name: Output(part(name), "children") for name in SECTIONS}
        | {
            "choices": [Output(part(which), "data") for which in ("old", "new")],
            "naming": Output(part("naming"), "hidden"),
        },
        inputs={"query": Input(ids.QUERY, "data"), "kept_now": Input(part("kept"), "data")},
    )
    def show(query: str | None, kept_now: str | None) -> dict[str, Any]:
        if query is None or garage_text.path() is None:
            raise PreventUpdate
        state = from_query(query)[0]
        shelf = garage.shelf(state)
        return {
            "says": garage_cards.says(shelf),
            "bikes": garage_cards.bikes(shelf, state),
            "archive": garage_cards.archived(shelf),
            "history": garage_cards.history(shelf, state),
            "choices": [garage_cards.choices(shelf)] * 2,
            "naming": shelf.revision is not None,
        }


def _save_it(app: Dash) -> None:
    @app.callback(
        output={
            "link": Output(ids.LINK, "data", allow_duplicate=True),
            "kept": Output(part("kept"), "data"),
            "told": Output(part("told"), "children"),
            "name": Output(part("name"), "error"),
            "note": Output(part("note"), "error"),
        },
        inputs={
            "clicks": Input(part("save"), "n_clicks"),
            "name": Held(part("name"), "value"),
            "note": Held(part("note"), "value"),
            "query": Held(ids.QUERY, "data"),
        },
        prevent_initial_call=True,
    )
    def save(clicks: int | None, name: str | None, note: str | None, query: str | None) -> dict[str, Any]:
        pressed(clicks)
        try:
            saved, state = garage.save(from_query(query)[0], name, note)
        except InputError as error:
            return {"link": no_update, "kept": no_update} | _wrong(error)
        passed = len(saved.passed_over)
        told = f"Saved as revision {saved.number} of {saved.bike}."
        if saved.number > 1:
            told += f" {TAKE_BACK}"
        if passed:
            told += f" Meanwhile {'another revision was' if passed == 1 else f'{passed} other revisions were'} saved: all are kept, see the history."
        return {"link": to_query(state), "kept": saved.id, "told": told, "name": None, "note": None}


def done(what: str, row_id: str, state: State) -> dict[str, Any]:
    """Do one thing to one row, and say so."""
    if what == "restore":
        saved, shown = garage.restore(state, row_id)
        told = f"Revision {saved.number} of {saved.bike} is the newest now: {saved.note}. {TAKE_BACK}"
        return {"told": told, "link": to_query(shown)}
    name = garage.set_archived(row_id, away=what == "archive")
    return {"told": f"{name} is in the archive, with all its history." if what == "archive" else f"{name} is back."}


def _compare(app: Dash) -> None:
    @writes(app, Input(part("old"), "value"), Input(part("new"), "value"))
    def pick(state: State, old: str | None, new: str | None) -> State:
        return put(put(state, "old", old), "new", new)

    @app.callback(Output(part("diff"), "children"), Input(ids.QUERY, "data"))
    def differs(query: str | None) -> Any:
        asked = from_query(query)[0].fields
        if garage_text.path() is None or not (asked.old and asked.new):
            return html.P("Choose two revisions.", className="quiet")
        try:
            return garage_cards.differs(*garage.compared(asked.old, asked.new))
        except InputError as error:
            return html.P(str(error), className="told bad")


SECTION = Section(key=KEY, title="Bikes and their history", lead=LEAD, layout=layout, register=register)
