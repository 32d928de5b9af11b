"""The road that a question is asked for: cruising speed, grade and head wind, as a rider writes them or in SI."""

from __future__ import annotations

from dataclasses import dataclass, fields
from functools import lru_cache

from ridesim.answers.solved import Solved, ride_with, solve
from ridesim.bike import Bike
from ridesim.errors import InputError, InputErrors
from ridesim.mechanics.setups import Ride
from ridesim.units import Measured, quantity

# field -> kind, the unit of a bare number in a text, and that of a number: SI
_READ = {"cruise": ("speed", "km/h", "m/s"), "grade": ("ratio", "%", ""), "headwind": ("speed", "m/s", "m/s")}


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
        What is none of these; InputErrors where several are.

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
        for name, (kind, bare, si) in _READ.items():
            written = getattr(self, name)
            if written is None:
                continue
            try:
                read = quantity(written, kind, bare if isinstance(written, str) else si, name)
            except InputError as error:
                wrong.append(error)
                continue
            if not isinstance(written, str | Measured):
                read = Measured(read, written=f"{written} {si}".strip())
            object.__setattr__(self, name, read)
        if wrong:
            raise wrong[0] if len(wrong) == 1 else InputErrors(wrong)

    def ride(self, bike: Bike) -> Ride:
        """The ride of the bike's build file with these in place of what stands there."""
        return ride_with(bike, cruise=self.cruise, grade=self.grade, headwind=self.headwind)

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
