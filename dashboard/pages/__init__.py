"""The pages, a question each, in the order in which a rider comes to them."""

from __future__ import annotations

from dashboard.pages import cruise, gears
from dashboard.pages.page import Page

ALL: tuple[Page, ...] = (gears.PAGE, cruise.PAGE)
_BY_PATH = {page.path: page for page in ALL}


def at(path: str | None) -> Page:
    """The page of a path; the first one for a path that is none."""
    return _BY_PATH.get((path or "/").rstrip("/") or "/", ALL[0])
