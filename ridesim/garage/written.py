"""A trial as a rider writes it, on the line, in a file or in the form of the page: quantities with their units, and only what
was changed; what is not written stays as it was."""

from __future__ import annotations

import hashlib
import json
import re
from collections.abc import Callable, Mapping
from dataclasses import fields, replace
from datetime import UTC, date, datetime, time
from functools import partial
from typing import Any

from ridesim.errors import InputError, InputErrors, did_you_mean, each, placed
from ridesim.garage.changes import changes_between, worded
from ridesim.garage.records import new_id
from ridesim.garage.trials import OPENINGS, RangeVerdict, Settings, Trial, TrialAir, Verdicts, to_plain
from ridesim.units import quantity
from ridesim.units.table import AIR

NUMBERS = ("main_jet", "pilot_jet", "clip_position", "mixture_screw_turns_out", "slide_cutaway")
WORDS = ("main_jet_numbering", "pilot_jet_numbering", "needle", "mixture_screw", "exhaust")
# what a rider writes -> the name in the record, the kind, the unit of a bare number
INTAKE = {
    "intake_open_area": ("intake_open_area_m2", "area", "mm^2"),
    "intake_holes": ("intake_holes_m", "length", "mm"),
}
FUEL = {"fuel_used": ("fuel_used_m3", "volume", "l"), "distance": ("distance_m", "length", "km")}
_FUEL_KEYS = {name: key for key, (name, _, _) in FUEL.items()}
TRIAL = tuple(_FUEL_KEYS.get(one.name, one.name) for one in fields(Trial))
_FUEL_PLACES = {f"trial.{name}": key for name, key in _FUEL_KEYS.items()}
_AIR_PLACES = {f"air.{name}": f"air.{key}" for key, (name, _, _) in AIR.items()}
_SETTING_PLACES = {f"settings.{name}": f"settings.{key}" for key, (name, _, _) in INTAKE.items()}
_TIME_FIX = "Write when it was ridden in UTC, such as 2031-05-04T09:30:00Z."


def trial_of(
    table: Mapping[str, Any],
    before: Trial | None,
    *,
    standing: Settings | None = None,
    corrects: Trial | None = None,
    new: bool = False,
) -> Trial:
    """A trial from what was written; every problem is told at once.

    Without an id, a new one is made, or one that follows from the content: the same text read twice is the same trial.

    Parameters
    ----------
    table : mapping
        As a file of trials has it, by the names in TRIAL.
    before : Trial or None
        The one it builds on.
    standing : Settings, optional
        What settings that are not named stay as; those of the trial before unless given.
    corrects : Trial, optional
        The trial it takes the place of: whatever is not written stays as it was there.
    new : bool
        Whether a new id is made.

    Returns
    -------
    Trial

    Raises
    ------
    InputError, InputErrors
        Keys that are not known, and values that cannot be read or meant, each by its place in the table.

    Examples
    --------
    >>> day = {"altitude": "250 m", "temperature": "18 degC", "humidity": "55 %"}
    >>> first = trial_of({"ridden_at": "2031-05-04T09:30:00Z", "air": day, "settings": {"main_jet": 120, "needle": "D4"}}, None)
    >>> richer = trial_of({"ridden_at": "2031-05-04T11:00:00Z", "air": day, "settings": {"main_jet": 122.5}}, first)
    >>> richer.settings.needle, richer.put_back, richer.builds_on == first.id
    ('D4', 'set the main jet back to 120', True)
    """
    only(table, TRIAL, "")
    was = corrects.settings if corrects else standing or (before.settings if before else None)
    air, verdicts = (corrects.air, corrects.verdicts) if corrects else (None, Verdicts())
    readers: dict[str, Callable[[], Any]] = {
        "air": lambda: air_of(as_table(table.get("air", {}), "air"), air),
        "settings": lambda: settings_of(as_table(table.get("settings", {}), "settings"), was),
        "verdicts": lambda: _verdicts_of(as_table(table.get("verdicts", {}), "verdicts"), verdicts),
    }
    if not corrects or "ridden_at" in table:
        readers["ridden_at"] = lambda: time_of(table.get("ridden_at"))
    for key, (name, kind, unit) in FUEL.items():
        if key in table:
            readers[name] = partial(quantity, table[key], kind, unit, key)
    made = _all_read(readers)
    made |= {name: table[name] for name in ("id", "tune", "revision", "note", "logs") if name in table}
    if corrects:
        kept = made["settings"] == corrects.settings
        made["put_back"] = table.get("put_back", corrects.put_back if kept else way_back(made["settings"], before))
        with placed(_FUEL_PLACES, table):
            return replace(corrects, id=new_id(), **made)
    made["builds_on"] = table.get("builds_on", before.id if before else None)
    made["put_back"] = table.get("put_back", way_back(made["settings"], before))
    with placed(_FUEL_PLACES, table):
        trial = Trial(**made)
    if "id" in table or new:
        return trial
    content = {name: value for name, value in to_plain(trial).items() if name != "id"}
    return replace(trial, id=hashlib.sha256(json.dumps(content, sort_keys=True).encode()).hexdigest()[:20])


