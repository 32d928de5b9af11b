"""The shape of a CSV log from its first lines: encoding, delimiter, decimal mark, header, and what each column is."""

from __future__ import annotations

import codecs
import csv
import itertools
from collections import Counter
from collections.abc import Collection, Mapping, Sequence
from dataclasses import dataclass

from ridesim.errors import InputError, did_you_mean
from ridesim.roadlog.csv_words import role_of, unit_in
from ridesim.roadlog.stamps import NUMBER, UNIT_NAMES, UNIT_S, kind_of
from ridesim.units import quantity

HEAD_BYTES = 65536
LONGEST_LINE = 20_000  # characters
MOST_COLUMNS = 500
ROLES = ("time", "speed", "engine speed", "elevation", "latitude", "longitude")

_KINDS = {"speed": "speed", "engine speed": "engine speed", "elevation": "length"}


@dataclass(frozen=True, kw_only=True)
class Shape:
    """How the file is written; first_row is the line number of the first row of figures.

    decimal_comma and decimal_point tell what was seen in its first lines: neither where there were whole numbers only.
    """

    encoding: str
    delimiter: str
    decimal_comma: bool
    decimal_point: bool
    header: tuple[str, ...]
    units: tuple[str, ...]
    first_row: int
    sample: tuple[tuple[str, ...], ...]


@dataclass(frozen=True, kw_only=True)
class Column:
    """A column and what it was taken for; scale brings it to SI, None where the unit is still to be found."""

    role: str
    index: int
    name: str
    unit: str | None
    scale: float | None
    why: str


def encoding_of(head: bytes, where: str) -> str:
    """The encoding of a text by its mark or its bytes; InputError for what is not text.

    >>> encoding_of("zeit;tempo".encode("utf-16"), "x"), encoding_of("Höhe".encode("latin-1"), "x")
    ('utf-16', 'latin-1')
    """
    binary = InputError(
        where, None, "is not text: it holds bytes that no table has", "Export the log as CSV or GPX and read that."
    )
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
        encoding, text = "latin-1", head.decode("latin-1")
    if any((ord(sign) < 32 and sign not in "\t\n\r") or ord(sign) == 127 for sign in text):
        raise binary
    return encoding


def split(line: str, delimiter: str) -> list[str]:
    """The cells of one line, stripped."""
    try:
        return [cell.strip() for cell in next(csv.reader([line], delimiter=delimiter), [])]
    except csv.Error:
        return []


def _numberish(cell: str) -> bool:
    return bool(NUMBER.fullmatch(cell)) or kind_of(cell) is not None or cell.lower() in ("nan", "inf", "-inf")


def shape_of(lines: Sequence[str], encoding: str, where: str) -> Shape:
    """The shape of a table from its first lines (without their line ends).

    Lines that start with # are comments. Where no other line is a header, the last comment before the figures that has as
    many cells as they have is taken for it.

    >>> shape = shape_of(["# a logger's remark", "Zeit [s];Geschwindigkeit [km/h]", "0,0;50,1", "0,1;50,3"], "utf-8", "x")
    >>> shape.delimiter, shape.decimal_comma, shape.header, shape.first_row
    (';', True, ('Zeit [s]', 'Geschwindigkeit [km/h]'), 3)
    """
    if not any(line.strip() for line in lines):
        raise InputError(where, None, "is empty", "Choose a log with a header and at least two rows.")
    for delimiter in ("\t", ";", "|", ","):
        rows = [[] if _is_comment(line) else split(line, delimiter) for line in lines]
        counts = Counter(len(row) for row in rows if len(row) > 1)
        if not counts:
            continue
        width = counts.most_common(1)[0][0]
        at = next((k for k, row in enumerate(rows) if len(row) == width and sum(map(bool, row)) > width / 2), None)
        if at is None:
            continue
        after = [row for row in rows[at:] if any(row)]
        if sum(len(row) == width for row in after) >= 0.8 * len(after):
            remarks = [split(line.lstrip("\ufeff# \t"), delimiter) for line in lines[:at] if _is_comment(line)]
            return _shape(rows, at, width, delimiter, encoding, where, remarks)
    raise InputError(
        where,
        lines[0][:60],
        "has no columns: no comma, semicolon, tab or bar parts its lines",
        "Export the log as CSV with a header.",
    )


