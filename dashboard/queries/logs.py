"""The door to the road tests: a log with the fields beside it in, an answer and the errors by field out."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field, replace
from itertools import product
from typing import Any

from dashboard import display, open_logs, queries
from dashboard.open_logs import Opened
from dashboard.url_state import State, to_query
from ridesim import answers
from ridesim.answers import Answer, Column, Pair, Solved, Table
from ridesim.bike import Bike, make_bike
from ridesim.components.chain_geometry import near
from ridesim.errors import InputError, each
from ridesim.logs.coast_down import Coasted, coasted, with_road_load
from ridesim.logs.fits.bike import gear_of, with_air
from ridesim.logs.fits.ride import Habit
from ridesim.logs.gears import Geared, geared, with_gears
from ridesim.logs.log import CAUTIONS as CAUTIONS
from ridesim.logs.log import Log, RoadRun, directions_of, part_of
from ridesim.logs.pull import Pulled, compared, pull_speeds, pulled, with_wheel_tune
from ridesim.logs.ride import Ridden, ridden
from ridesim.logs.runs import coast_speeds, runs_of
from ridesim.units import quantity

Fields = Mapping[str, Any]
AIR = {"altitude": "distance", "temperature": "temperature", "humidity": "percent", "pressure": "pressure"}
# where the library finds fault -> the field
PLACES = {
    "stretch": "from-s",
    "speed": "from-speed",
    "directions": "ways",
    "gear": "gear",
    "gears": "gears",
    "one_way_wind_m_s": "wind",
    "one_way_grade": "slope",
    "tune": "name",
    "same_receiver": "phone",
    "habit.up_share": "up",
    "habit.down_share": "down",
    "lugging_rad_s": "lugging",
    **{f"air.{key}": key for key in AIR},
    **{f"air.{key}_m": key for key in AIR},
    "air.temperature_k": "temperature",
    "air.relative_humidity": "humidity",
    "air.pressure_pa": "pressure",
}
NAMES = set(PLACES.values())
MOST_PAIRS = 200


@dataclass(frozen=True, kw_only=True)
class LogResult:
    """What came of a question to a log.

    found is the library's own object, None where there is no answer; errors hold a sentence for each field, that of none
    of them under ""; chosen tells what an empty field stands for.
    """

    found: Any = None
    errors: Mapping[str, str] = field(default_factory=dict)
    chosen: Mapping[str, str] = field(default_factory=dict)


@dataclass(frozen=True, kw_only=True)
class OpenLogs:
    """The logs that a browser has open for one question, in the order ridden."""

    opened: tuple[Opened, ...] = ()

    @property
    def logs(self) -> tuple[Log, ...]:
        """Those that are still kept."""
        return tuple(one.log for one in self.opened if one.log is not None)

    @property
    def ready(self) -> bool:
        """Whether there is something to answer from: a log, and none that is missing."""
        return bool(self.opened) and len(self.logs) == len(self.opened)

    @property
    def invented(self) -> bool:
        """Whether a log that comes along is among them."""
        return any(one.demo for one in self.opened)


def held(data: Any) -> OpenLogs:
    """The logs that the browser names."""
    return OpenLogs(opened=open_logs.opened_by(data))


def log_words(log: Log, system: str) -> str:
    """A log in a few words."""
    return (
        f"{log.name}: {display.number(float(log.time_s.size), 0)} samples over {display.number(float(log.time_s[-1]), 0)} s, "
        f"up to {display.shown(float(log.speed_m_s.max()), 'speed', system)}."
    )


def troubles(error: InputError, which: str = "") -> dict[str, str]:
    """The sentences of an error by field; which stands before the fields that come twice."""
    told: dict[str, str] = {}
    for one in each(error):
        name = PLACES.get(one.where, one.where if one.where in NAMES else "")
        key = f"{which}{name}" if name else ""
        told[key] = queries.words(one) if key else str(one)
    return told


def typed(text: Any, reading: str, system: str) -> str:
    """What was typed; a bare number means the unit that is shown."""
    plain = "" if text is None else str(text).strip()
    return display.with_unit(plain, reading, system)


def _figure(fields: Fields, key: str, reading: str, kind: str, unit: str, system: str) -> float | None:
    text = typed(fields.get(key), reading, system)
    if not text:
        return None
    return float(quantity(text, kind, unit, key))


def _seconds(fields: Fields, key: str) -> float | None:
    value = fields.get(key)
    return float(value) if isinstance(value, int | float) and not isinstance(value, bool) else None


def parts(of: OpenLogs, fields: Fields) -> tuple[Log, ...]:
    """The stretch of each log that the fields ask for, as the command line takes it."""
    return tuple(_part(log, fields, len(of.logs) > 1) for log in of.logs)


def _part(log: Log, fields: Fields, one_of_many: bool) -> Log:
    try:
        return part_of(log, _seconds(fields, "from-s"), _seconds(fields, "to-s"))
    except InputError as error:
        if not one_of_many:
            raise
        raise InputError(error.where, f"{error.got} of {log.name}", error.problem, error.fix) from None


def solved_on(state: State, fields: Fields) -> Solved:
    """The bike as it is now, in the air that the fields give."""
    day = {key: typed(fields.get(key), reading, state.units) for key, reading in AIR.items()}
    if not any(day.values()):
        return queries.now(state)
    build = with_air(queries.build(state), day)
    return queries.now(replace(state, own=build.text, revision=None))


def _runs(
    of: OpenLogs, kind: Any, fields: Fields, shared: Fields, ends: tuple[float, float], system: str
) -> tuple[tuple[Any, ...], tuple[RoadRun, ...]]:
    """What is asked of some logs, and the runs that it finds."""
    given = [
        end if (figure := _figure(shared, name, "speed", "speed", "km/h", system)) is None else figure
        for name, end in zip(("from-speed", "to-speed"), ends, strict=True)
    ]
    ways = str(fields.get("ways") or "").strip()
    told = directions_of(ways) if ways else None
    stretch = (_seconds(fields, "from-s"), _seconds(fields, "to-s"))
    asked = (kind, *stretch, *given, told)
    found = open_logs.remembered(
        of.opened,
        asked,
        lambda: runs_of(parts(of, fields), kind, from_m_s=given[0], to_m_s=given[1], directions=told),
    )
    return asked, found


def _speeds(ends: tuple[float, float], system: str) -> dict[str, str]:
    """What the speed fields stand for while they are empty."""
    names = zip(("from-speed", "to-speed"), ends, strict=True)
    return {name: display.shown(value, "speed", system) for name, value in names}


def coast(state: State, of: OpenLogs, fields: Fields) -> LogResult:
    """Drag area and rolling resistance from the coast-downs of some logs."""
    chosen: dict[str, str] = {}
    try:
        ends = coast_speeds(parts(of, fields))
        chosen = _speeds(ends, state.units)
        _, runs = _runs(of, "coast-down", fields, fields, ends, state.units)
        wind = _figure(fields, "wind", "speed", "speed", "m/s", state.units)
        slope = _figure(fields, "slope", "percent", "ratio", "%", state.units)
        found = coasted(solved_on(state, fields).bike, runs, wind_m_s=wind, grade=slope)
        return LogResult(found=found, chosen=chosen)
    except InputError as error:
        return LogResult(errors=troubles(error), chosen=chosen)


def pull(state: State, of: OpenLogs, fields: Fields, shared: Fields, which: str) -> LogResult:
    """The curve of the pulls of some logs."""
    chosen: dict[str, str] = {}
    try:
        solved = solved_on(state, fields)
        bike = solved.bike
        gear = gear_of(bike, _whole(shared.get("gear")))
        ends = pull_speeds(bike, gear)
        chosen = _speeds(ends, state.units)
        asked, runs = _runs(of, "pull", fields, shared, ends, state.units)
        standard = str(shared.get("standard") or "SAE J1349")
        # a fit takes seconds: it is made once for the same runs on the same bike
        found = open_logs.remembered(
            of.opened,
            ("curve", solved, gear, standard, asked),
            lambda: pulled(bike, runs, gear=gear, standard=standard),
        )
        return LogResult(found=found, chosen=chosen)
    except InputError as error:
        told = troubles(error, f"{which}-")
        shared_keys = ("gear", "standard", "from-speed", "to-speed")
        return LogResult(errors={_without(key, which, shared_keys): text for key, text in told.items()}, chosen=chosen)


def _without(key: str, which: str, shared: Sequence[str]) -> str:
    plain = key.removeprefix(f"{which}-")
    return plain if plain in shared else key


def _whole(value: Any) -> Any:
    return int(value) if isinstance(value, float) and value.is_integer() else value


def change(before: Pulled, after: Pulled, shared: Fields) -> LogResult:
    """What changed from one curve to the other."""
    try:
        return LogResult(found=compared(before, after, same_receiver=shared.get("phone") == "same"))
    except InputError as error:
        return LogResult(errors=troubles(error))


def gears(state: State, of: OpenLogs, fields: Fields) -> LogResult:
    """The gears of a log."""
    try:
        count = fields.get("gears")
        found = geared(
            parts(of, fields)[0], bike=queries.now(state).bike, gears=None if count in (None, "") else _whole(count)
        )
        return LogResult(found=found)
    except InputError as error:
        return LogResult(errors=troubles(error))


@dataclass(frozen=True, kw_only=True)
class Rides:
    """One's own ride with both set-ups, and with the pairs around them on the bike as it is now."""

    now: Ridden
    planned: Ridden
    pair: Pair
    word: str = ""  # of the log


