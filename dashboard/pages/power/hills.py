"""How steep a hill it climbs, and what ends it: the engine, the front wheel or the rear tire."""

from __future__ import annotations

from dashboard.pages.page import Chart, answer_page
from ridesim.plots import charts

PAGE = answer_page(
    key="hills",
    path="/hills",
    name="Hills",
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
