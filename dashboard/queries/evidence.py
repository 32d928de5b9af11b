"""The door to what was measured on the bike: the readings of its build, what they change, and which to take next."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace
from functools import lru_cache
from typing import Any

from dashboard import queries
from dashboard.url_state import State
from ridesim.answers import Answer
from ridesim.bike import make_bike
from ridesim.buildfile.differing import label_of
from ridesim.buildfile.io import with_reading, without_reading
from ridesim.errors import InputError
from ridesim.evidence import FittedErrors, measure_next, report
from ridesim.evidence.answers import next_answer
from ridesim.evidence.next_reading import FIGURES, VERDICT
from ridesim.statements import in_units


def sentence_case(text: str) -> str:
    """With a capital first.

    >>> sentence_case("top speed")
    'Top speed'
    """
    return text[:1].upper() + text[1:]


@dataclass(frozen=True, kw_only=True)
class Learnt:
    """A figure of the build with its tolerance as written and with the readings, in words; moved and left as shares of it."""

    label: str
    before: str
    after: str
    shift: float
    width: float

    @property
    def taught(self) -> bool:
        """Whether a reading moved it or made it surer by anything that can be seen."""
        return self.width < 0.99 or abs(self.shift) > 0.01


def matters(system: str) -> dict[str, str]:
    """The figures that may matter to a rider, by their keys, in words."""
    figures = {key: sentence_case(in_units(label, system)) for key, (label, *_) in FIGURES.items()}
    return figures | {VERDICT: "The verdict on the sprockets"}


def fit(state: State) -> FittedErrors:
    """The readings of the open build, joined."""
    return queries.fitted(state.demo, state.own)


def learnt(state: State) -> tuple[Learnt, ...]:
    """Every figure with a tolerance, before and after; those that moved or narrowed most first."""
    rows = []
    for one in report.parameters(fit(state)):
        before, after = one.words(state.units)
        shift, width = ((one.after - one.before) / one.before_plus_minus, one.after_plus_minus / one.before_plus_minus)
        rows.append(Learnt(label=label_of(one.path), before=before, after=after, shift=shift, width=width))
    return tuple(sorted(rows, key=lambda row: row.width - abs(row.shift)))


def add(state: State, reading: Mapping[str, Any]) -> State:
    """The state with one more reading in its build; InputError where it will not do."""
    build = with_reading(queries.build(state), reading)
    make_bike(build)
    return replace(state, own=build.text)


def take_out(state: State, n: int) -> State:
    """The state without a reading of its build, counted from 0."""
    return replace(state, own=without_reading(queries.build(state), n).text)


@lru_cache(maxsize=16)
def worth_measuring(demo: str, own: str | None, figure: str, units: str) -> Answer:
    """A figure, and the readings that would narrow it."""
    return next_answer(measure_next(queries.build_of(demo, own), figure, units))


def choices(state: State) -> tuple[list[str], int]:
    """The tunes of the open build, and how many gears it has."""
    record = queries.build(state).record
    return list(record.tune), len(record.gearbox.gears)


def refusal(error: InputError) -> str:
    """Why there is nothing to measure next."""
    return queries.words(error) if error.where == "--for" else str(error)
