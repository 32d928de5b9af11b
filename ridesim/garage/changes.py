"""What differs between two states: of a build, key by key; of the settings, in things a hand changes, and in words."""

from __future__ import annotations

import json
import math
import re
from collections import Counter
from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass
from types import MappingProxyType
from typing import Any

from ridesim.buildfile.toml_text import tables_of
from ridesim.garage.trials import Settings, Trial
from ridesim.statements import many
from ridesim.units import shown_in

# A thing to the hand -> the fields of Settings it is written in; without the first, the others say nothing.
THINGS: Mapping[str, tuple[str, ...]] = MappingProxyType(
    {
        "main jet": ("main_jet", "main_jet_numbering"),
        "pilot jet": ("pilot_jet", "pilot_jet_numbering"),
        "needle": ("needle",),
        "needle clip": ("clip_position",),
        "mixture screw": ("mixture_screw_turns_out", "mixture_screw"),
        "slide cutaway": ("slide_cutaway",),
        "intake": ("intake_open_area_m2", "intake_holes_m"),
        "exhaust": ("exhaust",),
    }
)


@dataclass(frozen=True, kw_only=True)
class SettingChange:
    """One thing that is set otherwise: the values of its fields before and after."""

    thing: str
    before: tuple[Any, ...]
    after: tuple[Any, ...]

    def worded(self, system: str = "metric") -> str:
        """What it was and what it is."""
        before, after = (worded(self.thing, values, system) for values in (self.before, self.after))
        return f"{self.thing}: {before} -> {after}"


def values_of(settings: Settings, thing: str) -> tuple[Any, ...]:
    """The values of a thing's fields; for a name that is no thing, the other setting of that name.

    >>> from ridesim.garage.trials import Settings
    >>> now = Settings(main_jet=120, other={"plug": "grade 8"})
    >>> values_of(now, "main jet"), values_of(now, "plug")
    ((120.0, 'bore'), ('grade 8',))
    """
    if thing in THINGS:
        return tuple(getattr(settings, name) for name in THINGS[thing])
    return (settings.other.get(thing),)


def changes_between(before: Settings, after: Settings) -> tuple[tuple[SettingChange, ...], tuple[str, ...]]:
    """The things set otherwise, and the things that only one of the two has written down.

    A thing is what a hand changes: a jet and how its number is meant are one, and so are an intake's holes and their area.

    Parameters
    ----------
    before, after : Settings
        Of two trials. [-]

    Returns
    -------
    tuple of SettingChange, tuple of str
        In the order of THINGS, other settings after them by name; the names of what is written down on one side alone.

    Examples
    --------
    >>> changes, unknown = changes_between(Settings(main_jet=120, exhaust="stock"), Settings(main_jet=122.5, needle="D4"))
    >>> [one.worded() for one in changes], unknown
    (['main jet: 120 -> 122.5'], ('needle', 'exhaust'))
    """
    changes, unknown = [], []
    for thing in (*THINGS, *sorted(before.other.keys() | after.other.keys())):
        was, now = values_of(before, thing), values_of(after, thing)
        if thing != "intake" and None in (was[0], now[0]):  # an intake may be known by its area, its holes, or both
            if was[0] != now[0]:
                unknown.append(thing)
        elif any(one != two and None not in (one, two) for one, two in zip(was, now, strict=True)):
            changes.append(SettingChange(thing=thing, before=was, after=now))
        elif was != now:
            unknown.append(thing)
    return tuple(changes), tuple(unknown)


