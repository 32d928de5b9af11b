"""The shape of a CSV log from its first lines: encoding, delimiter, decimal mark, header, and what each column is."""

from __future__ import annotations

import codecs
import csv
import re
import unicodedata
from collections import Counter
from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from ridesim.errors import InputError, did_you_mean
from ridesim.roadlog.stamps import NUMBER, UNIT_NAMES, UNIT_S, kind_of
from ridesim.units import quantity

HEAD_BYTES = 65536
LONGEST_LINE = 20_000  # characters
MOST_COLUMNS = 500
ROLES = ("time", "speed", "engine speed", "elevation", "latitude", "longitude")

_WORDS: Mapping[str, frozenset[str]] = {
    "engine speed": frozenset(["rpm", "revs", "drehzahl", "motordrehzahl", "regime", "giri", "toerental"]),
    "speed": frozenset(
        [
            "speed",
            "velocity",
            "geschwindigkeit",
            "tempo",
            "vitesse",
            "velocidad",
            "velocita",
            "snelheid",
            "v",
            "gpsspeed",
            "vss",
        ]
    ),
    "elevation": frozenset(["elevation", "altitude", "ele", "alt", "height", "hohe", "hoehe", "altitud", "quota"]),
    "latitude": frozenset(["latitude", "lat", "breite"]),
    "longitude": frozenset(["longitude", "lon", "lng", "long", "lange", "laenge"]),
    "time": frozenset(
        [
            "time",
            "timestamp",
            "datetime",
            "elapsed",
            "zeit",
            "zeitstempel",
            "uhrzeit",
            "temps",
            "tiempo",
            "hora",
            "epoch",
            "seconds",
            "t",
            "tijd",
        ]
    ),
}
_NOT_IT = frozenset(
    [
        "accuracy",
        "acc",
        "error",
        "limit",
        "max",
        "maximum",
        "min",
        "avg",
        "average",
        "mean",
        "vertical",
        "wind",
        "std",
        "sigma",
        "zone",
        "lap",
        "fan",
        "target",
        "set",
    ]
)
_UNITS: Mapping[str, Mapping[str, str]] = {
    "speed": {
        "m/s": "m/s",
        "mps": "m/s",
        "ms": "m/s",
        "m s-1": "m/s",
        "km/h": "km/h",
        "kmh": "km/h",
        "kph": "km/h",
        "kmph": "km/h",
        "mph": "mph",
        "mi/h": "mph",
        "kn": "kn",
        "kt": "kn",
        "kts": "kn",
        "knots": "kn",
    },
    "engine speed": {
        "rpm": "rpm",
        "rev/min": "rpm",
        "r/min": "rpm",
        "1/min": "rpm",
        "min-1": "rpm",
        "u/min": "rpm",
        "rad/s": "rad/s",
        "rev/s": "rev/s",
        "hz": "rev/s",
    },
    "elevation": {"m": "m", "ft": "ft", "feet": "ft"},
}
_SPEEDS_BY_UNIT = frozenset(["km/h", "kmh", "kph", "mph", "m/s"])  # a heading that is nothing but the unit
_KINDS = {"speed": "speed", "engine speed": "engine speed", "elevation": "length"}


@dataclass(frozen=True, kw_only=True)
class Shape:
    """How the file is written; first_row is the line number of the first row of figures."""

    encoding: str
    delimiter: str
    decimal_comma: bool
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
    header = rows[at]
    first = at + 1
    if sum(map(_numberish, header)) > width / 2:
        named = [r for r in remarks if len(r) == width and all(r) and "time" in map(role_of, r)]
        header, first = list(named[-1]) if named else [f"column {k}" for k in range(1, width + 1)], at
    units = [""] * width
    if (
        at < first < len(rows)
        and len(rows[first]) == width
        and not any(map(_numberish, rows[first]))
        and any(rows[first])
        and all(len(cell) < 16 for cell in rows[first])
    ):
        units, first = rows[first], first + 1
    sample = tuple(tuple(row) for row in rows[first:] if len(row) == width)
    figures = [cell for row in sample for cell in row if NUMBER.fullmatch(cell)]
    commas, points = (any(mark in cell for cell in figures) for mark in ",.")
    return Shape(
        encoding=encoding,
        delimiter=delimiter,
        decimal_comma=commas and not points,
        header=tuple(header),
        units=tuple(units),
        first_row=first + 1,
        sample=sample,
    )


def plain(text: str) -> str:
    """Lower case without accents; CamelCase parted.

    >>> plain("Höhe"), plain("GpsSpeedKmh")
    ('hohe', 'gps speed kmh')
    """
    parted = re.sub(r"(?<=[a-z])(?=[A-Z])", " ", text)
    return "".join(c for c in unicodedata.normalize("NFKD", parted) if not unicodedata.combining(c)).lower()


