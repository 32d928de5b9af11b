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


def _known(reading: str) -> None:
    if reading not in READINGS and reading not in COUNTED:
        raise ValueError(f"no reading {reading!r}")


@dataclass(frozen=True)
class Figure:
    """One number of an answer, in SI, with the range its inputs leave open.

    Parameters
    ----------
    key : str
        By which an answer's `figures` and the JSON know it.
    label : str
        What it is called where it is read.
    value : number, str, bool or None
        In SI; None where the thing does not happen.
    reading : str
        How it is shown: a key of units.READINGS, or one of units.COUNTED. ValueError for any other.
    low, high : float, optional
        Ends of its band, a 90 % range; None where no input that matters carries a tolerance.
    better : int
        1 when more is better, -1 when less is, 0 when neither.
    moves : mapping of Source to (up, down), or None
        For every source of an error, how far the figure moves when that error alone goes to the upper and to the
        lower end of its tolerance; None where at an end the thing does not happen. Figures move together where they
        share a source.

    Examples
    --------
    >>> import ridesim as rs
    >>> top = rs.standing_run(rs.demo("coast-single")).figures["top"]
    >>> [round(3.6 * one, 1) for one in (top.low, top.value, top.high)], len(top.moves)  # [km/h]
    ([121.5, 125.3, 129.2], 11)
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
        _known(self.reading)


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
    """A column of an answer's table: the key in its rows, its heading, and how its SI figures are shown.
    ValueError for a reading that there is not.
    """

    key: str
    label: str
    reading: str

    def __post_init__(self) -> None:
        _known(self.reading)


@dataclass(frozen=True, kw_only=True)
class Table:
    """Rows of SI figures under columns; a cell is None where the thing does not happen.

    Rows may hold more than the columns show. `table_of` makes one from its columns, `Answer.to_frame` a frame of
    one.
    """

    title: str
    columns: tuple[Column, ...]
    rows: tuple[Mapping[str, Any], ...]


@dataclass(frozen=True)
class ValueOf:
    """The value of a figure, by its key, where it stands in a sentence.

    size leaves out its sign, where the words tell the direction; band says its range instead.

    >>> shift = Figure("shift", "Axle moves by", -0.012, "small length", low=-0.014, high=-0.010)
    >>> say = ("Forward by ", ValueOf("shift", size=True), ", within ", ValueOf("shift", band=True), ".")
    >>> print(Answer(question="Where does the axle go?", say=say, figures=Figures(shift)))
    Forward by 12.0 mm, within −14.0 to −10.0 mm.
    """

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

    Parameters
    ----------
    question : str
    say : tuple of str and ValueOf
        A sentence in pieces, so that the terminal, the page and the printed sheet can put it in metric or US units.
        No text is ever searched for places to fill in: a rider may call a tune "{power}".
    figures : Figures
        By key, SI.
    tables : tuple of Table
    series : mapping
        The arrays a chart draws, SI; their shapes stand with each question.
    assumptions, notes : tuple of str
        Assumption where a key of the build file would settle one, Note where it is about one thing; each is told
        once.
    steps : tuple of Step
        The working, with the numbers of this bike.
    cautions : tuple of str

    Examples
    --------
    `str` gives the sentence in metric units, `ridesim.answers.text.sentence` in either:

    >>> say = ("Fifth turns ", ValueOf("cruise_rpm"), ".")
    >>> turns = Figure("cruise_rpm", "Engine speed", 500.0, "engine speed")
    >>> one = Answer(question="Speed?", say=say, figures=Figures(turns))
    >>> print(one, repr(one))
    Fifth turns 4,775 rev/min. Answer('Speed?', Figures(cruise_rpm))
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
        """A table of the answer, or its figures, as a pandas frame: see `ridesim.answers.frames.answer_frame`.

        >>> import ridesim as rs
        >>> run = rs.standing_run(rs.demo("coast-single"))
        >>> run.to_frame(units="us", table="figures").loc["top", ["Low", "High"]].astype(float).round(1).tolist()
        [75.5, 80.3]
        """
        from ridesim.answers.frames import answer_frame

        return answer_frame(self, units, table)


@dataclass(frozen=True, kw_only=True)
class Change:
    """One figure now and as planned; change is planned less now, None where either does not happen or is no number.

    low and high are the band of the change itself: an error that both set-ups share moves both, and mostly cancels.
    They are without end where the tolerances reach to where the thing does not happen, and None where nothing
    carries a tolerance.

    A mass that moves one time by 0.3 s and the other by 0.2 s leaves 0.1 s of the change open:

    >>> def time(t, up): return Figure("t", "0 to 100 km/h", t, "time", better=-1, moves={"mass": (up, -up)})
    >>> one = changed(time(9.0, 0.3), time(8.5, 0.2))
    >>> one.change, round(one.low, 2), round(one.high, 2), one.moved, one.certain, one.better
    (-0.5, -0.6, -0.4, True, True, True)
    """

    now: Figure
    planned: Figure
    change: float | None
    low: float | None = None
    high: float | None = None

    @property
    def moved(self) -> bool:
        """Whether there is a change at all: more than what is left by rounding, 1e-9 of the larger figure."""
        if self.change is None:
            return False
        return abs(self.change) > ROUNDING * max(abs(float(one.value or 0.0)) for one in (self.now, self.planned))

    @property
    def certain(self) -> bool | None:
        """Whether the change is larger than what the inputs leave open, its band without zero; None where there is
        none, or no band.
        """
        if not self.moved or self.low is None or self.high is None:
            return None
        return self.low > 0.0 or self.high < 0.0

    @property
    def better(self) -> bool | None:
        """Whether the change is for the better, by `Figure.better`; None where it is neither, or there is no change."""
        if not self.moved or self.change is None or self.now.better == 0:
            return None
        return (self.change > 0) == (self.now.better > 0)


def changed(now: Figure, planned: Figure) -> Change:
    """The change of one figure, with its band:  d = p - n, and the band is the quadrature of each source's move of p
    less that of n.

    Parameters
    ----------
    now, planned : Figure
        The same figure of two set-ups; a source that only one has counts in full.

    Returns
    -------
    Change
        Without a number where either is None, a text or a truth.

    Examples
    --------
    A tooth more in front takes 325 rev/min off the coast single's engine. Both roll on the same tire, so that 6 mm of
    roll-out leave 1 rev/min of that open, and 15 of the engine speed itself:

    >>> import ridesim as rs
    >>> bike = rs.demo("coast-single")
    >>> now, planned = (rs.speeds(one).figures["cruise_rpm"] for one in (bike, bike.with_changes(front=15)))
    >>> one = changed(now, planned)
    >>> [round(float(w) * 60 / (2 * np.pi)) for w in (one.low, one.change, one.high, now.high - now.value)]
    [-326, -325, -324, 15]
    """
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
