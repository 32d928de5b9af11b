"""What the page of the trials shows: the proposal, the list, the tunes, the way back."""

from __future__ import annotations

from typing import Any

from dash import html

from dashboard import components, display, queries
from dashboard.pages.carburetor.bench import steps
from dashboard.pages.garage.garage_cards import do, opens, when
from dashboard.queries import trials
from dashboard.queries.trials import Notebook
from dashboard.url_state import State
from ridesim.errors import InputError
from ridesim.garage.changes import changed_words
from ridesim.garage.trials import OPENINGS, Trial


def no_bike(error: InputError) -> list[Any]:
    """Why nothing can be shown, and where to go."""
    return [
        html.P(trials.NO_BIKE if error.where == "bike" else str(error), className="say"),
        html.P(opens("/garage", State(), "Go to the garage", "Go to the garage")),
    ]


def sections(book: Notebook, state: State) -> dict[str, Any]:
    """Every part of the page."""
    answers = [one for one in (book.next_trial, book.trend, book.back) if one is not None]
    return {
        "says": [html.P(display.say(book.next_trial, state.units), className="say")],
        "next": _next(book, state.units),
        "list": _trials(book, state),
        "tunes": _tunes(book, state),
        "back": _back(book),
        "assumed": components.assumed(answers, state.units),
        "cautions": html.Div([components.noted(answers, state.units), components.cautions(answers)], className="page"),
    }


def _next(book: Notebook, system: str) -> Any:
    """What to do next: why this and not the others, how, what would settle it, and the way back."""
    answer = book.next_trial
    parts = [components.plain_table(one.columns, one.rows, system, one.title) for one in answer.tables]
    figures = components.figure_table(answer.figures.values(), system) if answer.figures else None
    working = html.Details([html.Summary("The working"), steps(answer.steps, system)], className="fold")
    return html.Section(
        [html.H3(f"Next for {book.bike}"), *parts, figures, working if answer.steps else None],
        className="card",
        **{"aria-label": "What to do next"},
    )


def _trials(book: Notebook, state: State) -> Any:
    if not book.trials:
        return html.P("None yet: ride it once as it is, and write that down below.", className="quiet")
    heads = (
        "No.",
        "Ridden",
        "What changed",
        *(name.capitalize() for name in OPENINGS.values()),
        "Fuel",
        "Note",
        "To undo it",
        "",
    )
    rows = [_trial_row(number, one, book, state) for number, one in enumerate(book.trials, start=1)]
    table = components.row_table("The trials so far", heads, rows, kind="trials")
    return [table, _put_away(book)]


def _put_away(book: Notebook) -> Any:
    """The trials that were put out of sight, each with its way back."""
    if not book.archived:
        return None
    rows = [
        html.Li(
            [
                f"{when(one.ridden_at)}: {one.note or 'no note'} ",
                do("trial-do", "back", one.id, "Bring back", f"Bring back the trial of {when(one.ridden_at)}"),
            ]
        )
        for one in book.archived
    ]
    return html.Details([html.Summary("Put away"), html.Ul(rows, className="plain-list")], className="fold")


def _trial_row(number: int, one: Trial, book: Notebook, state: State) -> list[Any]:
    used = one.consumption_m3_per_m()
    is_stock = book.stock_trial is not None and one.id == book.stock_trial.id
    return [
        [str(number), html.Small("taken as stock", className="between") if is_stock else None],
        html.Span(when(one.ridden_at), className="when"),
        changed_words(one, book.trials, state.units),
        *(_said(one.verdicts.at(opening)) for opening in OPENINGS),
        "—" if used is None else display.shown(used, "consumption", state.units),
        one.note or "—",
        one.put_back or "—",
        do("trial-do", "away", one.id, "Put away", f"Put away trial {number}"),
    ]


def _said(verdict: Any) -> list[Any]:
    """A verdict over the remark on it."""
    remark = html.Small(verdict.remark, className="between wrap") if verdict.remark else None
    return [verdict.says or "not given", remark]


def _tunes(book: Notebook, state: State) -> Any:
    """Each tune of the open build with the trials that it came from; one click makes it the planned set-up of every page."""
    tunes = list(queries.build(state).record.tune)
    made = {tune: [(n, t) for n, t in enumerate(book.trials, start=1) if t.tune == tune] for tune in tunes}
    rows = []
    for tune, made_it in made.items():
        from_trials = ", ".join(f"trial {n}" for n, _ in made_it) or "no trial"
        revision = made_it[-1][1].revision if made_it else None
        way = trials.tune_state(state, tune, revision or book.revision)
        link = opens(
            "/power#engine", way, "Make it the planned set-up", f"Show every page with {tune} as the planned set-up"
        )
        rows.append((tune, from_trials, link))
    return components.row_table("Tunes", ("Tune", "Came from", "In the whole app"), rows)


def _back(book: Notebook) -> Any:
    back = book.back
    if back is None:
        return html.P("With the first trial written down as stock, the way back to it is kept here.", className="quiet")
    table = back.tables[0]
    put_back = components.plain_table(table.columns, table.rows, "metric", table.title) if table.rows else None
    return [html.P(str(back), className="say small"), put_back]


def trend_table(book: Notebook, system: str) -> Any:
    """The trend as a table."""
    if book.trend is None:
        return html.P("No trial yet.", className="quiet")
    table = book.trend.tables[0]
    rows = [{**row, "ridden_at": when(str(row["ridden_at"]))} for row in table.rows]
    return components.plain_table(table.columns, rows, system, table.title)


def choices(book: Notebook) -> list[dict[str, str]]:
    """The trials to choose stock from."""
    return [
        {"value": one.id, "label": f"Trial {number}, {when(one.ridden_at)}"}
        for number, one in enumerate(book.trials, start=1)
    ]
