"""The door to the choice of sprockets: crossed once a ride, held anew to every limit that is typed, one of them picked."""

from __future__ import annotations

from dataclasses import dataclass, replace
from functools import lru_cache
from typing import Any

from dashboard import queries
from dashboard.queries import own_ride
from dashboard.queries.own_ride import remembered
from dashboard.url_state import SetUp, State
from dashboard.url_state.fields import SPECS, FieldTexts
from ridesim import answers
from ridesim import selection as choosing
from ridesim.components.tire_marking import names_tire, parse_marking
from ridesim.errors import InputError
from ridesim.selection import verdict_words
from ridesim.selection.goals import RIDE_GOALS
from ridesim.selection.other_ways import OtherTune
from ridesim.units import quantity

PLAIN: dict[str, Any] = {"units": "metric", "back": None, "gear": None, "technique": None, "fields": FieldTexts()}


@dataclass(frozen=True, kw_only=True)
class Picked:
    """The planned combination: what it is, how it stands to the limits, and what to order for it."""

    name: str
    alike: bool
    best: bool
    falls: tuple[str, ...]
    order: tuple[str, ...]


def _ride_alone(state: State) -> State:
    """The state without what makes no difference to the kernel."""
    kept = state.limits_form.only("fronts", "rears", "tires", "tunes", "ride")
    return replace(state, planned=SetUp(), limits_form=kept, **PLAIN)


@lru_cache(maxsize=32)
def _bikes(state: State) -> choosing.Bikes:
    build, limits, now = queries.loaded(state), queries.loaded(state).record.limits, state.now
    return choosing.bikes_of(
        build,
        state.limits_form.tire_list or limits.rear_tires or ((now.rear_tire,) if now.rear_tire else None),
        state.limits_form.tune_list or limits.tunes or ((now.tune,) if now.tune else None),
        state.now.front_tire,
    )


def bikes(state: State) -> choosing.Bikes:
    """The bikes that are crossed with the sprockets."""
    no_ride: dict[str, Any] = {"cruise": None, "grade": None, "head_wind": None}
    parts = state.limits_form.only("tires", "tunes")
    fitted = replace(state.now, front=None, rear=None)
    return _bikes(replace(state, now=fitted, planned=SetUp(), limits_form=parts, **no_ride, **PLAIN))


def sprockets(state: State) -> tuple[tuple[int, ...], tuple[int, ...]]:
    """The sprockets that are looked at: those typed, else those of the build file, else those near the ones of now."""
    record = queries.loaded(state).record
    fitted = record.final_drive
    own = fitted.teeth or (queries.now(state).bike.front_teeth, queries.now(state).bike.rear_teeth)
    usual = choosing.near(state.now.front or own[0], state.now.rear or own[1])
    fronts = state.limits_form.teeth("fronts") or record.limits.fronts or usual[0]
    rears = state.limits_form.teeth("rears") or record.limits.rears or usual[1]
    return tuple(fronts), tuple(rears)


@remembered(16)
def _crossing(state: State) -> choosing.Crossing:
    found = bikes(state)
    ride = answers.ride_with(found.own, cruise=state.cruise, grade=state.grade, headwind=state.head_wind)
    return choosing.cross(found, *sprockets(state), ride, own_ride.rides(state))


@remembered(32)
def _choice(state: State) -> choosing.Choice:
    limits, goals = state.limits_form.limits(queries.loaded(state).record.limits), state.limits_form.goals
    if goals[0] == goals[1]:
        raise InputError("up", None, "is on the other axis already", "Trade two different figures.")
    for axis, key in zip(("across", "up"), goals, strict=True):
        if key in RIDE_GOALS and not state.limits_form.ride:
            raise InputError(axis, None, "is of a ride, and none is chosen", "Choose a ride of yours above.")
    return choosing.choice_of(_crossing(_ride_alone(state)), limits, goals)


def _plain(state: State) -> State:
    """The state without what makes no difference to the choice, its rides named one by one."""
    return replace(own_ride.settled(state), planned=SetUp(), **PLAIN)


def choice(state: State) -> choosing.Choice:
    """Every combination held to what the rider needs."""
    return _choice(_plain(state))


def counted_above(state: State) -> float | None:
    """The engine speed above which the time of a ride counts; nothing while the limits are at fault. [rad/s]"""
    try:
        return float(_choice(state).high_rad_s)
    except InputError:
        return None


@remembered(16)
def _verdict(state: State, wish: str, sure: float) -> choosing.Verdict:
    fitted = choosing.OnBike(**parts(state, state.now))
    return choosing.verdict(_choice(state), wish=wish, sure=sure, on_bike=fitted)