def _is_comment(line: str) -> bool:
    return line.lstrip("\ufeff \t").startswith("#")


def _shape(
    rows: list[list[str]],
    at: int,
    width: int,
    delimiter: str,
    encoding: str,
    where: str,
    remarks: Sequence[Sequence[str]] = (),
) -> Shape:
    if width > MOST_COLUMNS:
        raise InputError(where, f"{width} columns", f"has more than {MOST_COLUMNS} columns", "Export fewer channels.")
    at = _head_row(rows, at, width)
    header, first = rows[at], at + 1
    if _of_figures(header):
        named = [r for r in remarks if len(r) == width and all(r) and "time" in map(role_of, r)]
        above = _odd_header(rows[:at], rows[at:], width, where)
        header, first = above or (list(named[-1]) if named else [f"column {k}" for k in range(1, width + 1)]), at
        width = len(header)
    units = [""] * width
    if (
        at < first < len(rows)
        and len(rows[first]) == width
        and not any(map(_numberish, rows[first]))
        and any(rows[first])
        and all(len(cell) < 16 for cell in rows[first])
    ):
        units, first = rows[first], first + 1
    sample = tuple(
        tuple(row[:width]) for row in rows[first:] if len(row) == width or (len(row) > width and not any(row[width:]))
    )
    figures = [cell for row in sample for cell in row if NUMBER.fullmatch(cell)]
    commas, points = (any(mark in cell for cell in figures) for mark in ",.")
    return Shape(
        encoding=encoding,
        delimiter=delimiter,
        decimal_comma=commas and not points,
        decimal_point=points,
        header=tuple(header),
        units=tuple(units),
        first_row=first + 1,
        sample=sample,
    )


def _of_figures(row: Sequence[str]) -> bool:
    return sum(map(_numberish, row)) > len(row) / 2


def _head_row(rows: Sequence[Sequence[str]], at: int, width: int) -> int:
    """The row of headings among those before the first figures: the one that tells most, the first where none tells anything."""
    before = itertools.takewhile(lambda k: not _of_figures([cell for cell in rows[k] if cell]), range(at, len(rows)))
    able = [k for k in before if len(rows[k]) == width and any(rows[k]) and not any(map(_numberish, rows[k]))]
    return max(able, key=lambda k: (sum(role_of(cell) is not None for cell in rows[k]), -k), default=at)


def _odd_header(
    above: Sequence[list[str]], figures: Sequence[Sequence[str]], width: int, where: str
) -> list[str] | None:
    """The header right above the figures, where a delimiter at the end of its line or of theirs makes the widths differ."""
    header = next((row for row in reversed(above) if any(row)), [])
    if not any(map(role_of, header)):
        return None
    if len(header) == width + 1 and not header[-1]:
        return header[:-1]
    if len(header) == width - 1 and not any(row[-1] for row in figures if len(row) == width):
        return [*header, ""]
    if 2 * len(header) == width:
        raise InputError(
            where,
            None,
            "parts its cells by commas and writes its decimals with commas too, so that they cannot be told apart",
            "Export it with semicolons or tabs between the cells, or with decimal points.",
        )
    return None


@dataclass(frozen=True, kw_only=True)
class Taken:
    """The columns by what they hold, and the headings among which nobody chose where several could be it."""

    columns: Mapping[str, Column]
    unsure: Mapping[str, tuple[str, ...]]


