"""Which of the unbeaten the inputs leave too open to tell apart."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import numpy as np

from ridesim.bike import make_bike
from ridesim.buildfile.io import Build
from ridesim.mechanics.setups import Ride
from ridesim.selection.words import name

if TYPE_CHECKING:
    from ridesim.selection.choice import Candidate, Choice

MOST_TOLD = 12  # of the unbeaten, held against each other


def alike_pairs(choice: Choice, build: Build, ride: Ride | None = None) -> tuple[tuple[Candidate, Candidate], ...]:
    """Which of the unbeaten the inputs leave too open to tell apart, by the goals, on the ride of the choice unless another is given:
    the first dozen, drawn alike, each pair of them that does not differ in any goal.
    """
    from ridesim.answers.draws import FIGURES, all_told_apart

    some = choice.unbeaten[:MOST_TOLD]
    if len(some) < 2:
        return ()
    ride = choice.crossing.ride if ride is None else ride
    more: dict[str, Any] = {"front_tire": choice.crossing.bikes.front_tire, "own": make_bike(build)}
    bikes = [make_bike(build, front=c.front, rear=c.rear, rear_tire=c.rear_tire, tune=c.tune, **more) for c in some]
    known = [goal.key for goal in choice.goals if goal.key in FIGURES]
    apart = all_told_apart(bikes, known, ride) if known else np.zeros((len(some), len(some)), bool)
    return tuple((some[a], some[b]) for a in range(len(some)) for b in range(a + 1, len(some)) if not apart[a, b])


def not_told_apart(choice: Choice, build: Build, ride: Ride | None = None) -> tuple[str, ...]:
    """The same in words."""
    by = " or ".join(goal.label for goal in choice.goals)
    return tuple(
        f"{name(choice, one.n, whole=True)} and {name(choice, other.n, whole=True)} cannot be told apart by {by} "
        "within what the inputs leave open"
        for one, other in alike_pairs(choice, build, ride)
    )
