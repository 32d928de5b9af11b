"""The rows of a CSV log, read line by line in blocks: only the wanted columns are kept, as figures."""

from __future__ import annotations

import csv
import io
import itertools
import operator
import re
from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, field
from typing import IO, cast

import numpy as np
from numpy.typing import NDArray

from ridesim.errors import InputError
from ridesim.roadlog.csv_shape import LONGEST_LINE, Column, Shape, split
from ridesim.roadlog.stamps import kind_of, parse

Array = NDArray[np.float64]
BLOCK = 20_000
MOST_ROWS = 10_000_000
SNIFFED = 60  # lines from which the shape is found
MOST_AFTER = 10  # lines after the last row of figures
BLANKS = frozenset(
    ["-", "--", "---", "\u2013", "\u2014", "n/a", "na", "null", "none", "nan"]
)  # what loggers write for nothing known
HEMISPHERE = re.compile(r"([NSEWnsew])?\s*(\d[\d.,]*)\s*([NSEWnsew])?")
THOUSANDS = re.compile(r"[1-9]\d{0,2}(?:,\d{3})+(?:\.\d*)?")


@dataclass
class Raw:
    """Figures by column as they stand in the file: values with the line of each, and how times are written.

    after_the_last tells how many lines after the last row of figures were left out: totals, or a line that was cut off.
    """

    values: dict[str, Array] = field(default_factory=dict)
    lines: NDArray[np.int64] = field(default_factory=lambda: np.empty(0, dtype=np.int64))
    time_kind: str = "number"
    without_time: int = 0
    after_the_last: int = 0


class _OddRowError(InputError):
    """A row that cannot be read, with its line."""

    def __init__(self, line: int, where: str, got: object, problem: str, fix: str) -> None:
        super().__init__(where, got, problem, fix)
        self.line = line


class _Counted(io.RawIOBase):
    """A raw stream that knows how far it has been read, for the progress."""

    def __init__(self, raw: IO[bytes], total: int, progress: Callable[[float], None] | None) -> None:
        self._raw, self._total, self._progress, self._read = raw, max(total, 1), progress, 0

    def readable(self) -> bool:
        return True

    def readinto(self, buffer: bytearray) -> int:  # type: ignore[override]
        data = self._raw.read(len(buffer))
        buffer[: len(data)] = data
        self._read += len(data)
        if self._progress is not None:
            self._progress(min(self._read / self._total, 1.0))
        return len(data)


def text_lines(
    raw: IO[bytes], encoding: str, where: str, total: int, progress: Callable[[float], None] | None = None
) -> Iterator[str]:
    """The lines of a byte stream, without their ends; a line no log has is refused before it fills the memory.

    Bytes that are not of the encoding become a mark, which is refused only in a column that is wanted.
    """
    counted = io.BufferedReader(cast("io.RawIOBase", _Counted(raw, total, progress)), 1 << 20)
    text = io.TextIOWrapper(counted, encoding=encoding, errors="replace", newline=None)
    for number in itertools.count(1):
        try:
            line = text.readline(LONGEST_LINE + 1)
        except UnicodeError as error:  # utf-16 without its mark, cut in the middle
            raise InputError(
                f"{where}, line {number}", None, f"is not text ({error.__class__.__name__})", "Save the log as UTF-8."
            ) from None
        if not line:
            return
        if len(line) > LONGEST_LINE:
            raise InputError(
                f"{where}, line {number}",
                line[:40],
                f"is longer than {LONGEST_LINE} characters",
                "Is this a log? Export it as CSV or GPX.",
            )
        if "\0" in line:
            raise InputError(
                f"{where}, line {number}",
                None,
                "holds a byte that no text has",
                "The file is damaged or was cut off; delete what stands from this line on.",
            )
        yield line.rstrip("\n")


def read_rows(lines: Iterator[str], shape: Shape, columns: Mapping[str, Column], where: str) -> Raw:
    """The figures of the wanted columns.

    A cell left blank, or filled with one of BLANKS, becomes nan here; a row whose time is blank is left out and counted; a line
    that starts with # is a comment, and one that repeats the header is passed over. A few lines after the last row of figures
    (totals, a line that was cut off) are left out and counted. Everything else that is not a figure is refused with its line.
    """
    raw = Raw(time_kind=_time_kind(shape, columns["time"], where))
    blocks: list[dict[str, Array]] = []
    numbers: list[NDArray[np.int64]] = []
    body = itertools.islice(lines, shape.first_row - 1, None)
    first = shape.first_row
    while block := list(itertools.islice(body, BLOCK)):
        if first + len(block) > MOST_ROWS:
            raise InputError(where, None, f"has more than {MOST_ROWS:,} rows", "Cut the log into shorter rides.")
        figures = straight(block, shape, columns, raw.time_kind)
        kept = np.arange(first, first + len(block))
        if figures is None:
            try:
                figures, kept = _by_cells(block, first, shape, columns, raw, where)
            except _OddRowError as odd:
                left = block[odd.line - first :] + list(itertools.islice(body, MOST_AFTER))
                if not _after_the_last(left, shape, columns["time"].index, raw.time_kind):
                    raise
                raw.after_the_last = sum(bool(line.strip()) for line in left)
                figures, kept = _by_cells(block[: odd.line - first], first, shape, columns, raw, where)
        blocks.append(figures)
        numbers.append(kept)
        first += len(block)
    for role in columns:  # one column after the other, so that what is joined can be let go
        raw.values[role] = np.concatenate([one.pop(role) for one in blocks]) if blocks else np.empty(0)
    raw.lines = np.concatenate(numbers) if numbers else raw.lines
    return raw


