"""What a command prints: a sentence, more lines, tables, working, and the lists below; or one JSON object."""

from __future__ import annotations

import csv
import json
import sys
from collections.abc import Callable, Iterable, Mapping
from dataclasses import dataclass, fields, is_dataclass
from io import StringIO
from typing import TYPE_CHECKING, Any

import typer

from ridesim.cli.options import Printing, Units

if TYPE_CHECKING:
    from ridesim.answers.base import Table


@dataclass(frozen=True, kw_only=True)
class Cells:
    """One column of a table, ready to print."""

    heading: str
    cells: tuple[str, ...]
    left: bool = False


@dataclass(frozen=True, kw_only=True)
class Told:
    """Everything a command has to say, ready to print."""

    title: str
    sentence: str
    lines: tuple[str, ...] = ()
    tables: tuple[tuple[str, tuple[Cells, ...]], ...] = ()
    steps: tuple[object, ...] = ()
    assumptions: tuple[str, ...] = ()
    notes: tuple[str, ...] = ()
    cautions: tuple[str, ...] = ()


def say(plain: Any, told: Callable[[Units], Told], printing: Printing) -> None:
    """Print an answer as it is asked for: its fields as JSON, or what is told of it in words."""
    if printing.as_json:
        tell_json(plain)
    else:
        tell(told(printing.units), working=printing.working)


def tell(told: Told, *, working: bool = False) -> None:
    """Print it."""
    from rich.table import Table as Grid

    from ridesim.report.terminal import console

    out = console()
    out.print(told.title, style="bold underline")
    out.print(told.sentence)
    for line in told.lines:
        out.print(line)
    for title, columns in told.tables:
        if not columns or not columns[0].cells:
            continue
        grid = Grid(
            title=title, title_justify="left", title_style="italic", box=None, pad_edge=False, header_style="dim"
        )
        for column in columns:
            grid.add_column(column.heading, justify="left" if column.left else "right", overflow="fold", min_width=3)
        for row in zip(*(column.cells for column in columns), strict=True):
            grid.add_row(*row)
        out.print()
        out.print(grid)
    if working:
        out.print()
        for step in told.steps:
            out.print(f"  {step}")
    for title, texts in (("Assumed", told.assumptions), ("Note", told.notes), ("Take care", told.cautions)):
        if texts:
            out.print()
            out.print(title, style="bold underline")
            for text in dict.fromkeys(texts):
                out.print(f"- {text}")


def tell_json(value: Any) -> None:
    """Print any answer as one JSON object: the fields of its records under their own names, in SI.

    JSON is UTF-8; where standard output is encoded otherwise, the letters it would spell its own way are escaped.
    """
    escaped = not (sys.stdout.encoding or "").lower().startswith("utf")
    typer.echo(json.dumps(plain_object(value), indent=2, ensure_ascii=escaped, allow_nan=False))


_RUN_BY_SPREADSHEETS = ("=", "+", "-", "@", "\t", "\r", "\n", "＝", "＋", "－", "＠")


def csv_text(rows: Iterable[Iterable[object]]) -> str:
    """Rows as CSV. A text that a spreadsheet would run as a formula gets an apostrophe before it; numbers stay as they are.

    >>> csv_text([["=1+1", "-5.2", -5.2, None, "a,b", "-x"]])
    '\\'=1+1,-5.2,-5.2,,"a,b",\\'-x\\n'
    """
    out = StringIO()
    csv.writer(out).writerows([_inert(cell) for cell in row] for row in rows)
    return out.getvalue().replace("\r\n", "\n")  # written with both, so that a cell with either of them is quoted


def _inert(cell: object) -> object:
    if not isinstance(cell, str) or not cell.lstrip(" ").startswith(_RUN_BY_SPREADSHEETS):
        return cell
    try:
        float(cell)
    except ValueError:
        return f"'{cell}"
    return cell


def plain_object(value: Any) -> Any:
    """Records, arrays and tuples as tables, lists and numbers; what is no number as null.

    >>> plain_object(Cells(heading="a", cells=("1", "2")))
    {'heading': 'a', 'cells': ['1', '2'], 'left': False}
    """
    from ridesim.answers.base import plain

    if is_dataclass(value) and not isinstance(value, type):
        return {one.name: plain_object(getattr(value, one.name)) for one in fields(value)}
    if isinstance(value, Mapping):
        return {str(key): plain_object(one) for key, one in value.items()}
    if isinstance(value, list | tuple):
        return [plain_object(one) for one in value]
    if getattr(value, "ndim", 0):
        return [plain_object(one) for one in value]
    return plain(value)


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
    from ridesim.answers.base import Column
    from ridesim.answers.words import shown
    from ridesim.report.terminal import heading as with_unit

    return Cells(
        heading=with_unit(Column(key="", label=heading, reading=reading), system),
        cells=tuple(shown(one, reading, system, unit=False, signed=signed) for one in cells),
    )


def columns_of(table: Table, system: str) -> tuple[Cells, ...]:
    """The columns of an answer's table."""
    from ridesim.answers.words import shown
    from ridesim.report.terminal import heading

    return tuple(
        Cells(
            heading=heading(column, system),
            cells=tuple(shown(row[column.key], column.reading, system, unit=False) for row in table.rows),
            left=column.reading == "text",
        )
        for column in table.columns
    )
