"""Own ride: the same ride with both set-ups, and with every pair of sprockets about them."""

from __future__ import annotations

from typing import Any

from dashboard import components
from dashboard.display import axis
from dashboard.pages.page import View
from dashboard.pages.road.log_answer import Guide
from dashboard.pages.road.log_page import Question, section_of
from dashboard.pages.road.log_section import LogCard
from dashboard.queries import logs
from dashboard.queries.logs import Rides
from ridesim.plots.charts import both
from ridesim.plots.lines import Mark
from ridesim.plots.log import shares

GUIDE = Guide(
    record=(
        "Time, speed and elevation, once a second or more often; a GPX track of an ordinary ride will do.",
        "Start it before you set off and stop it after you have stopped.",
        "From 30 seconds to 16 hours; you can use a part of it.",
    ),
    ride=(
        "Ride as you always ride, where you always ride, within what the law and the road allow: nothing is to be tried out.",
        "Mix town, country road and hills as you usually do: the answer is about that mix.",
    ),
)


def _shares(found: Rides, v: View) -> Any:
    x, y = axis("Engine speed", "engine speed", v.system), axis("Share of the time", "percent", v.system)
    groups = [
        (role, x(a.series["bin_middles_rad_s"]), y(a.series["share"]))
        for role, a in both(found.pair.now, found.pair.planned)
    ]
    s = found.now.answer.series
    marks = [
        Mark(axis="x", at=x.one(s["limit_rad_s"]), text="rev limit", role="warn"),
        Mark(axis="x", at=x.one(s["lugging_rad_s"]), text="lugging below"),
    ]
    return shares(groups, x_title=x.title, y_title=y.title, dark=v.dark, marks=marks)


def _twins(found: Rides, v: View) -> list[Any]:
    return [
        components.plain_table(t.columns, t.rows, v.system, f"{t.title}: {role}")
        for role, answer in both(found.pair.now, found.pair.planned)
        for t in (logs.share_table(answer),)
    ]


def _listed(found: Rides, v: View) -> Any:
    table = found.now.answer.tables[0]
    return components.plain_table(table.columns, table.rows, v.system, table.title)


SECTION = section_of(
    Question(
        key="own-ride",
        question="Your own ride with both set-ups",
        lead="A ride of yours, second by second, on both set-ups: engine speeds, shifts, time near the rev limit or "
        "lugging, and fuel. You ride it as fast as you did.",
        guide=GUIDE,
        section=LogCard(
            title="Your ride", demo="ride", demo_words="Open the invented ride", fields=("up", "down", "lugging")
        ),
        ask=logs.rides,
        says=lambda found, v: components.common(found.pair, v.system),
        chart="shares",
        caption="Where the engine spends the ride: share of the time on the move by engine speed, a bar for each set-up.",
        draw=_shares,
        take=("Choose the sprockets by this ride", logs.take_ride),
        tables=_twins,
        listed=("Every pair on the bike as it is now", _listed),
    ),
)