def _by_cells(
    block: Sequence[str], first: int, shape: Shape, columns: Mapping[str, Column], raw: Raw, where: str
) -> tuple[dict[str, Array], NDArray[np.int64]]:
    rows, at = _cells(block, first, shape, where)
    return _figures(rows, at, shape, columns, raw, where)


def _after_the_last(lines: Sequence[str], shape: Shape, time: int, time_kind: str) -> bool:
    """Whether none of these lines is a row of figures, so that what stands there comes after the ride."""
    return len(lines) <= MOST_AFTER and not any(
        _is_row(split(line, shape.delimiter), shape, time, time_kind) for line in lines
    )


def _is_row(cells: Sequence[str], shape: Shape, time: int, time_kind: str) -> bool:
    return len(cells) >= len(shape.header) and kind_of(cells[time]) == time_kind


def straight(
    lines: Sequence[str], shape: Shape, columns: Mapping[str, Column], time_kind: str
) -> dict[str, Array] | None:
    """The figures of a block in which nothing is out of the way, all at once; None where anything is.

    Quotes, comments, odd widths, rows without a time and whatever is no finite number are left to the way cell by cell, which
    can also say what is wrong and where.
    """
    mark = shape.delimiter
    if set(map(operator.methodcaller("count", mark), lines)) != {len(shape.header) - 1}:
        return None
    whole = "\n".join(lines)
    if '"' in whole or "_" in whole or "#" in whole:
        return None
    if mark != "," and "," in whole:
        if shape.decimal_point:
            return None  # a comma between thousands, perhaps
        whole = whole.replace(",", ".")
    filled = _filled(whole, mark)
    if filled is None:
        return None
    lines = lines if filled is whole and mark == "," else filled.split("\n")
    stamped = time_kind != "number"
    wanted = [role for role in columns if not (stamped and role == "time")]
    try:
        table = np.loadtxt(
            lines, delimiter=mark, comments=None, usecols=[columns[role].index for role in wanted], ndmin=2
        )
        found = {role: table[:, k].copy() for k, role in enumerate(wanted)}
        if stamped:
            index = columns["time"].index
            found["time"] = parse([line.split(mark, index + 1)[index] for line in lines], time_kind)
    except (ValueError, OverflowError, OSError):
        return None
    blank_is_fine = filled is not whole
    if np.isinf(table).any() or np.isnan(found["time"] if blank_is_fine else table).any():
        return None
    return found


def _filled(whole: str, mark: str) -> str | None:
    """The text with "nan" in its blank cells, the same text where it has none; None where "nan" stands in it already."""
    edged = f"\n{whole}\n"
    if mark * 2 not in whole and f"\n{mark}" not in edged and f"{mark}\n" not in edged:
        return whole
    if "nan" in whole.lower():
        return None
    for _ in range(2):  # of three marks in a row the first pass sees the outer two
        edged = edged.replace(mark * 2, f"{mark}nan{mark}")
    return edged.replace(f"\n{mark}", f"\nnan{mark}").replace(f"{mark}\n", f"{mark}nan\n")[1:-1]


def _cells(lines: Sequence[str], first: int, shape: Shape, where: str) -> tuple[list[list[str]], list[int]]:
    """The rows of a block parted into cells, each with its line; blank lines and comments are left out."""
    rows: list[list[str]] = []
    at: list[int] = []
    reader, width = csv.reader(_plain_rows(lines), delimiter=shape.delimiter), len(shape.header)
    while True:
        line = first + reader.line_num
        try:
            row = next(reader, None)
        except csv.Error as error:
            raise InputError(f"{where}, line {line}", None, f"is not CSV ({error})", "Export the log again.") from None
        if row is None:
            return rows, at
        if not any(row) or not any(map(str.strip, row)) or row[0].lstrip().startswith("#"):
            continue
        if tuple(map(str.strip, row[:width])) == shape.header:
            continue
        if len(row) != width:
            _right_width(row, line, where, shape)
        rows.append(row)
        at.append(line)


