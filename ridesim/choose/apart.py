"""Which of the unbeaten the inputs leave too open to tell apart."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from ridesim.bike import make_bike
from ridesim.build import Build
from ridesim.mechanics.setups import Ride

if TYPE_CHECKING:
    from ridesim.choose.choice import Choice

MOST_TOLD = 12  # of the unbeaten, held against each other


def not_told_apart(choice: Choice, build: Build, ride: Ride | None = None) -> tuple[str, ...]:
    """Which of the unbeaten the inputs leave too open to tell apart, by the goals, on the ride of the choice unless another is given:
    the first dozen, drawn alike.
    """
    from ridesim.bands import FIGURES, all_told_apart

    some = choice.unbeaten[:MOST_TOLD]
    if len(some) < 2:
        return ()
    ride = choice.crossing.ride if ride is None else ride
    front_tire = choice.crossing.bikes.front_tire
    bikes = [
        make_bike(build, front=c.front, rear=c.rear, rear_tire=c.rear_tire, tune=c.tune, front_tire=front_tire)
        for c in some
    ]
    known = [goal.key for goal in choice.goals if goal.key in FIGURES]
    apart = all_told_apart(bikes, known, ride) if known else np.zeros((len(some), len(some)), bool)
    names = [f"{c.front}/{c.rear} {c.rear_tire} {c.tune}" for c in some]
    return tuple(
        f"{names[a]} and {names[b]} cannot be told apart by {' or '.join(g.label for g in choice.goals)} within what the inputs leave open"
        for a in range(len(some))
        for b in range(a + 1, len(some))
        if not apart[a, b]
    )
