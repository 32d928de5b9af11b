"""Whether the chain fits: links, where the axle ends up, and what pulls on it."""

from __future__ import annotations

from dashboard.pages.page import Chart, answer_page
from ridesim.plots import charts

PAGE = answer_page(
    key="chain",
    path="/chain",
    name="Chain",
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
