"""How hard it pulls: wheel force by gear beside what road and air take, and where one set-up pulls harder than the other."""

from __future__ import annotations

from typing import Any

from dash import Dash, html

from dashboard import components, display, queries
from dashboard.pages.page import Section, View, answers, drawn
from dashboard.url_state import State
from ridesim.plots import charts

KEY = "pull"
FORCE = "Wheel force in each gear, numbered at its end, over the resistance on level road and on three grades: the gap between them accelerates the bike."
MAP = "What the planned set-up pushes more (rust, above zero) or less (blue, below zero), gear by gear."
ALIKE = (
    "Where one set-up pushes more than the other, gear by gear: change something under Planned, and it is drawn here."
)


def layout(state: State) -> Any:
    return components.frame(
        KEY,
        components.chart(KEY, "force", shape="tall"),
        components.chart(KEY, "map"),
    )


def _gained(gain: Any, v: View) -> list[Any]:
    return [
        html.P(display.say(gain, v.system)),
        *components.tables([gain], v.system),
    ]


def register(app: Dash) -> None:
    @answers(app, KEY, "force", "map")
    def show(v: View) -> dict[str, Any]:
        pair, gain = queries.pair("pull", v.state), queries.tune_gain(v.state)
        return {
            "common": components.common(pair, v.system, gain),
            "force": drawn(
                charts.pull(pair.now, pair.planned, **v.look), FORCE, components.twins(pair.now, pair.planned, v.system)
            ),
            "map": drawn(charts.gain(gain, **v.look), ALIKE if queries.alike(v.state) else MAP, _gained(gain, v)),
        }


SECTION = Section(
    key=KEY,
    title="How hard does it pull?",
    lead="Force at the rear wheel in every gear, the hills it is asked to beat, and roll-on times at full throttle.",
    layout=layout,
    register=register,
)
