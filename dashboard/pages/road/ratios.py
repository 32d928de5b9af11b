"""Gear ratios: which gears are in there, from a log with engine speed."""

from __future__ import annotations

from typing import Any

from dashboard import components
from dashboard.display import axis
from dashboard.pages.page import View
from dashboard.pages.road import log_answer
from dashboard.pages.road.log_answer import Guide
from dashboard.pages.road.log_page import Question, section_of
from dashboard.pages.road.log_section import LogCard
from dashboard.queries import logs
from ridesim.logs.gears import Geared
from ridesim.plots.lines import Line
from ridesim.plots.log import rays

GUIDE = Guide(
    record=(
        "Time, road speed and engine speed in one log, once a second or more often: from a plug for the bike's own data, or a "
        "pickup on the ignition lead beside the phone's GPS.",
        "Start it before you set off and stop it after you have stopped.",
        "Measure how far the rear wheel rolls in one turn, rider on, and set the rear tire of the build by it.",
    ),
    ride=(
        "Hold each gear in the middle of its revs and roll the speed gently up and down: longest in the low gears, some two "
        "minutes in first, half a minute or more in every gear above.",
        "Clutch fully home while a gear is ridden: shifts and slipping are left out by themselves.",
        "A dry, straight road: a spinning or sliding wheel, and a phone without sky, spoil the ratio.",
    ),
)


def _rays(found: Geared, v: View) -> Any:
    x, y = axis("Road speed", "speed", v.system), axis("Engine speed", "engine speed", v.system)
    s = found.answer.series
    speed, engine, inside = x(s["speed_m_s"]), y(s["engine_speed_rad_s"]), s["gear_at"] > 0
    gears = [
        Line(x=x(road), y=y(turns), legend="Gears found", name=f"Gear {n}", end=str(n))
        for n, (road, turns) in enumerate(s["rays"], start=1)
    ]
    others = ~inside
    return rays(
        (speed[inside], engine[inside]),
        (speed[others], engine[others]),
        gears,
        x_title=x.title,
        y_title=y.title,
        dark=v.dark,
    )


SECTION = section_of(
    Question(
        key="ratios",
        question="Gear ratios from a log",
        lead="A log of road speed and engine speed tells the ratios of a gearbox you do not know, and which gear you were in "
        "when. The rolling circumference comes from the build.",
        guide=GUIDE,
        section=LogCard(
            title="Your log with engine speed", demo="gears", demo_words="Open the invented log", fields=("gears",)
        ),
        ask=logs.gears,
        says=lambda found, v: log_answer.common([found.answer], v.system),
        chart="rays",
        caption="Every sample of the log, engine speed over road speed; in a gear the samples lie on a ray, numbered at its end.",
        draw=_rays,
        tables=lambda found, v: components.tables([found.answer], v.system),
        take=("Put these ratios into the build", logs.take_gears),
    ),
)
