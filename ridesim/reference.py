"""Tables of figures in data/reference, each row with its source; the citations stand in data/sources.toml."""

from __future__ import annotations

import csv
import tomllib
from collections.abc import Mapping
from functools import cache
from pathlib import Path

_INSIDE = Path(__file__).parent / "data"
DATA = _INSIDE if _INSIDE.is_dir() else Path(__file__).parents[1] / "data"
_EVERY_ROW = ("source", "locator", "standing")
_STANDINGS = ("READ", "DERIVED", "COMPUTED", "SECOND-HAND", "RECALLED")
_TOLD = {"SECOND-HAND": " (second-hand)", "RECALLED": " (from memory)"}


@cache
def sources() -> Mapping[str, Mapping[str, str]]:
    """The citations by key, as they stand in data/sources.toml."""
    return tomllib.loads((DATA / "sources.toml").read_text(encoding="utf-8"))


def read_rows(path: Path) -> list[dict[str, str]]:
    """The rows of a table under data as text by column."""
    with path.open(encoding="utf-8", newline="") as lines:
        return list(csv.DictReader(lines, strict=True))


@cache
def read_table(name: str) -> tuple[Mapping[str, str], ...]:
    """The rows of data/reference/NAME.csv as text by column.

    Every table has the columns source (a key of data/sources.toml), locator (page, clause or row) and standing
    (READ, DERIVED, COMPUTED, SECOND-HAND or RECALLED); a table that breaks this is a fault of the program and fails at once,
    naming file and line.

    >>> read_table("tire_speed_symbols")[0]["symbol"]
    'B'
    """
    path = DATA / "reference" / f"{name}.csv"
    rows = read_rows(path)
    for number, row in enumerate(rows, start=2):
        if None in row or None in row.values():
            raise ValueError(f"{path.name}, line {number}: the row has more or fewer cells than the header")
        missing = [column for column in _EVERY_ROW if not row.get(column)]
        if missing:
            raise ValueError(f"{path.name}, line {number}: empty or missing {', '.join(missing)}")
        if row["standing"] not in _STANDINGS:
            raise ValueError(f"{path.name}, line {number}: standing {row['standing']!r} is none of {_STANDINGS}")
        if row["source"] not in sources():
            raise ValueError(f"{path.name}, line {number}: source {row['source']!r} is not in sources.toml")
    return tuple(rows)


def cite(row: Mapping[str, str]) -> str:
    """One line that names a row's source and place, and says so when the figure is from memory or second-hand."""
    return f"{sources()[row['source']]['title']}, {row['locator']}{_TOLD.get(row['standing'], '')}"


@cache
def defaults() -> Mapping[str, Mapping[str, object]]:
    """What is taken where a build file gives nothing, by path in the file, with why."""
    return tomllib.loads((DATA / "defaults.toml").read_text(encoding="utf-8"))
