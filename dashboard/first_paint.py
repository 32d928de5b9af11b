"""The page that is asked for, answered before any script runs: the same layout and the same callbacks, drawn here as HTML.

It stands before the place where the browser draws the living page, and goes when that has its answer (`assets/first_paint.js`).
"""

from __future__ import annotations

import logging
import re
from collections.abc import Callable, Iterator, Mapping, Sequence
from contextlib import contextmanager
from dataclasses import dataclass
from html import escape
from threading import Lock
from typing import Any

from dash import Input, Output, dcc, no_update
from dash.dependencies import DashDependency
from dash.development.base_component import Component
from dash.exceptions import PreventUpdate
from flask import request

from dashboard import ids, layout, pages
from dashboard.security.payloads import WiredDash
from dashboard.static_html import StaticHtml, StaticLayout
from dashboard.url_state import to_query
from ridesim.errors import InputError

log = logging.getLogger("dashboard")
ENTRY = '<div id="react-entry-point"></div>'
_GAP = "\0"  # where the page stands in the frame
_VOID = ("br", "hr", "img", "input")
_NAMES = {"className": "class", "htmlFor": "for"}
_DROPPED = ("id", "role", "aria-labelledby", "aria-describedby", "title")  # there is no second one of what is named
_KEPT_ROLES = ("table", "row", "rowgroup", "cell", "columnheader", "rowheader")
_READ = ("children", "content", "value")  # what a reader sees of a component
Filled = dict[tuple[str, str], Any]
TURN, LONGEST_WAIT_S = Lock(), 0.5


@dataclass(frozen=True)
class Answering:
    """A callback by what it goes by and what it fills."""

    outputs: Any
    inputs: Any
    function: Callable[..., Any]
    at_once: bool  # also when nothing has changed yet

    def shows(self, here: Mapping[str, Component]) -> bool:
        """Whether it fills anything that a reader sees here; the page itself is here already."""
        places = [_place(one) for one in _flat(self.outputs)]
        return any(name in here and prop in _READ for name, prop in places) and (ids.PAGE, "children") not in places

    def waits_for(self) -> Iterator[DashDependency]:
        """What sets it off."""
        return (one for one in _flat(self.inputs) if isinstance(one, Input))

    def answer(self, here: Mapping[str, Component], known: Filled) -> Filled:
        """What it fills in."""

        def given(tree: Any) -> Any:
            if isinstance(tree, dict):
                return {name: given(one) for name, one in tree.items()}
            if isinstance(tree, list | tuple):
                return [given(one) for one in tree]
            if isinstance(tree.component_id, dict):
                return []
            name, prop = _place(tree)
            return known.get((name, prop), getattr(here.get(name), prop, None))

        values = given(self.inputs)
        try:
            told = self.function(**values) if isinstance(values, dict) else self.function(*values)
        except (PreventUpdate, InputError):
            return {}
        except Exception as error:  # the living page tells of it
            log.error("a callback failed before the page was sent: %s", layout.in_one_line(error))
            return {}
        single = isinstance(self.outputs, list) and len(self.outputs) == 1
        return dict(_pairs(self.outputs[0] if single else self.outputs, told))


class FirstPaintDash(WiredDash):
    """An app whose pages arrive with their answer in them."""

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        self.answering: list[Answering] = []
        super().__init__(*args, **kwargs)

    def callback(self, *args: Any, **kwargs: Any) -> Any:
        register = super().callback(*args, **kwargs)
        outputs = kwargs.get("output") or [one for one in args if isinstance(one, Output)]
        inputs = kwargs.get("inputs") or [one for one in args if not isinstance(one, Output)]
        at_once = not kwargs.get("prevent_initial_call")

        def remember(function: Callable[..., Any]) -> Any:
            self.answering.append(Answering(outputs, inputs, function, at_once))
            return register(function)

        return remember

    def interpolate_index(self, **parts: Any) -> str:
        title = f"{pages.at(request.path).name} · ridesim"
        query = request.query_string.decode(errors="replace")
        if request.cookies.get("ridesim-units") == "us" and "units=" not in query:
            query += "&units=us"  # as this browser has chosen (assets/glue.js), where the link names none
        with _in_turn():
            served = drawn(self, request.path, f"?{query}")
        later = {name: _later(parts[name]) for name in ("scripts", "renderer")}
        return str(super().interpolate_index(**parts | later | {"title": title, "app_entry": served + ENTRY}))


@contextmanager
def _in_turn() -> Iterator[None]:
    """Pages that are asked for at once are drawn one by one: side by side each would work out anew what the others do, and all
    come last. No page waits long for another's."""
    mine = TURN.acquire(timeout=LONGEST_WAIT_S)
    try:
        yield
    finally:
        if mine:
            TURN.release()


def _later(scripts: str) -> str:
    """Scripts fetched at once, and run when what was sent has been drawn."""
    fetched = "".join(f'<link rel="preload" as="script" href="{src}">' for src in re.findall(r'src="([^"]+)"', scripts))
    plain = scripts.replace(' type="application/javascript"', "")
    return fetched + plain.replace("<script ", '<script type="text/later" ')


