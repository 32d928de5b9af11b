"""Content that only stands there, sent to the browser as one component.

Every component with a place of its own in the page library's books costs the browser time at every change, whatever changed. A
table of a hundred cells that nothing addresses is kept here as one, and drawn by `assets/still.js`.
"""

from __future__ import annotations

from typing import Any, ClassVar

from dash import html
from dash.development.base_component import Component


class Still(Component):
    """Plain content in one piece: texts, and components of `dash.html` without names or clicks."""

    _children_props: ClassVar[list[str]] = []
    _base_nodes: ClassVar[list[str]] = ["children"]
    _namespace = "ridesim_parts"
    _type = "Still"

    def __init__(self, content: Any = None) -> None:
        self._prop_names = ["content"]
        self._valid_wildcard_attributes: list[str] = []
        self.available_properties = ["content"]
        self.available_wildcard_properties: list[str] = []
        super().__init__(content=content)


def still(content: Any) -> Still:
    """The content in one piece.

    Raises
    ------
    TypeError
        Something in it has a name that a callback could look for, or is no plain component.

    >>> still([html.P("It pulls.", className="say")]).content
    [{'type': 'p', 'props': {'className': 'say', 'children': 'It pulls.'}}]
    """
    return Still(content=_plain(content))


def way(label: Any, href: str, **more: Any) -> html.A:
    """A link to another page of the app, which turns the page without loading everything anew."""
    return html.A(label, href=href, className=f"inside {more.pop('className', '')}".strip(), **more)


def _plain(node: Any) -> Any:
    """Texts, elements and lists of them, as the browser draws them."""
    if isinstance(node, list | tuple):
        return [_plain(one) for one in node]
    if isinstance(node, Still):
        return node.content
    if not isinstance(node, Component):
        return node
    given = node.to_plotly_json()["props"]
    if node._namespace != "dash_html_components" or given.get("id") is not None:
        raise TypeError(f"{node._type} cannot stand still: it has a name or a life of its own")
    props = {key: value for key, value in given.items() if key != "children" and value is not None}
    return {"type": node._type.lower(), "props": {**props, "children": _plain(given.get("children"))}}
