"""What differs between two builds, key by key."""

from __future__ import annotations

import json
import math
import re
from collections.abc import Iterator
from dataclasses import dataclass

from ridesim.buildfile.toml_text import tables_of

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
    """All that differs between two builds. only_wording: the texts differ in comments, order or spelling alone."""

    changes: tuple[ValueChange, ...]
    only_wording: bool


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
    if isinstance(old, dict) and isinstance(new, dict):
        for key in [*old, *(key for key in new if key not in old)]:
            yield from _changes(_below(path, key), old.get(key, ABSENT), new.get(key, ABSENT))
    elif isinstance(old, dict) and old and new is ABSENT:
        for key, value in old.items():
            yield from _changes(_below(path, key), value, ABSENT)
    elif isinstance(new, dict) and new and old is ABSENT:
        for key, value in new.items():
            yield from _changes(_below(path, key), ABSENT, value)
    elif _piecewise(old) and _piecewise(new) and len(old) == len(new):  # type: ignore[arg-type]
        for place, (one, other) in enumerate(zip(old, new, strict=True)):  # type: ignore[call-overload]
            yield from _changes(f"{path}[{place}]", one, other)
    elif not _same(old, new):
        yield ValueChange(path=path, old=old, new=new)


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
