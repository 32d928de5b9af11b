"""The shape of a table from its first lines: encoding, delimiter, header, units, and what each column is."""

from __future__ import annotations

import codecs
import csv
import itertools
import re
from collections import Counter
from collections.abc import Collection, Mapping, Sequence
from dataclasses import dataclass, replace
from typing import Literal

from ridesim.errors import InputError, did_you_mean
from ridesim.logs.reading.headings import ROLES, ColumnReading, reading_of, units_of
from ridesim.logs.reading.stamps import UNIT_S, kind_of
from ridesim.units import quantity

HEAD_BYTES = 65536
LONGEST_LINE = 20_000  # characters
LONGEST_FIGURE = 60  # with its unit
MOST_COLUMNS = 500
DELIMITERS = ("\t", ";", "|", ",", " ")
MOST_AGREE = 0.8  # of the lines after the header have as many cells as it has

_KINDS = {"speed": "speed", "engine speed": "engine speed", "elevation": "length"}
_FIGURE = re.compile(r"[+-−]?\d[\d.,'’\u00a0\u202f ]*(?:[eE][+-]?\d+)?\s*(?P<unit>[^\d\s.,'’].*)?")


class HeadingError(InputError):
    """A heading that does not tell what is needed of it: which column has a role, or the unit of that column.

    Its record is for whoever asks in other words: asks is what is needed, role for what, headings among which.
    """

    def __init__(
        self, error: InputError, asks: Literal["column", "unit"], role: str, headings: Sequence[str] = ()
    ) -> None:
        super().__init__(error.where, error.got, error.problem, error.fix)
        self.asks, self.role, self.headings = asks, role, tuple(headings)


@dataclass(frozen=True, kw_only=True)
class Shape:
    """How the file is written; first_row is the line number of the first row of figures, units those of a row or of the cells."""

    encoding: str
    delimiter: str
    header: tuple[str, ...]
    units: tuple[str, ...]
    first_row: int
    sample: tuple[tuple[str, ...], ...]


@dataclass(frozen=True, kw_only=True)
class ColumnOf:
    """A column and what it is read as; scale brings it to SI, None where the unit is still to be found."""

    role: str
    index: int
    name: str
    unit: str | None
    scale: float | None
    why: str


@dataclass(frozen=True, kw_only=True)
class Columns:
    """The columns by what they hold, the headings of which nobody can say which is meant, and those that are not used."""

    by_role: Mapping[str, ColumnOf]
    unsure: Mapping[str, tuple[str, ...]]
    not_used: tuple[str, ...]


def encoding_of(head: bytes, where: str) -> str:
    """The encoding of a text by its mark or its bytes; InputError for what is not text.

    Of the two encodings of a byte a letter that loggers use, the one in which more headings can be understood.

    >>> encoding_of("zeit;tempo".encode("utf-16"), "x"), encoding_of("Höhe".encode("latin-1"), "x")
    ('utf-16', 'cp1252')
    >>> encoding_of("Czas;Prędkość".encode("cp1250"), "x")
    'cp1250'
    """
    fix = "Export the log as CSV or GPX and read that."
    binary = InputError(where, None, "is not text: it holds bytes that no table has", fix)
    if head.startswith((codecs.BOM_UTF32_LE, codecs.BOM_UTF32_BE)):
        raise InputError(where, None, "is written in UTF-32", "Save it as UTF-8.")
    if head.startswith((codecs.BOM_UTF16_LE, codecs.BOM_UTF16_BE)):
        encoding = "utf-16"
    elif head.startswith(codecs.BOM_UTF8):
        encoding = "utf-8-sig"
    elif head[:400].count(0) >= 0.4 * len(head[:400]) and len(head) > 3:
        encoding = "utf-16-le" if head[1] == 0 else "utf-16-be"
    else:
        encoding = "utf-8"
    try:
        text = codecs.getincrementaldecoder(encoding)("strict").decode(head, final=False)
    except UnicodeDecodeError:
        if encoding != "utf-8":
            raise binary from None
        encoding = max(("cp1252", "cp1250"), key=lambda one: _understood(head.decode(one, "replace")))
        text = head.decode(encoding, "replace")
    if any((ord(sign) < 32 and sign not in "\t\n\r") or ord(sign) == 127 for sign in text):
        raise binary
    return encoding