def what_changed(trial: Trial, base: Trial, system: str = "metric") -> str:
    """What a trial changed against the one it builds on: one thing, or it says that more than one can't be told apart.

    Its sentence is in "metric" or "us" units.

    >>> from ridesim.garage.trials import TrialAir
    >>> air = TrialAir(altitude_m=250.0, temperature_k=291.15, humidity=0.55)
    >>> first = Trial(ridden_at="2031-05-04T09:30:00Z", air=air, settings=Settings(main_jet=120, clip_position=3))
    >>> second = Trial(ridden_at="2031-05-04T11:00:00Z", air=air, settings=Settings(main_jet=122.5, clip_position=3))
    >>> what_changed(second, first)
    'main jet: 120 -> 122.5.'
    """
    changes, unknown = changes_between(base.settings, trial.settings)
    said = "; ".join(one.worded(system) for one in changes)
    if not changes:
        says = "Nothing was changed: it repeats the trial it builds on."
    elif len(changes) == 1:
        says = f"{said}."
    else:
        says = f"{len(changes)} things were changed at once ({said}), so this trial can't tell which of them did what."
    if unknown:
        says += f" Written down for only one of the two: {', '.join(unknown)}."
    return says


def changed_words(trial: Trial, trials: Iterable[Trial], system: str = "metric") -> str:
    """What a trial changed against the one it builds on, if that is among some trials; see what_changed.

    >>> from ridesim.garage.trials import TrialAir
    >>> air = TrialAir(altitude_m=250.0, temperature_k=291.15, humidity=0.55)
    >>> first = Trial(ridden_at="2031-05-04T09:30:00Z", air=air, settings=Settings(clip_position=3))
    >>> second = Trial(ridden_at="2031-05-04T11:00:00Z", air=air, settings=Settings(clip_position=4), builds_on=first.id)
    >>> changed_words(first, [first]), changed_words(second, [first]), changed_words(second, [])
    ('The first.', 'needle clip: groove 3 from the top -> groove 4 from the top.', 'It builds on one in the archive.')
    """
    base = next((one for one in trials if one.id == trial.builds_on), None)
    if base is None:
        return "The first." if trial.builds_on is None else "It builds on one in the archive."
    return what_changed(trial, base, system)


def worded(thing: str, values: tuple[Any, ...], system: str = "metric") -> str:
    """A thing's setting as it is said in the workshop.

    >>> worded("mixture screw", (2.25, "fuel")), worded("intake", (0.0012, (0.025, 0.025)))
    ('2.25 turns out', '1200 mm2 with 2 holes of 25 mm')
    """
    first, *rest = values
    if thing == "intake":
        return _intake(first, rest[0], system)
    if first is None:
        return "not written down"
    size = f"{first:g}" if isinstance(first, int | float) else str(first)
    if thing == "needle clip":
        return f"groove {size} from the top"
    if thing == "mixture screw":
        return f"{size} turns out" + (" (air screw)" if rest[0] == "air" else "")
    return size + (" (numbered by flow)" if rest and rest[0] == "flow" else "")


def _intake(area_m2: float | None, holes_m: tuple[float, ...] | None, system: str) -> str:
    area = "" if area_m2 is None else area_worded(area_m2, system)
    if holes_m is None:
        return area or "not written down"
    holes = holes_worded(holes_m, system)
    return f"{area} with {holes}" if area else holes


def area_worded(area_m2: float, system: str = "metric") -> str:
    """The area of an opening.

    >>> area_worded(0.0012), area_worded(0.0012, "us")
    ('1200 mm2', '1.86 in2')
    """
    area, unit, decimals = shown_in(area_m2, "small area", system)
    return f"{area:.{decimals}f} {unit.replace('^', '')}"


def holes_worded(holes_m: tuple[float, ...], system: str = "metric") -> str:
    """Holes by size; four digits, since the sizes of tools differ in the third.

    >>> holes_worded((0.03, 0.025, 0.025))
    '2 holes of 25 mm and 1 hole of 30 mm'
    >>> holes_worded((0.034925,), "us")
    '1 hole of 1.375 in'
    """
    told = []
    for diameter_m, number in sorted(Counter(holes_m).items()):
        diameter, unit, _ = shown_in(diameter_m, "small length", system)
        told.append(f"{many(number, 'hole')} of {diameter:.4g} {unit}")
    return " and ".join(told) or "no holes drilled"


MOST_SHOWN = 40  # characters of a value in a comparison
_BARE = re.compile(r"[A-Za-z0-9_-]+")


