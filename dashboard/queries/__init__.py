"""The one door to the library: what a page asks, asked once and remembered (bounded)."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import replace
from datetime import date
from functools import lru_cache, partial
from typing import Any

from dashboard.url_state import Problem, SetUp, State
from ridesim import answers, reference
from ridesim.answers import Answer, Pair, Solved
from ridesim.answers.answer import Change, Table, changed
from ridesim.answers.compare import differences
from ridesim.answers.front_wheel.body import TECHNIQUES
from ridesim.bike import Bike, make_bike
from ridesim.buildfile.first import FIELDS as FIRST_FIELDS
from ridesim.buildfile.first import PLACES as FIRST_PLACES
from ridesim.buildfile.first import first_build
from ridesim.buildfile.io import Build, parse, read
from ridesim.errors import InputError, each, short
from ridesim.evidence import FittedErrors, fit
from ridesim.report import sheet as sheets
from ridesim.report import sheet_pdf as pdfs
from ridesim.units import in_unit, quantity

QUESTIONS: Mapping[str, Callable[[Solved], Answer]] = {
    name: getattr(answers, name)
    for name in (
        *("speeds", "cruising", "pull", "front_lift", "front_wheel"),
        *("climbing", "standing_run", "chain", "tires", "power"),
    )
}
OF_CRUISE = ("speeds", "cruising")  # the others are the same at every cruising speed
# where the library finds fault -> the field of a set-up, and the field of the ride
OF_SET_UP = {
    "final_drive.front": "front",
    "final_drive.rear": "rear",
    "tires.rear.size": "rear-tire",
    "tires.rear": "rear-tire",
    "tires.front.size": "front-tire",
    "tires.front": "front-tire",
    "tune": "tune",
    "masses.luggage": "luggage",
}
OF_RIDE = {"cruise": "cruise", "grade": "grade", "headwind": "head-wind", "surface": "surface"}


@lru_cache(maxsize=64)
def _filed(demo: str, own: str | None) -> Build:
    build = read(reference.DATA / "demo" / f"{demo}.toml") if own is None else parse(own)
    return replace(build, bike="the open bike")  # both set-ups are of one bike, also where one was read anew


@lru_cache(maxsize=16)
def fitted(demo: str, own: str | None) -> FittedErrors:
    """What the readings of a state's build make of it."""
    return fit(_filed(demo, own))


@lru_cache(maxsize=64)
def build_of(demo: str, own: str | None) -> Build:
    """The build a state is about, with what its readings say."""
    build = _filed(demo, own)
    return replace(build, posterior=fitted(demo, own).posterior) if build.record.evidence else build


def build(state: State) -> Build:
    """The build a state is about, as its file has it."""
    return build_of(state.demo, state.own)


@lru_cache(maxsize=128)
def _loaded(demo: str, own: str | None, luggage: str | None, surface: str | None) -> Build:
    changes: dict[str, Any] = {}
    if luggage is not None:
        changes["masses.luggage"] = luggage
    if surface is not None:
        changes |= {"surface.name": surface, "surface.friction": None}
    build = build_of(demo, own)
    return build.changed(changes) if changes else build


def loaded(state: State) -> Build:
    """The build a state is about, with the luggage and on the surface of now."""
    return _loaded(state.demo, state.own, state.now.luggage, state.surface)


@lru_cache(maxsize=64)
def _bike(demo: str, own: str | None, set_up: SetUp, surface: str | None) -> Bike:
    parts = {name: getattr(set_up, name) for name in ("tune", "front", "rear", "rear_tire", "front_tire")}
    return make_bike(_loaded(demo, own, set_up.luggage, surface), **parts)


@lru_cache(maxsize=128)
def _solved(demo: str, own: str | None, set_up: SetUp, surface: str | None, units: str, **ride: str | None) -> Solved:
    bike = _bike(demo, own, set_up, surface)
    return answers.solve(bike, answers.ride_with(bike, units=units, **ride))


def _of(state: State, set_up: SetUp) -> Solved:
    ride = {"cruise": state.cruise, "grade": state.grade, "headwind": state.head_wind}
    return _solved(state.demo, state.own, set_up, state.surface, state.units, **ride)


def now(state: State) -> Solved:
    """The bike as it is now, solved."""
    return _of(state, state.now)


def planned(state: State) -> Solved:
    """The bike as planned, solved."""
    return _of(state, state.planned_whole)


@lru_cache(maxsize=256)
def _answer(question: str, solved: Solved) -> Answer:
    return QUESTIONS[question](solved)


@lru_cache(maxsize=128)
def _pair(question: str, one: Solved, other: Solved) -> Pair:
    return answers.pair(partial(_answer, question), one, other)


def pair(question: str, state: State) -> Pair:
    """One question asked of both set-ups."""
    if question not in OF_CRUISE:
        state = replace(state, cruise=None)  # so that a slider does not ask anew for what it does not move
    return _pair(question, now(state), planned(state))


def tire_swap(state: State) -> Answer:
    """What going from the tires of now to the planned ones does."""
    return answers.tire_swap(now(state), planned(state))


def tune_gain(state: State) -> Answer:
    """What the planned set-up gains over that of now, at the wheel."""
    return answers.tune_gain(now(state), planned(state))


@lru_cache(maxsize=64)
def _moved_back(solved: Solved, back_m: float) -> Answer:
    bike = solved.bike
    farther = replace(bike, raw={**bike.raw, "rider_ahead_m": bike.raw["rider_ahead_m"] - back_m})
    return answers.front_lift(answers.solve(farther, solved.ride, bands=False), moved_back_m=back_m)


