"""Trials: one change a ride, written down; the trend; what to try next and why; the way back to stock."""

from __future__ import annotations

from typing import Any

from dash import ALL, Dash, Input, Output, dcc, html, no_update
from dash import State as Held
from dash.exceptions import PreventUpdate

from dashboard import components, ids, queries
from dashboard.forms import form, link_fields, trial_form
from dashboard.pages.carburetor import trial_cards
from dashboard.pages.garage.garage_cards import acts, behind_door
from dashboard.pages.page import Section, View, drawn, pressed, view, writes
from dashboard.queries import trials
from dashboard.url_state import State, from_query, garage_text, put
from ridesim.errors import InputError
from ridesim.plots.lines import Line, Mark, lines

KEY = "trials"
SECTIONS = ("says", "next", "list", "tunes", "back", "assumed", "cautions")
LEAD = "One change at a time, with the air of the day and what the engine said: that gives the next change to try, and the way back to stock."
CAPTION = "How rich each trial was, by its jets and the air of its day: 1 is stock on the day of the stock trial, above is richer."


def part(name: str) -> str:
    return ids.part(KEY, name)


def layout(state: State) -> Any:
    stock = form.choice_field(
        part("stock"), "Trial whose settings are stock", (), state.fields.stock_trial, clearable=True
    )
    open_bike = [
        components.slot(KEY, "next"),
        link_fields.desk(
            KEY,
            link_fields.group(KEY, "The air of the next ride", trials.ASKED[:4], state),
            link_fields.group(KEY, "Parts you can get, and how far to go", trials.ASKED[4:], state),
            link_fields.filled(KEY, trials.ASKED, state),
            stock,
        ),
        components.chart(KEY, "trend"),
        components.section("The trials so far", components.slot(KEY, "list")),
        components.section("Tunes of the build, and the trials they came from", components.slot(KEY, "tunes")),
        _form(),
        components.section("Back to stock", components.slot(KEY, "back")),
        components.folded(KEY, "assumed", "What was assumed"),
        components.slot(KEY, "cautions"),
    ]
    return behind_door(
        KEY,
        components.slot(KEY, "says", className="says", role="status"),
        html.P(id=part("told"), className="told", role="status"),
        html.Div(open_bike, className="page", id=part("open"), hidden=True),
        dcc.Store(id=part("formed")),
        dcc.Store(id=part("shown")),
    )


def _form() -> html.Section:
    buttons = [
        html.Button("Keep this trial", id=part("add"), className="button main"),
        html.Button("Fill in what is proposed", id=part("take"), className="plain"),
    ]
    return components.section(
        "Write down a trial",
        html.Div(id=part("form"), className="desk-card"),
        html.Div(id=part("form-trouble"), role="alert", className="stray"),
        html.Div(buttons, className="row-buttons"),
    )


