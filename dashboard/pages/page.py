"""What a page and a section of it are, and what the callbacks of all sections share."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from typing import Any

from dash import Dash, Input, Output, html
from dash import State as Held
from dash.exceptions import PreventUpdate

from dashboard import components, ids, queries
from dashboard.security.payloads import checked
from dashboard.static_html import filled
from dashboard.url_state import State, from_query, to_query


@dataclass(frozen=True, kw_only=True)
class Section:
    """One question of a page: its key is its anchor too (`/gearing#chain`); it is laid out and answered once it is opened."""

    key: str
    title: str
    lead: str
    layout: Callable[[State], Any]
    register: Callable[[Dash], None]


@dataclass(frozen=True, kw_only=True)
class Page:
    """One thing to settle: its place, its name in the row of links, and its sections, the first of which is open."""

    path: str
    name: str
    lead: str
    sections: tuple[Section, ...]
    set_ups: bool = True  # whether the two set-ups matter there, and stand beside it

    def layout(self, state: State, anchor: str = "") -> html.Article:
        """The page with one section open, that of the anchor or the first; the others are laid out when they are opened."""
        head = html.Header([html.H1(self.name), html.P(self.lead, className="lead")], className="page-head")
        named = [section for section in self.sections if section.key == anchor]
        opened = (named or [*self.sections])[0]
        if len(self.sections) == 1:
            return html.Article([head, html.Section(_alone(opened, state), id=opened.key)], className="page")
        rooms = [_room(section, inside(section, state) if section is opened else None) for section in self.sections]
        return html.Article([head, *rooms], className="page")


def _alone(section: Section, state: State) -> html.Div:
    """The one section of a page."""
    title = html.H2(section.title) if section.title else None
    return html.Div([title, *inside(section, state)], className="page")


def _room(section: Section, content: Any) -> html.Details:
    """A section behind its title."""
    title = html.Summary(html.H2(section.title), id=room_title(section.key))
    place = html.Div(content, id=room(section.key), className="page")
    return html.Details([title, place], id=section.key, className="room", open=content is not None)


def room(key: Any) -> dict[str, Any]:
    """The place of a section's content."""
    return {"kind": "room", "room": key}


def room_title(key: Any) -> dict[str, Any]:
    """The title of a section, which unfolds it."""
    return {"kind": "room-title", "room": key}


def inside(section: Section, state: State) -> list[Any]:
    """What stands in a section once it is open."""
    return [html.P(section.lead, className="lead") if section.lead else None, section.layout(state)]


@dataclass(frozen=True, kw_only=True)
class View:
    """What a callback of a section goes by: the state, and whether it is dark."""

    state: State
    dark: bool

    @property
    def system(self) -> str:
        return self.state.units

    @property
    def look(self) -> dict[str, Any]:
        """How a chart is drawn: its units, and light or dark."""
        return {"units": self.system, "dark": self.dark}


def view(query: str | None, theme: str | None) -> View:
    """The state of a query and the theme; nothing is drawn before both are known."""
    if query is None or theme is None:
        raise PreventUpdate
    return View(state=from_query(query)[0], dark=theme == "dark")


def pressed(clicks: int | None) -> None:
    """Nothing happens when a page merely arrives with its buttons: only when one is pressed."""
    if not clicks:
        raise PreventUpdate


Change = Callable[..., State | None]


def writes(app: Dash, *inputs: Input, to: str = ids.QUERY) -> Callable[[Change], None]:
    """Register what writes the link anew: a function of the state and of the inputs that gives the state to show, or None where
    nothing changes. It goes into the link itself, or by way of what opens one (ids.LINK, ids.REPLACE).
    """

    def register(change: Change) -> None:
        held = checked(change)

        @app.callback(
            Output(to, "data", allow_duplicate=True), *inputs, Held(ids.QUERY, "data"), prevent_initial_call=True
        )
        def write(*given: Any) -> str:
            *values, query = given
            if not isinstance(query, str):
                raise PreventUpdate
            state = held(from_query(query)[0], *values)
            if state is None or (to == ids.QUERY and to_query(state) == query):
                raise PreventUpdate
            return to_query(state)

    return register


def presses(app: Dash, button: str, to: str = ids.LINK) -> Callable[[Change], None]:
    """Register what a button makes of the state."""

    def register(change: Change) -> None:
        @writes(app, Input(button, "n_clicks"), to=to)
        def press(state: State, clicks: int | None) -> State | None:
            pressed(clicks)
            return change(state)

    return register


INPUTS = {"query": Input(ids.QUERY, "data"), "theme": Input(ids.THEME, "data")}


def outputs(page: str, *charts: str) -> dict[str, Any]:
    """The places that the callback of a section fills: what all have, and three for each chart."""
    return {"common": {name: Output(ids.part(page, name), "children") for name in components.COMMON}} | {
        name: components.chart_places(page, name) for name in charts
    }


def answers(app: Dash, page: str, *charts: str) -> Callable[[Callable[[View], dict[str, Any]]], None]:
    """Register what answers a section framed by `components.frame`: a function of the view that returns "common", its charts by
    name (see `drawn`), and other slots by theirs. All but the charts and the assumptions goes out at one stroke.
    """

    def register(show: Callable[[View], dict[str, Any]]) -> None:
        @app.callback(
            output={
                "said": Output(ids.part(page, "said"), "content"),
                "assumed": Output(ids.part(page, "assumed"), "children"),
                **{name: Output(ids.part(page, f"{name}-graph"), "figure") for name in charts},
            },
            inputs=INPUTS,
        )
        def answer(query: str | None, theme: str | None) -> dict[str, Any]:
            told = show(view(query, theme))
            slots = told.pop("common")
            assumed = slots.pop("assumed")
            figures = {}
            for name in charts:
                chart = told.pop(name)
                figures[name] = chart["figure"]
                slots |= {f"{name}-caption": chart["caption"], f"{name}-table": chart["table"]}
            return {"said": filled(slots | told), "assumed": assumed, **figures}

    return register


def drawn(figure: Any, caption: str, table: Any) -> dict[str, Any]:
    """A chart, its caption (which is also its label) and its table twin."""
    return {"figure": figure, "caption": caption, "table": table}


@dataclass(frozen=True, kw_only=True)
class Chart:
    """One chart of an answer: its name in the section, its caption, and how both set-ups are drawn; shape is "", "tall" or "flat"."""

    name: str
    caption: str
    draw: Callable[..., Any]
    shape: str = ""


def answer_section(*, key: str, title: str, lead: str, question: str, charts: Sequence[Chart]) -> Section:
    """A section that asks one question of both set-ups (`queries.QUESTIONS`), with its charts and nothing else of its own."""

    def layout(state: State) -> Any:
        return components.frame(key, *(components.chart(key, c.name, shape=c.shape) for c in charts))

    def register(app: Dash) -> None:
        @answers(app, key, *(chart.name for chart in charts))
        def show(v: View) -> dict[str, Any]:
            pair = queries.pair(question, v.state)
            table = components.twins(pair.now, pair.planned, v.system)
            return {"common": components.common(pair, v.system)} | {
                chart.name: drawn(chart.draw(pair.now, pair.planned, **v.look), chart.caption, table)
                for chart in charts
            }

    return Section(key=key, title=title, lead=lead, layout=layout, register=register)
