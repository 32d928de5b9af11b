"""The rows of a table as figures, block by block: plain blocks at once, all others by pandas, decimals settled by column."""

from __future__ import annotations

import io
import itertools
import operator
import re
from collections import Counter
from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import dataclass, field
from typing import IO, Any, cast

import numpy as np
from numpy.typing import NDArray

from ridesim.errors import InputError
from ridesim.logs.reading.shape import LONGEST_LINE, ColumnOf, Shape, is_comment, split, unit_of_cell
from ridesim.logs.reading.stamps import FASTEST_S, SLOWEST_S, UNIT_S, kind_of, parse

Array = NDArray[np.float64]
BLOCK = 20_000
MOST_ROWS = 10_000_000
SNIFFED = 60  # lines from which the shape is found
MOST_ODD, ODD_SHARE, SOME_SHARE = 10, 50, 4  # lines left out: ten, or one in fifty, but never more than one in four
BLANKS = frozenset(["", "-", "--", "---", "\u2013", "\u2014", "n/a", "na", "null", "none", "nan"])  # for nothing known
HEMISPHERE = re.compile(r"([NSEWnsew])?\s*(\d[\d.,]*)\s*°?\s*([NSEWnsew])?")
GROUPS = {mark: re.compile(rf"[+-]?[1-9]\d{{0,2}}(?:{re.escape(mark)}\d{{3}})+") for mark in ",."}
_PARTED = re.compile(r"(?<=\d)[ '’\u00a0\u202f](?=\d{3}(?!\d))")  # between thousands
_RANGES = {"speed": (0.0, 200.0), "engine speed": (20.0, 3200.0), "elevation": (-500.0, 9500.0)}  # SI, of the median


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
        at = f"{where}, line {number}"
        try:
            line = text.readline(LONGEST_LINE + 1)
        except UnicodeError as error:  # utf-16 without its mark, cut in the middle
            problem = f"is not text ({error.__class__.__name__})"
            raise InputError(at, None, problem, "Save the log as UTF-8.") from None
        if not line:
            return
        if len(line) > LONGEST_LINE:
            problem = f"is longer than {LONGEST_LINE} characters"
            raise InputError(at, line[:40], problem, "Is this a log? Export it as CSV or GPX.")
        if "\0" in line:
            fix = "The file is damaged or was cut off; delete what stands from this line on."
            raise InputError(at, None, "holds a byte that no text has", fix)
        yield line.rstrip("\n")


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
        figures = straight(block, shape, columns, raw)
        if figures is None:
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


def straight(lines: Sequence[str], shape: Shape, columns: Mapping[str, ColumnOf], raw: Raw) -> dict[str, Array] | None:
    """The figures of a block of plain numbers, all at once; None where anything is out of the way.

    Quotes, comments, blanks, odd widths and whatever is no finite number are left to pandas, which need not be loaded for a
    plain log.
    """
    mark = shape.delimiter
    if mark == " " or set(map(operator.methodcaller("count", mark), lines)) != {len(shape.header) - 1}:
        return None
    whole = "\n".join(lines)
    if any(sign in whole for sign in '"_#') or (mark != "," and "," in whole) or "," in raw.marks.values():
        return None
    stamped = raw.time_kind != "number"
    wanted = [role for role in columns if not (stamped and role == "time")]
    try:
        table = np.loadtxt(
            lines, delimiter=mark, comments=None, usecols=[columns[role].index for role in wanted], ndmin=2
        )
        found = {role: table[:, k].copy() for k, role in enumerate(wanted)}
        if stamped:
            index = columns["time"].index
            found["time"] = parse([line.split(mark, index + 1)[index] for line in lines], raw.time_kind)
    except (ValueError, OverflowError, OSError):
        return None
    if not np.isfinite(table).all():
        return None
    # what looks like decimals in a column that had none before may be thousands
    return found if all(np.all(found[role] % 1 == 0) for role in wanted if not raw.marks[role]) else None


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
    frame = pd.read_csv(
        io.StringIO("\n".join(rows)),
        sep=r"\s+" if shape.delimiter == " " else shape.delimiter,
        header=None,
        names=range(len(shape.header)),
        usecols=sorted({one.index for one in columns.values()}),
        dtype=str,
        na_filter=False,
        skip_blank_lines=False,
        skipinitialspace=True,
    )
    numbers = np.array(places, dtype=np.int64)
    timed = ~frame[columns["time"].index].str.strip().str.lower().isin(BLANKS)
    raw.without_time += int((~timed).sum())
    frame, numbers = frame[timed], numbers[timed.to_numpy()]
    figures = {role: _figures(frame[one.index].str.strip(), one, numbers, raw, where) for role, one in columns.items()}
    known = np.isfinite(figures["time"])
    return {role: values[known] for role, values in figures.items()}, numbers[known]