def columns_of(
    shape: Shape, where: str, chosen: Mapping[str, str] | None = None, units: Mapping[str, str] | None = None
) -> Taken:
    """Which column is what: as chosen by hand, else by its heading, the time also by its figures.

    What a log can do without is left out where several columns could be it; of time and speed that is refused.

    Raises
    ------
    InputError
        Listing the columns.
    """
    chosen, units = dict(chosen or {}), dict(units or {})
    listed = ", ".join(repr(name[:40]) for name in shape.header[:30])
    for given, what in ((chosen, "columns"), (units, "units")):
        for role in given:
            if role not in ROLES:
                raise InputError(
                    f"{what}.{role}", given[role], "is not something a log holds", did_you_mean(role, ROLES)
                )
    by_hand = {role: _named(shape, name, role, listed) for role, name in chosen.items()}
    found: dict[str, Column] = {}
    unsure: dict[str, tuple[str, ...]] = {}
    for role in ROLES:
        able, why = [by_hand[role]] if role in by_hand else [], "chosen by hand"
        if not able:
            able, why = _by_heading(shape, role, by_hand.values())
        if len(able) > 1:
            unsure[role] = tuple(shape.header[k] for k in able)
        elif able:
            found[role] = _column(shape, role, able[0], units.get(role), why)
    for role in ("time", "speed"):
        if role not in found and (role in unsure or role == "time" or not {"latitude", "longitude"} <= found.keys()):
            among = ", ".join(repr(name[:40]) for name in unsure.get(role, ())) or None
            problem = "more than one column could be" if among else "has no column that could be"
            choose = f"Choose with columns={{{role!r}: ...}} among {listed}."
            raise InputError(where, among, f"{problem} the {role}", choose)
    return Taken(columns=found, unsure=unsure)


def _by_heading(shape: Shape, role: str, taken: Collection[int]) -> tuple[list[int], str]:
    """Columns that could be it, and why; of the time also those whose figures are dates or times of day."""
    free = [k for k in range(len(shape.header)) if k not in taken]
    able = [k for k in free if role_of(shape.header[k]) == role]
    if able or role != "time":
        return able, "by its heading"
    stamped = [k for k in free if shape.sample and kind_of(shape.sample[0][k]) not in (None, "number")]
    return stamped, "by its figures, which are times"


def _named(shape: Shape, name: object, role: str, listed: str) -> int:
    """The column of a heading, or of "column 3" where headings do not tell them apart."""
    called = str(name).strip()
    for known in (
        shape.header,
        [one.casefold() for one in shape.header],
        [f"column {k + 1}" for k in range(len(shape.header))],
    ):
        same = [k for k, one in enumerate(known) if one in (called, called.casefold())]
        if len(same) == 1:
            return same[0]
    if called in shape.header:
        raise InputError(f"columns.{role}", name, "names more than one column", "Write column 1, column 2 and so on.")
    raise InputError(f"columns.{role}", name, "is not a column of this file", f"The columns are {listed}.")


def _column(shape: Shape, role: str, index: int, unit: str | None, why: str) -> Column:
    name = shape.header[index]
    if role == "time":
        told = UNIT_NAMES.get(unit or "", unit)
        if told is not None and told not in UNIT_S:
            raise InputError("units.time", unit, "is not a unit of time", did_you_mean(unit, UNIT_S))
        return Column(
            role=role, index=index, name=name, unit=told or unit_in(name, shape.units[index], role), scale=None, why=why
        )
    if role in ("latitude", "longitude"):
        return Column(role=role, index=index, name=name, unit="deg", scale=1.0, why=why)
    own = unit or unit_in(name, shape.units[index], role)
    if own is None and role == "elevation":
        own, why = "m", f"{why}; no unit named, taken as metres"
    thousands = own == "krpm"
    spelt = "rpm" if thousands else own
    scale = (
        None
        if spelt is None
        else float(quantity(1.0, _KINDS[role], spelt, f"units.{role}")) * (1000 if thousands else 1)
    )
    return Column(role=role, index=index, name=name, unit=own, scale=scale, why=why)
