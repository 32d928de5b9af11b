"""How hard it pulls: wheel force by gear beside what road and air take, and where one set-up pulls harder than the other."""

from __future__ import annotations

from typing import Any

from dash import Dash, html

from dashboard import components, display, queries
from dashboard.display import axis
from dashboard.pages.page import Page, View, answers, both, drawn
from dashboard.url_state import State
from ridesim.plots.lines import Line, lines
from ridesim.plots.maps import change_map

KEY = "pull"
FORCE = "Wheel force in each gear, numbered at its end, over the resistance on level road and on three grades: the gap between them accelerates the bike."
MAP = "What the set-up that might be pushes more (rust, above zero) or less (blue, below zero), gear by gear."
ALIKE = (
    "Where one set-up pushes more than the other, gear by gear: change something under Might be, and it is drawn here."
)


def layout(state: State) -> Any:
    return components.frame(
        KEY,
        "How hard does it pull?",
        "Force at the rear wheel in every gear, the hills it is asked to beat, and roll-on times at full throttle.",
        components.chart(KEY, "force", tall=True),
        components.chart(KEY, "map"),
    )


def force(pair: Any, v: View) -> Any:
    """Wheel force by gear beside the resistance on level road and on grades."""
    x, y = axis("Road speed", "speed", v.system), axis("Wheel force", "force", v.system)
    rows = [
        Line(
            x=x(pair.now.series["road_speed_m_s"]),
            y=y(force),
            role="road",
            legend="Resistance, now",
            name=f"Resistance on {display.shown(grade, 'percent', v.system)}",
            end=display.field_text(grade, "percent", v.system),
            thin=True,
        )
        for grade, force in pair.now.series["resistance_n"].items()
    ]
    for role, answer in both(pair):
        s = answer.series
        rows += [
            Line(x=x(speed), y=y(force), role=role, name=f"Gear {n}", end=str(n))
            for n, (speed, force) in enumerate(zip(s["speed_m_s"], s["force_n"], strict=True), start=1)
        ]
    return lines(rows, x_title=x.title, y_title=y.title, dark=v.dark)


def _map(gain: Any, v: View) -> Any:
    x, z = axis("Engine speed", "engine speed", v.system), axis("Change of wheel force", "force", v.system)
    s = gain.series
    change = s.get("force_change_n", [[]])
    gears = range(1, len(change) + 1)
    return change_map(
        x(s.get("engine_speed_rad_s", [])),
        gears,
        z(change),
        x_title=x.title,
        y_title="Gear",
        change_title=z.title,
        dark=v.dark,
    )


def _gained(gain: Any, v: View) -> list[Any]:
    return [
        html.P(display.say(gain, v.system)),
        *(components.plain_table(t.columns, t.rows, v.system, t.title) for t in gain.tables),
    ]


def register(app: Dash) -> None:
    @answers(app, KEY, "force", "map")
    def show(v: View) -> dict[str, Any]:
        pair, gain = queries.pair("pull", v.state), queries.tune_gain(v.state)
        return {
            "common": components.common(pair, v.system, gain),
            "force": drawn(force(pair, v), FORCE, components.twins(pair.now, pair.might, v.system)),
            "map": drawn(_map(gain, v), ALIKE if queries.alike(v.state) else MAP, _gained(gain, v)),
        }


PAGE = Page(key=KEY, path="/pull", name="Pull", layout=layout, register=register)