def _understood(text: str) -> int:
    cells = re.split(r"[\t;|,\"\n\r]", text[:2000])
    return sum(one.rank for cell in cells if (one := reading_of(cell)))


def split(line: str, delimiter: str) -> list[str]:
    """The cells of one line, stripped; blanks part them as runs."""
    if delimiter == " ":
        return line.split()
    try:
        return [cell.strip() for cell in next(csv.reader([line], delimiter=delimiter, skipinitialspace=True), [])]
    except csv.Error:
        return []


def numberish(cell: str) -> bool:
    """Whether a cell is a figure, with or without a unit, or a time."""
    return bool(unit_of_cell(cell) is not None or kind_of(cell) is not None or cell.lower() in ("nan", "inf", "-inf"))


def unit_of_cell(cell: str) -> str | None:
    """The unit behind a figure, "" where none is; None where the cell is no figure.

    >>> unit_of_cell("36,5 km/h"), unit_of_cell("1 400"), unit_of_cell("noon"), unit_of_cell("3 May")
    ('km/h', '', None, None)
    """
    found = _FIGURE.fullmatch(cell) if len(cell) <= LONGEST_FIGURE else None
    if not found or (found["unit"] and (found["unit"][0] == "/" or not units_of(found["unit"], bracketed=False))):
        return None
    return found["unit"] or ""


def is_comment(line: str) -> bool:
    """Whether a line is a remark."""
    return line.lstrip("\ufeff \t").startswith("#")


def shape_of(lines: Sequence[str], encoding: str, where: str) -> Shape:
    """The shape of a table from its first lines (without their line ends).

    Of the delimiters that part most lines alike, the one that gives the most headings that can be understood. Lines that start
    with # are comments. Where no other line is a header, the last comment before the figures that has as many cells as they
    have is taken for it.

    >>> shape = shape_of(["# a logger's remark", "Zeit [s];Geschwindigkeit [km/h]", "0,0;50,1", "0,1;50,3"], "utf-8", "x")
    >>> shape.delimiter, shape.header, shape.first_row
    (';', ('Zeit [s]', 'Geschwindigkeit [km/h]'), 3)
    """
    if not any(line.strip() for line in lines):
        raise InputError(where, None, "is empty", "Choose a log with a header and at least two rows.")
    able: list[Shape] = []
    refused: InputError | None = None
    for delimiter in DELIMITERS:
        rows = [[] if is_comment(line) else split(line, delimiter) for line in lines]
        counts = Counter(len(row) for row in rows if len(row) > 1)
        width = counts.most_common(1)[0][0] if counts else 0
        at = next((k for k, row in enumerate(rows) if len(row) == width and sum(map(bool, row)) > 1), None)
        if at is None:
            continue
        after = [row for row in rows[at:] if any(row)]
        if sum(len(row) == width for row in after) >= MOST_AGREE * len(after):
            try:
                able.append(_shape(lines, rows, at, encoding, delimiter, where))
            except InputError as error:
                refused = refused or error
    told = {one.delimiter: sum(reading_of(name) is not None for name in one.header) for one in able}
    if any(told[one.delimiter] for one in able if one.delimiter != " "):
        able = [one for one in able if one.delimiter != " "]  # a blank stands in many a heading and stamp
    if able:
        return max(able, key=lambda one: told[one.delimiter])
    if refused is not None:
        raise refused
    problem = "has no columns: no comma, semicolon, tab, bar or blank parts its lines"
    raise InputError(where, lines[0][:60], problem, "Export the log as CSV with a header.")


def _shape(lines: Sequence[str], rows: list[list[str]], at: int, encoding: str, delimiter: str, where: str) -> Shape:
    """The shape that a delimiter gives, from the first row that is as wide as most."""
    width = len(rows[at])
    if width > MOST_COLUMNS:
        raise InputError(where, f"{width} columns", f"has more than {MOST_COLUMNS} columns", "Export fewer channels.")
    at = _head_row(rows, at, width)
    header, first = rows[at], at + 1
    if _of_figures(header):
        remarks = [split(line.lstrip("\ufeff# \t"), delimiter) for line in lines[:at] if is_comment(line)]
        named = [r for r in remarks if len(r) == width and all(r[1:]) and "time" in map(_role, r)]
        above = _odd_header(lines[:at], rows[:at], rows[at:], width, delimiter, where)
        header, first = above or (list(named[-1]) if named else [f"column {k}" for k in range(1, width + 1)]), at
        width = len(header)
    units = [""] * width
    while first < len(rows) and not any(rows[first]):
        first += 1
    if (
        at < first < len(rows)
        and len(rows[first]) == width
        and not any(map(numberish, rows[first]))
        and any(map(units_of, rows[first]))
    ):
        units, first = rows[first], first + 1
    sample = tuple(
        tuple(row[:width]) for row in rows[first:] if len(row) == width or (len(row) > width and not any(row[width:]))
    )
    units = [told or _unit_of_cells([row[k] for row in sample]) for k, told in enumerate(units)]
    names, told = tuple(header), tuple(units)
    return Shape(encoding=encoding, delimiter=delimiter, header=names, units=told, first_row=first + 1, sample=sample)