def _chart(book: trials.Notebook, v: View) -> Any:
    rows = book.trend.tables[0].rows if book.trend else ()
    at = [row["trial"] for row in rows]
    wanted = (
        ("main_richness", "Main jet", "now"),
        ("pilot_richness", "Pilot jet", "planned"),
        ("air_richness", "The air alone", "road"),
    )
    found = [
        Line(x=at, y=[row[key] for row in rows], role=role, legend=name, name=name, points=True)
        for key, name, role in wanted
        if any(row[key] is not None for row in rows)
    ]
    marks = [Mark(axis="y", at=1.0, text="stock")]
    figure = lines(
        found,
        x_title="Trial",
        y_title="Richness, 1 is stock",
        dark=v.dark,
        marks=marks,
        from_zero="",
        x_range=(0.7, max(at, default=1) + 0.5),
    )
    figure["layout"]["xaxis"]["dtick"] = max(1, len(at) // 12)
    return figure


def _none(error: InputError) -> dict[str, Any]:
    sections = dict.fromkeys(SECTIONS, None) | {"says": trial_cards.no_bike(error)}
    return {
        "sections": sections,
        "trend": components.chart_kept(),
        "stock": [],
        "shown": 0,
        "hidden": True,
    }


def register(app: Dash) -> None:
    link_fields.register(app, KEY, trials.ASKED, trials.checked, PLACES)
    _show(app)
    _fill(app)
    _add(app)
    acts(app, "trial-do", KEY, _done)

    @writes(app, Input(part("stock"), "value"))
    def choose(state: State, stock: str | None) -> State:
        return put(state, "stock-trial", stock)


PLACES = {
    "obtainable.main_jets": "main-jets",
    "obtainable.pilot_jets": "pilot-jets",
    "obtainable.slide_cutaways": "cutaways",
    "margin.richness": "margin",
}


def _show(app: Dash) -> None:
    @app.callback(
        output={
            "sections": {name: Output(part(name), "children") for name in SECTIONS},
            "trend": components.chart_places(KEY, "trend"),
            "stock": Output(part("stock"), "data"),
            "shown": Output(part("shown"), "data"),
            "hidden": Output(part("open"), "hidden"),
        },
        inputs={
            "query": Input(ids.QUERY, "data"),
            "theme": Input(ids.THEME, "data"),
            "kept_now": Input(part("kept"), "data"),
        },
    )
    def show(query: str | None, theme: str | None, kept_now: str | None) -> dict[str, Any]:
        v = view(query, theme)
        if garage_text.path() is None:
            raise PreventUpdate
        try:
            book = trials.notebook(v.state)
        except InputError as error:
            return _none(error)
        return {
            "sections": trial_cards.sections(book, v.state),
            "trend": drawn(_chart(book, v), CAPTION, trial_cards.trend_table(book, v.system)),
            "stock": trial_cards.choices(book),
            "shown": len(book.trials),
            "hidden": False,
        }


def _fill(app: Dash) -> None:
    @app.callback(
        output={"form": Output(part("form"), "children"), "formed": Output(part("formed"), "data")},
        inputs={
            "query": Input(ids.QUERY, "data"),
            "kept_now": Input(part("kept"), "data"),
            "clicks": Input(part("take"), "n_clicks"),
            "formed": Held(part("formed"), "data"),
        },
    )
    def fill(
        query: str | None, kept_now: str | None, clicks: int | None, formed: dict[str, Any] | None
    ) -> dict[str, Any]:
        if query is None or garage_text.path() is None:
            raise PreventUpdate
        state = from_query(query)[0]
        mark = {"revision": state.revision, "kept": kept_now, "clicks": clicks or 0, "units": state.units}
        if mark == formed or state.revision is None:
            raise PreventUpdate
        book = trials.notebook(state)
        proposed = (clicks or 0) > (formed or {}).get("clicks", 0)
        settings = book.proposal.settings if proposed or not book.trials else book.trials[-1].settings
        tunes = list(queries.build(state).record.tune)
        return {"form": trial_form.layout(state, settings, tunes), "formed": mark}


def _add(app: Dash) -> None:
    @app.callback(
        output={
            "kept": Output(part("kept"), "data"),
            "told": Output(part("told"), "children"),
            "trouble": Output(part("form-trouble"), "children"),
            "errors": Output({"kind": "trial", "field": ALL}, "error"),
        },
        inputs={
            "clicks": Input(part("add"), "n_clicks"),
            "values": Held({"kind": "trial", "field": ALL}, "value"),
            "names": Held({"kind": "trial", "field": ALL}, "id"),
            "shown": Held(part("shown"), "data"),
            "query": Held(ids.QUERY, "data"),
        },
        prevent_initial_call=True,
    )
    def add(
        clicks: int | None, values: list[Any], names: list[dict[str, str]], shown: int | None, query: str | None
    ) -> dict[str, Any]:
        pressed(clicks)
        given = {one["field"]: value for one, value in zip(names, values, strict=True)} | {"shown": shown or 0}
        try:
            added = trials.add(from_query(query)[0], given)
        except InputError as error:
            return {"kept": no_update, "told": no_update, **_wrong(error, names)}
        told = "The trial is kept."
        if added.others:
            told += " Meanwhile another was kept too, in another window: look at the list."
        if added.later:
            told += f" By its time it was ridden before {added.later} of the others, and stands before them."
        return {"kept": added.trial.id, "told": told, "trouble": None, "errors": [None] * len(names)}


def _wrong(error: InputError, names: list[dict[str, str]]) -> dict[str, Any]:
    """The errors of the form, each beside its field; what belongs to none under it."""
    found, stray = form.errors_of(error, trial_form.place, [one["field"] for one in names])
    count = (
        html.P(f"{len(found)} field{'s' if len(found) != 1 else ''} above cannot be read: nothing is kept yet.")
        if found
        else None
    )
    return {"trouble": [count, *map(html.P, stray)], "errors": [found.get(one["field"]) for one in names]}


def _done(what: str, trial: str, _: State) -> dict[str, Any]:
    away = what == "away"
    trials.set_archived(trial, away=away)
    return {"told": "The trial is put away, under the list; it is not lost." if away else "The trial is back."}


SECTION = Section(key=KEY, title="What to try next?", lead=LEAD, layout=layout, register=register)