def _all_read(readers: Mapping[str, Callable[[], Any]]) -> dict[str, Any]:
    """What each reader gives, or all their problems together."""
    made, found = {}, list[InputError]()
    for name, read in readers.items():
        try:
            made[name] = read()
        except InputError as error:
            found += each(error)
    if found:
        raise found[0] if len(found) == 1 else InputErrors(found)
    return made


def air_of(table: Mapping[str, Any], was: TrialAir | None = None) -> TrialAir:
    """The air of a day; all of it but the pressure must be written down, or stay as it was.

    Parameters
    ----------
    table : mapping
        "altitude", "temperature", "humidity" and "pressure" as texts with units, or bare numbers in m, °C, % and hPa.
    was : TrialAir, optional
        What is not written stays as here.

    Examples
    --------
    >>> air_of({"altitude": "820 ft", "temperature": 18, "humidity": "55 %"})
    TrialAir(altitude_m=249.936, temperature_k=291.15, humidity=0.55, pressure_pa=None)
    """
    only(table, tuple(AIR), "air.")
    found = _all_read(
        {AIR[key][0]: partial(_figure, value, AIR[key][1:], f"air.{key}") for key, value in table.items()}
    )
    missing = [key for key in ("altitude", "temperature", "humidity") if key not in table and was is None]
    if missing:
        raise InputErrors(
            InputError(f"air.{key}", None, "is not given", "A trial keeps the air of its day: write it down.")
            for key in missing
        )
    with placed(_AIR_PLACES, {f"air.{key}": value for key, value in table.items()}):
        return TrialAir(**found) if was is None else replace(was, **found)


def _figure(written: Any, how: tuple[str, str], where: str) -> float:
    return float(quantity(written, *how, where))


def settings_of(table: Mapping[str, Any], before: Settings | None) -> Settings:
    """The settings of a trial: what is written (None: not known any more), and else what the trial before had.

    >>> before = Settings(main_jet=120, needle="D4")
    >>> now = settings_of({"needle": None, "intake_holes": "2 of 25 mm, 1 in"}, before)
    >>> now.main_jet, now.needle, now.intake_holes_m
    (120.0, None, (0.025, 0.025, 0.0254))
    """
    only(table, (*NUMBERS, *WORDS, *INTAKE, "other"), "settings.")
    readers: dict[str, Callable[[], Any]] = {}
    for key, value in table.items():
        name, kind, unit = INTAKE.get(key, (key, "ratio", ""))
        if key == "intake_holes" and value is not None:
            readers[name] = partial(_holes, value)
        elif value is None or key in (*WORDS, "other") or (key in NUMBERS and not isinstance(value, str)):
            readers[name] = partial(_as_it_is, value)
        else:
            readers[name] = partial(_figure, value, (kind, unit), f"settings.{key}")
    made = {} if before is None else {one.name: getattr(before, one.name) for one in fields(Settings)}
    made |= _all_read(readers)
    if isinstance(made.get("clip_position"), float) and made["clip_position"].is_integer():
        made["clip_position"] = int(made["clip_position"])
    if before is not None and isinstance(table.get("other"), Mapping):
        made["other"] = {**before.other, **table["other"]}
    with placed(_SETTING_PLACES, {f"settings.{key}": value for key, value in table.items()}):
        return Settings(**made)


