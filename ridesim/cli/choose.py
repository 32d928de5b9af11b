"""`ridesim choose`: every sprocket pair at once."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import asdict, dataclass, fields
from functools import partial
from pathlib import Path
from typing import TYPE_CHECKING, Any, ClassVar

import typer

from ridesim.cli.given import fitted, placed
from ridesim.cli.options import BuildFile, FullOption, Given, JsonOption, Riding, Units, UnitsOption, grouped, option
from ridesim.cli.output import csv_text, tell_json
from ridesim.errors import InputError, short
from ridesim.units import quantity

if TYPE_CHECKING:
    from ridesim.buildfile.io import Build
    from ridesim.buildfile.schema import LimitsSection
    from ridesim.logs.log import Log
    from ridesim.selection import Choice, Combination, Verdict

SHOWN, SHOWN_IN_FULL = 12, 60  # rows on a terminal; --csv and --json give all
NEAREST = 5  # misses that are told where nothing meets the limits
HEADINGS = {
    "cruise_speed": "Cruise",
    "first_force": "First pushes",
    "first_climb": "First climbs",
    "first_lift": "Lift ratio",
    "walking": "Walks",
    "top_speed": "Top speed",
    "time_0_100": "0 to 100",
    "roll_on": "Roll-on",
    "fuel": "Fuel at cruise",
    "ride_time_above": "Ride above",
    "ride_shifts": "Shifts/h",
    "ride_fuel": "Fuel",
    "ride_range": "Range",
}
IN_GARAGE = "garage"


def limit(text: str, name: str) -> Any:
    """An option for a limit; an empty text takes the file's limit away."""
    return option(text, name, otherwise="the file's")


@dataclass(frozen=True, kw_only=True)
class Considered(Given):
    """What there is to choose from."""

    AT: ClassVar[Mapping[str, str]] = {"tire": "tires.rear.size"}

    front: str | None = option("Available front sprockets, such as 13:18 or 14,15,16.", otherwise="near the file's")
    rear: str | None = option("Available rear sprockets, such as 40:50.", otherwise="near the file's")
    tire: list[str] | None = option("A rear tire to consider; may be given again.", otherwise="the file's")
    tune: list[str] | None = option("A tune to consider; may be given again.", otherwise="the active one")
    goal: list[str] | None = option("What to choose by; given twice or more.", otherwise="cruise_speed, first_force")


@dataclass(frozen=True, kw_only=True)
class OwnRide:
    """Rides of the rider's own, as files or kept in the garage."""

    log: list[str] | None = option(
        "Log of a ride of yours; may be given again. 'garage' is every log kept there with this bike, 'garage:2' its second.",
        otherwise=False,
    )
    garage: Path | None = option("The garage's file.", otherwise="in the user's data folder")

    def read(self, bike: str) -> tuple[Log, ...]:
        """The logs, in the order given."""
        return tuple(log for written in self.log or () for log in self._read(written, bike))

    def _read(self, written: str, bike: str) -> Iterator[Log]:
        from ridesim.logs.reader import read_log, read_log_bytes
        from ridesim.logs.reading.shape import HeadingError

        room, _, number = written.partition(":")
        try:
            if room != IN_GARAGE:
                yield read_log(written)
                return
            from ridesim.cli.garage.builds import opened
            from ridesim.cli.garage.logs import log_named

            with placed({"--file": "--garage", "log": "--log", "bike": "--log"}), opened(self.garage) as garage:
                kept = [log_named(garage, bike, number)] if number else garage.logs(bike)
                if not kept:
                    fix = "Add one: ridesim garage log add."
                    raise InputError("--log", written, f"the garage keeps no log of {short(bike)}", fix)
                for one in kept:
                    yield read_log_bytes(garage.log_content(one.id), one.name)
        except HeadingError as error:
            fix = f"Write its unit into its heading, such as {error.role} [{'s' if error.role == 'time' else 'km/h'}]."
            raise InputError(error.where, error.got, error.problem, fix) from None

    def other_ways(self, filed: Build, decided: Verdict) -> tuple[str, ...]:
        """What of the build's own and of what the garage keeps would meet every limit, where no pair does."""
        from ridesim.selection.other_ways import OtherTune, other_ways

        if decided.action != "none" or decided.asks:
            return ()
        from ridesim.cli.garage.builds import opened
        from ridesim.garage.parts import parts_kept
        from ridesim.garage.store import default_path

        if self.garage is None and not default_path().is_file():
            return other_ways(filed, decided)
        with placed({"--file": "--garage"}), opened(self.garage) as garage:
            kept = parts_kept(garage, filed)
        return other_ways(filed, decided, kept.tires, [OtherTune(*one) for one in kept.tunes])


