"""Readings that do not go with the rest: found one at a time, named, and left out of the fit instead of averaged away."""

from __future__ import annotations

import itertools
from statistics import NormalDist

from ridesim.evidence.fit import Fitter, Solution

FALSELY = 0.1  # how often a list of good readings may have one named
LEAST_FAR = 2.3  # of few readings: they stand against the tolerances as written, which are guesses
SUSPECT = 2.0  # from where a reading is taken out to see: its slopes may be those of a place where it has drawn the fit
AS_LIKELY = 4.6  # 2 ln 10: of two that may be off one is named alone where it is ten times likelier
TRIED, MANY = 4, 24  # suspects taken out to see, where readings are no more than these: of many none draws the fit
ROUNDS = 6  # then all that are far are left out at once


def far(count: int) -> float:
    """How many standard deviations from what all the others say make a conflict among so many readings:  1 - (1 - p)^n = FALSELY.

    A fixed limit would name too few of a short list and falsely one in six of a dozen good readings.

    >>> [round(far(count), 2) for count in (2, 7, 12, 24)]
    [2.3, 2.43, 2.62, 2.85]
    """
    each = 1.0 - (1.0 - FALSELY) ** (1.0 / max(count, 1))
    return max(LEAST_FAR, NormalDist().inv_cdf(1.0 - each / 2.0))


def without_conflicts(fitter: Fitter) -> tuple[Solution, tuple[int, ...], tuple[float | None, ...], tuple[int, ...]]:
    """The fit through the readings that go together; which those are, how far each reading lies from all the others,
    and the conflicts.

    Each suspect is taken out and the rest fitted anew. The one whose absence sets most right is left out, and with
    it any that is about as likely to be the one that is off; and so on, until none lies farther than `far` from the
    others.

    Returns
    -------
    Solution
        Through those that are used.
    tuple of int
        The readings used, counted from 0.
    tuple of float or None
        How far each lies from what all the others say, in standard deviations; None where the bike does not do
        that.
    tuple of int
        The conflicts.
    """
    used = [n for n, can in enumerate(fitter.predictable) if can]
    off: list[int] = []
    limit = far(len(used))
    step = fitter.solve(used)
    for rounds in itertools.count():
        z = {n: fitter.off(step, n, used=True) for n in used}
        left = {n: step.left - z[n] ** 2 for n in used}
        suspects = sorted((n for n in used if abs(z[n]) > SUSPECT), key=lambda n: -abs(z[n]))
        for n in suspects[:TRIED] if len(used) <= MANY else ():
            other = fitter.solve([m for m in used if m != n])
            z[n], left[n] = fitter.off(other, n, used=False), other.left
        beyond = [n for n in suspects if abs(z[n]) > limit]
        if not beyond:
            break
        least = min(left[n] for n in beyond)
        named = beyond if rounds >= ROUNDS else [n for n in beyond if left[n] - least < AS_LIKELY]
        off += named
        used = [n for n in used if n not in named]
        step = fitter.solve(used)
    z |= {n: fitter.off(step, n, used=False) for n in off}
    places = tuple(z.get(n) for n in range(len(fitter.predictable)))
    return step, tuple(used), places, tuple(sorted(off))
