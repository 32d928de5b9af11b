"""Columns of cells, ready to print. Light: nothing is printed from here."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from typing import TYPE_CHECKING

from ridesim.statements import in_units
from ridesim.units import unit_of

if TYPE_CHECKING:
    from ridesim.answers.answer import Column, Table

LINES = 3  # that a text may take up in a table
WHOLE = 14  # places of a text that stays in one line


@dataclass(frozen=True, kw_only=True)
class Cells:
    """One column of a table, ready to print.

    >>> speeds = Cells(heading="Road speed", cells=("95 km/h", "105 km/h"))
    >>> speeds.most, speeds.least
    (10, 8)
    """

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


def heading(column: Column, system: str) -> str:
    """A column's label with the unit its cells are in.

    >>> from ridesim.answers.answer import Column
    >>> column = Column("speed", "Road speed", "speed")
    >>> heading(column, "metric"), heading(column, "us")
    ('Road speed [km/h]', 'Road speed [mph]')
    """
    label, unit = in_units(column.label, system), unit_of(column.reading, system)
    return f"{label} [{unit}]" if unit else label


def text(heading: str, cells: Iterable[str]) -> Cells:
    """A column of words."""
    return Cells(heading=heading, cells=tuple(cells), left=True)


def columns_of(table: Table, system: str) -> tuple[Cells, ...]:
    """The columns of an answer's table, figures rounded as they are read and in the units of a system.

    Parameters
    ----------
    table : Table
        In SI.
    system : str
        "metric" or "us".

    Examples
    --------
    >>> from ridesim.answers.answer import table_of
    >>> table = table_of("Speeds", ("gear", "Gear", "number", (1, 2)), ("speed", "Speed", "speed", (10.0, 15.0)))
    >>> [(one.heading, one.cells) for one in columns_of(table, "us")]
    [('Gear', ('1', '2')), ('Speed [mph]', ('22.4', '33.6'))]
    """
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