def _plain_rows(lines: Iterable[str]) -> Iterator[str]:
    """Lines for the CSV reader; a quote left open must not swallow the rest of the file."""
    for line in lines:
        yield line if line.count('"') % 2 == 0 else line.replace('"', "")


def _right_width(row: list[str], line: int, where: str, shape: Shape) -> None:
    width = len(shape.header)
    at, got = f"{where}, line {line}", shape.delimiter.join(row)[:60]
    if len(row) < width:
        problem = f"has {len(row)} of {width} columns: the line is cut off"
        raise _OddRowError(line, at, got, problem, "Delete the line, or export the log again.")
    if any(cell.strip() for cell in row[width:]):
        problem = f"has {len(row)} columns, the header {width}"
        raise _OddRowError(line, at, got, problem, "Check for a delimiter inside a cell.")


def _time_kind(shape: Shape, column: Column, where: str) -> str:
    if not shape.sample:
        raise InputError(where, "0 rows", "must have more than one row of figures", "Choose a longer log.")
    for row in shape.sample:
        cell = row[column.index]
        if cell:
            kind = kind_of(cell)
            if kind is None:
                raise InputError(
                    f"{where}, column {column.name[:40]!r}",
                    cell,
                    "is not a time that can be read",
                    "Seconds, 2026-05-03T10:00:00Z or 10:00:00 can.",
                )
            return kind
    raise InputError(
        f"{where}, column {column.name[:40]!r}", None, "holds no time in the first rows", "Choose another column."
    )


def _figures(
    rows: Sequence[Sequence[str]], at: Sequence[int], shape: Shape, columns: Mapping[str, Column], raw: Raw, where: str
) -> tuple[dict[str, Array], NDArray[np.int64]]:
    keep = [k for k, row in enumerate(rows) if row[columns["time"].index].strip()]
    without_time = len(rows) - len(keep)
    rows, lines = [rows[k] for k in keep], np.array([at[k] for k in keep], dtype=np.int64)
    block: dict[str, Array] = {}
    for role, column in columns.items():
        cells = [row[column.index].strip() for row in rows]
        read = _reader(role, raw.time_kind, shape)
        block[role] = _whole_or_culprit(read, cells, lines, column, where)
    raw.without_time += without_time
    return block, lines


def _reader(role: str, time_kind: str, shape: Shape) -> Callable[[Sequence[str]], Array]:
    """How the cells of a column are read."""
    if role == "time":
        return (
            (lambda cells: _numbers(cells, shape)) if time_kind == "number" else (lambda cells: parse(cells, time_kind))
        )
    mend = _signed if role in ("latitude", "longitude") else str
    return lambda cells: _numbers(["" if cell.lower() in BLANKS else mend(cell) for cell in cells], shape)


def _signed(cell: str) -> str:
    """A latitude or longitude with a sign for its N, S, E or W.

    >>> _signed("46.05 N"), _signed("W122.5"), _signed("46.05")
    ('46.05', '-122.5', '46.05')
    """
    lettered = HEMISPHERE.fullmatch(cell)
    if not lettered or bool(lettered[1]) == bool(lettered[3]):
        return cell
    south_or_west = (lettered[1] or lettered[3]).upper() in "SW"
    return f"-{lettered[2]}" if south_or_west else lettered[2]


def _numbers(cells: Sequence[str], shape: Shape) -> Array:
    if shape.decimal_point and any("," in cell for cell in cells):
        cells = [cell.replace(",", "") if THOUSANDS.fullmatch(cell) else cell for cell in cells]
    if shape.decimal_comma or shape.delimiter != ",":
        cells = [cell.replace(",", ".") for cell in cells]
    if "_" in "".join(cells):  # Python's own way to write a number, nobody else's
        raise ValueError("is not a number")
    if all(cells):
        values = np.fromiter(map(float, cells), dtype=float, count=len(cells))
    else:
        values = np.fromiter((float(cell) if cell else np.nan for cell in cells), dtype=float, count=len(cells))
    odd = ~np.isfinite(values)
    if odd.any() and any(cells[int(k)] for k in np.flatnonzero(odd)):
        raise ValueError("is not a finite number")
    return values


def _whole_or_culprit(
    read: Callable[[Sequence[str]], Array], cells: Sequence[str], lines: NDArray[np.int64], column: Column, where: str
) -> Array:
    """All cells at once; when that fails, one by one to name the line."""
    try:
        return read(cells)
    except (ValueError, OverflowError, OSError):
        pass
    for cell, line in zip(cells, lines, strict=True):
        try:
            read([cell])
        except (ValueError, OverflowError, OSError) as error:
            usual = "is not a time like those before it" if column.role == "time" else "is not a number"
            reason = str(error) if str(error).startswith(("is ", "has ")) else usual
            at = f"{where}, line {line}, column {column.name[:40]!r}"
            raise _OddRowError(int(line), at, cell[:40], reason, "Mend or delete the line.") from None
    raise AssertionError("a block failed but none of its cells")
