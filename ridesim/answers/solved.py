"""One bike on one ride, solved once: the kernel's figures with the band that the inputs' tolerances leave open."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass, fields
from functools import cached_property, lru_cache
from types import MappingProxyType
from typing import Any

import numpy as np

from ridesim.answers.answer import Answer, Figure, Figures, Sentence, plain
from ridesim.bike import Bike
from ridesim.bike.figures_to_setups import setups_of
from ridesim.errors import InputError, InputErrors
from ridesim.mechanics.cruise import Cruise
from ridesim.mechanics.kernel import Performance, perform
from ridesim.mechanics.passage import passage
from ridesim.mechanics.run import roll_on_times_s
from ridesim.mechanics.setups import Array, Ride, SetUps
from ridesim.mechanics.torque import TorqueCells, cells_of
from ridesim.mechanics.traction import GearRows
from ridesim.uncertainty.tolerances import Source, Tolerance, ends, perturbed, quadrature
from ridesim.units import MPH_M_S, QUARTER_MILE_M, Measured, quantity

ORDINALS = ("first", "second", "third", "fourth", "fifth", "sixth", "seventh", "eighth", "ninth", "tenth")


@dataclass(frozen=True, kw_only=True, eq=False)
class Solved:
    """A bike on its ride, with what the kernel says of it and of the bike with each tolerance at its ends.

    Row 0 of raw figures, set-ups and performance is the bike as given; then come two rows for each of the K
    tolerances, with that one alone at its upper and at its lower end: 1 + 2 K in all. Every answer is read off one
    of these.

    >>> import ridesim as rs
    >>> one = solved(rs.demo("coast-single"))
    >>> len(one.tolerances), len(one.setups), one.performance.gears.lift_ratio.shape
    (11, 23, (23, 5))
    """

    bike: Bike
    ride: Ride
    raw: Mapping[str, Any]
    setups: SetUps
    performance: Performance
    tolerances: tuple[Tolerance, ...]

    def moves(self, figures: Any) -> dict[Source, tuple[float, float]] | None:
        """How far a figure moves when each tolerance alone goes to its upper and to its lower end.

        figures is an array whose first axis is the kernel's. None where an end makes the thing impossible.

        >>> import ridesim as rs
        >>> one = solved(rs.demo("coast-single"))
        >>> moves = one.moves(one.performance.top_speed_m_s * 3.6)  # [km/h]
        >>> {source.cause[0]: [round(end, 1) for end in ends] for source, ends in moves.items() if abs(ends[0]) > 1.0}
        {'road_load.drag_area': [-3.3, 3.4], 'tune.curve_error': [1.6, -1.7]}
        """
        figures = np.asarray(figures, dtype=float)
        if not np.isfinite(figures).all():
            return None
        change = figures[1:] - figures[0]
        return {
            self.bike.source(tolerance): (float(up), float(down))
            for tolerance, up, down in zip(self.tolerances, change[0::2], change[1::2], strict=True)
        }

    def figure(self, key: str, label: str, reading: str, figures: Any, better: int = 0) -> Figure:
        """A Figure with its band, from an array whose first axis is the kernel's:  v - sqrt(sum d^2)  to  v + sqrt(sum
        u^2)  of the moves.

        Parameters
        ----------
        key, label, reading : str
        figures : array, shape (1 + 2 K,)
            In SI; nan where the thing does not happen, which leaves no band.
        better : int
            1 when more is better, -1 when less is.

        Examples
        --------
        >>> import ridesim as rs
        >>> one = solved(rs.demo("coast-single"))
        >>> ratio = one.figure("ratio", "Lift ratio in first", "ratio", one.performance.gears.lift_ratio[:, 0])
        >>> round(ratio.low, 3), round(ratio.value, 3), round(ratio.high, 3)
        (0.638, 0.679, 0.721)
        """
        value, moves = plain(np.asarray(figures, dtype=float)[0]), self.moves(figures)
        low = high = None
        if value is not None and moves:
            down, up = quadrature(moves)
            low, high = value + down, value + up
        return Figure(key, label, value, reading, low=low, high=high, better=better, moves=moves)

    def answer(
        self,
        question: str,
        say: Sentence,
        figures: Iterable[Figure],
        *,
        assumptions: Iterable[str] = (),
        notes: Iterable[str] = (),
        **rest: Any,
    ) -> Answer:
        """An answer about this bike: what was assumed and noted of the bike itself comes first; rest are fields of Answer."""
        return Answer(
            question=question,
            say=say,
            figures=Figures(*figures),
            assumptions=(*self.bike.assumptions, *assumptions),
            notes=(*self.bike.notes, *notes),
            **rest,
        )

    @cached_property
    def cells(self) -> TorqueCells:
        return cells_of(self.bike.curve)

    @cached_property
    def rows(self) -> GearRows:
        """The gears of the bike as given, a row each: their forces at any engine speed, for curves to draw."""
        return GearRows(self.bike.setups, self.cells, self.ride)

    def roll_on_s(self, low_m_s: Array, high_m_s: Array) -> Array:
        """Times of roll-ons between other speeds, one a gear (G,), with the rows of the tolerances: (1 + 2 K, G).

        nan where a gear does not turn both speeds, or does not get from one to the other. [m/s] -> [s]

        >>> import ridesim as rs
        >>> one = solved(rs.demo("coast-single"))
        >>> one.roll_on_s(np.full(5, 15.0), np.full(5, 25.0))[0].round(2).tolist()
        [nan, nan, 4.47, 5.19, 6.76]
        """
        rows = GearRows(self.setups, self.cells, self.ride)
        return roll_on_times_s(rows, passage(rows), low_m_s, high_m_s)

    @property
    def gear_count(self) -> int:
        return len(self.bike.gears)


def ended_by(solved: Solved) -> list[str | None]:
    """What ends each gear's top speed: "revs" or "power"; None where it holds no speed.

    >>> import ridesim as rs
    >>> ended_by(solved(rs.demo("coast-single"), Conditions(grade=0.2)))
    ['revs', 'revs', 'power', 'power', None]
    """
    gears = solved.performance.gears
    return [
        ("revs" if revs else "power") if np.isfinite(top) else None
        for top, revs in zip(gears.top_speed_m_s[0], gears.limited_by_revs[0], strict=True)
    ]


def in_highest_gear(cruise: Cruise, values: Array) -> Array:
    """Values (S, G) in the highest gear that holds the cruising speed, (S,); nan where none does.

    The coast single holds 95 km/h in fifth; 20 km/h is below the curve in all but first:

    >>> import ridesim as rs
    >>> for road in (Conditions(), Conditions(cruise="20 km/h")):
    ...     cruise = solved(rs.demo("coast-single"), road).performance.cruise
    ...     print(round(float(in_highest_gear(cruise, cruise.engine_speed_rad_s)[0]) * 30 / np.pi))  # [rev/min]
    4876
    2014
    """
    gear = np.where(cruise.holds, np.arange(cruise.holds.shape[1]), -1).max(axis=1)
    return np.where(gear >= 0, values[np.arange(len(gear)), gear], np.nan)


def solve(bike: Bike, ride: Ride | None = None, *, bands: bool = True) -> Solved:
    """Everything the kernel says of a bike on a ride (the build file's own unless given).

    Parameters
    ----------
    bike : Bike
        From make_bike.
    ride : Ride, optional
        Cruising speed, slope, wind, targets.
    bands : bool
        Whether to carry the inputs' tolerances; without it low and high are None, and the kernel has one row to
        work out instead of 1 + 2 K.

    Returns
    -------
    Solved

    Examples
    --------
    >>> import ridesim as rs
    >>> one = solve(rs.demo("coast-single"), bands=False)
    >>> len(one.setups), round(3.6 * float(one.performance.top_speed_m_s[0]), 1)  # [km/h]
    (1, 125.3)
    """
    ride = bike.ride() if ride is None else ride
    tolerances = bike.tolerances if bands else ()
    raw = perturbed(bike.raw, tolerances, ends(len(tolerances))) if tolerances else bike.raw
    setups = setups_of(raw, bike.cycle) if tolerances else bike.setups
    performance = perform(setups, bike.curve, ride, trace=False)
    return Solved(bike=bike, ride=ride, raw=raw, setups=setups, performance=performance, tolerances=tolerances)


# what a run is timed over in US units: 0 to 30 and 60 mph, the quarter mile, and 40 to 60 mph in one gear
US_RUN: Mapping[str, Any] = MappingProxyType(
    {
        "targets_m_s": (30 * MPH_M_S, 60 * MPH_M_S),
        "distance_m": QUARTER_MILE_M,
        "roll_on_m_s": (40 * MPH_M_S, 60 * MPH_M_S),
    }
)


# field -> kind, the unit of a bare number in a text, and that of a number: SI; between what it may lie, how that is said, the mend
_READ: Mapping[str, tuple[str, str, str, float, float, str, str]] = {
    "cruise": ("speed", "km/h", "m/s", 1.0, 120.0, "4 and 430 km/h", "Give a true road speed."),
    "grade": ("ratio", "%", "", -0.6, 1.0, "-60 and 100 %", "A grade of 10 % rises 10 m in 100 m."),
    "headwind": ("speed", "m/s", "m/s", -40.0, 60.0, "-40 and 60 m/s", "A tail wind is negative."),
}


def ride_with(bike: Bike, *, units: str = "metric", **given: Any) -> Ride:
    """The ride of the build file with the conditions that a rider writes instead ("105 km/h", "5 %", "5 m/s").

    units is "us" for runs over 0 to 30 and 60 mph, the quarter mile and 40 to 60 mph. InputError as of
    `Conditions`.

    >>> import ridesim as rs
    >>> ride = ride_with(rs.demo("coast-single"), grade="5 %", units="us")
    >>> round(ride.cruise_m_s * 3.6, 1), round(ride.slope_rad, 4), round(ride.distance_m, 1)
    (95.0, 0.05, 402.3)
    """
    return Conditions(**given).ride(bike, units)


@dataclass(frozen=True, kw_only=True)
class Conditions:
    """Cruising speed, grade and head wind; what is not given is as in the build file.

    Parameters
    ----------
    cruise : str or float, optional
        True road speed: a text such as "105 km/h" or "65 mph", or a number in m/s. [m/s]
    grade : str or float, optional
        Rise over run: "5 %", or a number such as 0.05. [-]
    headwind : str or float, optional
        "20 km/h", or a number in m/s; a tail wind is negative. [m/s]

    Raises
    ------
    InputError
        What is none of these, or no road has; InputErrors where several are.

    Examples
    --------
    >>> Conditions(cruise="90 km/h", grade=0.05)
    Conditions(cruise='90 km/h', grade='0.05')
    >>> Conditions(cruise="90 kg")
    Traceback (most recent call last):
    ridesim.errors.InputError: cruise = '90 kg': cannot be read as a speed: 'kg' is not a unit of speed. Write a number in km/h or a string with a unit, such as '100 km/h', '62 mph' or '28 m/s'.
    """

    cruise: str | float | None = None
    grade: str | float | None = None
    headwind: str | float | None = None

    def __post_init__(self) -> None:
        wrong = []
        for name, (kind, bare, si, least, most, between, fix) in _READ.items():
            written = getattr(self, name)
            if written is None:
                continue
            try:
                read = quantity(written, kind, bare if isinstance(written, str) else si, name)
                if not least <= read <= most:
                    raise InputError(name, written, f"must be between {between}", fix)
            except InputError as error:
                wrong.append(error)
                continue
            if not isinstance(written, str | Measured):
                read = Measured(read, written=f"{written} {si}".strip())
            object.__setattr__(self, name, read)
        if wrong:
            raise wrong[0] if len(wrong) == 1 else InputErrors(wrong)

    def ride(self, bike: Bike, units: str = "metric") -> Ride:
        """The ride of the bike's build file with these in place of what stands there, timed over round figures of the units."""
        changes: dict[str, Any] = dict(US_RUN) if units == "us" else {}
        if self.cruise is not None:
            changes["cruise_m_s"] = float(self.cruise)
        if self.grade is not None:
            changes["slope_rad"] = float(np.arctan(float(self.grade)))
        if self.headwind is not None:
            changes["headwind_m_s"] = float(self.headwind)
        return bike.ride(**changes)

    def __repr__(self) -> str:
        given = ((one.name, getattr(self, one.name)) for one in fields(self))
        return f"Conditions({', '.join(f'{name}={value.written!r}' for name, value in given if value is not None)})"


def solved(bike: Bike, road: Conditions | None = None) -> Solved:
    """A bike on a road, solved once for all the questions that are asked of it.

    >>> solved("my-bike.toml")
    Traceback (most recent call last):
    ridesim.errors.InputError: bike = 'my-bike.toml': is not a bike. Read its build file first.
    """
    if not isinstance(bike, Bike):
        raise InputError("bike", bike, "is not a bike", "Read its build file first.")
    return _solved(bike, conditions(road))


def conditions(road: Conditions | None) -> Conditions:
    """What is given, or those of the build file; InputError for anything else.

    >>> conditions("105 km/h")
    Traceback (most recent call last):
    ridesim.errors.InputError: road = '105 km/h': is not conditions. Write Conditions(cruise="105 km/h").
    """
    if road is None:
        return Conditions()
    if not isinstance(road, Conditions):
        raise InputError("road", road, "is not conditions", 'Write Conditions(cruise="105 km/h").')
    return road


@lru_cache(maxsize=16)
def _solved(bike: Bike, road: Conditions) -> Solved:
    return solve(bike, road.ride(bike))
