"""Coast-down: what holds the bike back, from one's own logs."""

from __future__ import annotations

from typing import Any

from dashboard import components
from dashboard.display import axis
from dashboard.forms.log_fields import AIR, SPEEDS
from dashboard.pages.page import View
from dashboard.pages.road import log_answer
from dashboard.pages.road.log_answer import Guide
from dashboard.pages.road.log_page import Question, section_of
from dashboard.pages.road.log_section import LogCard
from dashboard.queries import logs
from ridesim.logs.coast_down import Coasted
from ridesim.plots.lines import Line
from ridesim.plots.log import Banded, banded

GUIDE = Guide(
    record=(
        "Time, speed and positions, once a second or more often, with a phone that logs to CSV or GPX.",
        "Start it before you set off and stop it after you have stopped; one log of all runs will do, and so will a log each: "
        "add them in the order ridden.",
        "Write down the temperature and the altitude, or the barometer at the place: the air of that day counts.",
    ),
    ride=(
        "Warm bike and tires, pressures as in the build, dry road, as little wind as you can get.",
        "From a high speed into neutral, or clutch pulled; sit as you always sit and let it roll, without brakes, to a low speed.",
        "The same level stretch out and back, two or three times each way: wind and slope then cancel.",
    ),
)


def _force(found: Coasted, v: View) -> Any:
    x, y = axis("Road speed", "speed", v.system), axis("Resistance", "force", v.system)
    s = found.answer.series
    speed = x(s["speed_m_s"])
    curve = Banded(
        x=speed, y=y(s["force_n"]), low=y(s["low_n"]), high=y(s["high_n"]), role="planned", legend="Your log"
    )
    build = Line(x=speed, y=y(s["build_n"]), role="now", legend="The build as it is")
    return banded([curve], x_title=x.title, y_title=y.title, dark=v.dark, beside=[build], from_zero="y")


SECTION = section_of(
    Question(
        key="coast-down",
        question="What holds the bike back?",
        lead="Coast in neutral, or with the clutch pulled, from a high speed to a low one, out and back along the same level "
        "stretch, with the phone logging. The answer is your drag area and rolling resistance, and how sure they are.",
        guide=GUIDE,
        section=LogCard(
            title="Your coast-downs",
            demo="coast-down",
            demo_words="Open the invented coast-downs",
            fields=(*SPEEDS, "ways", *AIR, "wind", "slope"),
            many=True,
        ),
        ask=logs.coast,
        says=lambda found, v: log_answer.common([found.answer], v.system),
        chart="force",
        caption="Resistance on a level road without wind, in the band that holds it nine times in ten, beside that of the build as it is.",
        draw=_force,
        tables=lambda found, v: components.tables([found.answer], v.system),
        take=("Put it into the build", logs.take_road_load),
    ),
)