def _rows_of(
    lines: Sequence[str], at: NDArray[np.int64], shape: Shape, raw: Raw, where: str
) -> tuple[list[str], list[int]]:
    """The lines that are rows of as many cells as the header, with their numbers; the others are counted or passed over."""
    mark, width = shape.delimiter, len(shape.header)
    rows, places = [], []
    for line, place in zip(lines, at.tolist(), strict=True):
        if not line.strip(f"{mark} \t") or is_comment(line):
            continue
        if line.count('"') % 2:  # a quote left open must not swallow the rest of the file
            line = line.replace('"', "")
        simple = '"' not in line and mark != " "
        count = line.count(mark) + 1 if simple else len(split(line, mark))
        if count == width and (line[:1].isdigit() or tuple(split(line, mark)) != shape.header):
            rows.append(line)
            places.append(place)
            continue
        cells = split(line, mark)
        if tuple(cells[:width]) == shape.header:
            continue
        if count > width and not any(cells[width:]):
            rows.append(mark.join(line.split(mark)[:width]))
            places.append(place)
            continue
        short = count < width
        problem = (
            f"has {count} of {width} columns: the line is cut off"
            if short
            else f"has {count} columns, the header {width}"
        )
        fix = "Delete the line, or export the log again." if short else "Check for a delimiter inside a cell."
        raw.leave_out("lines that are no rows", 1, f"{where}, line {place}", line, problem, fix)
    return rows, places


def _figures(cells: Any, column: ColumnOf, numbers: NDArray[np.int64], raw: Raw, where: str) -> Array:
    """The figures of a column of text; nan for what is blank, and for what is none, which is counted."""
    import pandas as pd

    stamped = column.role == "time" and raw.time_kind != "number"
    blank = cells.str.lower().isin(BLANKS).to_numpy()
    if stamped:
        values = _stamps(cells.tolist(), raw.time_kind)
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

    >>> _mended("36.5 km/h", "speed"), _mended("W122.5", "longitude"), _mended("fast", "speed")
    (36.5, -122.5, nan)
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


def _stamps(cells: Sequence[str], kind: str) -> Array:
    try:
        return parse(cells, kind)
    except (ValueError, OverflowError, OSError):
        return np.array([_stamp(cell, kind) for cell in cells])


def _stamp(cell: str, kind: str) -> float:
    try:
        return float(parse([cell], kind)[0])
    except (ValueError, OverflowError, OSError):
        return np.nan


def decimal_marks(shape: Shape, columns: Mapping[str, ColumnOf]) -> tuple[dict[str, str], str]:
    """The decimal mark of each wanted column, "" where the first rows show none, and that which most columns surely have."""
    sure: Counter[str] = Counter()
    for k in range(len(shape.header)):
        cells = [row[k] for row in shape.sample if unit_of_cell(row[k]) is not None]
        sure[_plain_mark(cells)] += 1
    hint = max(",.", key=lambda mark: (sure[mark], mark)) if sure[","] or sure["."] else ""
    return {role: mark_of([row[one.index] for row in shape.sample], one, hint) for role, one in columns.items()}, hint


def _plain_mark(cells: Sequence[str]) -> str:
    """The decimal mark that the cells of a column show beyond doubt, "" where none, "?" where it could stand between thousands.

    >>> _plain_mark(["0,5", "1,016"]), _plain_mark(["1.234,5"]), _plain_mark(["1,016", "998"]), _plain_mark(["3", "4"])
    (',', ',', '?', '')
    """
    marks = {mark: [cell for cell in cells if mark in cell] for mark in ",."}
    if not marks[","] and not marks["."]:
        return ""
    for cell in marks[","]:
        if "." in cell:
            return "," if cell.rindex(",") > cell.rindex(".") else "."
    for mark, other in (",.", ".,"):
        if any(cell.count(mark) > 1 for cell in marks[mark]):
            return other
        if any(not GROUPS[mark].match(cell) or re.match(rf"[+-]?\d+\{mark}\d{{4}}", cell) for cell in marks[mark]):
            return mark
        if marks[mark] and any(re.match(r"[+-]?\d{4}", cell) for cell in cells if mark not in cell):
            return mark  # thousands would be parted in all of them
    return "?"


def mark_of(cells: Sequence[str], column: ColumnOf, hint: str) -> str:
    """The decimal mark of a column; where it could as well stand between thousands, what a ride can hold and the others say.

    >>> turns = ColumnOf(role="engine speed", index=0, name="n", unit="rpm", scale=0.1047, why="")
    >>> mark_of(["1.400", "980"], turns, ","), mark_of(["1,400", "1,410"], turns, "")
    (',', '.')
    """
    cells = [cell for cell in cells if unit_of_cell(cell) is not None]
    plain = _plain_mark(cells)
    if plain != "?":
        return plain
    mark = "," if any("," in cell for cell in cells) else "."
    other = "." if mark == "," else ","
    figures = [found[0] for cell in cells if (found := re.match(r"[+-]?\d[\d.,]*", cell))]
    able = [m for m in (mark, other) if _rideable(figures, m, column)]
    if len(able) == 1:
        return able[0]
    if any(mark not in cell for cell in cells):
        return other  # figures under a thousand have no mark
    return hint or mark


def _rideable(cells: Sequence[str], mark: str, column: ColumnOf) -> bool:
    """Whether the figures of a column can be those of a ride, with a decimal mark."""
    other = "." if mark == "," else ","
    plain = (cell.replace(other, "").replace(mark, ".") for cell in cells)
    values = np.array([float(cell) for cell in plain if cell.count(".") < 2])
    if column.role == "time":
        steps = np.diff(values) * UNIT_S[column.unit or "s"]
        return bool(
            steps.size and FASTEST_S <= float(np.median(steps[steps != 0] if steps.any() else steps)) <= SLOWEST_S
        )
    low, high = _RANGES.get(column.role, (-180.0, 180.0))
    scale = column.scale or (0.10472 if column.role == "engine speed" else 1 / 3.6)
    turning = np.abs(values[values != 0]) if column.role == "engine speed" else values
    return bool(turning.size == 0 or low <= float(np.median(turning)) * scale <= high)
