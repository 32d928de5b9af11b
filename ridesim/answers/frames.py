"""Answers as pandas frames: numbers in the units of a system, which stand in the names of the columns."""

from __future__ import annotations

from collections.abc import Iterable
from typing import TYPE_CHECKING, Any

from ridesim.answers.answer import Answer, Column, Figure, Table
from ridesim.answers.text import SYSTEMS, verdict
from ridesim.errors import InputError, did_you_mean
from ridesim.statements import in_units
from ridesim.units import COUNTED, shown_in, unit_of

if TYPE_CHECKING:
    from pandas import DataFrame

    from ridesim.answers.answer import Change
    from ridesim.answers.compare import Comparison

FIGURES = "figures"


def converted(value: Any, reading: str, system: str) -> Any:
    """An SI figure as a number in the unit it is read in, not rounded; text, counts and None stay.

    >>> round(converted(10.0, "speed", "metric"), 6), converted(None, "speed", "us"), converted(15, "teeth", "us")
    (36.0, None, 15)
    """
    if value is None or reading in COUNTED:
        return in_units(value, system) if isinstance(value, str) else value
    return float(shown_in(value, reading, system)[0])


def answer_frame(answer: Answer, units: str = "metric", table: str | int | None = None) -> DataFrame:
    """A table of an answer as a frame, or its figures.

    Parameters
    ----------
    answer : Answer
    units : str
        "metric" or "us".
    table : str or int, optional
        The title of a table or its place, counted from 0; "figures" for the figures, one a row. The first table
        unless given; the figures where the answer has none.

    Returns
    -------
    DataFrame
        Unrounded, a unit in the name of each column; NaN where a thing does not happen.

    Raises
    ------
    InputError
        A system of units or a table that there is not.

    Examples
    --------
    >>> import ridesim as rs
    >>> lift = rs.front_lift(rs.demo("coast-single"))
    >>> lift.to_frame(table="What comes first on each surface")["Fifth"].unique().tolist()
    ['either, front from 0.80 to 0.87', 'rear spins']
    >>> lift.to_frame(table="Surfaces")
    Traceback (most recent call last):
    ridesim.errors.InputError: table = 'Surfaces': is not a table of this answer. Known here: Lift by gear, What comes first on each surface, figures.
    """
    system_of(units)
    titles = [one.title for one in answer.tables]
    if table is None:
        table = 0 if titles else FIGURES
    if table == FIGURES:
        return _figures(answer.figures.values(), units)
    if table in titles:
        table = titles.index(str(table))
    if isinstance(table, bool) or not isinstance(table, int) or not 0 <= table < len(titles):
        raise InputError("table", table, "is not a table of this answer", did_you_mean(table, (*titles, FIGURES)))
    return table_frame(answer.tables[table], units)


def table_frame(table: Table, system: str) -> DataFrame:
    """Rows under columns that are named with their units, in "metric" or "us".

    >>> from ridesim.answers.answer import table_of
    >>> one = table_of("Gears", ("gear", "Gear", "gear", [1, 2]), ("v", "Speed", "speed", [10.0, float("nan")]))
    >>> table_frame(one, "us").round(1).to_dict("list")
    {'Gear': [1, 2], 'Speed [mph]': [22.4, nan]}
    """
    import pandas as pd

    system_of(system)
    names = _names(table.columns, system)
    columns = {
        name: [converted(row.get(column.key), column.reading, system) for row in table.rows]
        for name, column in zip(names, table.columns, strict=True)
    }
    return pd.DataFrame(columns)


def _names(columns: Iterable[Column], system: str) -> list[str]:
    """The heading of every column with its unit; where two are headed alike the later one is told apart by its key."""
    names: list[str] = []
    for column in columns:
        unit = unit_of(column.reading, system)
        tail = f" [{unit}]" if unit else ""
        label = in_units(column.label, system)
        name = label + tail
        names.append(f"{label} ({column.key}){tail}" if name in names else name)
    return names


def _figures(figures: Iterable[Figure], system: str) -> DataFrame:
    """A figure a row, by its key: what it is, its value and band, and the unit they are in."""
    import pandas as pd

    rows = []
    for figure in figures:
        low, high = _band(figure.low, figure.high, figure.reading, system)
        value = converted(figure.value, figure.reading, system)
        rows.append((figure.label, value, low, high, unit_of(figure.reading, system)))
    index = pd.Index([figure.key for figure in figures], name="key")
    return pd.DataFrame(rows, index=index, columns=["Figure", "Value", "Low", "High", "Unit"])


def _band(low: float | None, high: float | None, reading: str, system: str) -> tuple[Any, Any]:
    ends = [converted(end, reading, system) for end in (low, high)]
    return (ends[1], ends[0]) if None not in ends and ends[0] > ends[1] else (ends[0], ends[1])


def comparison_frame(comparison: Comparison, units: str = "metric") -> DataFrame:
    """Every figure of a comparison, by question and key: now, planned, the change with its band, and what is to be
    said of it.

    Parameters
    ----------
    comparison : Comparison
    units : str
        "metric" or "us". A band of a change in miles per gallon is NaN: those are reciprocals.

    Raises
    ------
    InputError
        A system of units that there is not.

    The worked example stands with `ridesim.compare`.
    """
    import pandas as pd

    system_of(units)
    rows, index = [], []
    for pair in comparison.pairs:
        for change in pair.changes:
            now = change.now
            index.append((pair.question, now.key))
            rows.append((now.label, *_changed(change, units), verdict(change), unit_of(now.reading, units)))
    columns = ["Figure", "Now", "Planned", "Change", "Change low", "Change high", "Verdict", "Unit"]
    return pd.DataFrame(rows, index=pd.MultiIndex.from_tuples(index, names=["question", "key"]), columns=columns)


def _changed(change: Change, system: str) -> tuple[Any, ...]:
    """Both values, the change and its band; there is no band of a change in miles per gallon, which are reciprocals."""
    reading = change.now.reading
    now, planned = (converted(one.value, reading, system) for one in (change.now, change.planned))
    if change.change is None:
        return now, planned, None, None, None
    if change.low is None or change.high is None or unit_of(reading, system) == "mpg":
        return now, planned, planned - now, None, None
    start = float(change.now.value or 0.0)
    low, high = (converted(start + end, reading, system) - now for end in (change.low, change.high))
    return now, planned, planned - now, low, high


def system_of(units: str) -> str:
    """ "metric" or "us"; InputError for anything else.

    >>> system_of("imperial")
    Traceback (most recent call last):
    ridesim.errors.InputError: units = 'imperial': is not a system of units known here. Known here: metric, us.
    """
    if units not in SYSTEMS:
        raise InputError("units", units, "is not a system of units known here", did_you_mean(units, SYSTEMS))
    return units
