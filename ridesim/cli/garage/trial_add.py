"""A trial written down, by options or from a file: all of it checked, then kept."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import asdict, dataclass, fields
from datetime import UTC, datetime
from pathlib import Path
from typing import TYPE_CHECKING, Any, Literal

from ridesim.cli.garage.builds import BikeName, FileOption, opened
from ridesim.cli.garage.trial_file import TrialFile, read_trials
from ridesim.cli.given import AIR, air_written, placed
from ridesim.cli.options import Day, JsonOption, dashed, grouped, option
from ridesim.cli.output import tell, tell_json
from ridesim.errors import InputError
from ridesim.statements import many

if TYPE_CHECKING:
    from ridesim.garage import Garage
    from ridesim.garage.trials import Trial

_VERDICT = "'lean', 'right', 'rich' or 'lean: how it showed'."


@dataclass(frozen=True, kw_only=True)
class SettingsWritten:
    """What was set, as it is written; what is not named is as in the trial before."""

    main_jet: float | None = option("As stamped.")
    main_jet_numbering: Literal["bore", "flow"] | None = option("Stamped by bore or by flow.")
    pilot_jet: float | None = option("As stamped.")
    pilot_jet_numbering: Literal["bore", "flow"] | None = option("Stamped by bore or by flow.")
    needle: str | None = option("Its marking.")
    clip_position: int | None = option("Groove, 1 the top one.")
    mixture_screw_turns_out: float | None = option("From gently seated.")
    mixture_screw: Literal["fuel", "air"] | None = option("What the screw lets through.")
    slide_cutaway: float | None = option("Its number.")
    intake_open_area: str | None = option("All openings together, such as '1900 mm^2'.")
    intake_holes: str | None = option("Holes drilled and open, such as '32 mm,32 mm'; 'none'.")
    exhaust: str | None = option("What is fitted, in words.")

    def table(self) -> dict[str, Any]:
        """As a file of trials has it."""
        return named(asdict(self))


@dataclass(frozen=True, kw_only=True)
class TrialDay(Day):
    """The air of a trial: its temperature was measured, none is taken by altitude."""

    temperature: str | None = option("In the shade, such as '18 degC'.")


@dataclass(frozen=True, kw_only=True)
class VerdictsWritten:
    """What the engine said by throttle opening."""

    closed_to_eighth: str | None = option(_VERDICT)
    eighth_to_quarter: str | None = option(_VERDICT)
    quarter_to_three_quarters: str | None = option(_VERDICT)
    three_quarters_to_full: str | None = option(_VERDICT)


@dataclass(frozen=True, kw_only=True)
class RideWritten:
    """The ride itself."""

    fuel_used: str | None = option("Such as '5.2 l'; with --distance.")
    distance: str | None = option("Such as '113 km'; with --fuel-used.")
    ridden_at: str | None = option("UTC, such as 2031-05-04T09:30:00Z.", otherwise="now")
    note: str | None = option("Anything else.")
    put_back: str | None = option("How to undo it.", otherwise="what was changed, turned round")


@grouped
def add(
    bike: BikeName,
    from_file: Path | None = option("TOML file of one or more trials instead of the options below.", "--from"),
    *,
    settings: SettingsWritten,
    day: TrialDay,
    air_of_build: bool = option("The air that the newest build says.", "--air-of-build", default=False),
    verdicts: VerdictsWritten,
    ridden: RideWritten,
    corrects: str | None = option("Number or id of a trial this one takes the place of."),
    file: FileOption = None,
    as_json: JsonOption = False,
) -> None:
    """Write down a trial; a setting that is not named is as in the trial before."""
    air, of_ride = named(day.written()), named(asdict(ridden))
    table = {"settings": settings.table(), "verdicts": named(asdict(verdicts)), **of_ride}
    written = any((air, of_ride, table["settings"], table["verdicts"]))
    if from_file is not None and (written or air_of_build or corrects is not None):
        raise InputError("--from", str(from_file), "goes without the other options", "Write everything into the file.")
    if from_file is None and not written:
        fix = "Give what was changed, the air and the verdicts, or --from FILE."
        raise InputError("trial", None, "says nothing", fix)
    from ridesim.buildfile.io import parse

    source = None if from_file is None else read_trials(from_file)
    with opened(file) as garage:
        before = garage.trials(bike)
        if source is not None:
            made = _from_file(garage, bike, source, before, str(from_file))
        else:
            table["air"] = air or (air_written(parse(garage.newest(bike).text)) if air_of_build else {})
            made = (_from_options(garage, bike, table, before, corrects),)
        kept = garage.trials(bike)
    if as_json:
        from ridesim.garage.trials import to_plain

        return tell_json({"trials": [to_plain(one) for one in made]})
    return _tell_added(bike, made, kept)


def named(table: Mapping[str, Any]) -> dict[str, Any]:
    """What was written, without what was not."""
    return {key: value for key, value in table.items() if value is not None}


def _from_options(
    garage: Garage, bike: str, table: dict[str, Any], before: Sequence[Trial], corrects: str | None
) -> Trial:
    """Keep the trial that the options write down."""
    from ridesim.garage.trials import ridden_before
    from ridesim.garage.written import trial_of

    places: dict[str, str] = {}
    for name in (*AIR, *table["settings"], *table["verdicts"]):
        places |= {f"{group}.{name}": dashed(name) for group in ("air", "settings", "verdicts")}
    for one in fields(RideWritten):
        places |= dict.fromkeys((one.name, f"trial.{one.name}"), dashed(one.name))
    wrong = None if corrects is None else trial_named(before, corrects, "--corrects")
    with placed(places):
        if wrong is not None:
            base = next((one for one in before if one.id == wrong.builds_on), None)
        else:
            table.setdefault("ridden_at", datetime.now(UTC).isoformat(timespec="seconds").replace("+00:00", "Z"))
            base = ridden_before(before, table["ridden_at"], strictly=True)
        trial = trial_of(table, base, corrects=wrong, new=True)
    return garage.add_trial(bike, trial, corrects=None if wrong is None else wrong.id)


def _from_file(garage: Garage, bike: str, source: TrialFile, before: Sequence[Trial], name: str) -> tuple[Trial, ...]:
    """Keep everything in a file that is new here; all of it is checked before any of it is kept."""
    from ridesim.garage.trials import ridden_before
    from ridesim.garage.written import time_of, trial_of

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
                fix = "Name one before it, or leave it out."
                raise InputError("builds_on", builds_on, "is no trial of this bike", fix)
            at = time_of(table.get("ridden_at"))
            base = known[builds_on] if builds_on else ridden_before(known.values(), at, strictly=True)
            trial = trial_of(table, base)
            if trial.id in archived or known.get(trial.id, trial) != trial:
                problem = "is kept already with other words, or is in the archive"
                raise InputError("id", trial.id, problem, "Use trial add --corrects.")
            strange = [row_id for kind, row_id in trial.links() if kind != "trial" and row_id not in linked]
            if strange:
                fix = "Leave it out, or add it first."
                raise InputError("revision or log", strange[0], "is not one of this bike's", fix)
            if trial.id not in known:
                made.append(trial)
                known[trial.id] = trial
    return garage.add_trials(bike, made)


def trial_named(trials: Sequence[Trial], name: str, option: str) -> Trial:
    """A trial by its number in the list, or by its id."""
    for number, one in enumerate(trials, start=1):
        if name in (str(number), one.id):
            return one
    known = f"There are trials 1 to {len(trials)}; see: ridesim trial list." if trials else "There is no trial yet."
    raise InputError(option, name, "is not a trial of this bike", known)


def _tell_added(bike: str, made: Sequence[Trial], kept: Sequence[Trial]) -> None:
    """What was written down, how each is undone, and which are not the latest."""
    from ridesim.garage.changes import changed_words

    number = {one.id: place for place, one in enumerate(kept, start=1)}
    nothing = "Every trial in the file is in the garage already; nothing was added."
    lines = [f"  {number[one.id]}: {changed_words(one, kept)}{_to_undo(one)}" for one in made]
    notes = tuple(
        f"Trial {number[one.id]} was ridden before others that were written down earlier, so it is not the latest."
        for one in made
        if one.id != kept[-1].id and kept[-1] not in made
    )
    tell(
        f"Trials of {bike}", f"{many(len(made), 'trial')} written down." if made else nothing, lines=lines, notes=notes
    )


def _to_undo(one: Trial) -> str:
    return f" To undo: {one.put_back}." if one.put_back else ""