def drawn(app: FirstPaintDash, path: str, query: str) -> str:
    """The frame and the page at an address as HTML, as far as it depends on the address alone."""
    state, _ = layout.opened(query)
    page = pages.at(path).layout(state)
    desk = f'class="{layout.desk(pages.at(path))}"'
    here = {str(one.id): one for one in _named([app.layout, page])}
    known: Filled = {
        (ids.QUERY, "data"): to_query(state),
        (ids.LINK, "data"): query,
        (ids.THEME, "data"): "light",
        (ids.PLACE, "pathname"): path,
        (ids.PLACE, "search"): query,
    }
    waiting = [one for one in app.answering if one.shows(here)]
    while ready := _ready(waiting, here, known):
        waiting = [one for one in waiting if one not in ready]
        for one in ready:
            known |= one.answer(here, known)
    known[ids.PAGE, "children"] = _GAP
    frame = _led(html_of(app.layout, known).replace('class="desk"', desk), path, known[ids.QUERY, "data"])
    return f'<div class="served">{frame.replace(_GAP, html_of(page, known))}</div>\n'


def _led(frame: str, path: str, query: str) -> str:
    """The links of the frame with what is looked at, and the one to this page marked."""
    for page in pages.ALL:
        current = ' aria-current="page"' if page is pages.at(path) else ""
        frame = frame.replace(f' href="{page.path}"', f' href="{page.path}{escape(query)}"{current}')
    return frame


def _ready(waiting: Sequence[Answering], here: Mapping[str, Component], known: Filled) -> list[Answering]:
    """Those whose every input has come; when there is none, those that answer without some."""

    def come(one: Answering) -> list[bool]:
        return [_place(part) in known for part in one.waits_for()]

    def stands(one: Answering) -> bool:
        return all(_place(part)[0] in here or isinstance(part.component_id, dict) for part in one.waits_for())

    return [one for one in waiting if all(come(one))] or [
        one for one in waiting if stands(one) and (one.at_once or any(come(one)))
    ]


def _pairs(outputs: Any, told: Any) -> Iterator[tuple[tuple[str, str], Any]]:
    if isinstance(outputs, Output):
        if told is not no_update:
            yield _place(outputs), told
    elif told is not no_update:
        for key in outputs if isinstance(outputs, dict) else range(len(outputs)):
            yield from _pairs(outputs[key], told[key])


def _flat(tree: Any) -> Iterator[DashDependency]:
    if isinstance(tree, DashDependency):
        yield tree
    else:
        for one in tree.values() if isinstance(tree, dict) else tree:
            yield from _flat(one)


def _place(one: DashDependency) -> tuple[str, str]:
    return str(one.component_id), str(one.component_property)


def _named(node: Any) -> Iterator[Component]:
    """The components that have a name."""
    if isinstance(node, list | tuple):
        for one in node:
            yield from _named(one)
    elif isinstance(node, Component):
        if getattr(node, "id", None) is not None:
            yield node
        yield from _named(getattr(node, "children", None))


def html_of(node: Any, filled: Filled, slots: Mapping[str, Any] | None = None, live: Any = ()) -> str:
    """Components, and what `static_html` and `static_layout` make of them, as HTML without names or life.

    Parameters
    ----------
    node : component, plain node, text, or a list of them
    filled : dict
        What callbacks have put into components, by id and property.
    slots, live
        What stands in the empty places of a plan, and its living components.

    >>> from dash import html
    >>> html_of(html.P(["5 < 6", html.Br()], id="a", className="say"), {})
    '<p class="say">5 &lt; 6<br></p>'
    """
    if node is None:
        return ""
    if isinstance(node, list | tuple):
        return "".join(html_of(one, filled, slots, live) for one in node)
    if isinstance(node, dict):
        return _plain(node, filled, slots, live)
    if not isinstance(node, Component):
        return escape(str(node))
    name = str(getattr(node, "id", None))
    if isinstance(node, StaticHtml):
        return html_of(node.content, filled)
    if isinstance(node, StaticLayout):
        living = node.children if isinstance(node.children, list) else [node.children]
        return html_of(node.plan, filled, filled.get((name, "content"), node.content), living)
    inside = filled.get((name, "children"), getattr(node, "children", None))
    if node._namespace == "dash_html_components":
        return _element(node._type.lower(), node.to_plotly_json()["props"], html_of(inside, filled))
    if (label := getattr(node, "label", None)) is not None:
        return _field(label, filled.get((name, "value"), getattr(node, "value", None)))
    return "" if isinstance(node, dcc.Upload) else html_of(inside, filled)


def _plain(node: Mapping[str, Any], filled: Filled, slots: Mapping[str, Any] | None, live: Any) -> str:
    if "live" in node:
        return html_of(live[node["live"]], filled)
    inside = (slots or {}).get(node["slot"]) if "slot" in node else node["props"].get("children")
    return _element(node["type"], node["props"], html_of(inside, filled, slots, live))


def _field(label: Any, value: Any) -> str:
    """A field as it will stand there: it takes nothing yet."""
    return f'<div class="served-field"><span>{html_of(label, {})}</span><span>{html_of(value, {}) or "&nbsp;"}</span></div>'


def _element(kind: str, props: Mapping[str, Any], inside: str) -> str:
    attributes = "".join(_attribute(name, value) for name, value in props.items() if name != "children")
    if kind == "button":
        attributes += " disabled"
    return f"<{kind}{attributes}>" if kind in _VOID else f"<{kind}{attributes}>{inside}</{kind}>"


def _attribute(name: str, value: Any) -> str:
    if (
        value is None
        or value is False
        or (name in _DROPPED and value not in _KEPT_ROLES)
        or name.startswith("n_clicks")
    ):
        return ""
    if name == "style":
        value = ";".join(
            f"{re.sub('[A-Z]', lambda found: '-' + found[0].lower(), key)}:{text}" for key, text in value.items()
        )
    name = _NAMES.get(name, name.lower())
    return f" {name}" if value is True else f' {name}="{escape(str(value))}"'
