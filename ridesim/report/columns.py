"""What is ready to print: columns of cells, and all that a command has to say. Light: nothing is printed from here."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

from ridesim.statements import in_units
from ridesim.units import unit_of

if TYPE_CHECKING:
    from ridesim.answers.answer import Column, Table

LINES = 3  # that a text may take up in a table
WHOLE = 14  # places of a text that stays in one line


@dataclass(frozen=True, kw_only=True)
class Cells:
    """One column of a table, ready to print."""

    heading: str
    cells: tuple[str, ...]
    left: bool = False

    @property
    def most(self) -> int:
        """As wide as its widest line."""
        return max(map(_wide, (self.heading, *self.cells)))

    @property
    def least(self) -> int:
        """As narrow as it may be: figures and words whole, a text over LINES lines."""
        widest = max(map(_wide, self.cells), default=0)
        words = (self.heading, *self.cells) if self.left else (self.heading,)
        word = max((_wide(word) for text in words for word in text.split()), default=0)
        return max(word, min(widest, max(WHOLE, -(-widest // LINES) + 4)) if self.left else widest)


@dataclass(frozen=True, kw_only=True)
class Told:
    """Everything a command has to say, ready to print."""

    title: str
    sentence: str
    lines: tuple[str, ...] = ()
    tables: tuple[tuple[str, tuple[Cells, ...]], ...] = ()
    assumptions: tuple[str, ...] = ()
    notes: tuple[str, ...] = ()
    cautions: tuple[str, ...] = ()


def heading(column: Column, system: str) -> str:
    """A column's label with the unit its cells are in."""
    return with_unit(in_units(column.label, system), column.reading, system)


def with_unit(label: str, reading: str, system: str) -> str:
    """A heading with the unit of the cells below it."""
    unit = unit_of(reading, system)
    return f"{label} [{unit}]" if unit else label


def text(heading: str, cells: Iterable[object]) -> Cells:
    """A column of words."""
    return Cells(heading=heading, cells=tuple("—" if one is None else str(one) for one in cells), left=True)


def counted(heading: str, cells: Iterable[object]) -> Cells:
    """A column of counts or stamped numbers, without a unit."""
    return Cells(
        heading=heading,
        cells=tuple("—" if one is None else f"{one:g}" if isinstance(one, int | float) else str(one) for one in cells),
    )


def figures(heading: str, cells: Iterable[Any], reading: str, system: str, *, signed: bool = False) -> Cells:
    """A column of SI figures, its unit in the heading."""
    from ridesim.answers.text import shown

    return Cells(
        heading=with_unit(heading, reading, system),
        cells=tuple(shown(one, reading, system, unit=False, signed=signed) for one in cells),
    )


def columns_of(table: Table, system: str) -> tuple[Cells, ...]:
    """The columns of an answer's table."""
    from ridesim.answers.text import shown

    return tuple(
        Cells(
            heading=heading(column, system),
            cells=tuple(shown(row[column.key], column.reading, system, unit=False) for row in table.rows),
            left=column.reading == "text",
        )
        for column in table.columns
    )


def _wide(text: str) -> int:
    """How many places of a terminal the widest line of a text takes."""
    from rich.cells import cell_len

    return max(map(cell_len, text.split("\n")))