def _as_it_is(value: Any) -> Any:
    return value


def _holes(written: Any) -> tuple[float, ...]:
    """Diameters of holes: a list, or a text such as "2 of 25 mm, 30 mm" or "none"."""
    where = "settings.intake_holes"
    if isinstance(written, str):
        written = [] if written.strip().lower() == "none" else written.split(",", 100)
    if not isinstance(written, list):
        raise InputError(where, written, "is not a list of holes", 'Write one diameter a hole: ["32 mm", "32 mm"].')
    found: list[float] = []
    for place, one in enumerate(written, start=1):
        counted = re.fullmatch(r"\s*(\d{1,2})\s+of\s+(.+)", one) if isinstance(one, str) else None
        count, size = (int(counted[1]), counted[2]) if counted else (1, one)
        found += [
            _figure(size.strip() if isinstance(size, str) else size, ("length", "mm"), f"{where}[{place}]")
        ] * count
    return tuple(found)


def _verdicts_of(table: Mapping[str, Any], was: Verdicts) -> Verdicts:
    """Verdicts by throttle opening: "lean", or "lean: pops when the throttle shuts"."""
    only(table, tuple(OPENINGS), "verdicts.")
    return replace(was, **_all_read({opening: partial(_verdict, opening, said) for opening, said in table.items()}))


def _verdict(opening: str, written: Any) -> RangeVerdict:
    where = f"verdicts.{opening}"
    if not isinstance(written, str):
        raise InputError(where, written, "is not a verdict", 'Write "lean", or "lean: how it showed".')
    says, _, remark = written.partition(":")
    with placed({"verdict.says": where, "verdict.remark": where}):
        return RangeVerdict(says=says.strip() or None, remark=remark.strip())  # type: ignore[arg-type]


def way_back(settings: Settings, before: Trial | None) -> str:
    """How to undo what a trial changed, in words."""
    changes = changes_between(before.settings, settings)[0] if before else ()
    return "; ".join(f"set the {one.thing} back to {worded(one.thing, one.before)}" for one in changes)


def time_of(written: object) -> object:
    """A TOML time in UTC, or the text as it was written, which the trial checks.

    >>> time_of(datetime.fromisoformat("2031-05-04T11:30:00+02:00"))
    '2031-05-04T09:30:00Z'
    """
    if isinstance(written, datetime) and written.tzinfo is not None:
        try:
            return written.astimezone(UTC).isoformat().replace("+00:00", "Z")
        except OverflowError:
            raise InputError("ridden_at", str(written), "is outside the calendar in UTC", _TIME_FIX) from None
    if isinstance(written, date | time):
        raise InputError("ridden_at", str(written), "is not in UTC", _TIME_FIX)
    if written is None:
        raise InputError("ridden_at", None, "is not given", _TIME_FIX)
    return written


def as_table(value: object, where: str) -> Mapping[str, Any]:
    """A table of a file, or why it is none."""
    if not isinstance(value, Mapping):
        raise InputError(where, value, "is not a table", "Write its keys below a heading in brackets.")
    return value


def only(table: Mapping[str, Any], known: tuple[str, ...], before: str) -> None:
    """Refuse keys that are not known."""
    strange = [key for key in table if key not in known]
    if strange:
        raise InputErrors(
            InputError(f"{before}{key}", None, "is not a key of a trial file", did_you_mean(key, known))
            for key in strange
        )
