"""Power: stock against tuned, in torque and power, pull, front lift, run and hills."""

from __future__ import annotations

from functools import partial

from dashboard.pages.page import Chart, Page, answer_section
from dashboard.pages.power import compare, front
from ridesim.plots import charts

ENGINE = answer_section(
    key="engine",
    title="What does the engine give?",
    lead="The torque and power of each state of tune; choose another under Planned to compare two.",
    question="power",
    charts=(
        Chart(name="torque", caption="Torque at the crank in the standard air of its sheet.", draw=charts.torque),
        Chart(
            name="power",
            caption="Power at the crank in standard air (thick) and at the wheel on this day (thin).",
            draw=charts.power,
        ),
    ),
)
LIFT = answer_section(
    key="lift",
    title="How easily does the front come up?",
    lead="The lift ratio is the acceleration the engine gives over the one at which the front wheel carries nothing: at 1 and over it comes up.",
    question="front_lift",
    charts=(
        Chart(
            name="ratio",
            caption="Where a line passes 1 the throttle alone lifts the front in that gear; under it, the rider's own weight has to help.",
            draw=charts.front_lift,
            shape="tall",
        ),
    ),
)
RUN = answer_section(
    key="run",
    title="How quickly does it get going?",
    lead="From rest through the gears at full throttle, held back only where the front would lift or the rear would spin.",
    question="standing_run",
    charts=(
        Chart(
            name="time",
            caption="Speed from rest at full throttle; the flats are the shifts, each numbered with the gear it goes to.",
            draw=charts.run,
            shape="tall",
        ),
        Chart(
            name="distance",
            caption="The same run over the distance covered.",
            draw=partial(charts.run, over="distance"),
        ),
    ),
)
HILLS = answer_section(
    key="hills",
    title="How steep a hill does it climb?",
    lead="A steady climb in each gear, ended by the engine, by the front wheel going light or by the rear tire.",
    question="climbing",
    charts=(
        Chart(
            name="grade",
            caption="The grade each gear climbs steadily at each speed; the engine's own limit is drawn, and the table says where the front wheel or the rear tire gives up first.",
            draw=charts.climb,
            shape="tall",
        ),
    ),
)
PAGE = Page(
    path="/power",
    name="Power",
    lead="One tune against another: what it pulls, lifts, runs and climbs.",
    sections=(compare.SECTION, ENGINE, LIFT, front.SECTION, RUN, HILLS),
)
