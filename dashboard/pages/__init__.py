"""The pages, a question each, in groups and in the order in which a rider comes to them."""

from __future__ import annotations

from dashboard.pages import how_we_know, tires
from dashboard.pages.carburetor import idle, intake, jets, needle, symptoms, trials
from dashboard.pages.garage import garage, sheet
from dashboard.pages.gearing import chain, cruise, gears, sprockets
from dashboard.pages.my_bike import build, evidence, start
from dashboard.pages.page import Page
from dashboard.pages.power import engine, hills, lift, pull, run
from dashboard.pages.road import coast_down, own_ride, pull_log, ratios

GROUPS: tuple[tuple[str, tuple[Page, ...]], ...] = (
    ("The bike", (build.PAGE, evidence.PAGE, engine.PAGE, tires.PAGE, chain.PAGE)),
    ("How it goes", (gears.PAGE, cruise.PAGE, pull.PAGE, hills.PAGE, lift.PAGE, run.PAGE)),
    ("What to order", (sprockets.PAGE, sheet.PAGE)),
    ("From the road", (coast_down.PAGE, pull_log.PAGE, ratios.PAGE, own_ride.PAGE)),
    ("Carburetor and intake", (jets.PAGE, symptoms.PAGE, needle.PAGE, intake.PAGE, idle.PAGE)),
    ("Kept", (trials.PAGE, garage.PAGE)),
)
ALL: tuple[Page, ...] = (start.PAGE, *(page for _, group in GROUPS for page in group), how_we_know.PAGE)
_BY_PATH = {page.path: page for page in ALL}


def at(path: str | None) -> Page:
    """The page of a path; the first one for a path that is none."""
    return _BY_PATH.get((path or "/").rstrip("/") or "/", ALL[0])
