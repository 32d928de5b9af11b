"""What the garage page shows of bikes, revisions and differences."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from typing import Any

from dash import ALL, Dash, Input, Output, ctx, dcc, html, no_update
from dash import State as Held

from dashboard import components, ids
from dashboard.pages.garage.garage_files import BIKE
from dashboard.pages.page import pressed
from dashboard.queries.garage import Shelf
from dashboard.static_html import internal_link
from dashboard.url_state import State, from_query, garage_text, to_query
from ridesim.errors import InputError
from ridesim.garage.changes import Difference
from ridesim.garage.records import GarageBike, Revision


def when(iso: str) -> str:
    """A time in UTC as it is read.

    >>> when("2031-05-04T09:30:00.123Z")
    '2031-05-04 09:30 UTC'
    """
    return f"{iso[:16].replace('T', ' ')} UTC"


def behind_door(page: str, *inside: Any) -> html.Div:
    """A section that needs the garage: while that is closed it says so, and hides the rest."""
    closed = garage_text.path() is None
    shut = [html.Strong("The garage is closed. "), garage_text.CLOSED, " ", garage_text.OPEN_IT]
    return html.Div(
        [
            html.P(shut, className="say") if closed else None,
            html.Div([*inside], className="page", id=ids.part(page, "page"), hidden=closed),
            dcc.Store(id=ids.part(page, "kept")),
        ],
        className="page",
    )


def do(kind: str, what: str, row_id: str, label: str, said: str) -> html.Button:
    """A button that does one thing to one row; `said` is its whole name for a screen reader."""
    return html.Button(label, id={"kind": kind, "do": what, "id": row_id}, className="plain", **{"aria-label": said})


def acts(app: Dash, kind: str, page: str, done: Callable[[str, str, State], dict[str, Any]]) -> None:
    """The callback of the buttons of a kind: `done` does one thing to one row, and tells it; what it tells nothing of stays."""

    @app.callback(
        output={
            "link": Output(ids.REPLACE, "data", allow_duplicate=True),
            "kept": Output(ids.part(page, "kept"), "data", allow_duplicate=True),
            "told": Output(ids.part(page, "told"), "children", allow_duplicate=True),
        },
        inputs={
            "clicks": Input({"kind": kind, "do": ALL, "id": ALL}, "n_clicks"),
            "query": Held(ids.QUERY, "data"),
        },
        prevent_initial_call=True,
    )
    def act(clicks: list[int | None], query: str | None) -> dict[str, Any]:
        pressed(any(clicks) and ctx.triggered[0]["value"])
        what, row_id = ctx.triggered_id["do"], ctx.triggered_id["id"]
        try:
            told = done(what, row_id, from_query(query)[0])
        except InputError as error:
            return {**components.kept("link", "kept"), "told": str(error)}
        return {"link": no_update, "kept": f"{what} {row_id} {told['told']}", **told}


def opens(path: str, state: State, label: str, said: str) -> html.A:
    """A link to a page with a state set."""
    return internal_link(label, path, to_query(state), className="button", title=said)


def says(shelf: Shelf) -> list[Any]:
    """How the build that is open stands to the garage."""
    if shelf.revision is None:
        return [
            html.P(
                "The build that is open is not in the garage. Save it as a new bike, or open one below.",
                className="say",
            )
        ]
    one = shelf.revision
    last = one.number == shelf.history[0].number
    place = f"{one.bike} is open at revision {one.number}{', the newest' if last else f' of {shelf.history[0].number}'}"
    told = (
        f"{place}, and has been edited: save it to keep the changes." if shelf.edited else f"{place}, as it was saved."
    )
    return [html.P(told, className="say"), *meanwhile(shelf.meanwhile)]


def meanwhile(newer: Sequence[Revision]) -> list[Any]:
    """That another window saved in the meantime."""
    if not newer:
        return []
    names = ", ".join(f"{one.number} ({one.note or 'no note'}, {when(one.saved_at)})" for one in reversed(newer))
    return [
        html.P(
            f"Newer than the one that is open: revision {names}, saved since, here or in another window. "
            "Saving keeps both; nothing is lost.",
            className="meanwhile",
        )
    ]


def bikes(shelf: Shelf, state: State) -> Any:
    """The bikes in use."""
    if not shelf.bikes:
        return html.P("No bike is kept yet.", className="quiet")
    return _table(
        "The bikes in the garage",
        ("Bike", "What to do", "Revisions", "Trials", "Logs"),
        [
            (one.name, _bike_buttons(one, state, shelf), str(one.revisions), str(one.trials), str(one.logs))
            for one in shelf.bikes
        ],
    )


def _bike_buttons(bike: GarageBike, state: State, shelf: Shelf) -> list[Any]:
    here = shelf.revision is not None and shelf.revision.bike == bike.name
    newest = shelf.newest[bike.name]
    way = State(own=garage_text.KeptText(newest.text, newest.id), units=state.units, fields=state.fields)
    return [
        html.Span("open", className="tag now") if here else opens("/garage", way, "Open", f"Open {bike.name}"),
        html.A(
            "Download",
            href=f"{BIKE}{bike.id}",
            download="",
            className="button",
            **{"aria-label": f"Download {bike.name} as a file"},
        ),
        do("garage-do", "archive", bike.id, "Archive", f"Archive {bike.name}"),
    ]


def archived(shelf: Shelf) -> Any:
    """The bikes in the archive."""
    if not shelf.archived:
        return html.P("Nothing is in the archive.", className="quiet")
    rows = [
        (
            one.name,
            [do("garage-do", "back", one.id, "Bring back", f"Bring back {one.name}")],
            str(one.revisions),
            str(one.trials),
        )
        for one in shelf.archived
    ]
    return _table("The archive", ("Bike", "What to do", "Revisions", "Trials"), rows)


def history(shelf: Shelf, state: State) -> Any:
    """Every revision of the bike that is open, the newest first."""
    if not shelf.history:
        return html.P("Open a bike to see its history.", className="quiet")
    numbers = {one.id: one.number for one in shelf.history}
    return _table(
        "History",
        ("No.", "What to do", "Note", "Saved"),
        [
            (str(one.number), _revision_buttons(one, state, shelf), _note(one, numbers), when(one.saved_at))
            for one in shelf.history
        ],
    )


def _note(one: Revision, numbers: dict[str, int]) -> list[Any]:
    more = []
    if one.restores:
        more.append(f"Brings back revision {numbers.get(one.restores, '?')}.")
    if one.passed_over:
        passed = ", ".join(str(numbers.get(row, "?")) for row in one.passed_over)
        more.append(f"Edited from revision {numbers.get(one.parent or '', '?')}, while revision {passed} was saved.")
    return [one.note or "—", *(html.Small(text, className="between") for text in more)]


def _revision_buttons(one: Revision, state: State, shelf: Shelf) -> list[Any]:
    here = shelf.revision is not None and shelf.revision.id == one.id
    way = State(own=garage_text.KeptText(one.text, one.id), units=state.units, fields=state.fields)
    found: list[Any] = [
        html.Span("open", className="tag now") if here else opens("/garage", way, "Open", f"Open revision {one.number}")
    ]
    if one.id != shelf.history[0].id:
        found.append(do("garage-do", "restore", one.id, "Restore", f"Restore revision {one.number}"))
    return found


def differs(one: Revision, other: Revision, found: Difference) -> list[Any]:
    """What differs between two revisions, first in a sentence."""
    names = f"revision {one.number} and revision {other.number}"
    if found.only_wording:
        return [html.P(f"Between {names} only comments, order or spelling differ.", className="say small")]
    if not found.changes:
        return [html.P(f"Nothing differs between {names}.", className="say small")]
    count = len(found.changes)
    said = f"{count} value{'s' if count != 1 else ''} differ{'s' if count == 1 else ''} between {names}."
    rows = [(row["path"], row["old"], row["new"]) for row in found.rows()]
    heads = ("Key", f"Revision {one.number}", f"Revision {other.number}")
    return [html.P(said, className="say small"), _table("Differences", heads, rows)]


def choices(shelf: Shelf) -> list[dict[str, str]]:
    """The revisions to choose from."""
    return [
        {"value": one.id, "label": f"{one.number}: {one.note or 'no note'} ({when(one.saved_at)})"}
        for one in shelf.history
    ]


def _table(title: str, heads: Sequence[str], rows: Sequence[Sequence[Any]]) -> Any:
    tight = [
        [html.Div(cell, className="row-buttons tight") if _buttons(cell) else cell for cell in row] for row in rows
    ]
    return components.row_table(title, heads, tight)


def _buttons(cell: Any) -> bool:
    return isinstance(cell, list) and not isinstance(cell[0], str)
