"""Every sprocket pair at once: which meet the rider's limits, which nothing else beats, why each other one falls.

Fronts, rears, rear tires and tunes are crossed and go through the one kernel together; the chain of every pair is fitted in
the same way. A choice is made between figures, so each figure here has a name, a direction and a reading. Everything is kept
in columns; a candidate is a view over them, and words are made for what is looked at.
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING

from ridesim.buildfile.io import Build
from ridesim.buildfile.schema import LimitsSection
from ridesim.components.chain_geometry import FRONT_TEETH, REAR_TEETH, near
from ridesim.mechanics.setups import Ride
from ridesim.selection.certainty import MOST_COMPARED, grouped, indistinguishable
from ridesim.selection.choice import Choice, Combination, choice_of
from ridesim.selection.contract import contract
from ridesim.selection.crossing import Bikes, Crossing, bikes_of, cross, teeth
from ridesim.selection.goals import DEFAULT_GOALS, GOALS, LIMITED, RIDE_LIMITS, Goal, unbeaten
from ridesim.selection.held import held_to, limit_label
from ridesim.selection.other_ways import other_ways
from ridesim.selection.verdict import WISHES, OnBike, Verdict, verdict
from ridesim.selection.words import CHECKS, name

if TYPE_CHECKING:
    from ridesim.logs.log import Log

__all__ = [
    "CHECKS",
    "DEFAULT_GOALS",
    "FRONT_TEETH",
    "GOALS",
    "LIMITED",
    "MOST_COMPARED",
    "REAR_TEETH",
    "RIDE_LIMITS",
    "WISHES",
    "Bikes",
    "Choice",
    "Combination",
    "Crossing",
    "Goal",
    "OnBike",
    "Verdict",
    "bikes_of",
    "choice_of",
    "choose",
    "contract",
    "cross",
    "grouped",
    "held_to",
    "indistinguishable",
    "limit_label",
    "name",
    "near",
    "other_ways",
    "teeth",
    "unbeaten",
    "verdict",
]


def choose(
    build: Build,
    *,
    fronts: Sequence[int] | None = None,
    rears: Sequence[int] | None = None,
    rear_tires: Sequence[str] | None = None,
    tunes: Sequence[str] | None = None,
    ride: Ride | None = None,
    limits: LimitsSection | None = None,
    goals: Sequence[str] = DEFAULT_GOALS,
    logs: Sequence[Log] = (),
) -> Choice:
    """Every combination, held to the limits.

    Parameters
    ----------
    build : Build
        What is not named below is as in the build; its [limits] stand unless `limits` is given.
    fronts, rears : sequence of int, optional
        Teeth; else those of the limits, else three either side of the front and six either side of the rear.
    rear_tires, tunes : sequence of str, optional
        Markings and tune names; else those of the limits, else the build's own.
    ride : Ride, optional
        The build's own unless given.
    limits : LimitsSection, optional
    goals : sequence of str
        Keys of GOALS; the unbeaten are those to which no other is at least as good in all of them and better in one.

    logs : sequence of Log
        Rides of the rider's own, which become figures to choose by.

    Returns
    -------
    Choice

    Raises
    ------
    InputError
        An unknown tune, tire or goal, or more than 100,000 combinations.
    """
    limits = build.record.limits if limits is None else limits
    bikes = bikes_of(build, rear_tires or limits.rear_tires, tunes or limits.tunes)
    return choice_of(cross(bikes, fronts or limits.fronts, rears or limits.rears, ride, logs), limits, goals)