def _role(name: str) -> str | None:
    reading = reading_of(name)
    return reading.role if reading else None


def _unit_of_cells(cells: Sequence[str]) -> str:
    """The unit that stands in nearly all cells of a column, "" where none does."""
    units = Counter(unit_of_cell(cell) for cell in cells if cell)
    unit, count = units.most_common(1)[0] if units else ("", 0)
    return unit if unit and count >= MOST_AGREE * sum(units.values()) else ""


def _of_figures(row: Sequence[str]) -> bool:
    known = [cell for cell in row if cell]
    return sum(map(numberish, known)) > len(known) / 2


def _head_row(rows: Sequence[Sequence[str]], at: int, width: int) -> int:
    """The row of headings among those before the first figures: the one that tells most, the first where none tells anything."""
    before = itertools.takewhile(lambda k: not _of_figures(rows[k]), range(at, len(rows)))
    able = [k for k in before if len(rows[k]) == width and any(rows[k]) and not any(map(numberish, rows[k]))]
    return max(able, key=lambda k: (sum(_role(cell) is not None for cell in rows[k]), -k), default=at)


def _odd_header(
    lines: Sequence[str],
    above: Sequence[list[str]],
    rows: Sequence[Sequence[str]],
    width: int,
    delimiter: str,
    where: str,
) -> list[str] | None:
    """The header right above the figures where its width is another: delimiters at the end, blanks in headings or stamps."""
    k = next((k for k in reversed(range(len(above))) if any(above[k])), None)
    if k is None:
        return None
    header = above[k]
    if delimiter == " " and len(header) != width:
        header = re.findall(r"[^\s\[(]+(?:\s*[\[(][^\])]*[\])])?", lines[k])
        if len(header) == width - 1 and "clock" in {kind_of(row[1]) for row in rows[:5] if len(row) == width}:
            header = ["date", *header]  # a stamp has a blank in it
    if not any(map(_role, header)):
        return None
    if len(header) == width or (len(header) > width and not any(header[width:])):
        return header[:width]
    if len(header) < width and not any(any(row[len(header) :]) for row in rows if len(row) == width):
        return [*header, *[""] * (width - len(header))]
    if 2 * len(header) == width:
        problem = "parts its cells by commas and writes its decimals with commas too, so that they cannot be told apart"
        fix = "Export it with semicolons or tabs between the cells, or with decimal points."
        raise InputError(where, None, problem, fix)
    return None


def columns_of(
    shape: Shape, where: str, chosen: Mapping[str, str] | None = None, units: Mapping[str, str] | None = None
) -> Columns:
    """Which column is what: as chosen by hand, else by its heading, the time also by its figures.

    What a log can do without is left out where several columns could be it; of the speed that is refused. Of several clocks
    the finest is taken.

    Raises
    ------
    InputError
        Listing the columns.
    """
    chosen, units = dict(chosen or {}), dict(units or {})
    for given, what in ((chosen, "columns"), (units, "units")):
        for role in given:
            if role not in ROLES:
                fix = did_you_mean(role, ROLES)
                raise InputError(f"{what}.{role}", given[role], "is not something a log holds", fix)
    by_hand = {role: _named(shape, name, role) for role, name in chosen.items()}
    readings = [reading_of(name, unit) for name, unit in zip(shape.header, shape.units, strict=True)]
    found: dict[str, ColumnOf] = {}
    unsure: dict[str, tuple[str, ...]] = {}
    for role in ROLES:
        able, why = [by_hand[role]] if role in by_hand else [], "chosen by hand"
        if not able:
            able, why = _by_heading(shape, readings, role, {*by_hand.values(), *(one.index for one in found.values())})
        if len(able) > 1:
            unsure[role] = tuple(shape.header[k] for k in able)
        elif able:
            found[role] = _column(shape, readings, role, able[0], units.get(role), why)
    for role in ("time", "speed"):
        if role not in found and (role in unsure or role == "time" or not {"latitude", "longitude"} <= found.keys()):
            among = ", ".join(repr(name[:40]) for name in unsure.get(role, ())) or None
            problem = f"{'more than one column could be' if among else 'has no column that could be'} the {role}"
            fix = f"Choose with columns={{{role!r}: ...}} among {_listed(shape)}."
            raise HeadingError(InputError(where, among, problem, fix), "column", role, shape.header)
    used = {one.index for one in found.values()}
    rest = tuple(name for k, name in enumerate(shape.header) if k not in used and name)
    return Columns(by_role=found, unsure=unsure, not_used=rest)