def rides(state: State, of: OpenLogs, fields: Fields) -> LogResult:
    """One's own ride with the set-ups of now and planned, and the pairs round about."""
    try:
        habit = Habit(
            up_share=_share(fields, "up", 0.60, state.units), down_share=_share(fields, "down", 0.25, state.units)
        )
        lug = _figure(fields, "lugging", "engine speed", "engine speed", "rev/min", state.units)
        stretch = parts(of, fields)[0]
        one, other = queries.now(state), queries.planned(state)
        pairs = _around(one.bike, other.bike)
        now = ridden(one.bike, stretch, pairs=pairs, habit=habit, lugging_rad_s=lug)
        planned = now if other is one else ridden(other.bike, stretch, habit=habit, lugging_rad_s=lug)
        told = {id(one): now.answer, id(other): planned.answer}
        pair = answers.pair(lambda solved: told[id(solved)], one, other)
        return LogResult(found=Rides(now=now, planned=planned, pair=pair, word=of.opened[0].word))
    except InputError as error:
        return LogResult(errors=troubles(error))


def _share(fields: Fields, key: str, otherwise: float, system: str) -> float:
    value = _figure(fields, key, "percent", "ratio", "%", system)
    return otherwise if value is None else value


def _around(one: Bike, other: Bike) -> list[tuple[int, int]]:
    """The pairs from a little under the smaller to a little over the larger sprockets of two set-ups."""
    ends = zip(*(near(bike.front_teeth, bike.rear_teeth, "ride") for bike in (one, other)), strict=True)
    fronts, rears = (range(min(a.start, b.start), max(a.stop, b.stop)) for a, b in ends)
    return list(product(fronts, rears))[:MOST_PAIRS]


