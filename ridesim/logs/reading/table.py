"""The rows of a table as figures, block by block, decimals settled by column."""

from __future__ import annotations

import io
import itertools
import operator
import re
from collections import Counter
from collections.abc import Callable, Iterator, Mapping, Sequence
from contextlib import suppress
from dataclasses import dataclass, field
from typing import IO

import numpy as np
from numpy.typing import NDArray

from ridesim.errors import InputError
from ridesim.logs.reading.decimals import decimal_marks, mark_of
from ridesim.logs.reading.shape import LONGEST_LINE, ColumnOf, Shape, is_comment, split, unit_of_cell
from ridesim.logs.reading.stamps import kind_of, parse

Array = NDArray[np.float64]
BLOCK = 20_000
MOST_ROWS = 10_000_000
SNIFFED = 60  # lines from which the shape is found
MOST_ODD, ODD_SHARE, SOME_SHARE = 10, 50, 4  # lines left out: ten, or one in fifty, but never more than one in four
BLANKS = frozenset(["", "-", "--", "---", "\u2013", "\u2014", "n/a", "na", "null", "none", "nan"])  # for nothing known
FIGURE = re.compile(r"[+-]?(?:\d+\.?\d*|\.\d+)(?:[eE][+-]?\d+)?", re.ASCII)
HEMISPHERE = re.compile(r"([NSEWnsew])?\s*(\d[\d.,]*)\s*°?\s*([NSEWnsew])?")
_ORDINARY = re.compile(r"[0-9eE.,+\-\n]*")
_PARTED = re.compile(r"(?<=\d)[ '’\u00a0\u202f](?=\d{3}(?!\d))")  # between thousands


@dataclass
class Raw:
    """Figures by column as they stand in the file: values with the line of each, and how times are written.

    odd counts the lines and cells that are no figures, by what they are; first_odd is the error that tells the first of them.
    """

    values: dict[str, Array] = field(default_factory=dict)
    lines: NDArray[np.int64] = field(default_factory=lambda: np.empty(0, dtype=np.int64))
    time_kind: str = "number"
    marks: dict[str, str] = field(default_factory=dict)
    hint: str = ""
    without_time: int = 0
    odd: Counter[str] = field(default_factory=Counter)
    first_odd: InputError | None = None

    def leave_out(self, what: str, count: int, where: str, got: str, problem: str, fix: str) -> None:
        """Count what is no figure, and keep the first of it for an error."""
        self.odd[what] += count
        self.first_odd = self.first_odd or InputError(where, got[:40], problem, fix)


def text_lines(
    raw: IO[bytes], encoding: str, where: str, total: int, progress: Callable[[float], None] | None = None
) -> Iterator[str]:
    """The lines of a byte stream, without their ends; a line no log has is refused before it fills the memory.

    Bytes that are not of the encoding become a mark, which is refused only in a column that is wanted.
    """
    text = io.TextIOWrapper(raw, encoding=encoding, errors="replace", newline=None)
    try:
        for number in itertools.count(1):
            if progress and number % 1000 == 1:
                progress(min(raw.tell() / max(total, 1), 1.0))
            at = f"{where}, line {number}"
            try:
                line = text.readline(LONGEST_LINE + 1)
            except UnicodeError as error:  # utf-16 without its mark, cut in the middle
                problem = f"is not text ({error.__class__.__name__})"
                raise InputError(at, None, problem, "Save the log as UTF-8.") from None
            if not line:
                if progress:
                    progress(1.0)
                return
            if len(line) > LONGEST_LINE:
                problem = f"is longer than {LONGEST_LINE} characters"
                raise InputError(at, line[:40], problem, "Is this a log? Export it as CSV or GPX.")
            if "\0" in line:
                fix = "The file is damaged or was cut off; delete what stands from this line on."
                raise InputError(at, None, "holds a byte that no text has", fix)
            yield line.rstrip("\n")
    finally:
        with suppress(ValueError):  # it is closed already
            text.detach()


