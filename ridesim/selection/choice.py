"""A choice: the columns of every combination held to the limits, and single combinations as views over them."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from functools import cached_property
from typing import Any

import numpy as np
from numpy.typing import NDArray

from ridesim.answers.answer import plain
from ridesim.answers.text import shown
from ridesim.buildfile.schema import LimitsSection
from ridesim.components.tire_marking import names_tire, parse_marking
from ridesim.errors import InputError
from ridesim.selection import words
from ridesim.selection.contract import answer, chain
from ridesim.selection.crossing import Crossing
from ridesim.selection.goals import DEFAULT_GOALS, GOALS, Goal, goal, unbeaten
from ridesim.selection.held import Fall, Held, hold, not_held, says, walking_engine_speed
from ridesim.selection.own_rides import high_engine_speed
from ridesim.statements import in_units

Array = NDArray[np.float64]


@dataclass(frozen=True, kw_only=True, eq=False)
class Choice:
    """Every candidate, in the order asked for, and what follows from them.

    crossing            the combinations with the kernel's figures
    goals               those that are traded against each other; the first orders the unbeaten
    figures             by the keys of GOALS, and of RIDE_GOALS where a ride is given, (N,), SI, nan where a thing does not happen
    held                which limits each row misses, and by how much
    best                those that nothing else beats in the goals, among those that meet every limit, or among all where none does
    walking_rad_s       the engine speed of the walking speed
    high_rad_s          above which the time of a ride counts

    >>> import ridesim as rs
    >>> from ridesim.selection import choose
    >>> found = choose(rs.demo("coast-single").build, fronts=(14, 15), rears=(41, 42))
    >>> [(one.front, one.rear) for one in found.candidates], [one.n for one in found.meeting]
    ([(14, 41), (14, 42), (15, 41), (15, 42)], [2, 3])
    >>> found.misses(0)
    'engine speed at the cruising speed 4,876 rev/min, limit 4,700 rev/min'
    >>> found.find(front=15, rear=42, rear_tire="120/90-17", tune="stock").n
    3
    """

    crossing: Crossing
    goals: tuple[Goal, ...]
    limits: LimitsSection
    figures: Mapping[str, Array]
    held: Held
    best: NDArray[np.bool_]
    walking_rad_s: float
    high_rad_s: float
    assumptions: tuple[str, ...]

    @property
    def name(self) -> str:
        return self.crossing.bikes.own.name

    @cached_property
    def candidates(self) -> tuple[Combination, ...]:
        return tuple(Combination(choice=self, n=n) for n in range(len(self.crossing)))

    @property
    def meeting(self) -> tuple[Combination, ...]:
        return tuple(self.candidates[n] for n in np.nonzero(self.held.meets)[0])

    @property
    def unbeaten(self) -> tuple[Combination, ...]:
        """Those nothing else beats, by rising first goal."""
        rows = np.nonzero(self.best)[0]
        values = self.figures[self.goals[0].key][rows]
        return tuple(self.candidates[n] for n in rows[np.argsort(values, kind="stable")])

    @cached_property
    def sentence(self) -> str:
        return words.sentence(self)

    @property
    def notes(self) -> tuple[str, ...]:
        return self.notes_in("metric")

    def notes_in(self, system: str) -> tuple[str, ...]:
        """What to know beside the choice, in metric or US units."""
        from ridesim.answers.chain import chain_place, no_chain_note
        from ridesim.answers.tires.motion import faster_note

        own, crossing = self.crossing.bikes.own, self.crossing
        unheld: tuple[str, ...] = () if own.has_chain else (no_chain_note(own),)
        if own.has_chain and crossing.chains is None:
            unheld = chain_place(own).notes
        of_rides = tuple(dict.fromkeys(note for one in crossing.replays for note in one.notes))
        no_ride = () if crossing.logs else not_held(self.limits)
        notes = (*crossing.bikes.notes, *of_rides, *unheld, *faster_note(own, crossing.ride), *no_ride)
        return tuple(in_units(note, system) for note in notes)

    def label(self, key: str, system: str = "metric") -> str:
        """What a figure is called; the time of a ride above an engine speed with that speed."""
        if key == "ride_time_above":
            return f"time above {shown(self.high_rad_s, 'engine speed', system)} on your ride"
        return goal(key).label_in(system)

    def falls(self, n: int, system: str = "metric") -> tuple[Fall, ...]:
        """The limits that row n misses, in words."""
        missed = zip(self.held.names, self.held.misses[:, n].tolist(), strict=True)
        told = ((name, says(self, name, n, system), miss) for name, miss in missed if not np.isnan(miss))
        return tuple(Fall(limit=name, says=text, miss=miss) for name, text, miss in told)

    def misses(self, n: int, system: str = "metric") -> str:
        """The same in one line."""
        return "; ".join(fall.says for fall in self.falls(n, system))

    def find(self, *, front: int, rear: int, rear_tire: str, tune: str) -> Combination | None:
        """The candidate with these parts, if it is among them."""
        crossing, bikes = self.crossing, self.crossing.bikes
        pairs = np.nonzero((crossing.fronts == front) & (crossing.rears == rear))[0]
        try:
            asked = parse_marking(rear_tire)
        except InputError:
            return None
        tires = [n for n, bike in enumerate(bikes.by_tire) if names_tire(asked, bike.rear_tire.marking)]
        if not pairs.size or not tires or tune not in bikes.tunes:
            return None
        rest = tires[0] * len(bikes.tunes) + bikes.tunes.index(tune)
        return Combination(choice=self, n=rest * len(crossing.fronts) + int(pairs[0]))


@dataclass(frozen=True, kw_only=True)
class Combination:
    """One combination of front, rear, rear tire and tune: row n of a choice, worked out where it is looked at.

    >>> import ridesim as rs
    >>> from ridesim.selection import choose
    >>> one = choose(rs.demo("coast-single").build, fronts=(14, 15), rears=(41, 42)).candidates[3]
    >>> one.front, one.rear, one.rear_tire, one.tune, one.meets_limits
    (15, 42, '120/90-17 M/C 64S', 'stock', True)
    >>> round(one.figures["first_force"]), one.chain["fitted_chain_will_do"], round(one.chain["axle_shift_m"], 4)
    (1806, True, -0.008)
    """

    choice: Choice
    n: int

    @property
    def front(self) -> int:
        return int(self.choice.crossing.fronts[self._place[2]])

    @property
    def rear(self) -> int:
        return int(self.choice.crossing.rears[self._place[2]])

    @property
    def rear_tire(self) -> str:
        return self.choice.crossing.bikes.tires[self._place[0]]

    @property
    def tune(self) -> str:
        return self.choice.crossing.bikes.tunes[self._place[1]]

    @cached_property
    def _place(self) -> tuple[int, int, int]:
        return self.choice.crossing.place(self.n)

    @cached_property
    def figures(self) -> Mapping[str, float | None]:
        """The SI figures of the choice; None where a thing does not happen."""
        return {key: plain(values[self.n]) for key, values in self.choice.figures.items()}

    @cached_property
    def answer(self) -> dict[str, Any]:
        """The answers with the keys of the single bike's, in short form; read off the kernel's arrays when asked for."""
        return answer(self.choice.crossing, self.n)

    @property
    def chain(self) -> dict[str, Any] | None:
        """The part of the answer that tells of the chain; None where nothing says where the axle is."""
        return chain(self.choice.crossing, self._place[2])

    @cached_property
    def falls(self) -> tuple[Fall, ...]:
        return self.choice.falls(self.n)

    @property
    def unbeaten(self) -> bool:
        return bool(self.choice.best[self.n])

    @property
    def meets_limits(self) -> bool:
        return not self.choice.held.fallen[:, self.n].any()

    @property
    def miss(self) -> float:
        """By what share the worst-missed limit is missed; 0 where all are met."""
        return float(self.choice.held.worst[self.n])

    @property
    def no_chain(self) -> str:
        """Why no chain fits, or nothing."""
        chains = self.choice.crossing.chains
        return "" if chains is None else str(chains.reason[self._place[2]])


def choice_of(crossing: Crossing, limits: LimitsSection, goals: Sequence[str] = DEFAULT_GOALS) -> Choice:
    """A crossing held to limits, and what of it nothing else beats in the goals.

    Parameters
    ----------
    crossing : Crossing
    limits : LimitsSection
        What is None is not held; limits of a ride are held where one is given.
    goals : sequence of str
        Keys of GOALS, or of RIDE_GOALS with a ride.

    Raises
    ------
    InputError
        A goal that there is not, one of a ride where none is given, or a walking speed without an engine speed to
        walk at.
    """
    chosen = tuple(goal(key) for key in goals or DEFAULT_GOALS)
    own = crossing.bikes.own
    needed = limits.walking_speed_most is not None or GOALS["walking"] in chosen
    idle = None if own.record.engine.idle is None else float(own.record.engine.idle)
    walking, told = walking_engine_speed(limits, idle, needed=needed)
    high, high_told = high_engine_speed(limits, own.rev_limit_rad_s)
    figures = {key: crossing.first_metres * walking if key == "walking" else crossing.figures[key] for key in GOALS}
    figures |= crossing.on_rides(high)
    for one in chosen:
        if one.key not in figures:
            raise InputError("goal", one.key, "is of a ride, and none is given", "Give the log of a ride of yours.")
    held = hold(crossing, figures, limits)
    pool = np.nonzero(held.meets)[0] if held.meets.any() else np.arange(len(crossing))
    best = np.zeros(len(crossing), bool)
    table: Array = np.column_stack([-one.better * figures[one.key][pool] for one in chosen])
    best[pool] = unbeaten(table)
    return Choice(
        crossing=crossing,
        goals=chosen,
        limits=limits,
        figures=figures,
        held=held,
        best=best,
        walking_rad_s=walking,
        high_rad_s=high,
        assumptions=(
            *crossing.bikes.assumptions,
            *told,
            *dict.fromkeys(text for one in crossing.replays for text in (*one.assumptions, high_told) if text),
        ),
    )
