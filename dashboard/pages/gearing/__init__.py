"""Gearing: which sprockets to order, speed in each gear, cruising, and whether the chain fits."""

from __future__ import annotations

from dashboard.pages.gearing import sprockets
from dashboard.pages.page import Chart, Page, answer_section
from ridesim.plots import charts

GEARS = answer_section(
    key="gears",
    title="Speed in each gear",
    lead="Engine speed against road speed in every gear, the drop at each shift, and where you cruise.",
    question="speeds",
    charts=(
        Chart(
            name="speed",
            caption="A line for each gear, numbered at its end; the thin upright lines are the best upshifts, from the engine speed before to the one after.",
            draw=charts.speeds,
            shape="tall",
        ),
    ),
)
CRUISE = answer_section(
    key="cruise",
    title="What does cruising take?",
    lead="Hours at one speed: engine speed, power in hand, the hill and the head wind held without shifting down, fuel and range.",
    question="cruising",
    charts=(
        Chart(
            name="power",
            caption="Power at the wheel in each gear over what road and air take: the gap at the cruising speed is what is left for a hill or a head wind.",
            draw=charts.cruise,
            shape="tall",
        ),
    ),
)
CHAIN = answer_section(
    key="chain",
    title="Does the chain fit?",
    lead="Links to order, where the axle ends up between its stops, and how hard the chain is pulled.",
    question="chain",
    charts=(
        Chart(
            name="view",
            caption="Sprockets at the radius the chain runs on, to scale; the shaded box is the travel of the axle from where it is now.",
            draw=charts.chain,
            shape="flat",
        ),
    ),
)
PAGE = Page(
    path="/gearing",
    name="Gearing",
    lead="What to order, and what it does to engine speed, cruising and chain.",
    sections=(sprockets.SECTION, GEARS, CRUISE, CHAIN),
)
