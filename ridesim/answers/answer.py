"""What every answer carries: a sentence, figures with their bands, rows, assumptions, steps, notes and cautions."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass, field
from typing import TYPE_CHECKING, Any

import numpy as np

from ridesim.errors import did_you_mean
from ridesim.statements import Assumption, Note, distinct
from ridesim.uncertainty.tolerances import Source, quadrature
from ridesim.units import COUNTED, READINGS

if TYPE_CHECKING:
    from pandas import DataFrame


Moves = Mapping[Source, tuple[float, float]]
ROUNDING = 1e-9  # of a figure: a change below it is none


@dataclass(frozen=True)
class Figure:
    """One number of an answer, in SI, with the range its inputs leave open.

    reading names how it is shown (a key of units.READINGS, or one of units.COUNTED); value is None where the thing does not
    happen; low and high are None where no input that matters carries a tolerance. better is +1 when more is better, -1
    when less is, 0 when neither. moves tells, for every source of an error, how far the figure moves when that error alone
    goes to either end of its tolerance; None where at an end the thing does not happen. Figures move together where they
    share a source.
    """

    key: str
    label: str
    value: float | int | str | bool | None
    reading: str
    low: float | None = None
    high: float | None = None
    better: int = 0
    moves: Mapping[Source, tuple[float, float]] | None = field(default_factory=dict, repr=False)

    def __post_init__(self) -> None:
        if self.reading not in READINGS and self.reading not in COUNTED:
            raise ValueError(f"no reading {self.reading!r}")


@dataclass(frozen=True)
class Step:
    """One step of the working: the formula, the same with its numbers, the result, and where it comes from."""

    formula: str
    numbers: str
    result: str
    source: str = ""

    def __str__(self) -> str:
        return f"{self.formula} = {self.numbers} = {self.result}" + (f"   [{self.source}]" if self.source else "")


@dataclass(frozen=True)
class Column:
    """A column of an answer's table: the key in its rows, its heading, and how its SI figures are shown."""

    key: str
    label: str
    reading: str

    def __post_init__(self) -> None:
        if self.reading not in READINGS and self.reading not in COUNTED:
            raise ValueError(f"no reading {self.reading!r}")


@dataclass(frozen=True, kw_only=True)
class Table:
    """Rows of SI figures under columns; a cell is None where the thing does not happen."""

    title: str
    columns: tuple[Column, ...]
    rows: tuple[Mapping[str, Any], ...]


@dataclass(frozen=True)
class ValueOf:
    """The value of a figure, by its key, where it stands in a sentence; size leaves out its sign, where the words tell the direction;
    band says its range instead."""

    key: str
    size: bool = False
    band: bool = False


# A sentence in pieces: text as it stands, whoever wrote it, and figures that are put in metric or US units when it is said.
Sentence = tuple[str | ValueOf, ...]


class Figures(Mapping[str, Figure]):
    """The figures of an answer by their keys, in the order they are read.

    >>> some = Figures(Figure(key="top_speed", label="Top speed", value=34.0, reading="speed"))
    >>> some["top_speed"].value, some
    (34.0, Figures(top_speed))
    >>> some["topspeed"]
    Traceback (most recent call last):
    KeyError: "no figure 'topspeed'. Did you mean 'top_speed'?"
    """

    def __init__(self, *figures: Figure) -> None:
        self._by_key = {one.key: one for one in figures}

    def __getitem__(self, key: str) -> Figure:
        if key not in self._by_key:
            raise KeyError(f"no figure {key!r}. {did_you_mean(key, self._by_key)}")
        return self._by_key[key]

    def __iter__(self) -> Iterator[str]:
        return iter(self._by_key)

    def __len__(self) -> int:
        return len(self._by_key)

    def __contains__(self, key: object) -> bool:
        return key in self._by_key

    def __repr__(self) -> str:
        return f"Figures({', '.join(self._by_key)})"


@dataclass(frozen=True, kw_only=True, repr=False)
class Answer:
    """The answer to one question about one bike.

    `say` is a sentence in pieces, so that the terminal, the page and the printed sheet can put it in metric or US units:
    ("Fifth turns ", ValueOf("cruise_rpm"), " at ", ValueOf("speed"), "."). No text is ever searched for places to fill in: a
    rider may call a tune "{power}". `series` holds the arrays a chart draws, in SI.
    """

    question: str
    say: Sentence
    figures: Figures
    tables: tuple[Table, ...] = ()
    series: Mapping[str, Any] = field(default_factory=dict)
    assumptions: tuple[str, ...] = ()
    steps: tuple[Step | str, ...] = ()
    notes: tuple[str, ...] = ()
    cautions: tuple[str, ...] = ()

    def __post_init__(self) -> None:
        object.__setattr__(self, "assumptions", distinct(Assumption, self.assumptions))
        object.__setattr__(self, "notes", distinct(Note, self.notes))

    def __str__(self) -> str:
        from ridesim.answers.text import sentence

        return sentence(self)

    def __repr__(self) -> str:
        return f"Answer({self.question!r}, {self.figures!r})"

    def as_object(self) -> dict[str, Any]:
        """The answer for JSON, in SI: its sentence, its figures by key, its tables, and what stands behind them.

        >>> flow = Figure("flow", "Fuel", 1.1, "ratio")
        >>> Answer(question="How much?", say=("More.",), figures=Figures(flow)).as_object()["figures"]["flow"]["value"]
        1.1
        """
        return {
            "question": self.question,
            "sentence": str(self),
            "figures": {
                key: {name: getattr(one, name) for name in ("label", "value", "low", "high", "reading")}
                for key, one in self.figures.items()
            },
            "tables": [{"title": one.title, "rows": one.rows} for one in self.tables],
            "assumptions": self.assumptions,
            "notes": self.notes,
            "steps": [str(step) for step in self.steps],
            "cautions": self.cautions,
        }

    def to_frame(self, units: str = "metric", table: str | int | None = None) -> DataFrame:
        """A table of the answer, or its figures, as a pandas frame: see `ridesim.answers.frames.answer_frame`."""
        from ridesim.answers.frames import answer_frame

        return answer_frame(self, units, table)


