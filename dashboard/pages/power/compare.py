"""One comparison: pull, front lift, run and hills of both set-ups, gear by gear, and the bike with its masses to scale."""

from __future__ import annotations

from typing import Any

from dash import Dash, Input, html, no_update

from dashboard import components, display, ids, queries
from dashboard.forms import form
from dashboard.pages.page import Section, View, answers, drawn, writes
from dashboard.static_html import static_html
from dashboard.url_state import MOST_BACK_MM, State, put
from ridesim.plots import charts, side_view

KEY = "pull"
FORCE = "Wheel force in each gear, numbered at its end, over the resistance on level road and on three grades: the gap between them accelerates the bike."
MAP = "What the planned set-up pushes more (rust, above zero) or less (blue, below zero), gear by gear."
VIEW = "The bike as it is now, to scale: the centers of mass of bike, rider and luggage, and the one of all together, which moves with the slider."


def layout(state: State) -> Any:
    said, ends = "How far back the rider moves, in millimeters", (0, MOST_BACK_MM, 5)
    back = queries.millimeters(state.back)
    slider = form.slider(ids.part(KEY, "back"), said, ends, back, label=None, thumbSize=22)
    label = html.Label("How far back the rider moves", id=ids.part(KEY, "back-label"), className="field-label")
    return components.frame(
        KEY,
        components.slot(KEY, "gained"),
        components.section("Gear by gear", components.slot(KEY, "gears")),
        components.chart(KEY, "force", shape="tall"),
        components.chart(KEY, "map", shape="differs"),
        components.chart(KEY, "view", shape="tall"),
        components.section("With the rider farther back", label, slider, components.slot(KEY, "moved", role="status")),
    )


def _moved(moved: Any, back_m: float, v: View) -> list[Any]:
    words = f"Rider {display.shown(back_m, 'small length', v.system)} farther back" if back_m else "Seated as usual"
    return [html.P([html.Strong(f"{words}: "), display.say(moved, v.system)])]


def _gained(gain: Any, v: View) -> Any:
    """What one tune gains over the other, where there are two."""
    if queries.now(v.state).bike.tune == queries.planned(v.state).bike.tune:
        return None
    tables = components.tables([gain], v.system)
    more = html.Details(
        [html.Summary("Engine speed by engine speed, and what leaves it open"), *tables], className="fold"
    )
    head = html.H3("Did the tune gain?")
    return static_html(
        html.Section([head, html.P(display.say(gain, v.system), className="say small"), more], className="card")
    )


def _map(gain: Any, v: View) -> dict[str, Any]:
    """Where one set-up pushes more; nothing where both are alike."""
    if queries.alike(v.state):
        return drawn(no_update, "", None)
    return drawn(charts.gain(gain, **v.look), MAP, components.tables([gain], v.system))


def register(app: Dash) -> None:
    @answers(app, KEY, "force", "map", "view")
    def show(v: View) -> dict[str, Any]:
        pair, gain, lift = (
            queries.pair("pull", v.state),
            queries.tune_gain(v.state),
            queries.pair("front_lift", v.state),
        )
        moved, back_m = queries.moved_back(v.state)
        table = components.twin(*queries.gear_by_gear(v.state), v.system)
        figures = components.figure_table(moved.figures.values(), v.system)
        return {
            "common": components.common(pair, v.system, gain),
            "gained": _gained(gain, v),
            "gears": table,
            "force": drawn(
                charts.pull(pair.now, pair.planned, **v.look), FORCE, components.twins(pair.now, pair.planned, v.system)
            ),
            "map": _map(gain, v),
            "view": drawn(side_view.masses(lift.now, moved, **v.look), VIEW, figures),
            "moved": _moved(moved, back_m, v),
        }

    @writes(app, Input(ids.part(KEY, "back"), "value"))
    def move(state: State, back: float | None) -> State:
        return put(state, "back", f"{back:g} mm" if back else None)


SECTION = Section(
    key=KEY,
    title="Now against planned, gear by gear",
    lead="Pull, front lift, hills and top speed of both set-ups in every gear, and the bike with the rider on it.",
    layout=layout,
    register=register,
)
