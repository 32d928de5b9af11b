"""The rows of a table as figures, block by block: plain blocks at once, all others as text, decimals settled by column."""

from __future__ import annotations

import io
import itertools
import operator
import re
from collections import Counter
from collections.abc import Callable, Iterator, Mapping, Sequence
from contextlib import suppress
from dataclasses import dataclass, field
from typing import IO, Any

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
HEMISPHERE = re.compile(r"([NSEWnsew])?\s*(\d[\d.,]*)\s*°?\s*([NSEWnsew])?")
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
        figures, at = _by_pandas(block, at, shape, columns, raw, where)
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


def _by_pandas(
    lines: Sequence[str],
    at: NDArray[np.int64],
    shape: Shape,
    columns: Mapping[str, ColumnOf],
    raw: Raw,
    where: str,
) -> tuple[dict[str, Array], NDArray[np.int64]]:
    import pandas as pd

    rows, places = _rows_of(lines, at, shape, raw, where)
    if not rows:
        return {role: np.empty(0) for role in columns}, np.empty(0, dtype=np.int64)
    text = "\n".join(rows)
    how: dict[str, Any] = {
        "sep": r"\s+" if shape.delimiter == " " else shape.delimiter,
        "header": None,
        "names": range(len(shape.header)),
        "usecols": sorted({one.index for one in columns.values()}),
        "keep_default_na": False,
        "skip_blank_lines": False,
        "skipinitialspace": True,
    }
    frame = _all_numbers(text, how, columns, raw)
    if frame is None:
        frame = pd.read_csv(io.StringIO(text), dtype=str, na_filter=False, **how)
        frame = frame.apply(lambda cells: cells.str.strip())
    numbers = np.array(places, dtype=np.int64)
    times = frame[columns["time"].index]
    timed = (times.notna() if times.dtype == float else ~times.str.lower().isin(BLANKS)).to_numpy()
    raw.without_time += int((~timed).sum())
    frame, numbers = frame[timed], numbers[timed]
    figures = {role: _figures(frame[one.index], one, numbers, raw, where) for role, one in columns.items()}
    known = np.isfinite(figures["time"])
    return {role: values[known] for role, values in figures.items()}, numbers[known]


def _all_numbers(text: str, how: Mapping[str, Any], columns: Mapping[str, ColumnOf], raw: Raw) -> Any:
    """The block as pandas reads figures, where all its cells are some with one decimal mark, blank, or stamps; None otherwise."""
    import pandas as pd

    marks = {mark for mark in raw.marks.values() if mark}
    wanted = {role: one.index for role, one in columns.items() if role != "time" or raw.time_kind == "number"}
    if len(marks) > 1:
        return None
    blanks = sorted(BLANKS | {blank.upper() for blank in BLANKS} | {"NaN", "None", "Null"})
    try:
        frame = pd.read_csv(
            io.StringIO(text),
            dtype={one.index: float if role in wanted else str for role, one in columns.items()},
            na_values=dict.fromkeys(wanted.values(), blanks),
            decimal="".join(marks) or ".",
            **how,
        )
    except (ValueError, OverflowError):
        return None
    unsettled = [frame[index] % 1 for role, index in wanted.items() if not raw.marks[role]]
    numbers = frame[list(wanted.values())]
    if np.isinf(numbers.to_numpy()).any() or any((one.fillna(0.0) != 0).any() for one in unsettled):
        return None
    for index in {one.index for one in columns.values()} - set(wanted.values()):
        frame[index] = frame[index].str.strip()
    return frame


def _rows_of(
    lines: Sequence[str], at: NDArray[np.int64], shape: Shape, raw: Raw, where: str
) -> tuple[list[str], list[int]]:
    """The lines that are rows of as many cells as the header, with their numbers; the others are counted or passed over."""
    mark, width = shape.delimiter, len(shape.header)
    whole = "\n".join(lines)
    plain = mark != " " and not any(sign in whole for sign in '"#')
    if plain and set(map(operator.methodcaller("count", mark), lines)) == {width - 1} and not _heads(lines, shape):
        return list(lines), at.tolist()
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
            rows.append(line if len(cells) == width else mark.join(line.split(mark)[:width]))
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


def _figures(cells: Any, column: ColumnOf, numbers: NDArray[np.int64], raw: Raw, where: str) -> Array:
    """The figures of a column of text; nan for what is blank, and for what is none, which is counted."""
    import pandas as pd

    if cells.dtype == float:
        return np.asarray(cells.to_numpy(copy=True))
    stamped = column.role == "time" and raw.time_kind != "number"
    blank = cells.str.lower().isin(BLANKS).to_numpy()
    if stamped:
        values = parse(cells.tolist(), raw.time_kind)
    else:
        plain = cells.str.replace(_PARTED, "", regex=True)
        mark = raw.marks[column.role] = raw.marks[column.role] or mark_of(plain.tolist(), column, raw.hint)
        if mark:
            other = "." if mark == "," else ","
            plain = plain.str.replace(other, "", regex=False).str.replace(mark, ".", regex=False)
        values = pd.to_numeric(plain, errors="coerce").to_numpy(dtype=float, copy=True)
        for k in np.flatnonzero(~np.isfinite(values) & ~blank):
            values[k] = _mended(plain.iloc[k], column.role)
    bad = np.flatnonzero(~np.isfinite(values) & ~blank)
    if bad.size:
        at = f"{where}, line {numbers[bad[0]]}, column {column.name[:40]!r}"
        got = cells.iloc[int(bad[0])]
        problem = "is not a time like those before it" if column.role == "time" else "is not a number"
        if re.fullmatch(r"[+-]?(?:inf\w*|[\d.]+[eE]\d+)", got.lower()):
            problem = "is not a finite number"
        what = "lines that are no rows" if column.role == "time" else f"cells of {column.role} that are no figures"
        raw.leave_out(what, int(bad.size), at, got, problem, "Mend or delete the line.")
        values[bad] = np.nan
    return values


def _mended(cell: str, role: str) -> float:
    """A figure with its unit behind it, a latitude or longitude with a letter for its side; nan for anything else.

    >>> _mended("36.5 km/h", "speed"), _mended("W122.5", "longitude"), _mended("fast", "speed"), _mended("N46.1E", "latitude")
    (36.5, -122.5, nan, nan)
    """
    if role in ("latitude", "longitude"):
        lettered = HEMISPHERE.fullmatch(cell)
        if not lettered or (lettered[1] and lettered[3]):
            return np.nan
        side = (lettered[1] or lettered[3] or "").upper()
        return float(lettered[2]) * (-1.0 if side in ("S", "W") else 1.0)
    unit = unit_of_cell(cell)
    try:
        return float(cell.removesuffix(unit)) if unit else np.nan
    except ValueError:
        return np.nan
