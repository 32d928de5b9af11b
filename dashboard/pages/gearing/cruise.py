"""What cruising takes: power needed and at hand by speed, the hill and the head wind held, fuel and range."""

from __future__ import annotations

from dashboard.pages.page import Chart, answer_page
from ridesim.plots import charts

PAGE = answer_page(
    key="cruise",
    path="/cruise",
    name="Cruise",
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
