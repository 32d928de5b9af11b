"""The front wheel in motion: how high it comes in a gear by a technique, over time and at its highest, and what moves it."""

from __future__ import annotations

import re
from typing import Any

from dash import Dash, Input, Output

from dashboard import components, ids, queries
from dashboard.forms import form
from dashboard.pages.page import Section, View, answers, drawn, writes
from dashboard.url_state import State, from_query, put
from ridesim.plots import side_view

KEY = "front"
GENTLEST = "gentlest"
WAYS = {
    GENTLEST: "The gentlest that does it",
    "throttle": "Throttle alone",
    "off the fork": "Off the fork",
    "tug": "Tug on the bars",
    "clutch": "Clutch",
}
MOTIONS = {
    "height": "Height of the front tire over time: below zero is what the fork still has to extend, above zero the wheel is off the road.",
    "load": "Load on the front wheel over the same time: at zero it carries nothing.",
    "pitch": "How far the nose is up over the same time, by springs and lift together.",
}
STILL = "Bike and rider to scale at the highest point, turned and raised as computed; the rider is drawn seated. With what is planned dashed."


def shown(state: State) -> dict[str, str]:
    """What the two fields hold."""
    return {"gear": str(state.gear or 1), "technique": state.technique or GENTLEST}


def layout(state: State) -> Any:
    held, gears = shown(state), [str(n + 1) for n in range(queries.now(state).gear_count)]
    fields = form.grid(
        form.choice_field(ids.part(KEY, "gear"), "Gear", gears, held["gear"]),
        form.choice_field(ids.part(KEY, "technique"), "Technique", WAYS, held["technique"]),
    )
    return components.frame(
        KEY,
        components.section("What is drawn", fields, landmark=False),
        components.chart(KEY, "still", shape="tall"),
        *(components.chart(KEY, name) for name in MOTIONS),
        components.section("What moves it", components.slot(KEY, "moves"), landmark=False),
    )


GEAR = re.compile("[2-9]")  # the first is what a link without one means


def taken(state: State, gear: str | None, technique: str | None) -> State:
    """The state with what the two fields hold."""
    state = put(state, "gear", int(gear) if gear and GEAR.fullmatch(gear) else None)
    return put(state, "technique", technique if technique in WAYS and technique != GENTLEST else None)


def register(app: Dash) -> None:
    @answers(app, KEY, "still", *MOTIONS)
    def show(v: View) -> dict[str, Any]:
        pair = queries.pair("front_wheel", v.state)
        look = {"gear": v.state.gear or 1, "technique": queries.technique(v.state), **v.look}
        table = components.twins(pair.now, pair.planned, v.system)
        motions = {
            name: drawn(side_view.front_motion(pair.now, pair.planned, over=name, **look), caption, table)
            for name, caption in MOTIONS.items()
        }
        still = drawn(side_view.front_still(pair.now, pair.planned, **look), STILL, table)
        moves = components.twin(*queries.front_moves(v.state), v.system)
        return {"common": components.common(pair, v.system), "still": still, "moves": moves, **motions}

    names = {name: ids.part(KEY, name) for name in ("gear", "technique")}
    writes(app, *(Input(name, "value") for name in names.values()))(taken)

    @app.callback(
        {name: Output(place, "value") for name, place in names.items()},
        Input(ids.LINK, "data"),
        prevent_initial_call=True,
    )
    def fill(link: str | None) -> dict[str, str]:
        return shown(from_query(link)[0])


SECTION = Section(
    key=KEY,
    title="What brings the front up?",
    lead="The bike as one body on its springs, gear by gear: which technique is the gentlest that brings the front up, and how high.",
    layout=layout,
    register=register,
)