# what a table gear by gear has of each question
BY_GEAR = {
    "pull": ("gear", "peak_force", "top_speed"),
    "front_lift": ("ratio",),
    "climbing": ("grade", "limit"),
    "standing_run": ("upshift_speed",),
}


def gear_by_gear(state: State) -> tuple[Table, Table]:
    """Pull, front lift, hills and shifts of every gear in one table, now and planned."""
    pairs = {question: pair(question, state) for question in BY_GEAR}
    both = ([getattr(one, which).tables[0] for one in pairs.values()] for which in ("now", "planned"))
    now_table, planned_table = (_joined(tables) for tables in both)
    return now_table, planned_table


def _joined(tables: list[Table]) -> Table:
    wanted = list(zip(tables, BY_GEAR.values(), strict=True))
    columns = tuple(column for table, keys in wanted for column in table.columns if column.key in keys)
    rows = tuple(
        {key: row[key] for (_, keys), row in zip(wanted, rows, strict=True) for key in keys}
        for rows in zip(*(table.rows for table in tables), strict=True)
    )
    return replace(tables[0], title="Pull, front lift, hills and shifts", columns=columns, rows=rows)


def moved_back(state: State) -> tuple[Answer, float]:
    """The front-lift answer of now with the rider moved back as the state says, and how far that is."""
    back_m = float(quantity(state.back or "0 mm", "length", "mm", "back"))
    return _moved_back(now(state), back_m), back_m


_moves = lru_cache(maxsize=64)(answers.what_moves_it)


def front_moves(state: State) -> tuple[Table, Table]:
    """What moves the front wheel in the gear looked at, now and planned."""
    gear = state.gear or 1
    return _moves(now(state), gear), _moves(planned(state), gear)


def technique(state: State) -> int | None:
    """The technique looked at, counted from 0; None is the gentlest that does it."""
    return None if state.technique is None else TECHNIQUES.index(state.technique)


def millimeters(text: str | None) -> float:
    """A length as it stands in a link, for a slider in millimeters."""
    return round(float(in_unit(quantity(text or "0 mm", "length", "mm", "back"), "mm", "length")), 3)


_sheet = lru_cache(maxsize=32)(sheets.sheet)


def sheet(state: State) -> Any:
    """The content of the printed page."""
    return _sheet(now(state), None if alike(state) else planned(state), system=state.units)


def sheet_pdf(state: State, paper: Any) -> tuple[str, bytes]:
    """The name of the printed pages' file, by bike and day, and the PDF."""
    page = sheet(state)
    return f"{page.file_name}.pdf", pdfs.as_pdf(page, paper)


def build_file_name(state: State) -> str:
    """The name of the build as a file, by bike and day."""
    return f"{sheets.named_for(now(state).bike.name, date.today().isoformat())}.toml"


def wanted_words(state: State) -> str:
    """A wanted engine speed to begin with: what it turns now at the cruising speed in the top gear."""
    figure = pair("speeds", state).now.figures["cruise_rpm"]
    return f"{in_unit(figure.value, 'rev/min', 'engine speed'):.0f} rev/min"


def wanted(state: State, engine_speed: str | None) -> tuple[Answer | None, str]:
    """The sprockets that give an engine speed at the cruising speed, or why there is no answer."""
    solved = now(state)
    try:
        speed = quantity(engine_speed or "", "engine speed", "rev/min", "engine speed")
        if not 50.0 <= speed <= 3000.0:
            raise InputError("engine speed", engine_speed, "is none that an engine turns", "Such as 4800 rev/min.")
        return answers.wanted_ratio(solved, engine_speed=speed, speed_m_s=solved.ride.cruise_m_s), ""
    except InputError as error:
        return None, words(error)


def first(given: Mapping[str, Any]) -> tuple[Build | None, dict[str, str]]:
    """A first build from a few figures, or the errors by field; what belongs to none goes under ""."""
    try:
        build = first_build(given)
        make_bike(build)
    except InputError as error:
        found = ((FIRST_PLACES.get(one.where, one.where), one) for one in each(error))
        return None, {place if place in FIRST_FIELDS else "": words(one) for place, one in found}
    return build, {}


def alike(state: State) -> bool:
    """Whether the two set-ups are the same."""
    return now(state) is planned(state) or not differences(now(state), planned(state))


def cell_change(reading: str, one: Any, other: Any) -> Change:
    """The change of one cell of a table."""
    figures = (answers.Figure(key="cell", label="", value=value, reading=reading) for value in (one, other))
    return changed(*figures)


def troubles(state: State) -> tuple[Problem, ...]:
    """What keeps the library from answering, each at the field it belongs to."""
    found: dict[Problem, None] = {}
    for prefix, ask in (("", now), ("planned-", planned)):
        try:
            ask(state)
        except InputError as error:
            for one in each(error):
                own = OF_SET_UP.get(one.where)
                key = prefix + own if own else OF_RIDE.get(one.where, "own")
                found[Problem(key=key, text=str(one) if key == "own" else words(one))] = None
    return tuple(found)


def words(error: InputError) -> str:
    """An error as it stands beside its field, which already says where."""
    got = "This" if error.got is None else f"“{short(error.got)}”"
    return f"{got} {error.problem.rstrip('.')}. {error.fix}".strip()
