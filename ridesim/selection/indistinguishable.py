"""Which of the unbeaten the inputs leave too open to tell apart."""

from __future__ import annotations

from collections.abc import Mapping
from itertools import combinations
from typing import TYPE_CHECKING, Any

import numpy as np
from numpy.typing import NDArray

from ridesim.selection.certainty import blocks_of
from ridesim.uncertainty.tolerances import quadrature

if TYPE_CHECKING:
    from ridesim.selection.choice import Choice, Combination

MOST_COMPARED = 12  # of the unbeaten, with each other


def indistinguishable(choice: Choice) -> tuple[tuple[Combination, Combination], ...]:
    """The pairs among the first dozen of the unbeaten that differ in none of the goals by more than the inputs leave open.

    The band of a difference is that of a comparison: an error that both share moves both and mostly cancels, one that only
    one of them has, as the size of its tire, does not.
    """
    some = choice.unbeaten[:MOST_COMPARED]
    rows, keys = np.array([one.n for one in some], dtype=int), [goal.key for goal in choice.goals]
    values = np.array([choice.figures[key][rows] for key in keys])
    moves: list[dict[Any, NDArray[np.float64]]] = [{} for _ in some]
    for block in blocks_of(choice, rows, keys):
        for n, tolerance in enumerate(block.tolerances):
            for at, both in zip(block.where, block.moves[:, 2 * n : 2 * n + 2].T, strict=False):
                moves[at][tolerance.cause] = both.T
    return tuple(
        (some[a], some[b])
        for a, b in combinations(range(len(some)), 2)
        if not any(
            _differs(
                float(values[k, b] - values[k, a]), *({of: ends[k] for of, ends in moves[n].items()} for n in (a, b))
            )
            for k in range(len(keys))
        )
    )


def _differs(difference: float, one: Mapping[Any, Any], other: Mapping[Any, Any]) -> bool:
    """Whether the band of a difference leaves out zero; one that has no end does not."""
    nothing = np.zeros(2)
    moves = {of: tuple(other.get(of, nothing) - one.get(of, nothing)) for of in dict.fromkeys((*one, *other))}
    down, up = quadrature(moves)
    return difference + down > 0.0 or difference + up < 0.0
