"""Trials as riders write them, in TOML or on the line: quantities with their units, and only what was changed.

A setting that is not named stays as it was in the trial before. A file may also say what stock is, which parts are available
and how far to the lean side a proposal may go:

    [stock.settings]            # and [stock.air]
    [obtainable]                # main_jets = [...], pilot_jets, slide_cutaways, clip_grooves, least_turns, most_turns
    [margin]                    # richness, grooves, turns, cutaway
    [[trial]]                   # ridden_at, [trial.air], [trial.settings], [trial.verdicts], fuel_used, distance, note ...
"""

from __future__ import annotations

import hashlib
import json
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, fields, replace
from datetime import UTC, date, datetime, time
from functools import partial
from pathlib import Path
from typing import TYPE_CHECKING, Any

from ridesim.cli.given import AIR, demo_or_file, placed, read_text
from ridesim.errors import InputError, InputErrors, did_you_mean, each
from ridesim.units import quantity

if TYPE_CHECKING:
    from ridesim.garage.richness import Margin, Obtainable, Stock
    from ridesim.garage.trials import Settings, Trial, TrialAir, Verdicts

# What a rider writes -> the name in Settings; with a kind and the unit of a bare number where it is a quantity.
PLAIN = (
    "main_jet",
    "main_jet_numbering",
    "pilot_jet",
    "pilot_jet_numbering",
    "needle",
    "clip_position",
    "mixture_screw_turns_out",
    "mixture_screw",
    "slide_cutaway",
    "exhaust",
    "other",
)
MEASURED = {
    "intake_open_area": ("intake_open_area_m2", "area", "mm^2"),
    "intake_holes": ("intake_holes_m", "length", "mm"),
}
FUEL = {"fuel_used": ("fuel_used_m3", "volume", "l"), "distance": ("distance_m", "length", "km")}
TRIAL = ("id", "ridden_at", "builds_on", "air", "settings", "verdicts", "fuel_used", "distance", "tune", "revision", "logs",
         "note", "put_back")  # fmt: skip
_FUEL_PLACES = {f"trial.{name}": key for key, (name, _, _) in FUEL.items()}
MOST_TRIALS = 1000


@dataclass(frozen=True, kw_only=True)
class TrialFile:
    """The trials of a file as tables, and what else it says; None where it says nothing."""

    trials: tuple[Mapping[str, Any], ...]
    stock: Stock | None
    obtainable: Obtainable | None
    margin: Margin | None


def read_trials(path: Path) -> TrialFile:
    """The tables of a file of trials; a demo name will do."""
    from ridesim.buildfile.toml_text import tables_of
    from ridesim.garage.richness import STOCK_AIR, Margin, Obtainable, Stock

    where = demo_or_file(path)
    data = tables_of(read_text(where), where.name)
    with placed(f"{where.name}: "):
        _only(data, ("trial", "stock", "obtainable", "margin"), "")
        stock = None
        if "stock" in data:
            table = _table(data["stock"], "stock")
            _only(table, ("settings", "air"), "stock.")
            with placed("stock."):
                stock = Stock(
                    settings=settings_of(_table(table.get("settings", {}), "settings"), None),
                    air=air_of(_table(table["air"], "air")) if "air" in table else STOCK_AIR,
                )
        obtainable = _record(Obtainable, data, "obtainable")
        margin = _record(Margin, data, "margin")
        trials = data.get("trial", [])
        if not isinstance(trials, list) or len(trials) > MOST_TRIALS:
            raise InputError(
                "trial", None, f"is not a list of at most {MOST_TRIALS} trials", "Write [[trial]] before each."
            )
    return TrialFile(
        trials=tuple(_table(one, f"{where.name}: trial {n}") for n, one in enumerate(trials, start=1)),
        stock=stock,
        obtainable=obtainable,
        margin=margin,
    )