@dataclass(frozen=True, kw_only=True)
class LimitsWritten:
    """The limits as they are written, by their names in the file."""

    cruise_engine_speed_most: str | None = limit("Engine speed at cruise at most.", "--max-cruise-engine-speed")
    first_gear_climb_least: str | None = limit("Grade climbed in first at least.", "--min-climb")
    first_gear_lift_ratio_least: str | None = limit("Lift ratio in first at least.", "--min-lift")
    walking_speed_most: str | None = limit(
        "Slowest walking speed at most, at --walking-engine-speed.", "--max-walking-speed"
    )
    walking_engine_speed: str | None = limit("Engine speed of the walking speed.", "--walking-engine-speed")
    top_speed_least: str | None = limit("Top speed at least.", "--min-top-speed")
    time_0_100_most: str | None = limit("Standstill to 100 km/h at most.", "--max-time-0-100")
    roll_on_60_100_most: str | None = limit("60 to 100 km/h in top gear at most.", "--max-roll-on")
    ride_time_above_most: str | None = limit(
        "Share of your ride above --ride-engine-speed at most.", "--max-ride-time-above"
    )
    ride_engine_speed: str | None = limit(
        "Engine speed above which your ride's time is counted.", "--ride-engine-speed"
    )
    ride_shifts_per_hour_most: str | None = limit("Shifts an hour on your ride at most.", "--max-ride-shifts-per-hour")
    ride_fuel_most: str | None = limit("Fuel on your ride at most.", "--max-ride-fuel")
    ride_range_least: str | None = limit("Range on your ride at least.", "--min-ride-range")
    keep_chain: bool = option("Only pairs for which the fitted chain will do.", "--keep-chain", default=False)

    def beside(self, filed: LimitsSection, *, ridden: bool) -> LimitsSection:
        """The limits of the file with those of the line in their place; those of a ride need one."""
        from ridesim.selection import RIDE_LIMITS, held_to

        for name in RIDE_LIMITS if not ridden else ():
            if given := getattr(self, name):
                raise InputError(_OPTIONS[name], given, "needs a ride of yours", "Give its log with --log.")
        with placed(_OPTIONS):
            return held_to(filed, **asdict(self) | {"keep_chain": self.keep_chain or None})


_OPTIONS = {one.name: one.metadata["option"].default for one in fields(LimitsWritten)}  # the name each is spelt by


@grouped
def choose(
    build: BuildFile,
    considered: Considered,
    riding: Riding,
    own_ride: OwnRide,
    limits: LimitsWritten,
    wish: str = option(
        "What decides among the pairs that meet the limits: pull, calm, economy or quick; with --log also shifts.",
        default="pull",
    ),
    sure: str = option("How sure every limit must be, such as '90 %'.", default="90 %"),
    as_csv: bool = option("Print every pair as CSV.", "--csv", default=False),
    as_json: JsonOption = False,
    units: UnitsOption = "metric",
    full: FullOption = False,
) -> None:
    """Every sprocket pair at once: what to order, which pairs meet your limits, why the others fall."""
    from ridesim import selection as chooser
    from ridesim.bike import make_bike

    if as_csv and as_json:
        raise InputError("--csv", None, "and --json do not go together", "Leave out one of the two.")
    filed = fitted(build)
    logs = own_ride.read(filed.name)
    held = limits.beside(filed.record.limits, ridden=bool(logs))
    with placed(riding.places() | considered.places() | {"walking_engine_speed": "--walking-engine-speed"}):
        ride = riding.ride(make_bike(filed))
        choice = chooser.choose(
            filed,
            fronts=_teeth(considered.front, "--front"),
            rears=_teeth(considered.rear, "--rear"),
            rear_tires=considered.tire,
            tunes=considered.tune,
            ride=ride,
            limits=held,
            goals=considered.goal or chooser.DEFAULT_GOALS,
            logs=logs,
        )
    if as_csv:
        return _print_csv(choice)
    with placed({"wish": "--wish", "sure": "--sure"}):
        decided = chooser.verdict(choice, wish=wish, sure=float(quantity(sure, "ratio", "%", "--sure")))
    others = own_ride.other_ways(filed, decided)
    if as_json:
        return tell_json(chooser.contract(choice, decided) | {"other_ways": list(others)})
    return _print(decided, others, units, full=full)


def _teeth(text: str | None, where: str) -> tuple[int, ...] | None:
    from ridesim.selection import teeth

    return None if text is None else teeth(text, where)


def _rank(decided: Verdict, c: Combination) -> tuple[Any, ...]:
    """Those that meet the limits, as sure as is asked and unbeaten first, by what is wished for; then the nearest misses."""
    from ridesim.selection.verdict import wish_of

    wish = wish_of(decided.choice, decided.wish)
    value = c.figures[wish.key]
    unsure = decided.certainty.names and (decided.sure_of(c) or {"all": 0.0})["all"] < decided.sure
    return not c.meets_limits, c.miss, unsure, not c.unbeaten, value is None, -wish.better * (value or 0.0)