@dataclass(frozen=True, kw_only=True)
class Change:
    """One figure now and as planned; change is None where either does not happen or is no number.

    low and high are the band of the change itself: an error that both set-ups share moves both, and mostly cancels. They are
    without end where the tolerances reach to where the thing does not happen, and None where nothing carries a tolerance.
    """

    now: Figure
    planned: Figure
    change: float | None
    low: float | None = None
    high: float | None = None

    @property
    def moved(self) -> bool:
        """Whether there is a change at all: more than what is left by rounding."""
        if self.change is None:
            return False
        return abs(self.change) > ROUNDING * max(abs(float(one.value or 0.0)) for one in (self.now, self.planned))

    @property
    def certain(self) -> bool | None:
        """Whether the change is larger than what the inputs leave open; None where there is none, or no band."""
        if not self.moved or self.low is None or self.high is None:
            return None
        return self.low > 0.0 or self.high < 0.0

    @property
    def better(self) -> bool | None:
        """Whether the change is for the better, None when it is neither."""
        if not self.moved or self.change is None or self.now.better == 0:
            return None
        return (self.change > 0) == (self.now.better > 0)


def changed(now: Figure, planned: Figure) -> Change:
    """The change of one figure, with its band."""
    if not all(isinstance(f.value, int | float) and not isinstance(f.value, bool) for f in (now, planned)):
        return Change(now=now, planned=planned, change=None)
    difference = float(planned.value) - float(now.value)  # type: ignore[arg-type]
    if now.moves is None or planned.moves is None:
        return Change(now=now, planned=planned, change=difference, low=-np.inf, high=np.inf)
    moves = {
        source: (theirs[0] - ours[0], theirs[1] - ours[1])
        for source, ours, theirs in side_by_side(now.moves, planned.moves)
    }
    if not moves:
        return Change(now=now, planned=planned, change=difference)
    down, up = quadrature(moves)
    return Change(now=now, planned=planned, change=difference, low=difference + down, high=difference + up)


def side_by_side(now: Moves, planned: Moves) -> Iterator[tuple[Source, tuple[float, float], tuple[float, float]]]:
    """Every source of an error with what it does to both; in one order, or sums would differ in their last digit."""
    for source in dict.fromkeys((*now, *planned)):
        yield source, now.get(source, (0.0, 0.0)), planned.get(source, (0.0, 0.0))


def plain(value: Any) -> Any:
    """A NumPy figure as a Python one, nan and inf as None.

    >>> import numpy as np
    >>> plain(np.float64(2.5)), plain(np.float64("nan")), plain(np.bool_(True)), plain(np.int64(3))
    (2.5, None, True, 3)
    """
    import math

    if hasattr(value, "item"):
        value = value.item()
    return None if isinstance(value, float) and not math.isfinite(value) else value


def rows_of(columns: Mapping[str, Iterable[Any]]) -> tuple[dict[str, Any], ...]:
    """Columns of equal length as rows of plain figures.

    >>> rows_of({"gear": [1, 2], "v": [10.0, float("nan")]})
    ({'gear': 1, 'v': 10.0}, {'gear': 2, 'v': None})
    """
    cells = zip(*columns.values(), strict=True)
    return tuple(dict(zip(columns, map(plain, row), strict=True)) for row in cells)


def table_of(title: str, *columns: tuple[str, str, str, Iterable[Any]]) -> Table:
    """A table from its columns: the key, the heading and the reading of each, and its cells from top to bottom.

    Parameters
    ----------
    title : str
    columns : (key, heading, reading, cells)
        Cells in SI, as many in each column; what is no number becomes None.

    Examples
    --------
    >>> table_of("Gears", ("gear", "Gear", "gear", [1, 2]), ("v", "Speed", "speed", [10.0, float("nan")])).rows
    ({'gear': 1, 'v': 10.0}, {'gear': 2, 'v': None})
    """
    return Table(
        title=title,
        columns=tuple(Column(key, label, reading) for key, label, reading, _ in columns),
        rows=rows_of({key: cells for key, *_, cells in columns}),
    )


def table_from(title: str, rows: Iterable[Mapping[str, Any]], *columns: tuple[str, str, str]) -> Table:
    """A table of rows that stand already, which may hold more than is shown: the key, the heading and the reading of each column.

    >>> table_from("Gears", [{"gear": 1, "v": 10.0}], ("v", "Speed", "speed")).columns
    (Column(key='v', label='Speed', reading='speed'),)
    """
    return Table(title=title, columns=tuple(Column(*one) for one in columns), rows=tuple(rows))
