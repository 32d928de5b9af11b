"""Trials of a bike in the garage: write one down, look back, ask what to try next, find the way back to stock."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import asdict, dataclass, replace
from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Literal

import typer

from ridesim.cli.garage.builds import BikeName, FileOption, opened
from ridesim.cli.garage.trial_add import add, named, trial_named
from ridesim.cli.garage.trial_file import TrialFile, read_trials
from ridesim.cli.given import AIR, filled, numbers, placed, share, usable
from ridesim.cli.options import Day, JsonOption, Printing, Spelt, Units, UnitsOption, dashed, family, grouped, option
from ridesim.cli.output import say, tell, tell_json
from ridesim.errors import InputError
from ridesim.statements import many

if TYPE_CHECKING:
    from ridesim.answers import Solved
    from ridesim.garage.records import Revision
    from ridesim.garage.richness import Margin, Obtainable, Stock
    from ridesim.garage.trials import Trial, TrialAir

app = family("Trials: one change at a time, with the air of the day and the verdict.")

TrialName = Annotated[str, typer.Option("--trial", help="Number in the list, or id.")]


@dataclass(frozen=True, kw_only=True)
class Looked:
    """Whose trials are looked at, and what they are measured by."""

    stock: str | None = option(
        "Number or id of the trial whose settings are stock.", otherwise="the file's, or the first"
    )
    parts: Path | None = option("TOML file with [stock], [obtainable] and [margin].", otherwise="none")
    file: FileOption = None

    def at(self, bike: str) -> Seen:
        """The trials of a bike, what counts as stock, and what the file of parts says."""
        source = read_trials(self.parts)
        with opened(self.file) as garage:
            trials = garage.trials(bike)
        if not trials:
            raise InputError("trial", None, f"there is none of {bike} yet", "Write one down: ridesim trial add.")
        stock, assumed = _stock(trials, self.stock, source)
        return Seen(trials=trials, stock=stock, assumed=assumed, source=source)


@dataclass(frozen=True, kw_only=True)
class Seen:
    """The trials of a bike in the order ridden, what counts as stock, what was assumed of it, and the file of parts."""

    trials: tuple[Trial, ...]
    stock: Stock
    assumed: tuple[str, ...]
    source: TrialFile


app.command()(add)


@app.command("list")
@grouped
def list_trials(
    bike: BikeName,
    archived: bool = option("Those in the archive.", "--archived", default=False),
    file: FileOption = None,
    units: UnitsOption = "metric",
    as_json: JsonOption = False,
) -> None:
    """The trials of a bike in the order they were ridden: what was changed, and the verdicts."""
    from ridesim.garage.changes import changed_words
    from ridesim.garage.trials import OPENINGS, to_plain

    with opened(file) as garage:
        trials = garage.trials(bike, archived=archived)
        everything = trials + garage.trials(bike, archived=not archived)
    if as_json:
        return tell_json({"bike": bike, "trials": [to_plain(one) for one in trials]})
    openings = {key: name.removesuffix(" throttle").capitalize() for key, name in OPENINGS.items()}
    columns = (
        ("trial", "Trial", "number", range(1, len(trials) + 1)),
        ("ridden", "Ridden", "text", [one.ridden_at[:10] for one in trials]),
        ("air", "Air", "density", [one.air.air().density_kg_m3 for one in trials]),
        *((k, name, "text", [t.verdicts.at(k).says or "not given" for t in trials]) for k, name in openings.items()),
        ("changed", "Changed", "text", [changed_words(one, everything, units) for one in trials]),
        ("id", "Id", "text", [one.id for one in trials]),
    )
    title = f"Trials of {bike}" + (" in the archive" if archived else "")
    return tell(title, f"{many(len(trials), 'trial')}, the first ridden first.", *columns, units=units)


def _stock(trials: Sequence[Trial], named: str | None, source: TrialFile) -> tuple[Stock, tuple[str, ...]]:
    """What counts as stock, and what was assumed of it."""
    from ridesim.garage.richness import STOCK_AIR, Stock

    if named is None and source.stock is not None:
        return source.stock, ()
    one = trials[0] if named is None else trial_named(trials, named, "--stock")
    told = "the settings of the first trial are taken as stock" if named is None else f"stock is trial {named}"
    air = "and taken to be right in dry air at sea level and 15 °C, unless a --parts file says otherwise"
    return Stock(settings=one.settings, air=STOCK_AIR), (f"{told}, {air}",)


@app.command()
@grouped
def trend(bike: BikeName, looked: Looked, *, units: UnitsOption = "metric", as_json: JsonOption = False) -> None:
    """How rich each trial was against stock, corrected for the air of its day."""
    from ridesim.garage.richness import trend as found_trend

    seen = looked.at(bike)
    say(found_trend(seen.trials, seen.stock, seen.assumed), Printing(units=units, as_json=as_json))


@dataclass(frozen=True, kw_only=True)
class Sizes:
    """What is available."""

    main_jets: str | None = option("Available sizes, such as 117.5,120.")
    pilot_jets: str | None = option("Available sizes.")
    slide_cutaways: str | None = option("Available slides.")
    clip_grooves: int | None = option("Grooves of the needle.", otherwise="5")

    def read(self, source: TrialFile) -> Obtainable:
        """What is available: the line before the file."""
        told = named(asdict(self))
        with placed({f"obtainable.{name}": dashed(name) for name in asdict(self)}):
            for name in told.keys() - {"clip_grooves"}:
                told[name] = numbers(told[name], dashed(name), "Write them as 117.5,120.")
            return replace(source.obtainable, **told)


@app.command("next")
@grouped
def next_trial(
    bike: BikeName,
    sizes: Sizes,
    lean_margin: str | None = option("How far below stock's richness a proposal may go.", otherwise="3 %"),
    *,
    looked: Looked,
    day: Annotated[Day, Spelt(otherwise="the latest trial's, if none is given")],
    printing: Printing,
) -> None:
    """What to try next: one change, why, how to make it and how to put it back."""
    from ridesim.garage.advice import propose_next
    from ridesim.garage.proposal import next_trial_answer

    seen = looked.at(bike)
    obtainable, margin = sizes.read(seen.source), _margin(lean_margin, seen.source.margin)
    air, air_told = _air_of_ride(named(day.written()), seen.trials[-1])
    found = propose_next(seen.trials, seen.stock, air=air, sizes_obtainable=obtainable, margin=margin)
    answer = next_trial_answer(found, _solved(bike, looked.file, printing.units), (*seen.assumed, *air_told))
    also = {
        name: getattr(found, name)
        for name in ("kind", "thing", "before", "after", "opening", "asks", "settings", "put_back")
    }
    say(replace(answer, notes=(*answer.notes, *_no_sizes(obtainable))), printing, also=also | {"air": air})


def _solved(bike: str, file: Path | None, units: Units) -> Solved:
    """The newest build of the bike, worked out."""
    from ridesim.answers.solved import ride_with, solve
    from ridesim.bike import make_bike
    from ridesim.buildfile.io import parse
    from ridesim.evidence import with_evidence

    with opened(file) as garage:
        text = garage.newest(bike).text
    found = make_bike(with_evidence(parse(text)))
    return solve(found, ride_with(found, units=units), bands=False)


def _margin(written: str | None, usual: Margin) -> Margin:
    if written is None:
        return usual
    with placed({"margin.richness": "--lean-margin"}):
        return replace(usual, richness=float(share(written, "--lean-margin")))


def _air_of_ride(written: Mapping[str, str], latest: Trial) -> tuple[TrialAir, tuple[str, ...]]:
    """The air of the next ride: as written, else as on the day of the latest trial."""
    if not written:
        return latest.air, ("the air of the next ride is taken to be that of the latest trial",)
    from ridesim.garage.written import air_of

    with placed({f"air.{key}": f"--{key}" for key in AIR}):
        return air_of(written), ()


def _no_sizes(obtainable: Obtainable) -> tuple[str, ...]:
    missing = [name for name in ("main_jets", "pilot_jets", "slide_cutaways") if not getattr(obtainable, name)]
    return tuple(
        f"No available {name.replace('_', ' ')} are named, so none is proposed: give {dashed(name)}."
        for name in missing
    )


@app.command()
@grouped
def undo(bike: BikeName, looked: Looked, as_json: JsonOption = False) -> None:
    """The way back to stock: what to undo, the latest change first, and the parts it takes."""
    from ridesim.garage.advice import back_to_stock

    seen = looked.at(bike)
    say(back_to_stock(seen.trials, seen.stock, seen.assumed), Printing(as_json=as_json))


@app.command()
@grouped
def tune(
    bike: BikeName,
    trial: TrialName,
    curve: Path = option("CSV of engine speed and torque or power.", default=...),
    name: str = option("Name of the tune, such as 'rejetted'.", default=...),
    unit: str | None = option("Unit of the figures.", otherwise="from the heading"),
    at: Literal["crank", "wheel"] | None = option("Where measured.", otherwise="assumed"),
    standard: str = option(
        "Correction standard of the sheet; 'as measured' takes the air of the trial.", default="as measured"
    ),
    activate: bool = option("Make it the active tune.", "--activate", default=False),
    replace: bool = option("Write a tune of that name anew.", "--replace", default=False),
    file: FileOption = None,
    as_json: JsonOption = False,
) -> None:
    """Save a new revision of the build with the power curve of a trial as a tune that names the trial."""
    from ridesim.buildfile.curve_file import read_curve_csv
    from ridesim.buildfile.io import parse, refuse_taken, with_tune
    from ridesim.garage.records import checked_name

    checked_name(name, "--name")
    if "." in name:
        raise InputError("--name", name, "has a dot in it", "Choose a name without a dot.")
    sheet = read_curve_csv(curve, unit=filled(unit, "--unit"))
    with opened(file) as garage:
        trials = garage.trials(bike)
        source = trial_named(trials, trial, "--trial")
        air = _measured_air(source.air) if standard == "as measured" else {}
        told = {"trial": source.id, "standard": standard, **air}
        changes = {f"tune.{name}.{key}": value for key, value in told.items()} | (
            {"active.tune": name} if activate else {}
        )

        def added(newest: Revision) -> str:
            build = parse(newest.text)
            refuse_taken(build, name, replace=replace)
            with placed({f"tune.{name}.standard": "--standard"}):
                build = with_tune(build, name, sheet, measured_at=at).changed(changes)
                usable(build, tune=name)  # a curve or a standard that will not do is told now, not at the next question
            return build.text

        added(
            garage.newest(bike)
        )  # what will not do is refused, and what it needs is loaded, before anyone has to wait
        kept = garage.revise(bike, added, note=f"tune {name} from trial {trials.index(source) + 1}")
    if as_json:
        return tell_json(kept)
    return typer.echo(
        f"{bike}: tune {name!r} with {len(sheet.points)} points in {sheet.unit}, kept as revision {kept.number}"
    )


def _measured_air(air: TrialAir) -> dict[str, str]:
    """The air of a trial as a tune writes it."""
    from ridesim.environment.air import standard_pressure_pa
    from ridesim.units import in_unit

    pressure = air.pressure_pa if air.pressure_pa is not None else float(standard_pressure_pa(air.altitude_m))
    return {
        "temperature": f"{float(in_unit(air.temperature_k, 'degC', 'temperature')):.1f} degC",
        "pressure": f"{float(in_unit(pressure, 'hPa', 'pressure')):.1f} hPa",
        "humidity": f"{float(in_unit(air.humidity, '%', 'ratio')):.0f} %",
    }
