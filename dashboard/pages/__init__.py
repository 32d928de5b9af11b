"""The pages, a question each, in groups and in the order in which a rider comes to them."""

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

GROUPS: tuple[tuple[str, tuple[Page, ...]], ...] = (
    ("The bike", (bike.PAGE, engine.PAGE, tires.PAGE, chain.PAGE)),
    ("How it goes", (gears.PAGE, cruise.PAGE, pull.PAGE, hills.PAGE, lift.PAGE, run.PAGE)),
    ("What to order", (sprockets.PAGE, sheet.PAGE)),
    ("From the road", road.PAGES),
    ("Carburetor and intake", workshop.BENCH),
    ("Kept", workshop.KEPT),
)
ALL: tuple[Page, ...] = (start.PAGE, *(page for _, group in GROUPS for page in group))
_BY_PATH = {page.path: page for page in ALL}


def at(path: str | None) -> Page:
    """The page of a path; the first one for a path that is none."""
    return _BY_PATH.get((path or "/").rstrip("/") or "/", ALL[0])
