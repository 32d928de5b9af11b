"""The pages, each a thing to settle, in the order of the row of links; and where the pages of older links have gone."""

from __future__ import annotations

from dash import html

from dashboard.pages import carburetor, garage, gearing, how_we_know, my_bike, power, road, tires
from dashboard.pages.page import Page, Section
from dashboard.static_html import internal_link
from dashboard.url_state import State

PAGES: tuple[Page, ...] = (
    my_bike.PAGE,
    gearing.PAGE,
    tires.PAGE,
    power.PAGE,
    carburetor.PAGE,
    road.PAGE,
    garage.PAGE,
)
ALL: tuple[Page, ...] = (*PAGES, how_we_know.PAGE)  # all that have an address
SECTIONS: dict[str, Section] = {section.key: section for page in ALL for section in page.sections}
_BY_PATH = {page.path: page for page in ALL}
OLD = {  # a page of older links, whose path was its key -> its section now
    f"/{section.key}": f"{page.path}#{section.key}"
    for page in PAGES
    for section in page.sections
    if f"/{section.key}" not in _BY_PATH
}


class Nowhere(Page):
    """What stands at an address that is none."""

    def layout(self, state: State, anchor: str = "") -> html.Article:
        told = html.P(["Choose one of the seven above, or ", internal_link("begin with your bike", "/"), "."])
        return html.Article([html.H1(self.name), told], className="page")


NOWHERE = Nowhere(path="", name="There is no page at this address", lead="", sections=(), set_ups=False)


def tidy(path: str | None) -> str:
    """A path without the stroke at its end."""
    return (path or "/").rstrip("/") or "/"


def at(path: str | None) -> Page:
    """The page of a path."""
    return _BY_PATH.get(tidy(path), NOWHERE)


def known(path: str) -> str:
    """The path itself where a page is or was; else that of the first page."""
    tidied = tidy(path)
    return tidied if tidied in _BY_PATH or tidied in OLD else "/"
