"""Which mark parts the decimals of a column, and which stands between its thousands."""

from __future__ import annotations

import re
from collections import Counter
from collections.abc import Mapping, Sequence

import numpy as np

from ridesim.logs.reading.shape import ColumnOf, Shape, unit_of_cell
from ridesim.logs.reading.stamps import FASTEST_S, SLOWEST_S, UNIT_S

GROUPS = {mark: re.compile(rf"[+-]?[1-9]\d{{0,2}}(?:{re.escape(mark)}\d{{3}})+") for mark in ",."}
_RANGES = {"speed": (0.0, 200.0), "engine speed": (20.0, 3200.0), "elevation": (-500.0, 9500.0)}  # SI, of the median


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
