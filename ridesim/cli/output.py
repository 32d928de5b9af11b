"""What a command prints: a sentence, more lines, tables, working, and the lists below; or one JSON object."""

from __future__ import annotations

import csv
import json
import sys
from collections.abc import Callable, Iterable, Mapping
from dataclasses import fields, is_dataclass
from io import StringIO
from typing import TYPE_CHECKING, Any

import typer

from ridesim.cli.options import Printing, Units

if TYPE_CHECKING:
    from ridesim.report.columns import Told


def say(plain: Any, told: Callable[[Units], Told], printing: Printing) -> None:
    """Print an answer as it is asked for: its fields as JSON, or what is told of it in words."""
    if printing.as_json:
        tell_json(plain)
    else:
        tell(told(printing.units), working=printing.working)


def tell(told: Told, *, working: bool = False) -> None:
    """Print what a command has to say."""
    from ridesim.report.terminal import print_told

    print_told(told, working=working)


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

    >>> plain_object({"a": (1, float("nan"))})
    {'a': [1, None]}
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