def read_rows(lines: Iterator[str], shape: Shape, columns: Mapping[str, ColumnOf], where: str) -> Raw:
    """The figures of the wanted columns.

    A cell left blank, or filled with one of BLANKS, becomes nan here; a row whose time is blank is left out and counted; a line
    that starts with # is a comment, and one that repeats the header is passed over. Lines that are no rows (totals, garbage, a
    line that was cut off) and cells that are no figures are left out and counted, as long as they are few.

    Raises
    ------
    InputError
        With the first line that is no row, where they are many.
    """
    raw = Raw(time_kind=_time_kind(shape, columns["time"], where))
    raw.marks, raw.hint = decimal_marks(shape, columns)
    blocks: list[dict[str, Array]] = []
    numbers: list[NDArray[np.int64]] = []
    body = itertools.islice(lines, shape.first_row - 1, None)
    first = shape.first_row
    while block := list(itertools.islice(body, BLOCK)):
        if first + len(block) > MOST_ROWS:
            raise InputError(where, None, f"has more than {MOST_ROWS:,} rows", "Cut the log into shorter rides.")
        at = np.arange(first, first + len(block))
        figures, at = _block(block, at, shape, columns, raw, where)
        blocks.append(figures)
        numbers.append(at)
        first += len(block)
    rows = first - shape.first_row
    if raw.first_odd and sum(raw.odd.values()) > min(max(MOST_ODD, rows // ODD_SHARE), max(1, rows // SOME_SHARE)):
        raise raw.first_odd
    for role in columns:  # one column after the other, so that what is merged can be let go
        raw.values[role] = np.concatenate([one.pop(role) for one in blocks]) if blocks else np.empty(0)
    raw.lines = np.concatenate(numbers) if numbers else raw.lines
    return raw


def _time_kind(shape: Shape, column: ColumnOf, where: str) -> str:
    if not shape.sample:
        raise InputError(where, "0 rows", "must have more than one row of figures", "Choose a longer log.")
    at = f"{where}, column {column.name[:40]!r}"
    cells = [row[column.index] for row in shape.sample if row[column.index]]
    if not cells:
        raise InputError(at, None, "holds no time in the first rows", "Choose another column.")
    kinds = Counter(kind_of(cell) or ("number" if unit_of_cell(cell) is not None else None) for cell in cells)
    kind = kinds.most_common(1)[0][0]
    if kind is None:
        fix = "Seconds, 2026-05-03T10:00:00Z or 10:00:00 can."
        raise InputError(at, cells[0], "is not a time that can be read", fix)
    return kind


def _block(
    lines: Sequence[str],
    at: NDArray[np.int64],
    shape: Shape,
    columns: Mapping[str, ColumnOf],
    raw: Raw,
    where: str,
) -> tuple[dict[str, Array], NDArray[np.int64]]:
    """The figures of some lines, a column a role, and the numbers of the lines that they stand in."""
    rows, places = _rows_of(lines, at, shape, raw, where)
    clock = columns["time"].index
    timed = [row[clock].strip().lower() not in BLANKS for row in rows]
    raw.without_time += len(rows) - sum(timed)
    rows, numbers = list(itertools.compress(rows, timed)), np.array(places, dtype=np.int64)[timed]
    figures = {
        role: _figures([row[one.index].strip() for row in rows], one, numbers, raw, where)
        for role, one in columns.items()
    }
    known = np.isfinite(figures["time"])
    return {role: values[known] for role, values in figures.items()}, numbers[known]


def _rows_of(
    lines: Sequence[str], at: NDArray[np.int64], shape: Shape, raw: Raw, where: str
) -> tuple[list[list[str]], list[int]]:
    """The cells of the lines that are rows as wide as the header, with their numbers; others are counted or passed over."""
    mark, width = shape.delimiter, len(shape.header)
    whole = "\n".join(lines)
    plain = mark != " " and not any(sign in whole for sign in '"#')
    if plain and set(map(operator.methodcaller("count", mark), lines)) == {width - 1} and not _heads(lines, shape):
        return [line.split(mark) for line in lines], at.tolist()
    rows, places = [], []
    for line, place in zip(lines, at.tolist(), strict=True):
        if not line.strip(f"{mark} \t") or is_comment(line):
            continue
        if line.count('"') % 2:  # a quote left open must not swallow the rest of the file
            line = line.replace('"', "")
        cells = split(line, mark)
        if tuple(cells[:width]) == shape.header:
            continue
        if len(cells) >= width and not any(cells[width:]):
            rows.append(cells[:width])
            places.append(place)
            continue
        problem, fix = f"has {len(cells)} columns, the header {width}", "Check for a delimiter inside a cell."
        if len(cells) < width:
            problem = f"has {len(cells)} of {width} columns: the line is cut off"
            fix = "Delete the line, or export the log again."
        raw.leave_out("lines that are no rows", 1, f"{where}, line {place}", line, problem, fix)
    return rows, places


def _heads(lines: Sequence[str], shape: Shape) -> bool:
    """Whether a line repeats the headings."""
    first = next((name for name in shape.header if name), "")
    return any(first in line and tuple(split(line, shape.delimiter)) == shape.header for line in lines)


def _figures(cells: Sequence[str], column: ColumnOf, numbers: NDArray[np.int64], raw: Raw, where: str) -> Array:
    """The figures of a column of text; nan for what is blank, and for what is none, which is counted."""
    stamped = column.role == "time" and raw.time_kind != "number"
    values = parse(cells, raw.time_kind) if stamped else np.empty(0)
    plain, bad = list(cells), []
    if cells and not stamped:
        whole = "\n".join(cells)  # a column at one stroke is several times quicker than cell by cell
        if odd := not _ORDINARY.fullmatch(whole):
            whole = _PARTED.sub("", whole)
        if not raw.marks[column.role] and ("," in whole or "." in whole):
            raw.marks[column.role] = mark_of(whole.split("\n"), column, raw.hint)
        if mark := raw.marks[column.role]:
            whole = whole.replace("." if mark == "," else ",", "").replace(mark, ".")
        plain = whole.split("\n")
        try:
            values = np.array([_float(cell) for cell in plain] if odd else plain, dtype=float)
        except ValueError:
            values = np.array([_float(cell) for cell in plain])
    for k in np.flatnonzero(~np.isfinite(values)).tolist():
        if cells[k].lower() not in BLANKS:
            values[k] = np.nan if stamped else _mended(plain[k], column.role)
            bad += [] if np.isfinite(values[k]) else [k]
    if bad:
        at = f"{where}, line {numbers[bad[0]]}, column {column.name[:40]!r}"
        got = cells[bad[0]]
        problem = "is not a time like those before it" if column.role == "time" else "is not a number"
        if re.fullmatch(r"[+-]?(?:inf\w*|[\d.]+[eE]\d+)", got.lower()):
            problem = "is not a finite number"
        what = "lines that are no rows" if column.role == "time" else f"cells of {column.role} that are no figures"
        raw.leave_out(what, len(bad), at, got, problem, "Mend or delete the line.")
        values[bad] = np.nan
    return values


def _mended(cell: str, role: str) -> float:
    """A figure with its unit behind it, a latitude or longitude with a letter for its side; nan for anything else.

    >>> _mended("36.5 km/h", "speed"), _mended("W122.5", "longitude"), _mended("fast", "speed"), _mended("N46.1E", "latitude")
    (36.5, -122.5, nan, nan)
    """
    side, figure = "", cell.removesuffix(unit_of_cell(cell) or "")
    if role in ("latitude", "longitude") and (lettered := HEMISPHERE.fullmatch(cell)):
        side, figure = f"{lettered[1] or ''}{lettered[3] or ''}".upper(), lettered[2]
    return (
        _float(figure.strip()) * (-1.0 if side in ("S", "W") else 1.0) if len(side) < 2 and figure != cell else np.nan
    )


def _float(cell: str) -> float:
    """A figure as it is written, with a decimal point; nan for anything else.

    >>> _float("-1.5e3"), _float(".5"), _float("1_0"), _float("0x10"), _float("1e")
    (-1500.0, 0.5, nan, nan, nan)
    """
    return float(cell) if FIGURE.fullmatch(cell) else np.nan
