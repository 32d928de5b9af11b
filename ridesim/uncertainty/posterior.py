"""What a fit to readings leaves open: the most probable place of every toleranced figure, and how their errors hang together.

The errors of a file's tolerances are independent; after a fit they are not: a coast-down that says less drag says more power. So
the joint error is taken apart again into independent components, the columns of the symmetric square root of its covariance:
each moves several figures at once, mostly the one it is named for, and goes wherever an independent tolerance goes.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from typing import Any

import numpy as np
from numpy.typing import NDArray

from ridesim.statements import Note, distinct
from ridesim.uncertainty.tolerances import Tolerance, perturbed
from ridesim.units import TWO_PI

Array = NDArray[np.float64]


@dataclass(frozen=True, kw_only=True, eq=False)
class Posterior:
    """Where the toleranced figures of a build stand after a fit, in half-widths of their tolerances.

    tolerances   the tolerances of the file, K
    place    where each figure stands most probably, (K,): 0 as written, 1 at its upper end
    root     symmetric square root of the covariance times 1.645^2, (K, K): the identity where nothing was learnt
    says     what was fitted, for the notes of an answer
    """

    tolerances: tuple[Tolerance, ...]
    place: Array
    root: Array
    says: tuple[str, ...]

    def applied(
        self, raw: Mapping[str, Any], tolerances: Sequence[Tolerance]
    ) -> tuple[dict[str, Any], tuple[Tolerance, ...]]:
        """Raw figures of a bike at their most probable values, and its independent errors then: the components of the fit, and
        what the fit does not know of, such as another tire's size."""
        column = {tolerance.cause: n for n, tolerance in enumerate(self.tolerances)}
        own = [tolerance for tolerance in tolerances if tolerance.cause in column]
        which = [column[tolerance.cause] for tolerance in own]
        at = np.concatenate([[self.place], self.place + self.root, self.place - self.root])  # the root is symmetric
        stands = perturbed(raw, own, at[:, which])
        moved = {name: np.asarray(stands[name]) for tolerance in own for name in tolerance.moves}
        count, components = len(self.tolerances), []
        for n, tolerance in enumerate(self.tolerances):
            ends = {name: (float(v[1 + n] - v[0]), float(v[1 + n + count] - v[0])) for name, v in moved.items()}
            moves = {name: pair for name, pair in ends.items() if any(pair)}
            if moves:
                value, plus_minus = self.figure(n)
                component = replace(tolerance, value=value, plus_minus=plus_minus, moves=moves, of=tolerance.cause)
                components.append(component)
        rest = (tolerance for tolerance in tolerances if tolerance.cause not in column)
        return {**raw, **{name: float(v[0]) for name, v in moved.items()}}, (*components, *rest)

    def value(self, n: int, place: float) -> float:
        """A toleranced figure somewhere in its band: at 0 as written, at 1 at its upper end. [SI]"""
        tolerance = self.tolerances[n]
        up, down = tolerance.plus_minus, -tolerance.plus_minus
        if tolerance.path in ("tires.rear.size", "tires.rear.rollout"):  # whose band is lopsided
            up, down = (TWO_PI * move for move in tolerance.moves["rear_radius_m"])
        return tolerance.value + up * max(place, 0.0) - down * min(place, 0.0)

    def figure(self, n: int) -> tuple[float, float]:
        """A toleranced figure after the fit and half the width of its band. [SI]"""
        place, width = float(self.place[n]), float(np.linalg.norm(self.root[n]))
        return self.value(n, place), (self.value(n, place + width) - self.value(n, place - width)) / 2


def fitted(bike: Any, posterior: Posterior) -> Any:
    """A bike as it was stated, moved to where the fit puts it; its tire rolls accordingly."""
    raw, tolerances = posterior.applied(bike.raw, bike.tolerances)
    radius = "rear_radius_m"
    ends = np.array([tolerance.moves[radius] for tolerance in tolerances if radius in tolerance.moves]).reshape(-1, 2)
    below, above = (float(np.sqrt(np.sum(end**2))) for end in (ends.min(axis=1), ends.max(axis=1)))
    tire = replace(
        bike.rear_tire,
        circumference_m=TWO_PI * raw[radius],
        low_m=TWO_PI * (raw[radius] - below),
        high_m=TWO_PI * (raw[radius] + above),
    )
    return replace(
        bike,
        raw=raw,
        tolerances=tolerances,
        rear_tire=tire,
        stated=bike,
        notes=distinct(Note, (*bike.notes, *posterior.says)),
    )