def trial_of(table: Mapping[str, Any], before: Trial | None, *, new: bool = False) -> Trial:
    """A trial from what was written; what is not named of the settings stays as in the trial before.

    Every problem is told at once. Without an id, a new one is made, or one that follows from the content: the same text
    read twice is the same trial.
    """
    from ridesim.garage.trials import Trial, to_plain

    _only(table, TRIAL, "")
    found: list[InputError] = []
    made: dict[str, Any] = {}
    settings = _table(table.get("settings", {}), "settings")
    readers: dict[str, Callable[[], Any]] = {
        "ridden_at": lambda: _time(table.get("ridden_at")),
        "air": lambda: air_of(_table(table.get("air", {}), "air")),
        "settings": lambda: settings_of(settings, None if before is None else before.settings),
        "verdicts": lambda: verdicts_of(_table(table.get("verdicts", {}), "verdicts")),
    }
    for key, (name, kind, unit) in FUEL.items():
        if key in table:
            readers[name] = partial(quantity, table[key], kind, unit, key)
    for name, read in readers.items():
        try:
            made[name] = read()
        except InputError as error:
            found += each(error)
    if found:
        raise found[0] if len(found) == 1 else InputErrors(found)
    made |= {name: table[name] for name in ("tune", "revision", "note", "logs") if name in table}
    made["builds_on"] = table.get("builds_on", None if before is None else before.id)
    made["put_back"] = table.get("put_back", _way_back(made["settings"], before))
    if "id" in table:
        made["id"] = table["id"]
    with placed(_FUEL_PLACES, table):
        trial = Trial(**made)
    if "id" in table or new:
        return trial
    content = {name: value for name, value in to_plain(trial).items() if name != "id"}
    return replace(trial, id=hashlib.sha256(json.dumps(content, sort_keys=True).encode()).hexdigest()[:20])


def corrected(table: Mapping[str, Any], wrong: Trial, base: Trial | None) -> Trial:
    """The trial that takes the place of another: what is not written stays as it was there, the id is new."""
    from ridesim.garage.records import new_id

    settings = settings_of(table.get("settings", {}), wrong.settings)
    said = verdicts_of(table.get("verdicts", {}))
    changes: dict[str, Any] = {
        "settings": settings,
        "verdicts": replace(wrong.verdicts, **{opening: said.at(opening) for opening in table.get("verdicts", {})}),
        "put_back": table.get("put_back", wrong.put_back if settings == wrong.settings else _way_back(settings, base)),
    }
    air = table.get("air", {})
    with placed(_AIR_PLACES, {f"air.{key}": value for key, value in air.items()}):
        changes["air"] = replace(wrong.air, **_air_figures(air))
    for key, (name, kind, unit) in FUEL.items():
        if key in table:
            changes[name] = float(quantity(table[key], kind, unit, key))
    changes |= {key: table[key] for key in ("note", "ridden_at") if key in table}
    with placed(_FUEL_PLACES, table):
        return replace(wrong, id=new_id(), **changes)


def ridden_before(trials: Sequence[Trial], ridden_at: object) -> Trial | None:
    """The last trial ridden before a time; None where there is none, or the time will not do."""
    try:
        moment = datetime.fromisoformat(str(_time(ridden_at)))
        return next((one for one in reversed(in_order(trials)) if datetime.fromisoformat(one.ridden_at) < moment), None)
    except (ValueError, TypeError):
        return None


def air_of(table: Mapping[str, Any]) -> TrialAir:
    """The air of a day; all of it but the pressure must be written down."""
    from ridesim.garage.trials import TrialAir

    found = _air_figures(table)
    missing = [key for key in ("altitude", "temperature", "humidity") if key not in table]
    if missing:
        raise InputErrors(
            InputError(f"air.{key}", None, "is not given", "A trial keeps the air of its day: write it down.")
            for key in missing
        )
    with placed(_AIR_PLACES, {f"air.{key}": value for key, value in table.items()}):
        return TrialAir(**found)


_AIR_PLACES = {f"air.{name}": f"air.{key}" for key, (name, _, _) in AIR.items()}


def _air_figures(table: Mapping[str, Any]) -> dict[str, float]:
    _only(table, tuple(AIR), "air.")
    return {AIR[key][0]: float(quantity(value, AIR[key][1], AIR[key][2], f"air.{key}")) for key, value in table.items()}


