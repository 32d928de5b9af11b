"""Points of a power curve out of a CSV file, as a spreadsheet or a test bench writes it."""

from __future__ import annotations

import csv
import re
from dataclasses import dataclass
from io import StringIO
from pathlib import Path

from ridesim.errors import InputError
from ridesim.files import decoded, read_plain
from ridesim.units import quantity

LARGEST = 1_000_000  # bytes
MOST_POINTS = 1000
_UNIT = re.compile(r"[\[(]([^\])]{1,40})[\])]")
_FIGURE = re.compile(r"[-+]?[.,]?\d+(?:[.,]\d*)?(?!\s*[\d.,/:^-])")  # which no date, time of day or 1/min begins with
_SPACED = re.compile(
    r"^\s*[0-9.]+[ \u00a0]+[0-9.,]+\s*$", re.MULTILINE
)  # "2000 33.5", and so the comma is a decimal sign
_KNOWN = {
    "rpm": "rev/min",
    "hp": "hp",
    "bhp": "hp",
    "ps": "PS",
    "kw": "kW",
    "nm": "N*m",
    "n m": "N*m",
    "n.m": "N*m",
    "lb-ft": "ft*lb",
    "lbft": "ft*lb",
    "ft-lb": "ft*lb",
}


@dataclass(frozen=True, kw_only=True)
class CurveSheet:
    """Points as written: engine speed in rev/min and the value in `unit`."""

    points: tuple[tuple[float, float], ...]
    unit: str


def read_curve_csv(path: str | Path, *, unit: str | None = None) -> CurveSheet:
    """The points of a CSV file: first column engine speed in rev/min, second torque or power.

    The delimiter may be a comma, semicolon, tab or spaces; but for the comma the decimals may be commas. A heading may name
    the unit ("power [hp]", "torque (N·m)"); otherwise `unit` must.

    Parameters
    ----------
    path : str or Path
        A file of at most LARGEST bytes and MOST_POINTS points.
    unit : str, optional
        That of the second column, such as "N*m" or "kW"; it outranks the heading.

    Returns
    -------
    CurveSheet

    Raises
    ------
    InputError
        With the line, when it cannot be read so.
    """
    source = Path(path)
    raw = read_plain(source, LARGEST, "A power curve is a few hundred lines; is this the right file?")
    return parse_curve(decoded(raw, str(path), "Save it as CSV (UTF-8)."), unit=unit, where=source.name)


def parse_curve(text: str, *, unit: str | None = None, where: str = "points") -> CurveSheet:
    """The points in CSV text, in what a spreadsheet copies (tabs) or typed with spaces; see read_curve_csv.

    >>> parse_curve("rpm;torque [N·m]\\n1900;27,0\\n2900;31,5\\n")
    CurveSheet(points=((1900.0, 27.0), (2900.0, 31.5)), unit='N*m')
    >>> parse_curve("1900  27,0\\n2900 31,5", unit="N*m").points
    ((1900.0, 27.0), (2900.0, 31.5))
    """
    delimiter = "\t" if "\t" in text else ";" if ";" in text else " " if _SPACED.search(text) else ","
    points: list[tuple[float, float]] = []
    headed: str | None = None
    try:
        lines = list(csv.reader(StringIO(text), delimiter=delimiter))
    except csv.Error as error:
        raise InputError(where, None, f"is not CSV ({error})", "Save it again as CSV.") from None
    for number, cells in enumerate(lines, start=1):
        cells = [cell.strip() for cell in cells if cell.strip()]
        if not cells:
            continue
        if len(cells) < 2:
            fix = "Each line needs engine speed and value."
            raise InputError(f"{where}, line {number}", " ".join(cells), "has fewer than two cells", fix)
        try:
            point = (_number(cells[0], delimiter), _number(cells[1], delimiter))
        except ValueError:
            if points or _is_row(cells, delimiter, headed):
                problem = "is not a pair of numbers"
                fix = "Write engine speed and value."
                raise InputError(f"{where}, line {number}", delimiter.join(cells[:2]), problem, fix) from None
            headed = headed or _unit_of(cells[1] if delimiter != " " else " ".join(cells[1:]))
            continue
        points.append(point)
        if len(points) > MOST_POINTS:
            raise InputError(
                where, None, f"has more than {MOST_POINTS} points", "Thin it out to a point each 50 rev/min."
            )
    if len(points) < 2:
        raise InputError(
            where, f"{len(points)} points", "must have two points or more", "Write engine speed and value on each line."
        )
    if (found := unit or headed) is None:
        fix = "Name the unit, such as N*m, kW or hp."
        raise InputError(where, None, "does not say whether it is torque or power, and in what unit", fix)
    return CurveSheet(points=tuple(points), unit=found)


def _is_row(cells: list[str], delimiter: str, headed: str | None) -> bool:
    """Whether cells that are no point are a row with a slip in it; else they stand above the points, as a heading does.

    >>> [_is_row(cells, ",", None) for cells in (["1000", "O2"], ["1OOO", "20"], ["1/min", "N m"], ["Bench", "2"])]
    [True, True, False, False]
    """
    speed, value = (bool(_FIGURE.match(cell)) for cell in cells[:2])
    try:
        _number(cells[0], delimiter)
    except ValueError:
        return value and (speed or headed is not None)
    return True


def _number(text: str, delimiter: str) -> float:
    plain = text.replace(",", ".") if delimiter != "," else text
    return float(quantity(plain, "ratio", "", "point"))


def _unit_of(heading: str) -> str | None:
    inside = _UNIT.search(heading)
    text = (inside[1] if inside else heading).replace("·", "*").strip()
    if text.lower() in _KNOWN:
        return _KNOWN[text.lower()]
    if inside and text:
        return text
    words = [w for w in re.split(r"[\s_]+", heading.lower()) if w in _KNOWN]
    return _KNOWN[words[-1]] if words else None
