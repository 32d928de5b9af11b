"""Readings that do not go with the rest: found one at a time, named, and left out of the fit instead of averaged away."""

from __future__ import annotations

import itertools

from ridesim.evidence.fit import Fitter, Solution

FAR = 2.5  # standard deviations from what all the others say
SUSPECT = 2.0  # from where a reading is taken out to see: its slopes may be those of a place where it has drawn the fit
AS_LIKELY = 4.6  # 2 ln 10: of two that may be off one is named alone where it is ten times likelier
TRIED, MANY = 4, 24  # suspects taken out to see, where readings are no more than these: of many none draws the fit
ROUNDS = 6  # then all that are far are left out at once


def without_conflicts(fitter: Fitter) -> tuple[Solution, tuple[int, ...], tuple[float | None, ...], tuple[int, ...]]:
    """The fit through the readings that go together; which those are, how far each reading lies from all the others, and the
    conflicts.

    Each suspect is taken out and the rest fitted anew. The one whose absence sets most right is left out, and with it
    any that is about as likely to be the one that is off; and so on, until none lies farther than FAR from the others.
    """
    used = [n for n, can in enumerate(fitter.predictable) if can]
    off: list[int] = []
    step = fitter.solve(used)
    for rounds in itertools.count():
        z = {n: fitter.off(step, n, used=True) for n in used}
        left = {n: step.left - z[n] ** 2 for n in used}
        suspects = sorted((n for n in used if abs(z[n]) > SUSPECT), key=lambda n: -abs(z[n]))
        for n in suspects[:TRIED] if len(used) <= MANY else ():
            other = fitter.solve([m for m in used if m != n])
            z[n], left[n] = fitter.off(other, n, used=False), other.left
        far = [n for n in suspects if abs(z[n]) > FAR]
        if not far:
            break
        least = min(left[n] for n in far)
        named = far if rounds >= ROUNDS else [n for n in far if left[n] - least < AS_LIKELY]
        off += named
        used = [n for n in used if n not in named]
        step = fitter.solve(used)
    z |= {n: fitter.off(step, n, used=False) for n in off}
    places = tuple(z.get(n) for n in range(len(fitter.predictable)))
    return step, tuple(used), places, tuple(sorted(off))