def settings_of(table: Mapping[str, Any], before: Settings | None) -> Settings:
    """The settings of a trial: what is written, and else what the trial before had."""
    from ridesim.garage.trials import Settings

    _only(table, (*PLAIN, *MEASURED), "settings.")
    made = {} if before is None else {one.name: getattr(before, one.name) for one in fields(Settings)}
    made |= {name: table[name] for name in PLAIN if name in table}
    if before is not None and isinstance(table.get("other"), Mapping):
        made["other"] = {**before.other, **table["other"]}
    for key, (name, kind, unit) in MEASURED.items():
        if key in table:
            value, where = table[key], f"settings.{key}"
            if key != "intake_holes":
                made[name] = float(quantity(value, kind, unit, where))
            elif not isinstance(value, list):
                raise InputError(
                    where, value, "is not a list of holes", 'Write one diameter a hole: ["32 mm", "32 mm"].'
                )
            else:
                made[name] = tuple(float(quantity(one, kind, unit, f"{where}[{n}]")) for n, one in enumerate(value, 1))
    places = {f"settings.{name}": f"settings.{key}" for key, (name, _, _) in MEASURED.items()}
    with placed(places, {f"settings.{key}": value for key, value in table.items()}):
        return Settings(**made)


def verdicts_of(table: Mapping[str, Any]) -> Verdicts:
    """Verdicts by throttle opening: "lean", or "lean: pops when the throttle shuts"."""
    from ridesim.garage.trials import OPENINGS, RangeVerdict, Verdicts

    _only(table, tuple(OPENINGS), "verdicts.")
    made = {}
    for opening, written in table.items():
        if not isinstance(written, str):
            raise InputError(
                f"verdicts.{opening}", written, "is not a verdict", 'Write "lean", or "lean: how it showed".'
            )
        says, _, remark = written.partition(":")
        with placed({"verdict.says": f"verdicts.{opening}", "verdict.remark": f"verdicts.{opening}"}):
            made[opening] = RangeVerdict(says=says.strip(), remark=remark.strip())  # type: ignore[arg-type]
    return Verdicts(**made)


def in_order(trials: Sequence[Trial]) -> tuple[Trial, ...]:
    """Trials in the order they were ridden; the garage is read only when it is asked for."""
    from ridesim.garage import trials as kept

    return kept.in_order(trials)


def _way_back(settings: Settings, before: Trial | None) -> str:
    """How to undo what a trial changed, in words."""
    if before is None:
        return ""
    from ridesim.garage.changes import changes_between, worded

    changes, _ = changes_between(before.settings, settings)
    return "; ".join(f"set the {one.thing} back to {worded(one.thing, one.before)}" for one in changes)


def _time(written: object) -> object:
    """A TOML time in UTC, or the text as it was written, which the trial checks."""
    if isinstance(written, datetime) and written.tzinfo is not None:
        try:
            return written.astimezone(UTC).isoformat().replace("+00:00", "Z")
        except OverflowError:
            fix = "Write when it was ridden, such as 2031-05-04T09:30:00Z."
            raise InputError("ridden_at", str(written), "is outside the calendar in UTC", fix) from None
    if isinstance(written, date | time):
        raise InputError(
            "ridden_at", str(written), "is not in UTC", "Write the time in UTC, such as 2031-05-04T09:30:00Z."
        )
    if written is None:
        raise InputError("ridden_at", None, "is not given", "Write when it was ridden, such as 2031-05-04T09:30:00Z.")
    return written


def _record(kind: Any, data: Mapping[str, Any], name: str) -> Any:
    """A record of plain numbers from the table of that name; None where there is no such table."""
    if name not in data:
        return None
    table = _table(data[name], name)
    _only(table, tuple(one.name for one in fields(kind)), f"{name}.")
    return kind(**table)


def _table(value: object, where: str) -> Mapping[str, Any]:
    if not isinstance(value, Mapping):
        raise InputError(where, value, "is not a table", "Write its keys below a heading in brackets.")
    return value


def _only(table: Mapping[str, Any], known: tuple[str, ...], before: str) -> None:
    strange = [key for key in table if key not in known]
    if strange:
        raise InputErrors(
            InputError(f"{before}{key}", None, "is not a key of a trial file", did_you_mean(key, known))
            for key in strange
        )
