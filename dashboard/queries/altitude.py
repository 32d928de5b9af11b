"""The door to a ride to another height: the heights that are given, else those of the rider's own ride."""

from __future__ import annotations

from dataclasses import replace
from typing import Any

from dashboard import queries
from dashboard.forms.link_fields import figure, number, text
from dashboard.queries import own_ride
from dashboard.queries.fueling import AIR_KEYS, BenchAnswer, sizes, worked_out
from dashboard.url_state import State
from ridesim.environment.climb import Climb, stated_climb
from ridesim.errors import InputError
from ridesim.fueling.altitude import JetFitted, altitude
from ridesim.logs.reader import read_climb

INVENTED = (
    "The gears and speeds are those of the invented bike that is open: open yours to learn whether it holds the hills."
)


def climb(state: State) -> BenchAnswer:
    """What is left at the end of the climb, with the planned gearing."""
    ridden = not (text(state, "climb-from") or text(state, "climb-to"))
    return _climb(own_ride.settled(state) if ridden else state)


@own_ride.remembered(16)
def _climb(state: State) -> BenchAnswer:
    numbering: Any = text(state, "numbering")
    planned, size, listed = queries.planned(state), figure(state, "climb-jet"), sizes(state, "jet-sizes")
    jet = None
    if size is not None:
        step = None if listed else number(state, "jet-step")
        jet = JetFitted(size=size, numbering=numbering, step=step, sizes=listed)
    written = any(getattr(state.fields, f"set_{key}") for key in AIR_KEYS if key != "humidity")
    answer = altitude(
        planned.bike,
        _way(state),
        ride=planned.ride,
        right=worked_out(state, "set") if written or state.own is None else None,
        jet=jet,
        start_temperature_k=figure(state, "climb-temperature"),
    )
    if state.own is None:
        answer = replace(answer, notes=(INVENTED, *answer.notes))
    return BenchAnswer(answers=(answer,), invented=state.own is None)


def _way(state: State) -> Climb:
    if text(state, "climb-from") or text(state, "climb-to"):
        grade = figure(state, "climb-grade") or 0.0
        return stated_climb(number(state, "climb-from"), number(state, "climb-to"), grade)
    try:
        return read_climb(own_ride.rides(state)[0])
    except InputError as error:
        raise InputError("climb-from", None, error.problem, "Give the heights, or open a ride that has them.") from None