def verdict(state: State) -> choosing.Verdict:
    """Keep what is fitted now, order something, or relax a limit, by the rider's wish and the certainty asked for."""
    plain = {key: SPECS[key].plain for key in ("need-wish", "need-sure")}
    wish, sure = state.fields.need_wish or plain["need-wish"], state.fields.need_sure or plain["need-sure"]
    certainty = float(quantity(sure, "ratio", "%", "sure"))
    return _verdict(_plain(state), wish, certainty)


def other_ways(state: State, found: choosing.Verdict) -> tuple[str, ...]:
    """What of the build's own and of what the garage keeps would meet every limit, where no pair does."""
    if found.action != "none" or found.asks:
        return ()
    kept = own_ride.parts(state)
    return choosing.other_ways(queries.loaded(state), found, kept.tires, [OtherTune(*one) for one in kept.tunes])


def parts(state: State, set_up: SetUp) -> dict[str, Any]:
    """The parts of a set-up that a choice is between."""
    build = queries.loaded(state)
    fitted, on = build.record.final_drive, parse_marking(build.record.tires.rear.size, "tires.rear.size")
    tried = on if set_up.rear_tire is None else parse_marking(set_up.rear_tire, "tires.rear.size")
    return {
        "front": set_up.front or fitted.front,
        "rear": set_up.rear or fitted.rear,
        "rear_tire": (on if names_tire(tried, on) else tried).written,
        "tune": build.tune_name(set_up.tune),
    }


@remembered(32)
def _alone(state: State) -> choosing.Combination:
    """The planned combination, where it is not among those crossed."""
    build, wanted = queries.loaded(state), parts(state, state.planned_whole)
    found = choosing.bikes_of(build, (wanted["rear_tire"],), (wanted["tune"],), state.now.front_tire)
    ride = answers.ride_with(found.own, cruise=state.cruise, grade=state.grade, headwind=state.head_wind)
    crossing = choosing.cross(found, (wanted["front"],), (wanted["rear"],), ride, own_ride.rides(state))
    return choosing.choice_of(crossing, choice(state).limits, state.limits_form.goals).candidates[0]


def planned(state: State) -> choosing.Combination | None:
    """The planned combination, if it is among those crossed."""
    return choice(state).find(**parts(state, state.planned_whole))


def now(state: State) -> choosing.Combination | None:
    """The combination that is fitted now, if it is among those crossed."""
    return choice(state).find(**parts(state, state.now))


def picked(state: State) -> Picked:
    """What is to be said of the planned combination."""
    found = planned(state)
    one = _alone(replace(own_ride.settled(state), **PLAIN)) if found is None else found
    mine, theirs = parts(state, state.now), parts(state, state.planned_whole)
    return Picked(
        name=choosing.name(one.choice, one.n, whole=True),
        alike=mine == theirs,
        best=found is not None and found.unbeaten,
        falls=tuple(fall.says for fall in one.choice.falls(one.n, state.units)),
        order=verdict_words.order_list(one, choosing.OnBike(**mine), state.units),
    )


def names(choice: choosing.Choice) -> list[str]:
    """The name by which a combination is picked, for every row: its teeth, and the places of its tire and its tune."""
    crossing = choice.crossing
    pairs = [f"{a}/{b}" for a, b in zip(crossing.fronts.tolist(), crossing.rears.tolist(), strict=True)]
    ends = [f"/{t}/{u}" for t in range(len(crossing.bikes.tires)) for u in range(len(crossing.bikes.tunes))]
    return [pair + end for end in ends for pair in pairs]


def name(one: choosing.Combination) -> str:
    """The name by which one combination is picked."""
    tire, tune, _ = one.choice.crossing.place(one.n)
    return f"{one.front}/{one.rear}/{tire}/{tune}"


def token(state: State, *, heads: bool = False) -> str:
    """A word that stays the same as long as the table does, or its headings and what stands in the empty fields."""
    looked = replace(_plain(state), units=state.units)
    if heads:
        ridden = "ridden" if looked.limits_form.ride else None
        parts = replace(state.limits_form.only("tires", "tunes", "walk_at"), ride=ridden)
        looked = replace(looked, cruise=None, grade=None, head_wind=None, limits_form=parts)
    return f"{hash(looked):x}"


def pick(state: State, name: str) -> State:
    """The state in which the combination of a name is planned; InputError where there is none of that name."""
    found = choice(state)
    try:
        row = names(found).index(name)
    except ValueError:
        raise InputError("pick", name[:40], "is not among the combinations", "Choose one from the table.") from None
    one, fitted = found.candidates[row], parts(state, state.now)
    wanted: dict[str, Any] = {"front": one.front, "rear": one.rear, "rear_tire": one.rear_tire, "tune": one.tune}
    changes = {key: None if value == fitted[key] else value for key, value in wanted.items()}
    return replace(state, planned=replace(state.planned, **changes))
