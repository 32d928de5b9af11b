"""The most probable bike: weighted least squares around the build's values and tolerances, through all its readings.

With u the errors of the toleranced figures in standard deviations, y the readings, C the covariance of their errors and f(u) what the
kernel predicts, the sum  |u|^2 + (y - f)' C^-1 (y - f)  is made least; the errors left have the covariance (1 + J' C^-1 J)^-1, J the
slopes of f there. A reading that conflicts with all the others is left out and named (`conflicts.py`).
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from functools import cached_property
from statistics import NormalDist

import numpy as np
from numpy.typing import NDArray

from ridesim.buildfile.io import Build
from ridesim.buildfile.readings import Reading
from ridesim.evidence.predict import Model, measured, model_of
from ridesim.uncertainty.posterior import Posterior
from ridesim.uncertainty.tolerances import PER_SD

Array = NDArray[np.float64]
DRAWS = 256
SHIFT, WIDTH, WORTH = 0.3, 0.25, 0.5  # from where a linear step is not good enough: in sd, of an sd, of the draws
MOST_STEPS = 12


@dataclass(frozen=True, kw_only=True, eq=False)
class Solution:
    """Where a fit stands.

    u            errors of the toleranced figures, (K,), in standard deviations
    left         the sum that is made least, |u|^2 + (y - f)' C^-1 (y - f)
    covariance   of u, (K, K):  (1 + J' C^-1 J)^-1
    at, slopes   what each reading would show there, (k,), and J, (k, K)
    """

    u: Array
    left: float
    covariance: Array
    at: list[Array]
    slopes: list[Array]


class Fitter:
    """Least squares through some of the readings of a model, by scipy from u = 0 and in at most MOST_STEPS steps.

    y, covariances   what was read, and how far it may be off
    whiten           L^-1 of each covariance  C = L L'
    predictable      whether the bike as written does what was read
    """

    def __init__(self, model: Model) -> None:
        self.model = model
        read = [measured(one) for one in model.readings]
        self.y = [y for y, _ in read]
        self.covariances = [c for _, c in read]
        self.whiten = [np.linalg.inv(np.linalg.cholesky(c)) for c in self.covariances]
        start = model(np.zeros((1, len(model.tolerances))))
        self.predictable = [bool(np.isfinite(values).all()) for values in start]

    def solve(self, which: Sequence[int]) -> Solution:
        """The least sum over the readings `which`, counted from 0; without any, u = 0 and its tolerances as written."""
        count = len(self.model.tolerances)
        seen: dict[bytes, tuple[Array, Array]] = {}

        def both(u: Array) -> tuple[Array, Array]:
            key = u.tobytes()
            if key not in seen:
                at, slopes = self.model.linear(u)
                rows, turns = [u], [np.eye(count)]
                for n in which:  # where a step makes a reading impossible it is too long
                    rows.append(np.nan_to_num(self.whiten[n] @ (at[n] - self.y[n]), nan=100.0))
                    turns.append(self.whiten[n] @ slopes[n])
                seen[key] = np.concatenate(rows), np.concatenate(turns)
            return seen[key]

        u = np.zeros(count)
        if which and count:
            from scipy.optimize import least_squares

            found = least_squares(
                lambda x: both(x)[0], u, jac=lambda x: both(x)[1], xtol=1e-7, ftol=1e-9, gtol=1e-7, max_nfev=MOST_STEPS
            )
            u = found.x
        rest, jacobian = both(u)
        at, slopes = self.model.linear(u)
        return Solution(
            u=u,
            left=float(rest @ rest),
            covariance=np.asarray(np.linalg.inv(jacobian.T @ jacobian)),
            at=at,
            slopes=slopes,
        )

    def off(self, step: Solution, n: int, *, used: bool) -> float:
        """How far reading n lies from what all the others say, in standard deviations.

        With r what the fit leaves of it and V = C - J S J' its spread (+ where it was not used), a single figure lies
        r / sqrt(V) off. Of several, either all are off, r' V^-1 r, or one is, (V^-1 r)_k^2 / (V^-1)_kk: the less likely counts.
        """
        from scipy.special import chdtrc

        residual = self.y[n] - step.at[n]
        explained = step.slopes[n] @ step.covariance @ step.slopes[n].T
        inverse = np.linalg.inv(self.covariances[n] + (-explained if used else explained))
        pull = inverse @ residual
        alone = pull**2 / np.diag(inverse)
        worst, count = int(np.argmax(alone)), len(residual)
        size = float(np.sqrt(alone[worst]))
        if count > 1:
            share = min(chdtrc(count, float(residual @ pull)), count * chdtrc(1, alone[worst]), 1.0)
            size = -NormalDist().inv_cdf(max(float(share), 1e-300) / 2)
        return float(np.copysign(size, pull[worst]))


@dataclass(frozen=True, kw_only=True, eq=False)
class FittedErrors:
    """The most probable bike.

    fitter       the readings and the model
    step         where the fit stands
    used         the readings that went in
    z            how far each reading lies from what all the others say, in standard deviations; None where none was predicted
    conflicts    the readings that do not go with the rest, from 0
    poor         the figures for which the linear step is not good enough, by their place in the model
    worth        the share of draws through the kernel that count for the linear step: 1 where it is exact
    """

    fitter: Fitter
    step: Solution
    used: tuple[int, ...]
    z: tuple[float | None, ...]
    conflicts: tuple[int, ...]
    poor: tuple[int, ...]
    worth: float

    @property
    def model(self) -> Model:
        return self.fitter.model

    @property
    def readings(self) -> tuple[Reading, ...]:
        return self.model.readings

    @cached_property
    def posterior(self) -> Posterior:
        """What follows for a bike of the build."""
        values, vectors = np.linalg.eigh(self.step.covariance)
        root = (vectors * np.sqrt(np.maximum(values, 0.0))) @ vectors.T
        # what nothing was learnt about stays as it was, to the last digit
        alone = [n for n in range(len(root)) if not any(slopes[:, n].any() for slopes in self.step.slopes)]
        root[alone, :] = root[:, alone] = 0.0
        root[alone, alone] = 1.0
        from ridesim.evidence.report import says

        return Posterior(tolerances=self.model.tolerances, place=self.step.u / PER_SD, root=root, says=says(self))


def fit(build: Build, readings: Sequence[Reading] | None = None) -> FittedErrors:
    r"""The most probable bike of a build and its readings (those of its file unless given).

    Parameters
    ----------
    build : Build
        With the tolerances that stand in its file, whatever it was fitted to before.
    readings : sequence of Reading, optional

    Returns
    -------
    FittedErrors

    Examples
    --------
    A second roll-out, 4 mm longer than the one in the file. Each counts by 1 / tolerance^2, so that the fit lies nearer to the closer one:
    (1.996 / 6^2 + 2.000 / 4^2) / (1 / 6^2 + 1 / 4^2) = 1.9988 m, within 1 / sqrt(1 / 6^2 + 1 / 4^2) = 3.3 mm:

    >>> import ridesim as rs
    >>> from ridesim.buildfile.io import parse
    >>> read = '\n[[evidence]]\nkind = "roll-out"\nvalue = "2.0 +- 0.004 m"\n'
    >>> found = fit(parse(rs.demo("coast-single").build.text + read))
    >>> n = [one.path for one in found.model.tolerances].index("tires.rear.rollout")
    >>> [round(one, 4) for one in found.posterior.figure(n)], round(found.z[0], 2), found.conflicts
    ([1.9988, 0.0033], 0.91, ())
    """
    from ridesim.evidence.conflicts import without_conflicts

    own = build.record.evidence if readings is None else readings
    fitter = Fitter(model_of(replace(build, posterior=None), own))
    step, used, z, conflicts = without_conflicts(fitter)
    worth, poor = _checked(fitter, step, used)
    return FittedErrors(fitter=fitter, step=step, used=used, z=z, conflicts=conflicts, poor=poor, worth=worth)


def with_evidence(build: Build) -> Build:
    """The build with what its readings say; a build without any as it is.

    >>> import ridesim as rs
    >>> build = rs.demo("coast-single").build
    >>> with_evidence(build) is build
    True
    """
    return replace(build, posterior=fit(build).posterior) if build.record.evidence else build


def _checked(fitter: Fitter, step: Solution, used: Sequence[int]) -> tuple[float, tuple[int, ...]]:
    """The linear step held to draws through the kernel, each weighted by how probable it is over how probable the linear step
    makes it: the share of draws that count, and the figures whose middle or band comes out different."""
    count = len(step.u)
    if not used or not count:
        return 1.0, ()
    half = np.random.default_rng(11).standard_normal((DRAWS // 2, count))
    normal = np.concatenate([half, -half])
    moved = normal @ np.linalg.cholesky(step.covariance).T
    drawn = fitter.model(step.u + moved)
    exact, linear = (np.sum((step.u + moved) ** 2, axis=1) for _ in range(2))
    for n in used:
        exact += np.sum(((drawn[n] - fitter.y[n]) @ fitter.whiten[n].T) ** 2, axis=1)
        linear += np.sum(((step.at[n] + moved @ step.slopes[n].T - fitter.y[n]) @ fitter.whiten[n].T) ** 2, axis=1)
    log = np.where(np.isfinite(exact), (linear - exact) / 2, -np.inf)
    weight = np.exp(log - log.max())
    weight /= weight.sum()
    sd = np.sqrt(np.diag(step.covariance))
    middle = (weight @ moved - moved.mean(axis=0)) / sd
    width = np.sqrt(weight @ (moved - weight @ moved) ** 2) / moved.std(axis=0)
    poor = (np.abs(middle) > SHIFT) | (np.abs(width - 1.0) > WIDTH)
    return float(1.0 / np.sum(weight**2) / len(weight)), tuple(int(n) for n in np.nonzero(poor)[0])