class _Absent:
    """Stands for a key that is not there; TOML has no null, so None would do, but this one says what it is."""

    def __repr__(self) -> str:
        return "not there"


ABSENT = _Absent()


@dataclass(frozen=True, kw_only=True)
class ValueChange:
    """One key that differs: its path in the file, and its value before and after; ABSENT where it is not there.

    >>> print(ValueChange(path="final_drive.front", old=16, new=15))
    final_drive.front: 16 -> 15
    """

    path: str
    old: object
    new: object

    def __str__(self) -> str:
        return f"{self.path}: {self.old!r} -> {self.new!r}"


@dataclass(frozen=True, kw_only=True)
class Difference:
    """All that differs between two builds. only_wording: the texts differ in comments, order or spelling alone.

    >>> difference("rear = 45", "rear = 47").rows()
    [{'path': 'rear', 'old': '45', 'new': '47'}]
    """

    changes: tuple[ValueChange, ...]
    only_wording: bool

    def rows(self) -> list[dict[str, str]]:
        """Each key that differs, with its value before and after in a few words."""
        return [{"path": one.path, "old": _few_words(one.old), "new": _few_words(one.new)} for one in self.changes]


def difference(old: str, new: str) -> Difference:
    """What differs between two builds, given as TOML text.

    Lists of plain values are compared whole, lists of lists or tables of the same length one by one.

    >>> print(*difference("a.rear = 45", "a.rear = 47 # shorter").changes)
    a.rear: 45 -> 47
    >>> difference("rear = 45", "rear = 45 # as bought")
    Difference(changes=(), only_wording=True)
    """
    changes = tuple(_changes("", tables_of(old, "old build"), tables_of(new, "new build")))
    return Difference(changes=changes, only_wording=not changes and old != new)


def _changes(path: str, old: object, new: object) -> Iterator[ValueChange]:
    tables = [one if isinstance(one, dict) else {} for one in (old, new)]
    if any(tables) and all(isinstance(one, dict) or one is ABSENT for one in (old, new)):
        was, now = tables
        for key in dict.fromkeys((*was, *now)):
            yield from _changes(_below(path, key), was.get(key, ABSENT), now.get(key, ABSENT))
    elif _piecewise(old) and _piecewise(new) and len(old) == len(new):  # type: ignore[arg-type]
        for place, (one, other) in enumerate(zip(old, new, strict=True)):  # type: ignore[call-overload]
            yield from _changes(f"{path}[{place}]", one, other)
    elif not _same(old, new):
        yield ValueChange(path=path, old=old, new=new)


def _few_words(value: object) -> str:
    """A value of a build file in a few words.

    >>> _few_words("172 kg"), _few_words(14), _few_words(ABSENT), _few_words([1.0, 2.0])
    ('172 kg', '14', 'not there', '1.0, 2.0')
    """
    text = ", ".join(map(str, value)) if isinstance(value, list) else str(value)
    return text if len(text) <= MOST_SHOWN else f"{text[: MOST_SHOWN - 1]}…"


def _below(path: str, key: str) -> str:
    name = key if _BARE.fullmatch(key) else json.dumps(key, ensure_ascii=False)
    return f"{path}.{name}" if path else name


def _piecewise(value: object) -> bool:
    return isinstance(value, list) and any(isinstance(one, list | dict) for one in value)


def _same(old: object, new: object) -> bool:
    """Equal in meaning: 45 is 45.0, but true is not 1; nan is nan."""
    if isinstance(old, list) and isinstance(new, list):
        return len(old) == len(new) and all(map(_same, old, new))
    if isinstance(old, dict) and isinstance(new, dict):
        return old.keys() == new.keys() and all(_same(old[key], new[key]) for key in old)
    if isinstance(old, bool) or isinstance(new, bool):
        return old is new
    if isinstance(old, float) and isinstance(new, float) and math.isnan(old) and math.isnan(new):
        return True
    return bool(old == new)
