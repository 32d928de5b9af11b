"""Two set-ups side by side: every figure of both with its change; before that what other tires do and another tune gains."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from ridesim.answers.answer import Answer, Change, changed
from ridesim.answers.chain import chain
from ridesim.answers.cruising import cruising
from ridesim.answers.front_wheel import front_wheel
from ridesim.answers.front_wheel.lift import front_lift
from ridesim.answers.pull import climbing, power, pull
from ridesim.answers.solved import Solved
from ridesim.answers.speeds import speeds
from ridesim.answers.standing_run import standing_run
from ridesim.answers.tires import tires
from ridesim.answers.tires.swap import tire_swap
from ridesim.answers.tune_gain import tune_gain
from ridesim.bike import Bike
from ridesim.buildfile.differing import differing
from ridesim.mechanics.setups import Ride
from ridesim.units import in_both

if TYPE_CHECKING:
    from pandas import DataFrame

TWO_BIKES = (
    "the two files are taken for two bikes, whose tolerances have nothing in common; where they are one bike, --same-bike lets "
    "what is written alike in both move both"
)
MOST_NAMED = 8  # other entries of two build files
TOLD_BY = {
    "all-up mass": ("masses.",),
    "final drive": ("final_drive.kind", "final_drive.ratio"),
}  # what is told -> its keys
QUESTIONS: tuple[Callable[[Solved], Answer], ...] = (
    speeds,
    cruising,
    power,
    pull,
    climbing,
    front_lift,
    front_wheel,
    standing_run,
    tires,
    chain,
)


def everything(solved: Solved) -> tuple[Answer, ...]:
    """Every answer of one bike, in the order of QUESTIONS; `Solved` is worked out once for all of them."""
    return tuple(ask(solved) for ask in QUESTIONS)


@dataclass(frozen=True, kw_only=True)
class Pair:
    """One question answered twice: for what is now and for what is planned, and the change of every figure that both
    have.

    A figure that only one of the two has, such as the engine speed with growth and slip, is in its answer and has
    no change.
    """

    question: str
    now: Answer
    planned: Answer
    changes: tuple[Change, ...]


@dataclass(frozen=True, kw_only=True)
class Comparison:
    """Two set-ups, question by question.

    Parameters
    ----------
    now_name, planned_name : str
        Name, sprockets, rear tire and tune of each.
    differs : tuple of str
        What differs, "front sprocket: 14 -> 15".
    tires, tune : Answer or None
        What other tires do and what another tune gains; None where both wear, or run, the same.
    pairs : tuple of Pair
        One for each of QUESTIONS.
    assumptions : tuple of str
        That two files are taken for two bikes, where they are.
    """

    now_name: str
    planned_name: str
    differs: tuple[str, ...]
    tires: Answer | None
    tune: Answer | None
    pairs: tuple[Pair, ...]
    assumptions: tuple[str, ...]

    @property
    def swaps(self) -> tuple[Answer, ...]:
        """What tires and tune do, those of the two answers that there are."""
        return tuple(answer for answer in (self.tires, self.tune) if answer is not None)

    def __str__(self) -> str:
        return "\n".join(map(str, self.swaps)) or f"{'; '.join(self.differs) or 'The two do not differ'}."

    def __repr__(self) -> str:
        return f"Comparison({'; '.join(self.differs) or 'no difference'})"

    def to_frame(self, units: str = "metric") -> DataFrame:
        """Every figure now, planned and its change as a pandas frame: see `ridesim.answers.frames.comparison_frame`."""
        from ridesim.answers.frames import comparison_frame

        return comparison_frame(self, units)


def compare(now: Solved, planned: Solved) -> Comparison:
    """Every answer of both, and every figure's change; `ridesim.compare` has the worked example.

    Parameters
    ----------
    now, planned : Solved
        On one road. What is uncertain about one bike moves both where the second was made from the first
        (`with_changes`); two builds read from two files share nothing, and an assumption says so.

    Returns
    -------
    Comparison
    """
    a, b = now.bike, planned.bike
    markings = [(bike.rear_tire.marking, bike.front_tire.marking) for bike in (a, b)]
    tunes = [(bike.tune, bike.record.tune[bike.tune].points) for bike in (a, b)]
    return Comparison(
        now_name=label(now),
        planned_name=label(planned),
        differs=differences(now, planned),
        tires=tire_swap(now, planned) if markings[0] != markings[1] else None,
        tune=tune_gain(now, planned) if tunes[0] != tunes[1] else None,
        pairs=tuple(pair(ask, now, planned) for ask in QUESTIONS),
        assumptions=() if a.build.bike == b.build.bike else (TWO_BIKES,),
    )


def pair(ask: Callable[[Solved], Answer], now: Solved, planned: Solved) -> Pair:
    """One question of QUESTIONS asked of both, with the changes of the figures that both have.

    The head wind and the grade of the coast single that a rear sprocket of two teeth more would hold:

    >>> import ridesim as rs
    >>> bike = rs.demo("coast-single")
    >>> found = pair(cruising, *(rs.answers.solve(one, bands=False) for one in (bike, bike.with_changes(rear=43))))
    >>> {one.now.key: round(one.change, 4) for one in found.changes if one.now.key in ("grade_held", "headwind_held")}
    {'grade_held': 0.0083, 'headwind_held': 0.6728}
    """
    a, b = ask(now), ask(planned)
    changes = tuple(changed(figure, b.figures[key]) for key, figure in a.figures.items() if key in b.figures)
    return Pair(question=a.question, now=a, planned=b, changes=changes)


def label(solved: Solved) -> str:
    """Name, sprockets, rear tire and tune in one line.

    >>> import ridesim as rs
    >>> label(rs.answers.solve(rs.demo("coast-single"), bands=False))
    'Coast single (invented), 14/41, 120/90-17 M/C 64S, stock'
    """
    b = solved.bike
    return f"{b.name}, {b.drive}, {b.rear_tire.marking.written}, {b.tune}"


def differences(now: Solved, planned: Solved) -> tuple[str, ...]:
    """What differs between two set-ups, in words: bike, final drive, tires, tune, all-up mass, road, and whatever else of
    their build files moves a figure, by its key; where that is more than MOST_NAMED, how much it is.

    >>> import ridesim as rs
    >>> bike = rs.demo("coast-single")
    >>> differences(*(rs.answers.solve(one, bands=False) for one in (bike, bike.with_changes(rear=43, luggage="16 kg"))))
    ('rear sprocket: 41 -> 43', 'all-up mass: 257 kg (567 lb) -> 267 kg (589 lb)')
    """
    a, b = now.bike, planned.bike
    own = (
        ("bike", a.name, b.name),
        *_drives(a, b),
        ("rear tire", a.rear_tire.marking.written, b.rear_tire.marking.written),
        ("front tire", a.front_tire.marking.written, b.front_tire.marking.written),
        ("tune", a.tune, b.tune),
        ("all-up mass", in_both("mass", a.setups.mass_kg[0]), in_both("mass", b.setups.mass_kg[0])),
        *_roads(now.ride, planned.ride),
    )
    told = {what: f"{what}: {x} -> {y}" for what, x, y in own if x != y}
    known = tuple(begins for what in told for begins in TOLD_BY.get(what, ()))
    others = [words for path, words in _of_the_files(a, b) if not path.startswith(known)]
    if len(others) > MOST_NAMED:
        others = [f"{len(others)} other entries of the build file differ"]
    return (*told.values(), *others)


def _of_the_files(a: Bike, b: Bike) -> Iterator[tuple[str, str]]:
    """What differs in the build files and is not seen from outside."""
    for path, words in differing(a.record, b.record, a.tune if a.tune == b.tune else None):
        if path not in ("final_drive.front", "final_drive.rear", "tires.rear.size", "tires.front.size"):
            yield path, words
    ours, theirs = (bike.record.evidence if bike.build.posterior else () for bike in (a, b))
    if ours != theirs:
        yield "evidence", "the readings differ"


def _roads(now: Ride, planned: Ride) -> Iterator[tuple[str, str, str]]:
    yield "cruising speed", in_both("speed", now.cruise_m_s), in_both("speed", planned.cruise_m_s)
    yield "head wind", in_both("speed", now.headwind_m_s), in_both("speed", planned.headwind_m_s)
    yield "grade", in_both("percent", np.tan(now.slope_rad)), in_both("percent", np.tan(planned.slope_rad))


def _drives(a: Bike, b: Bike) -> tuple[tuple[str, object, object], ...]:
    if a.teeth is None or b.teeth is None:
        return (("final drive", a.drive, b.drive),)
    return ("front sprocket", a.teeth[0], b.teeth[0]), ("rear sprocket", a.teeth[1], b.teeth[1])