def share_table(answer: Answer) -> Table:
    """The shares of the time as a table, without the engine speeds that never were."""
    s = answer.series
    rows = tuple(
        {"from": float(a), "share": float(share)}
        for a, share in zip(s["bins_rad_s"], s["share"], strict=True)
        if share > 0
    )
    columns = (
        Column(key="from", label="Engine speed from", reading="engine speed"),
        Column(key="share", label="Share of the time", reading="percent"),
    )
    return Table(title="Share of the time by engine speed", columns=columns, rows=rows)


@dataclass(frozen=True, kw_only=True)
class BuildChange:
    """A result that went into the build of the link: the new link, and what is told of it."""

    query: str
    says: str


def _top(state: State) -> str:
    return display.figure_of(queries.pair("standing_run", state).now, "top", state.units)


def take_road_load(state: State, found: Coasted) -> BuildChange:
    """The link with the drag of the coast-downs in its build."""
    build = with_road_load(queries.build(state), found.found)
    make_bike(build)
    new = replace(state, own=build.text)
    load = build.record.road_load
    drag, rolls = (one.written if one is not None else "" for one in (load.drag_area, load.rolling_resistance))
    says = f"In the build now: drag area {drag}, rolling resistance {rolls}. Top speed was {_top(state)}, is now {_top(new)}."
    return BuildChange(query=to_query(new), says=says)


def take_tune(state: State, name: str | None, found: Pulled) -> BuildChange:
    """The link with the curve of some pulls as a tune of its build, set up as the planned one."""
    key = (name or "").strip()
    build = with_wheel_tune(queries.build(state), key, found)
    make_bike(build, tune=key)
    new = replace(state, own=build.text, planned=replace(state.planned, tune=key))
    return BuildChange(query=to_query(new), says=f"In the build now as the tune {key}, and set up as the planned one.")


def take_ride(state: State, found: Rides) -> BuildChange:
    """The link in which a ride decides among the sprockets."""
    form = replace(state.limits_form, ride=found.word)
    says = "This ride, or the stretch of it that is used here, decides on the Gearing page now: its time at high engine speed, shifts, fuel and range."
    return BuildChange(query=to_query(replace(state, limits_form=form)), says=says)


def take_gears(state: State, found: Geared) -> BuildChange:
    """The link with the gear ratios of a log in its build."""
    bike = queries.now(state).bike
    build = with_gears(queries.build(state), found, outside=bike.primary * bike.final_ratio)
    make_bike(build)
    return BuildChange(query=to_query(replace(state, own=build.text)), says="In the build now.")
