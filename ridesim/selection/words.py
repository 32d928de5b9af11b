"""What a choice says: its sentence, the nearest miss, and what becomes of the chain."""

from __future__ import annotations

from collections.abc import Iterable
from typing import TYPE_CHECKING

import numpy as np

from ridesim.answers.text import shown
from ridesim.selection.certainty import indistinguishable
from ridesim.units import shown_in

if TYPE_CHECKING:
    from ridesim.selection.choice import Choice, Combination

CHECKS = (
    "measure the axle's place, the slack under the rider and the clearance to swingarm, guard and case before the chain is cut",
    "count the links of the fitted chain and measure its wear over 20 pitches",
    "check that the sprockets' pitch and width suit the chain, and that the front one clears its cover",
)
NAMED = 5  # of the unbeaten, in the sentence


def sentence(choice: Choice, system: str = "metric") -> str:
    """How many meet the limits, and which of them nothing else beats."""
    what = f"{len(choice.crossing)} set-ups"
    meeting = int(choice.held.meets.sum())
    if meeting == 0:
        return f"None of {what} meets every limit; the nearest misses are listed first."
    best = np.nonzero(choice.best)[0]
    by = " and ".join(goal.label_in(system) for goal in choice.goals)
    more = f" and {len(best) - NAMED} more" if len(best) > NAMED else ""
    names = ", ".join(name(choice, int(n)) for n in best[:NAMED]) + more
    return f"{meeting} of {what} meet every limit; {len(best)} of them are the best trade-offs between {by}: {names}."


def name(choice: Choice, n: int, *, whole: bool = False) -> str:
    """A combination by its sprockets, with tire and tune where there are several of them (or always).

    >>> import ridesim as rs
    >>> from ridesim.selection import choose
    >>> found = choose(rs.demo("coast-single").build, fronts=(14,), rears=(41,))
    >>> name(found, 0), name(found, 0, whole=True)
    ('14/41', '14/41 120/90-17 M/C 64S stock')
    """
    crossing = choice.crossing
    tire, tune, pair = crossing.place(n)
    words = [f"{crossing.fronts[pair]}/{crossing.rears[pair]}"]
    if whole or len(crossing.bikes.tires) > 1:
        words.append(crossing.bikes.tires[tire])
    if whole or len(crossing.bikes.tunes) > 1:
        words.append(crossing.bikes.tunes[tune])
    return " ".join(words)


def too_close(choice: Choice) -> tuple[str, ...]:
    """Which of the unbeaten cannot be told apart."""
    by = " or ".join(goal.label for goal in choice.goals)
    return tuple(
        f"{name(choice, one.n, whole=True)} and {name(choice, other.n, whole=True)} cannot be told apart by {by} "
        "within what the inputs leave open"
        for one, other in indistinguishable(choice)
    )


def chain_line(candidate: Combination, system: str) -> Iterable[str]:
    """What becomes of the chain and of the axle."""
    found = candidate.chain
    if found is None:
        yield "chain: nothing can be said before the build file has its links or the axle's place"
        return
    links, shift = found["links_to_order"], found["axle_shift_m"]
    if links is None:
        yield f"chain: none to order, {candidate.no_chain}"
    elif found["fitted_chain_will_do"]:
        fitted = candidate.choice.crossing.bikes.own.record.final_drive.links
        yield f"chain: the fitted {fitted} links will do, {moved_axle(shift, system)}"
    else:
        yield moved_axle(shift, system)


def moved_axle(shift_m: float, system: str) -> str:
    """Where the axle goes; it stays where nothing of the way would be read, less than half of 0.1 mm or of 0.01 in.

    >>> moved_axle(0.0042, "metric"), moved_axle(-0.0042, "us")
    ('the axle moves 4.2 mm back', 'the axle moves 0.17 in forward')
    >>> moved_axle(4e-5, "metric"), moved_axle(-6e-5, "metric")
    ('the axle stays where it is', 'the axle moves 0.1 mm forward')
    >>> moved_axle(-1e-4, "us"), moved_axle(2e-4, "us")
    ('the axle stays where it is', 'the axle moves 0.01 in back')
    """
    moved, _, decimals = shown_in(abs(shift_m), "small length", system)
    if round(float(moved), decimals) == 0.0:
        return "the axle stays where it is"
    way = "back" if shift_m > 0 else "forward"
    return f"the axle moves {shown(abs(shift_m), 'small length', system)} {way}"
