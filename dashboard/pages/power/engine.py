"""What the engine gives: torque and power by engine speed, at the crank and at the wheel on the day."""

from __future__ import annotations

from dashboard.pages.page import Chart, answer_page
from ridesim.plots import charts

PAGE = answer_page(
    key="engine",
    path="/engine",
    name="Engine",
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
