"""Trials of a bike in the garage: write one down, look back, ask what to try next, find the way back to stock."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from datetime import UTC, datetime
from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Any, Literal

import typer

from ridesim.commands.garage import BikeName, FileOption, opened
from ridesim.commands.given import AIR, numbers, placed, share
from ridesim.commands.output import (
    JsonOption,
    Told,
    UnitsOption,
    WorkingOption,
    columns_of,
    counted,
    figures,
    tell,
    tell_json,
    text,
)
from ridesim.commands.trial_file import (
    TrialFile,
    air_of,
    corrected,
    in_order,
    read_trials,
    ridden_before,
    trial_of,
)
from ridesim.errors import InputError

if TYPE_CHECKING:
    from ridesim.garage import Garage
    from ridesim.garage.circuits import Margin, Obtainable
    from ridesim.garage.trend import Stock
    from ridesim.garage.trials import DayAir, Trial

app = typer.Typer(
    no_args_is_help=True,
    rich_markup_mode=None,
    add_completion=False,
    help="Trials: one change at a time, with the air of the day and the verdict.",
)

Numbering = Literal["bore", "flow"]
TrialName = Annotated[str, typer.Option("--trial", help="Number in the list, or id.")]
StockOption = Annotated[
    str | None,
    typer.Option(
        "--stock", help="Number or id of the trial whose settings are stock.", show_default="the file's, or the first"
    ),
]
PartsOption = Annotated[
    Path | None,
    typer.Option("--parts", help="TOML file with [stock], [obtainable] and [margin].", show_default="none"),
]
_VERDICT = "'lean', 'right', 'rich' or 'lean: how it showed'."


@app.command()
def add(
    bike: BikeName,
    from_file: Annotated[
        Path | None, typer.Option("--from", help="TOML file of one or more trials instead of the options below.")
    ] = None,
    main_jet: Annotated[float | None, typer.Option(help="As stamped.")] = None,
    main_jet_numbering: Annotated[Numbering | None, typer.Option(help="Stamped by bore or by flow.")] = None,
    pilot_jet: Annotated[float | None, typer.Option(help="As stamped.")] = None,
    pilot_jet_numbering: Annotated[Numbering | None, typer.Option(help="Stamped by bore or by flow.")] = None,
    needle: Annotated[str | None, typer.Option(help="Its marking.")] = None,
    clip_position: Annotated[int | None, typer.Option(help="Groove, 1 the top one.")] = None,
    mixture_screw_turns_out: Annotated[float | None, typer.Option(help="From gently seated.")] = None,
    mixture_screw: Annotated[Literal["fuel", "air"] | None, typer.Option(help="What the screw lets through.")] = None,
    slide_cutaway: Annotated[float | None, typer.Option(help="Its number.")] = None,
    intake_open_area: Annotated[str | None, typer.Option(help="All openings together, such as '1900 mm^2'.")] = None,
    intake_holes: Annotated[
        str | None, typer.Option(help="Holes drilled and open, such as '32 mm,32 mm'; 'none'.")
    ] = None,
    exhaust: Annotated[str | None, typer.Option(help="What is fitted, in words.")] = None,
    altitude: Annotated[str | None, typer.Option(help="Of the ride.")] = None,
    temperature: Annotated[str | None, typer.Option(help="In the shade.")] = None,
    humidity: Annotated[str | None, typer.Option(help="Such as '60 %'.")] = None,
    pressure: Annotated[str | None, typer.Option(help="At the place; else the standard atmosphere's.")] = None,
    air_of_build: Annotated[bool, typer.Option("--air-of-build", help="The air that the newest build says.")] = False,
    closed_to_eighth: Annotated[str | None, typer.Option(help=_VERDICT)] = None,
    eighth_to_quarter: Annotated[str | None, typer.Option(help=_VERDICT)] = None,
    quarter_to_three_quarters: Annotated[str | None, typer.Option(help=_VERDICT)] = None,
    three_quarters_to_full: Annotated[str | None, typer.Option(help=_VERDICT)] = None,
    fuel_used: Annotated[str | None, typer.Option(help="Such as '5.2 l'; with --distance.")] = None,
    distance: Annotated[str | None, typer.Option(help="Such as '113 km'; with --fuel-used.")] = None,
    ridden_at: Annotated[
        str | None, typer.Option(help="UTC, such as 2031-05-04T09:30:00Z.", show_default="now")
    ] = None,
    note: Annotated[str | None, typer.Option(help="Anything else.")] = None,
    put_back: Annotated[
        str | None, typer.Option(help="How to undo it.", show_default="what was changed, turned round")
    ] = None,
    corrects: Annotated[str | None, typer.Option(help="Number or id of a trial this one takes the place of.")] = None,
    file: FileOption = None,
    as_json: JsonOption = False,
) -> None:
    """Write down a trial; a setting that is not named is as in the trial before."""
    settings = {
        "main_jet": main_jet,
        "main_jet_numbering": main_jet_numbering,
        "pilot_jet": pilot_jet,
        "pilot_jet_numbering": pilot_jet_numbering,
        "needle": needle,
        "clip_position": clip_position,
        "mixture_screw_turns_out": mixture_screw_turns_out,
        "mixture_screw": mixture_screw,
        "slide_cutaway": slide_cutaway,
        "intake_open_area": intake_open_area,
        "intake_holes": _holes(intake_holes),
        "exhaust": exhaust,
    }
    verdicts = {
        "closed_to_eighth": closed_to_eighth,
        "eighth_to_quarter": eighth_to_quarter,
        "quarter_to_three_quarters": quarter_to_three_quarters,
        "three_quarters_to_full": three_quarters_to_full,
    }
    single = {"fuel_used": fuel_used, "distance": distance, "ridden_at": ridden_at, "note": note, "put_back": put_back}
    air = {"altitude": altitude, "temperature": temperature, "humidity": humidity, "pressure": pressure}
    written = [
        one for one in (*settings.values(), *verdicts.values(), *single.values(), *air.values()) if one is not None
    ]
    if from_file is not None and (written or air_of_build or corrects is not None):
        raise InputError("--from", str(from_file), "goes without the other options", "Write everything into the file.")
    if from_file is None and not written:
        raise InputError(
            "trial", None, "says nothing", "Give what was changed, the air and the verdicts, or --from FILE."
        )
    source = None if from_file is None else read_trials(from_file)
    with opened(file) as garage:
        before = in_order(garage.trials(bike))
        if source is not None:
            made = _from_file(garage, bike, source, before, str(from_file))
        else:
            table = {"settings": _named(settings), "verdicts": _named(verdicts), **_named(single)}
            table["air"] = _named(air) or (_air_of_build(garage, bike) if air_of_build else {})
            made = (_from_options(garage, bike, table, before, corrects),)
        kept = in_order(garage.trials(bike))
    if as_json:
        return tell_json({"trials": [_plain(one) for one in made]})
    return tell(_added(bike, made, kept))


def _named(table: Mapping[str, Any]) -> dict[str, Any]:
    return {key: value for key, value in table.items() if value is not None}


def _holes(written: str | None) -> list[str] | None:
    if written is None:
        return None
    return [] if written.strip().lower() == "none" else [one.strip() for one in written.split(",", 100)]


def _from_options(
    garage: Garage, bike: str, table: dict[str, Any], before: Sequence[Trial], corrects: str | None
) -> Trial:
    """Keep the trial that the options write down."""
    places = {"ridden_at": "--ridden-at", "trial.ridden_at": "--ridden-at"}
    for name in (*AIR, *table["settings"], *table["verdicts"]):
        places |= {f"{group}.{name}": f"--{name.replace('_', '-')}" for group in ("air", "settings", "verdicts")}
    for name in ("fuel_used", "distance", "note", "put_back"):
        places |= {one: f"--{name.replace('_', '-')}" for one in (name, f"trial.{name}")}
    places |= {"trial.fuel_used_m3": "--fuel-used", "trial.distance_m": "--distance"}
    wrong = None if corrects is None else trial_named(before, corrects, "--corrects")
    with placed(places):
        if wrong is not None:
            base = next((one for one in before if one.id == wrong.builds_on), None)
            trial = corrected(table, wrong, base)
        else:
            table.setdefault("ridden_at", datetime.now(UTC).isoformat(timespec="seconds").replace("+00:00", "Z"))
            trial = trial_of(table, ridden_before(before, table["ridden_at"]), new=True)
    return garage.add_trial(bike, trial, corrects=None if wrong is None else wrong.id)


def _air_of_build(garage: Garage, bike: str) -> dict[str, Any]:
    """The air that the newest build says; refused where it leaves something out."""
    from ridesim.build import parse

    section = parse(garage.newest(bike).text).record.air
    return {key: value for key in AIR if (value := getattr(section, key)) is not None}


def _from_file(garage: Garage, bike: str, source: TrialFile, before: Sequence[Trial], name: str) -> tuple[Trial, ...]:
    """Keep everything in a file that is new here; all of it is checked before any of it is kept."""
    if not source.trials:
        raise InputError(name, None, "has no trial in it", "Write [[trial]] before each.")
    archived = {one.id for one in garage.trials(bike, archived=True)}
    linked = {one.id for one in garage.history(bike)} | {one.id for one in garage.logs(bike)}
    known = {one.id: one for one in before}
    made: list[Trial] = []
    for number, table in enumerate(source.trials, start=1):
        with placed(f"{name}, trial {number}: "):
            builds_on = table.get("builds_on")
            if builds_on is not None and not (isinstance(builds_on, str) and builds_on in known):
                raise InputError(
                    "builds_on", builds_on, "is no trial of this bike", "Name one before it, or leave it out."
                )
            base = known[builds_on] if builds_on else ridden_before(tuple(known.values()), table.get("ridden_at"))
            trial = trial_of(table, base)
            if trial.id in archived or known.get(trial.id, trial) != trial:
                raise InputError(
                    "id",
                    trial.id,
                    "is kept already with other words, or is in the archive",
                    "Use trial add --corrects.",
                )
            strange = [row_id for kind, row_id in trial.links() if kind != "trial" and row_id not in linked]
            if strange:
                raise InputError(
                    "revision or log", strange[0], "is not one of this bike's", "Leave it out, or add it first."
                )
            if trial.id not in known:
                made.append(trial)
                known[trial.id] = trial
    for one in made:
        garage.add_trial(bike, one)
    return tuple(made)


def trial_named(trials: Sequence[Trial], name: str, option: str) -> Trial:
    """A trial by its number in the list, or by its id."""
    for number, one in enumerate(trials, start=1):
        if name in (str(number), one.id):
            return one
    known = f"There are trials 1 to {len(trials)}; see: ridesim trial list." if trials else "There is no trial yet."
    raise InputError(option, name, "is not a trial of this bike", known)


def _plain(trial: Trial) -> dict[str, Any]:
    from ridesim.garage.trials import to_plain

    return to_plain(trial)


def _changed(trial: Trial, trials: Sequence[Trial]) -> str:
    """What a trial changed against the one it builds on, in words."""
    from ridesim.garage.changes import what_changed

    base = next((one for one in trials if one.id == trial.builds_on), None)
    if base is None:
        return "the first" if trial.builds_on is None else "builds on one in the archive"
    return what_changed(trial, base).says


def _added(bike: str, made: Sequence[Trial], kept: Sequence[Trial]) -> Told:
    number = {one.id: place for place, one in enumerate(kept, start=1)}
    return Told(
        title=f"Trials of {bike}",
        sentence=f"{len(made)} trial{'s' if len(made) != 1 else ''} written down."
        if made
        else "Every trial in the file is in the garage already; nothing was added.",
        lines=tuple(
            f"  {number[one.id]}: {_changed(one, kept)}" + (f" To undo: {one.put_back}." if one.put_back else "")
            for one in made
        ),
        notes=tuple(
            f"Trial {number[one.id]} was ridden before others that were written down earlier, so it is not the latest."
            for one in made
            if one.id != kept[-1].id and kept[-1] not in made
        ),
    )


@app.command("list")
def list_trials(
    bike: BikeName,
    archived: Annotated[bool, typer.Option("--archived", help="Those in the archive.")] = False,
    file: FileOption = None,
    units: UnitsOption = "metric",
    as_json: JsonOption = False,
) -> None:
    """The trials of a bike in the order they were ridden: what was changed, and the verdicts."""
    from ridesim.garage.trials import OPENINGS

    with opened(file) as garage:
        trials = in_order(garage.trials(bike, archived=archived))
        everything = trials + in_order(garage.trials(bike, archived=not archived))
    if as_json:
        return tell_json({"bike": bike, "trials": [_plain(one) for one in trials]})
    return tell(
        Told(
            title=f"Trials of {bike}" + (" in the archive" if archived else ""),
            sentence=f"{len(trials)} trial{'s' if len(trials) != 1 else ''}, the first ridden first.",
            tables=(
                (
                    "",
                    (
                        counted("Trial", range(1, len(trials) + 1)),
                        text("Ridden", (one.ridden_at[:10] for one in trials)),
                        figures("Air", (one.air.density_kg_m3() for one in trials), "density", units),
                        *(
                            text(
                                name.removesuffix(" throttle").capitalize(),
                                (one.verdicts.at(key).says for one in trials),
                            )
                            for key, name in OPENINGS.items()
                        ),
                        text("Changed", (_changed(one, everything) for one in trials)),
                        text("Id", (one.id for one in trials)),
                    ),
                ),
            ),
        )
    )


def _stock(trials: Sequence[Trial], named: str | None, source: TrialFile | None) -> tuple[Stock, tuple[str, ...]]:
    """What counts as stock, and what was assumed of it."""
    from ridesim.garage.trend import STOCK_AIR, Stock

    if named is None and source is not None and source.stock is not None:
        return source.stock, ()
    one = trials[0] if named is None else trial_named(trials, named, "--stock")
    told = "the settings of the first trial are taken as stock" if named is None else f"stock is trial {named}"
    air = "and taken to be right in dry air at sea level and 15 °C, unless a --parts file says otherwise"
    return Stock(settings=one.settings, air=STOCK_AIR), (f"{told}, {air}",)


def _ridden(garage: Garage, bike: str) -> tuple[Trial, ...]:
    trials = in_order(garage.trials(bike))
    if not trials:
        raise InputError("trial", None, f"there is none of {bike} yet", "Write one down: ridesim trial add.")
    return trials


@app.command()
def trend(
    bike: BikeName,
    stock: StockOption = None,
    parts: PartsOption = None,
    file: FileOption = None,
    units: UnitsOption = "metric",
    as_json: JsonOption = False,
) -> None:
    """How rich each trial was against stock, corrected for the air of its day."""
    from dataclasses import replace

    from ridesim.garage.trend import trend as found_trend

    source = None if parts is None else read_trials(parts)
    with opened(file) as garage:
        trials = _ridden(garage, bike)
    original, assumed = _stock(trials, stock, source)
    found = found_trend(trials, original)
    if as_json:
        return tell_json(replace(found, assumptions=(*assumed, *found.assumptions)))
    first, last = (found.table.rows[place]["main_richness"] for place in (0, -1))
    known = None not in (first, last)
    return tell(
        Told(
            title=f"Trend of {bike}",
            sentence=(
                f"By jet and air the main circuit ran at {first:.3f} of stock in the first trial and {last:.3f} in the latest."
                if known
                else "The main circuit cannot be compared with stock: a main jet is not written down or numbered otherwise."
            ),
            tables=((found.table.title + ", 1 is stock, more is richer", columns_of(found.table, units)),),
            assumptions=(*assumed, *found.assumptions),
            notes=found.notes,
        )
    )


@app.command("next")
def next_trial(
    bike: BikeName,
    main_jets: Annotated[str | None, typer.Option(help="Sizes that can be had, such as 142.5,145.")] = None,
    pilot_jets: Annotated[str | None, typer.Option(help="Sizes that can be had.")] = None,
    slide_cutaways: Annotated[str | None, typer.Option(help="Slides that can be had.")] = None,
    clip_grooves: Annotated[int | None, typer.Option(help="Grooves of the needle.", show_default="5")] = None,
    lean_margin: Annotated[
        str | None, typer.Option(help="How far below stock's richness a proposal may go.", show_default="3 %")
    ] = None,
    parts: PartsOption = None,
    stock: StockOption = None,
    altitude: Annotated[str | None, typer.Option(help="Of the next ride.")] = None,
    temperature: Annotated[str | None, typer.Option(help="Of the next ride.")] = None,
    humidity: Annotated[str | None, typer.Option(help="Of the next ride.")] = None,
    pressure: Annotated[str | None, typer.Option(help="Of the next ride, at the place.")] = None,
    file: FileOption = None,
    as_json: JsonOption = False,
    working: WorkingOption = False,
) -> None:
    """What to try next: one change, why, how to make it and how to put it back."""
    from ridesim.garage.advice import propose_next

    source = None if parts is None else read_trials(parts)
    sizes = {"main_jets": main_jets, "pilot_jets": pilot_jets, "slide_cutaways": slide_cutaways}
    with placed({f"obtainable.{name}": f"--{name.replace('_', '-')}" for name in (*sizes, "clip_grooves")}):
        obtainable = _obtainable(sizes, clip_grooves, source)
    margin = _margin(lean_margin, source)
    written = {"altitude": altitude, "temperature": temperature, "humidity": humidity, "pressure": pressure}
    with opened(file) as garage:
        trials = _ridden(garage, bike)
    original, assumed = _stock(trials, stock, source)
    air, air_told = _air_of_ride(_named(written), trials[-1])
    found = propose_next(trials, original, air=air, sizes_obtainable=obtainable, margin=margin)
    assumed = (*assumed, *air_told)
    if as_json:
        whole = {name: getattr(found, name) for name in found.__dataclass_fields__}
        return tell_json({**whole, "air": air, "assumptions": (*assumed, *found.assumptions)})
    return tell(
        Told(
            title=f"Next trial of {bike}",
            sentence=found.says,
            lines=(
                *(f"Why: {one}" for one in found.why),
                *(f"Held back: {one}" for one in found.held_back),
                *(f"{number}. {one}" for number, one in enumerate(found.to_do, start=1)),
                *((f"To put back: {found.put_back}",) if found.put_back else ()),
            ),
            steps=found.working,
            assumptions=(*assumed, *found.assumptions),
            notes=_no_sizes(obtainable),
            cautions=found.cautions,
        ),
        working=working,
    )


def _obtainable(sizes: Mapping[str, str | None], grooves: int | None, source: TrialFile | None) -> Obtainable:
    """What can be had: the line before the file."""
    from dataclasses import replace

    from ridesim.garage.circuits import Obtainable

    told: dict[str, Any] = {
        name: numbers(written, f"--{name.replace('_', '-')}", "Write them as 142.5,145.")
        for name, written in sizes.items()
        if written is not None
    }
    if grooves is not None:
        told["clip_grooves"] = grooves
    base = source.obtainable if source is not None and source.obtainable is not None else Obtainable()
    return replace(base, **told)


def _margin(written: str | None, source: TrialFile | None) -> Margin:
    from dataclasses import replace

    from ridesim.garage.circuits import Margin

    base = source.margin if source is not None and source.margin is not None else Margin()
    if written is None:
        return base
    with placed({"margin.richness": "--lean-margin"}):
        return replace(base, richness=float(share(written, "--lean-margin")))


def _air_of_ride(written: Mapping[str, str], latest: Trial) -> tuple[DayAir, tuple[str, ...]]:
    """The air of the next ride: as written, else as on the day of the latest trial."""
    if not written:
        return latest.air, ("the air of the next ride is taken to be that of the latest trial",)
    with placed({f"air.{key}": f"--{key}" for key in AIR}):
        return air_of(written), ()


def _no_sizes(obtainable: Obtainable) -> tuple[str, ...]:
    missing = [name for name in ("main_jets", "pilot_jets", "slide_cutaways") if not getattr(obtainable, name)]
    return tuple(
        f"No {name.replace('_', ' ')} are named that can be had, so none is proposed: give --{name.replace('_', '-')}."
        for name in missing
    )


@app.command()
def undo(
    bike: BikeName,
    stock: StockOption = None,
    parts: PartsOption = None,
    file: FileOption = None,
    as_json: JsonOption = False,
) -> None:
    """The way back to stock: what to undo, the latest change first, and the parts it takes."""
    from ridesim.garage.undo import back_to_stock

    source = None if parts is None else read_trials(parts)
    with opened(file) as garage:
        trials = _ridden(garage, bike)
    original, assumed = _stock(trials, stock, source)
    found = back_to_stock(trials, original)
    if as_json:
        return tell_json(found)
    return tell(
        Told(
            title=f"Back to stock: {bike}",
            sentence=found.says,
            lines=(
                *(f"{number}. {one.how}" for number, one in enumerate(found.undo, start=1)),
                f"Parts needed: {'; '.join(found.parts)}." if found.parts else "Parts needed: none.",
            ),
            tables=(
                (
                    "",
                    (
                        text("What", (one.thing for one in found.undo)),
                        text("Now", (one.now for one in found.undo)),
                        text("Stock", (one.stock for one in found.undo)),
                        counted("Changed in trial", (one.changed_in for one in found.undo)),
                    ),
                ),
            ),
            assumptions=assumed,
            cautions=found.cautions,
        )
    )


@app.command()
def tune(
    bike: BikeName,
    trial: TrialName,
    curve: Annotated[Path, typer.Option(help="CSV of engine speed and torque or power.")],
    name: Annotated[str, typer.Option(help="Name of the tune, such as 'rejetted'.")],
    unit: Annotated[str | None, typer.Option(help="Unit of the figures.", show_default="from the heading")] = None,
    at: Annotated[
        Literal["crank", "wheel"] | None, typer.Option(help="Where measured.", show_default="assumed")
    ] = None,
    standard: Annotated[
        str, typer.Option(help="Correction standard of the sheet; 'as measured' takes the air of the trial.")
    ] = "as measured",
    activate: Annotated[bool, typer.Option("--activate", help="Make it the active tune.")] = False,
    file: FileOption = None,
    as_json: JsonOption = False,
) -> None:
    """Save a new revision of the build with the power curve of a trial as a tune that names the trial."""
    from ridesim.bike import make_bike
    from ridesim.build import parse, with_tune
    from ridesim.garage.records import checked_name
    from ridesim.parts.curve_file import read_curve_csv

    checked_name(name, "--name")
    if "." in name:
        raise InputError("--name", name, "has a dot in it", "Choose a name without a dot.")
    sheet = read_curve_csv(curve, unit=unit)
    with opened(file) as garage:
        trials = in_order(garage.trials(bike))
        source = trial_named(trials, trial, "--trial")
        newest = garage.newest(bike)
        changes: dict[str, Any] = {f"tune.{name}.trial": source.id, f"tune.{name}.standard": standard}
        if standard == "as measured":
            changes |= {f"tune.{name}.{key}": value for key, value in _measured_air(source.air).items()}
        if activate:
            changes["active.tune"] = name
        build = with_tune(parse(newest.text), name, sheet, measured_at=at).changed(changes)
        make_bike(build, tune=name)  # a curve or a standard that will not do is told now, not at the next question
        note = f"tune {name} from trial {trials.index(source) + 1}"
        kept = garage.save(bike, build.text, note=note, parent=newest.id)
    if as_json:
        return tell_json(kept)
    return typer.echo(
        f"{bike}: tune {name!r} with {len(sheet.points)} points in {sheet.unit}, kept as revision {kept.number}"
    )


def _measured_air(air: DayAir) -> dict[str, str]:
    """The air of a trial as a tune writes it."""
    from ridesim.surroundings.air import standard_pressure_pa
    from ridesim.units import in_unit

    pressure = air.pressure_pa if air.pressure_pa is not None else float(standard_pressure_pa(air.altitude_m))
    return {
        "temperature": f"{float(in_unit(air.temperature_k, 'degC', 'temperature')):.1f} degC",
        "pressure": f"{float(in_unit(pressure, 'hPa', 'pressure')):.1f} hPa",
        "humidity": f"{float(in_unit(air.humidity, '%', 'ratio')):.0f} %",
    }
