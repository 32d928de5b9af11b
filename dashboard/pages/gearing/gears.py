"""What each gear gives: engine speed against road speed."""

from __future__ import annotations

from dashboard.pages.page import Chart, answer_page
from ridesim.plots import charts

PAGE = answer_page(
    key="gears",
    path="/gears",
    name="Gears",
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