def _words(name: str) -> list[str]:
    return [word for word in re.split(r"[^a-z0-9/]+", re.sub(r"[\[({].*", "", plain(name))) if word]


def role_of(name: str) -> str | None:
    """What a heading says its column is.

    >>> [role_of(n) for n in ("Engine speed [rpm]", "GPS speed (km/h)", "speed accuracy", "Zeit", "RPM")]
    ['engine speed', 'speed', None, 'time', 'engine speed']
    >>> [role_of(n) for n in ("engine [1/min]", "engine [C]", "vss_kmh", "km/h")]
    ['engine speed', None, 'speed', 'speed']
    """
    words = set(_words(name))
    if words & _NOT_IT:
        return None
    if words and words <= {"engine", "motor", "crank", "crankshaft"} and unit_in(name, "", "engine speed"):
        return "engine speed"  # the unit says which figure of the engine it is
    if len(words) == 1 and words <= _SPEEDS_BY_UNIT:
        return "speed"
    if (words & {"engine", "motor", "crank"} and words & {"speed", "revolutions"}) or words == {"n"}:
        return "engine speed"
    return next((role for role, known in _WORDS.items() if words & known), None)


def unit_in(name: str, units_cell: str, role: str) -> str | None:
    """The unit a heading or the row of units under it names, in ridesim's spelling; None when none is named.

    >>> unit_in("speed_kmh", "", "speed"), unit_in("Drehzahl [U/min]", "", "engine speed"), unit_in("v", "m/s", "speed")
    ('km/h', 'rpm', 'm/s')
    """
    bracket = re.search(r"[\[({]\s*([^\])}]{1,20}?)\s*[\])}]", name)
    texts = [units_cell, bracket[1] if bracket else "", *reversed(_words(name))]
    for text in (plain(t).strip().replace("^", "").replace("·", " ") for t in texts if t):
        if role == "time":
            short = UNIT_NAMES.get(text, text)
            if short in UNIT_S:
                return short
        elif text in _UNITS.get(role, {}):
            return _UNITS[role][text]
    return None


def columns_of(
    shape: Shape, where: str, chosen: Mapping[str, str] | None = None, units: Mapping[str, str] | None = None
) -> dict[str, Column]:
    """Which column is what: as chosen by hand, else by its heading; InputError listing the columns when unsure."""
    chosen, units = dict(chosen or {}), dict(units or {})
    listed = ", ".join(repr(name[:40]) for name in shape.header[:30])
    for given, what in ((chosen, "columns"), (units, "units")):
        for role in given:
            if role not in ROLES:
                raise InputError(
                    f"{what}.{role}", given[role], "is not something a log holds", did_you_mean(role, ROLES)
                )
    found: dict[str, Column] = {}
    for role in ROLES:
        if role in chosen:
            index = _named(shape, chosen[role], role, listed)
        else:
            able = [
                k for k, name in enumerate(shape.header) if role_of(name) == role and k not in _taken(shape, chosen)
            ]
            if len(able) > 1:
                among = ", ".join(repr(shape.header[k][:40]) for k in able)
                raise InputError(
                    where,
                    among,
                    f"more than one column could be the {role}",
                    f"Choose with columns={{{role!r}: ...}} among {listed}.",
                )
            if not able:
                continue
            index = able[0]
        found[role] = _column(
            shape, role, index, units.get(role), "chosen by hand" if role in chosen else "by its heading"
        )
    if "time" not in found:
        raise InputError(
            where, None, "has no column that could be the time", f"Choose with columns={{'time': ...}} among {listed}."
        )
    if "speed" not in found and not {"latitude", "longitude"} <= found.keys():
        raise InputError(
            where,
            None,
            "has no column that could be the speed",
            f"Choose with columns={{'speed': ...}} among {listed}.",
        )
    return found


def _taken(shape: Shape, chosen: Mapping[str, str]) -> set[int]:
    return {k for k, name in enumerate(shape.header) if name in chosen.values()}


def _named(shape: Shape, name: object, role: str, listed: str) -> int:
    same = [k for k, known in enumerate(shape.header) if known == name]
    if len(same) == 1:
        return same[0]
    problem = "names more than one column" if same else "is not a column of this file"
    raise InputError(f"columns.{role}", name, problem, f"The columns are {listed}.")


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
    scale = None if own is None else float(quantity(1.0, _KINDS[role], own, f"units.{role}"))
    return Column(role=role, index=index, name=name, unit=own, scale=scale, why=why)
