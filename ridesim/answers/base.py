"""What every answer carries: a sentence, figures with their bands, rows, assumptions, steps, notes and cautions."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from typing import TYPE_CHECKING, Any

from ridesim.uncertainty.tolerances import Source
from ridesim.units import COUNTED, READINGS

if TYPE_CHECKING:
    from pandas import DataFrame


@dataclass(frozen=True, kw_only=True)
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
    moves: Mapping[Source, tuple[float, float]] | None = field(default_factory=dict)

    def __post_init__(self) -> None:
        if self.reading not in READINGS and self.reading not in COUNTED:
            raise ValueError(f"no reading {self.reading!r}")


@dataclass(frozen=True, kw_only=True)
class Step:
    """One step of the working: the formula, the same with its numbers, the result, and where it comes from."""

    formula: str
    numbers: str
    result: str
    source: str = ""

    def __str__(self) -> str:
        return f"{self.formula} = {self.numbers} = {self.result}" + (f"   [{self.source}]" if self.source else "")


@dataclass(frozen=True, kw_only=True)
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
    """The value of a figure, by its key, where it stands in a sentence; size leaves out its sign, where the words tell the direction."""

    key: str
    size: bool = False


# A sentence in pieces: text as it stands, whoever wrote it, and figures that are put in metric or US units when it is said.
Sentence = tuple[str | ValueOf, ...]


@dataclass(frozen=True, kw_only=True)
class Answer:
    """The answer to one question about one bike.

    `say` is a sentence in pieces, so that the terminal, the page and the printed sheet can put it in metric or US units:
    ("Fifth turns ", ValueOf("cruise_rpm"), " at ", ValueOf("speed"), "."). No text is ever searched for places to fill in: a
    rider may call a tune "{power}". `series` holds the arrays a chart draws, in SI.
    """

    question: str
    say: Sentence
    figures: tuple[Figure, ...]
    tables: tuple[Table, ...] = ()
    series: Mapping[str, Any] = field(default_factory=dict)
    assumptions: tuple[str, ...] = ()
    steps: tuple[Step, ...] = ()
    notes: tuple[str, ...] = ()
    cautions: tuple[str, ...] = ()

    def figure(self, key: str) -> Figure:
        """The figure with a key."""
        for one in self.figures:
            if one.key == key:
                return one
        raise KeyError(key)

    def to_frame(self, units: str = "metric", table: str | int | None = None) -> DataFrame:
        """A table of the answer, or its figures, as a pandas frame: see `ridesim.answers.frames.answer_frame`."""
        from ridesim.answers.frames import answer_frame

        return answer_frame(self, units, table)


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


def rows_of(columns: Mapping[str, Sequence[Any]]) -> tuple[dict[str, Any], ...]:
    """Columns of equal length as rows of plain figures.

    >>> rows_of({"gear": [1, 2], "v": [10.0, float("nan")]})
    ({'gear': 1, 'v': 10.0}, {'gear': 2, 'v': None})
    """
    return tuple(
        dict(zip(columns, (plain(v) for v in cells), strict=True)) for cells in zip(*columns.values(), strict=True)
    )
