"""The pages, a question each, in the order in which a rider comes to them."""

from __future__ import annotations

from dashboard.pages import (
    bike,
    chain,
    cruise,
    engine,
    gears,
    hills,
    lift,
    pull,
    road,
    run,
    sheet,
    sprockets,
    start,
    tires,
    workshop,
)
from dashboard.pages.page import Page

ALL: tuple[Page, ...] = (
    start.PAGE,
    bike.PAGE,
    gears.PAGE,
    cruise.PAGE,
    tires.PAGE,
    engine.PAGE,
    pull.PAGE,
    hills.PAGE,
    lift.PAGE,
    run.PAGE,
    chain.PAGE,
    sprockets.PAGE,
    sheet.PAGE,
    *road.PAGES,
    *workshop.PAGES,
)
_BY_PATH = {page.path: page for page in ALL}


def at(path: str | None) -> Page:
    """The page of a path; the first one for a path that is none."""
    return _BY_PATH.get((path or "/").rstrip("/") or "/", ALL[0])
