"""Readings that do not go with the rest: found one at a time, named, and left out of the fit instead of averaged away."""

from __future__ import annotations

from ridesim.evidence.fit import Fitter, Step

FAR = 2.5  # standard deviations from what all the others say
AS_LIKELY = 4.6  # 2 ln 10: of two readings that would each set the rest right, one is named alone where it is ten times likelier


def without_conflicts(
    fitter: Fitter,
) -> tuple[Step, tuple[int, ...], tuple[float | None, ...], tuple[int, ...]]:
    """The fit through the readings that go together; which those are, how far each reading lies from all the others, and the
    conflicts.

    The reading that lies farthest is left out, and with it any that is about as likely to be the one that is off; then
    the rest is fitted again, until none lies farther than FAR.
    """
    used = [n for n, can in enumerate(fitter.predictable) if can]
    off: list[int] = []
    step = fitter.solve(used)
    while True:
        z = {n: fitter.off(step, n, used=True) for n in used}
        farthest = max(z.values(), key=abs, default=0.0)
        if abs(farthest) <= FAR:
            break
        named = [n for n in used if abs(z[n]) > FAR and farthest**2 - z[n] ** 2 < AS_LIKELY]
        off += named
        used = [n for n in used if n not in named]
        step = fitter.solve(used, step.u)
    z |= {n: fitter.off(step, n, used=False) for n in off}
    places = tuple(z.get(n) for n in range(len(fitter.predictable)))
    return step, tuple(used), places, tuple(sorted(off))
