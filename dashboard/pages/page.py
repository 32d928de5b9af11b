"""What a page is, and what the callbacks of all of them share."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from typing import Any

from dash import Dash, Input, Output
from dash.exceptions import PreventUpdate

from dashboard import components, ids, queries
from dashboard.static_html import filled
from dashboard.url_state import State, from_query


@dataclass(frozen=True, kw_only=True)
class Page:
    """One page: its place, its name in the navigation, its layout and its callbacks."""

    key: str
    path: str
    name: str
    layout: Callable[[State], Any]
    register: Callable[[Dash], None]


@dataclass(frozen=True, kw_only=True)
class View:
    """What a callback of a page goes by: the state, and whether it is dark."""

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


INPUTS = {"query": Input(ids.QUERY, "data"), "theme": Input(ids.THEME, "data")}


def outputs(page: str, *charts: str) -> dict[str, Any]:
    """The places that the callback of a page fills: what all pages have, and three for each chart."""
    return {"common": {name: Output(ids.part(page, name), "children") for name in components.COMMON}} | {
        name: components.chart_places(page, name) for name in charts
    }


def answers(app: Dash, page: str, *charts: str) -> Callable[[Callable[[View], dict[str, Any]]], None]:
    """Register what answers a page framed by `components.frame`: a function of the view that returns "common", its charts by name
    (see `drawn`), and other slots of the page by theirs. All but the charts and the assumptions goes out at one stroke.
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
    """One chart of an answer: its name on the page, its caption, and how both set-ups are drawn; shape is "", "tall" or "flat"."""

    name: str
    caption: str
    draw: Callable[..., Any]
    shape: str = ""


def answer_page(
    *, key: str, path: str, name: str, title: str, lead: str, question: str, charts: Sequence[Chart]
) -> Page:
    """A page that asks one question of both set-ups (`queries.QUESTIONS`), with its charts and nothing else of its own."""

    def layout(state: State) -> Any:
        return components.frame(key, title, lead, *(components.chart(key, c.name, shape=c.shape) for c in charts))

    def register(app: Dash) -> None:
        @answers(app, key, *(chart.name for chart in charts))
        def show(v: View) -> dict[str, Any]:
            pair = queries.pair(question, v.state)
            table = components.twins(pair.now, pair.planned, v.system)
            return {"common": components.common(pair, v.system)} | {
                chart.name: drawn(chart.draw(pair.now, pair.planned, **v.look), chart.caption, table)
                for chart in charts
            }

    return Page(key=key, path=path, name=name, layout=layout, register=register)