def _listed(shape: Shape) -> str:
    return ", ".join(repr(name[:40]) for name in shape.header[:30])


def _by_heading(
    shape: Shape, readings: Sequence[ColumnReading | None], role: str, taken: Collection[int]
) -> tuple[list[int], str]:
    """Columns that could be it, and why; of the time also those whose figures are dates or times of day."""
    free = [
        k
        for k in range(len(shape.header))
        if k not in taken and (not shape.sample or any(row[k] for row in shape.sample))
    ]
    ranks = {k: one.rank for k in free if (one := readings[k]) and one.role == role}
    able = [k for k, rank in ranks.items() if rank == max(ranks.values())]
    if role == "time" and len(able) > 1:
        able = [max(able, key=lambda k: (len({row[k] for row in shape.sample}), -k))]
    if role == "time" and not able:
        stamped = [k for k in free if shape.sample and kind_of(shape.sample[0][k]) not in (None, "number")]
        return stamped[:1], "by its figures, which are times"
    if role == "speed" and not able:  # what else could be the time in one language is the speed in another
        able = [k for k in free if (one := readings[k]) and one.role == "time" and one.rank == 0]
    if len(able) > 1 and len({re.sub(r"[\[({_].*", "", shape.header[k]).strip() for k in able}) == 1:
        apart = {(one.unit if (one := readings[k]) else None) for k in able}
        able = able[:1] if len(apart) == len(able) else able  # the same in several units
    return able, "by its heading"


def _named(shape: Shape, name: object, role: str) -> int:
    """The column of a heading, or of "column 3" where headings do not tell them apart."""
    called = str(name).strip()
    numbered = [f"column {k + 1}" for k in range(len(shape.header))]
    for known in (shape.header, [one.casefold() for one in shape.header], numbered):
        same = [k for k, one in enumerate(known) if one in (called, called.casefold())]
        if len(same) == 1:
            return same[0]
    if called in shape.header:
        raise InputError(f"columns.{role}", name, "names more than one column", "Write column 1, column 2 and so on.")
    error = InputError(f"columns.{role}", name, "is not a column of this file", f"The columns are {_listed(shape)}.")
    raise HeadingError(error, "column", role, shape.header)


def _column(
    shape: Shape, readings: Sequence[ColumnReading | None], role: str, index: int, unit: str | None, why: str
) -> ColumnOf:
    name, reading = shape.header[index], readings[index]
    plain = ColumnOf(role=role, index=index, name=name, unit=None, scale=None, why=why)
    if role in ("latitude", "longitude"):
        return replace(plain, unit="deg", scale=1.0)
    named = reading.unit if reading and reading.role == role else units_of(shape.units[index]).get(role)
    if role == "time":
        told = units_of(unit).get("time", unit) if unit else None
        if told is not None and told not in UNIT_S:
            raise InputError("units.time", unit, "is not a unit of time", did_you_mean(unit or "", UNIT_S))
        return replace(plain, unit=told or named or None)
    own = unit or named
    if own is None and role == "elevation":
        own, plain = "m", replace(plain, why=f"{why}; no unit named, taken as meters")
    if own is None:
        return plain
    thousands = own == "krpm"
    one = float(quantity(1.0, _KINDS[role], "rpm" if thousands else own, f"units.{role}"))
    return replace(plain, unit=own, scale=one * (1000 if thousands else 1))