def _print_csv(choice: Choice) -> None:
    from ridesim.selection.contract import pairs

    names = {key: f"{key}_si" for key in choice.figures} | {"misses": "falls"}
    found = pairs(choice)
    keys = [column.key for column in found.columns]
    rows: list[list[Any]] = [
        [names.get(key, key) for key in keys],
        *([row.get(key) for key in keys] for row in found.rows),
    ]
    typer.echo(csv_text(rows), nl=False)


def _print(decided: Verdict, others: tuple[str, ...], units: Units, *, full: bool) -> None:
    """The verdict with what stands behind it, the pairs that meet the limits, and in full those that do not, and why."""
    from ridesim.report import terminal
    from ridesim.selection import grouped
    from ridesim.selection import verdict_words as words
    from ridesim.selection import words as choice_words

    out, choice = terminal.console(), decided.choice
    out.print(words.sentence(decided, units), style="bold")
    for title, texts in words.behind(decided, units, others):
        terminal.print_list(out, title, texts)
    ranked = sorted(choice.candidates, key=partial(_rank, decided))
    meeting = [c for c in ranked if c.meets_limits]
    out.print()
    out.print(f"{choice.name}: {choice_words.sentence(choice, units)}")
    most = SHOWN_IN_FULL if full else SHOWN
    if meeting:
        out.print()
        rows = [(choice.candidates[n], n != first) for n, first in grouped(choice, [c.n for c in meeting]).items()]
        _print_table(decided, rows[:most], units, full=full)
    missing = ranked[len(meeting) :]
    nearest = missing[: SHOWN_IN_FULL if full else 0 if meeting else NEAREST]
    terminal.print_list(
        out, "Outside the limits", (f"{choice_words.name(choice, c.n)}: {choice.misses(c.n, units)}" for c in nearest)
    )
    if len(meeting) > most or len(nearest) < len(missing):
        out.print()
        out.print(f"{len(ranked)} set-ups in all: --csv or --json prints every one.", style="dim")
    if full:
        terminal.print_lists(out, choice.assumptions, choice.notes_in(units), (terminal.CAUTION,), units)
    else:
        terminal.print_short_end(out)


def _print_table(decided: Verdict, rows: Sequence[tuple[Combination, bool]], units: Units, *, full: bool) -> None:
    from ridesim.answers.answer import table_of
    from ridesim.report.columns import columns_of
    from ridesim.report.terminal import console, print_table
    from ridesim.selection.goals import goal

    out, choice = console(), decided.choice
    headings = HEADINGS | ({"time_0_100": "0 to 62 mph"} if units == "us" else {})
    ones = [c for c, _ in rows]
    ride = ["ride_time_above", "ride_shifts", "ride_fuel", *(["ride_range"] if full else [])]
    usual = ["first_climb", "top_speed", "time_0_100", *(["fuel"] if full else [])]
    told = (ride if choice.crossing.logs else []) + (usual if full or not choice.crossing.logs else [])
    keys = list(dict.fromkeys([*(g.key for g in choice.goals), *told]))
    chains = [c.chain or {} for c in ones]
    parts = [("Rear tire", [c.rear_tire for c in ones]), ("Tune", [c.tune for c in ones])]
    beaten = ["best trade-off" if c.unbeaten else "" for c in ones]
    table = table_of(
        "Within the limits",
        ("pair", "Pair", "text", [f"{'≈' if same else ''}{c.front}/{c.rear}" for c, same in rows]),
        *((heading, heading, "text", values) for heading, values in parts if len(set(values)) > 1),
        *((key, headings[key], goal(key).reading, [_read(c, key) for c in ones]) for key in keys),
        ("links", "Links", "links", map(_links, chains)),
        ("axle", "Axle", "small length", [chain.get("axle_shift_m") for chain in chains]),
        *([("sure", "Sure", "number", [_sure(decided, c) for c in ones])] if decided.certainty.names else []),
        *([("beaten", "", "text", beaten)] if len(set(beaten)) > 1 else []),
    )
    print_table(out, columns_of(table, units), table.title)
    if any(same for _, same in rows):
        by = " or ".join(goal.label_in(units) for goal in choice.goals)
        out.print(f"≈ cannot be told apart from the pair above by {by}", style="dim")


def _read(c: Combination, key: str) -> float | None:
    """A figure as it is read: shifts are whole."""
    value = c.figures[key]
    return value if value is None or key != "ride_shifts" else round(value)


def _links(chain: Mapping[str, Any]) -> str:
    links = chain.get("links_to_order")
    return "—" if links is None else f"{links}" if chain["fitted_chain_will_do"] else f"new {links}"


def _sure(decided: Verdict, c: Combination) -> str:
    """How sure all limits are to be met, in whole percent."""
    from ridesim.selection.verdict_words import percent

    sure = decided.sure_of(c)
    return "" if sure is None else percent(sure["all"]).replace("over", ">")
