"""What a command prints, as text, JSON or CSV; and outputs that are closed, full or half read, or lack a letter."""

from __future__ import annotations

import csv
import errno
import io
import json
import os
import re
import sys
from collections.abc import Iterable, Iterator, Mapping
from contextlib import contextmanager, suppress
from dataclasses import fields, is_dataclass
from pathlib import Path
from typing import TYPE_CHECKING, Any

import typer

from ridesim.cli.options import Printing

if TYPE_CHECKING:
    from ridesim.answers.answer import Answer


def say(
    answer: Answer, printing: Printing, *, plain: Any = None, also: Mapping[str, Any] | None = None, **how: Any
) -> None:
    """Print an answer in words, or as one JSON object: plain if given, else its own with what else the object holds.

    how is for the printer.
    """
    from ridesim.report.terminal import print_answer

    if not printing.as_json:
        print_answer(answer, printing.units, working=printing.working, **how)
    else:
        tell_json(answer.as_object() | dict(also or {}) if plain is None else plain)


def tell(
    title: str,
    sentence: str,
    *columns: Any,
    over: str = "",
    lines: Iterable[str] = (),
    units: str = "metric",
    **more: Any,
) -> None:
    """Print what is no answer to a question about a bike, in the form of one.

    Parameters
    ----------
    title, sentence : str
    columns : (key, heading, reading, cells)
        Of its table, as `table_of` takes them; over is the title of the table.
    lines : iterable of str
        What else there is to say.
    units : str
        "metric" or "us".
    more : optional
        What else an answer has: notes, cautions.
    """
    from ridesim.answers.answer import Answer, Figures, table_of
    from ridesim.report.terminal import print_answer

    tables = (table_of(over, *columns),) if columns else ()
    answer = Answer(question=title, say=(sentence,), figures=Figures(), tables=tables, **more)
    print_answer(answer, units, lines=lines, most_rows=None)


def tell_json(value: Any) -> None:
    """Print any answer as one JSON object: the fields of its records under their own names, in SI.

    JSON is UTF-8; where standard output is encoded otherwise, the letters it would spell its own way are escaped.
    """
    escaped = not (sys.stdout.encoding or "").lower().startswith("utf")
    typer.echo(json.dumps(plain_object(value), indent=2, ensure_ascii=escaped, allow_nan=False))


_RUN_BY_SPREADSHEETS = ("=", "+", "-", "@", "\t", "\r", "\n", "＝", "＋", "－", "＠")
_PARTED = re.compile(r"(?<=[;\t\r\n])")  # where a spreadsheet whose separator is not the comma begins a cell


def csv_text(rows: Iterable[Iterable[object]]) -> str:
    """Rows as CSV. A text that a spreadsheet would run as a formula gets an apostrophe before it; numbers stay as they are.

    >>> csv_text([["=1+1", "-5.2", -5.2, None, "a,b", "-x", "a;=b"]])
    '\\'=1+1,-5.2,-5.2,,"a,b",\\'-x,a;\\'=b\\n'
    """
    out = io.StringIO()
    csv.writer(out).writerows([_inert(cell) for cell in row] for row in rows)
    return out.getvalue().replace("\r\n", "\n")  # written with both, so that a cell with either of them is quoted


def _inert(cell: object) -> object:
    if not isinstance(cell, str):
        return cell
    return "".join(map(_guarded, _PARTED.split(cell)))


def _guarded(part: str) -> str:
    if not part.lstrip(' "').startswith(_RUN_BY_SPREADSHEETS):
        return part
    try:
        float(part)
    except ValueError:
        return f"'{part}"
    return part


def plain_object(value: Any) -> Any:
    """Records, arrays and tuples as tables, lists and numbers; what is no number as null.

    >>> plain_object({"a": (1, float("nan"))})
    {'a': [1, None]}
    """
    from ridesim.answers.answer import plain

    if is_dataclass(value) and not isinstance(value, type):
        return {one.name: plain_object(getattr(value, one.name)) for one in fields(value)}
    if isinstance(value, Mapping):
        return {str(key): plain_object(one) for key, one in value.items()}
    if isinstance(value, list | tuple):
        return [plain_object(one) for one in value]
    if getattr(value, "ndim", 0):
        return [plain_object(one) for one in value]
    return plain(value)


_FULL = (errno.ENOSPC, errno.EDQUOT)


class Unread(Exception):  # noqa: N818 - no error: whoever reads has seen enough
    """The reader of standard output has gone."""


def ready() -> None:
    """Make both outputs fit to be written to: one that is closed leads nowhere, a letter it lacks becomes a mark."""
    for name in ("stdout", "stderr"):
        if getattr(sys, name) is None:
            setattr(sys, name, Path(os.devnull).open("w", encoding="utf-8"))  # noqa: SIM115 - for as long as it runs
    if isinstance(sys.stdout, io.TextIOWrapper):
        sys.stdout.reconfigure(errors="replace")


@contextmanager
def told_apart() -> Iterator[None]:
    """A reader that has gone, told apart from other faults before anyone else makes a fault of the program of it."""
    try:
        yield
    except BrokenPipeError:
        raise Unread from None


def drop() -> None:
    """Let what is still on its way to standard output lead nowhere, so that nothing complains at the end."""
    with suppress(OSError, ValueError):  # an output that is no file
        nowhere = os.open(os.devnull, os.O_WRONLY)
        os.dup2(nowhere, sys.stdout.fileno())
        os.close(nowhere)


def printable(message: str) -> str:
    """A message in which what a file name brought along can neither move the cursor nor color the screen.

    >>> printable("a\\x1b[31mb.toml: is missing")
    'a\\\\x1b[31mb.toml: is missing'
    """
    return "".join(
        sign if sign.isprintable() or sign == "\n" else sign.encode("unicode_escape").decode() for sign in message
    )


def complaint(error: OSError) -> str | None:
    """That standard output takes no more, in one sentence; None where it does, for a fault with a file names the file."""
    if error.filename is not None or error.errno not in _FULL:
        return None
    return (
        f"standard output: cannot be written ({os.strerror(error.errno or 0).lower()}). "
        "Make room there, or send it elsewhere."
    )
