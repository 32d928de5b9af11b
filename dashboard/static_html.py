"""Content that only stands there, sent to the browser as one component.

Every component with a place of its own in the page library's books costs the browser time at every change, whatever changed, and so
does every place that is filled. A table of a hundred cells that nothing addresses is kept here as one; a page whose places are filled
together is a plan with slots, filled at one stroke. Both are drawn by `assets/static_html.js`.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any, ClassVar

from dash import Patch, dcc, html, no_update
from dash.development.base_component import Component


class _Ours(Component):
    """A component that `assets/static_html.js` draws, with the properties that are given."""

    _children_props: ClassVar[list[str]] = []
    _base_nodes: ClassVar[list[str]] = ["children"]
    _namespace = "ridesim_parts"
    _names: ClassVar[list[str]] = []

    def __init__(self, **given: Any) -> None:
        self._type = type(self).__name__
        self._prop_names = self.available_properties = self._names
        self._valid_wildcard_attributes: list[str] = []
        self.available_wildcard_properties: list[str] = []
        super().__init__(**{key: value for key, value in given.items() if key != "id" or value is not None})


class StaticHtml(_Ours):
    """Plain content in one piece: texts, and components of `dash.html` without names or clicks."""

    _names: ClassVar[list[str]] = ["content"]


class StaticLayout(_Ours):
    """Plain content around live components; `content` fills its slots by name, with plain content too."""

    _names: ClassVar[list[str]] = ["children", "id", "plan", "content"]


class Address(_Ours):
    """Holds the query of the state that is shown, and keeps the browser's address and the links of the frame at it."""

    _names: ClassVar[list[str]] = ["id", "data"]


class LateChart(dcc.Graph):
    """A chart that is drawn when it comes into view: the chart library is large, and a chart that nobody sees costs time."""

    _namespace = "ridesim_parts"
    _type = "LateChart"


def static_html(content: Any) -> StaticHtml:
    """The content in one piece.

    Raises
    ------
    TypeError
        Something in it has a name that a callback could look for, or is no plain component.

    >>> static_html([html.P("It pulls.", className="say")]).content
    [{'type': 'p', 'props': {'className': 'say', 'children': 'It pulls.'}}]
    """
    return StaticHtml(content=_plain(content))


def internal_link(label: Any, place: str, query: str = "", **more: Any) -> html.A:
    """A link to another page of the app, or to a section of one, which turns the page without loading everything anew.

    >>> internal_link("Chain", "/gearing#chain", "?front=15").href
    '/gearing?front=15#chain'
    """
    path, hash_, anchor = place.partition("#")
    return html.A(
        label, href=path + query + hash_ + anchor, className=f"inside {more.pop('className', '')}".strip(), **more
    )


def static_layout(tree: Any, id: str | None = None, slots: str | None = None, live: Sequence[str] = ()) -> StaticLayout:
    """A page or part of one as one component: what only stands there is plain, what lives is kept as it is.

    Parameters
    ----------
    tree : components
    id : str, optional
        The name by which its slots are filled: an output "content" with a dictionary of plain contents.
    slots : str, optional
        A prefix: an element of `dash.html` that is empty and whose id begins with it is a slot, named by the rest of its id. Other
        elements with an id live when this is not given.
    live : sequence of str
        Ids that live in spite of that.

    >>> from dash import dcc
    >>> made = static_layout(html.Div([html.P(id="gears-says"), dcc.Store(id="kept")]), id="gears-said", slots="gears-")
    >>> made.plan["props"]["children"], [one.id for one in made.children]
    ([{'type': 'p', 'props': {'id': 'gears-says'}, 'slot': 'says'}, {'live': 0}], ['kept'])
    """
    kept: list[Component] = []

    def planned(node: Any) -> Any:
        if isinstance(node, list | tuple):
            return [planned(one) for one in node]
        if not isinstance(node, Component) or isinstance(node, StaticHtml):
            return _plain(node)
        name = getattr(node, "id", None)
        plain = node._namespace == "dash_html_components" and (
            name is None or (slots is not None and isinstance(name, str) and name not in live)
        )
        if not plain:
            kept.append(node)
            return {"live": len(kept) - 1}
        props = dict(node.to_plotly_json()["props"])
        inside = props.pop("children", None)
        one = {"type": node._type.lower(), "props": {key: value for key, value in props.items() if value is not None}}
        if name is not None and slots is not None and inside is None and name.startswith(slots):
            return one | {"slot": name.removeprefix(slots)}
        one["props"]["children"] = planned(inside)
        return one

    plan = planned(tree)
    return StaticLayout(children=kept, id=id, plan=plan, content={})


def filled(contents: Mapping[str, Any]) -> Any:
    """Contents for the slots of a composed page; what is not to change is left as it is."""
    fresh = {name: _plain(content) for name, content in contents.items() if content is not no_update}
    if len(fresh) == len(contents):
        return fresh
    patch = Patch()
    for name, content in fresh.items():
        patch[name] = content
    return patch if fresh else no_update


def _plain(node: Any) -> Any:
    """Texts, elements and lists of them, as the browser draws them."""
    if isinstance(node, list | tuple):
        return [_plain(one) for one in node]
    if isinstance(node, StaticHtml):
        return node.content
    if not isinstance(node, Component):
        return node
    given = node.to_plotly_json()["props"]
    if node._namespace != "dash_html_components" or given.get("id") is not None:
        raise TypeError(f"{node._type} cannot be static: it has a name or a life of its own")
    props = {key: value for key, value in given.items() if key != "children" and value is not None}
    return {"type": node._type.lower(), "props": {**props, "children": _plain(given.get("children"))}}
