"""How quickly it gets going: the standing start through the gears."""

from __future__ import annotations

from functools import partial

from dashboard.pages.page import Chart, answer_page
from ridesim.plots import charts

PAGE = answer_page(
    key="run",
    path="/run",
    name="Run",
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
