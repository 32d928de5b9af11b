"""All pulls of a day in one fit, forwards: force, bike, throttle and receiver together against the speeds that were logged."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace

import numpy as np

from ridesim.logs.fits.pull_ride import BEFORE_S, BIKE, KNOTS, OWN, SHARED, Pulls
from ridesim.logs.fits.receiver import SHAPES, STEPS, Receiver
from ridesim.logs.log import Array

STEP_SD = 0.4  # of the force from knot to knot, in shares
BEND = -0.02  # mean of its second differences, in shares
# what is thought of the errors, logarithms with their standard deviations: white [m/s], lasting [m/s], how long [s],
# gusts [m/s per root s], and how rough the curve is
LIKELY = np.log([0.05, 0.08, 3.0, 0.04, 0.04])
LIKELY_SD = np.array([1.0, 0.6, 0.5, 0.4, 0.5])
FAR_SD = 5.0  # a sample so far from what all others say is left out
ENOUGH = 0.05  # of half a chi square: a step that gains less is the last one
NEGLIGIBLE = 5.0  # of half a chi square: a receiver so much worse counts for nothing
SETTLES_S = 0.5  # from when the throttle begins to open, and half the width of the receiver's smoothing on top
FAR_ENOUGH = NEGLIGIBLE + 2.0  # the same of one that is only predicted
COARSE = (10.0, 4.0, 16.0, 21.0, 26.0)  # steps of the ladder in the first search
FEWEST_NEAR = 3  # receivers within 2 of the best that a fine enough ladder holds
COARSEST, FINEST = 1.0, 0.5  # its steps


@dataclass(frozen=True, kw_only=True)
class Weights:
    """What the samples and the priors weigh in the sum of squares.

    Attributes
    ----------
    roots : list of array (samples, samples)
        Of each run the inverse root of its errors' covariance. [s/m]
    log_det : float
        Logarithm of the roots' determinants, all runs together.
    rows : array (priors, unknowns)
    wants : array (priors,)
        A prior asks for rows @ x = wants within one.
    """

    roots: list[Array]
    log_det: float
    rows: Array
    wants: Array


@dataclass(frozen=True, kw_only=True)
class FittedReceiver:
    """The best unknowns with one receiver: half of chi square, its matrix, and the trace that goes with x while it is needed."""

    x: Array
    half_chi2: float
    matrix: Array
    trace: tuple[Array, Array] | None


class DayOfPulls:
    """The fit of a day: for each receiver that may have been it, the unknowns, their covariance, and a weight."""

    def __init__(self, pulls: Pulls, progress: Callable[[float], None] | None = None) -> None:
        self.pulls, self.sizes = pulls, LIKELY
        self.left_out, self.samples = 0, sum(time.size for time, _ in pulls.samples)
        step, bend = (np.diff(np.eye(KNOTS), k, axis=0) for k in (1, 2))
        rest = pulls.mean.size - BIKE - KNOTS
        self.step_rows, self.bend_rows = (np.pad(rows, ((0, 0), (BIKE, rest))) for rows in (step, bend))
        told = progress or (lambda share: None)
        self.found, self.step = dict[Receiver, tuple[float, FittedReceiver]](), COARSEST
        self.weights = self.weighed(LIKELY)
        start = self._find(self.pulls.mean, Receiver("a lag", COARSE[0]))
        for at in COARSE[1:]:
            start = self._find(start, Receiver("a lag", at))
        told(0.3)
        for _ in range(2):
            best, start = self._walked()
            self.sizes = self._sizes(start, best)
            self._leave_out(start, best)
            self.weights, self.found = self.weighed(self.sizes), {}
            self._find(start, best)
        told(0.6)
        self._walked()
        while self.scan(self.step) < FEWEST_NEAR and self.step > FINEST:
            self.step /= 2
        told(1.0)

    def weighed(self, sizes: Array) -> Weights:
        """What errors of these sizes make of the samples: white, lasting (first-order), and gusts walked into the speed."""
        white, lasting, lasts, gust, rough = np.exp(sizes)
        roots, log_det = [], 0.0
        for time, _ in self.pulls.samples:
            since = np.maximum(time - BEFORE_S, 0.0)
            apart = np.abs(time[:, None] - time)
            covariance = lasting**2 * np.exp(-apart / lasts) + gust**2 * np.minimum(since[:, None], since)
            root = np.linalg.cholesky(covariance + white**2 * np.eye(time.size))
            roots.append(np.linalg.inv(root))
            log_det += float(np.log(np.diag(root)).sum())
        rows = np.vstack([np.diag(1 / self.pulls.sd), self.step_rows / STEP_SD, self.bend_rows / rough])
        wants = np.concatenate([self.pulls.mean / self.pulls.sd, np.zeros(KNOTS - 1), np.full(KNOTS - 2, BEND / rough)])
        return Weights(roots=roots, log_det=log_det, rows=rows, wants=wants)

    def normal(self, x: Array, seen: Sequence[Array], weights: Weights) -> tuple[float, Array, Array]:
        """Half of chi square with the priors, its slope and its matrix."""
        miss = weights.rows @ x - weights.wants
        matrix, slope, chi2 = weights.rows.T @ weights.rows, weights.rows.T @ miss, float(miss @ miss)
        shared = np.arange(SHARED)
        for run, (rows, root) in enumerate(zip(seen, weights.roots, strict=True)):
            white = root @ rows
            both = white.T @ white
            at = np.concatenate([shared, np.arange(SHARED + run * OWN, SHARED + (run + 1) * OWN)])
            matrix[np.ix_(at, at)] += both[1:, 1:]
            slope[at] += both[1:, 0]
            chi2 += float(both[0, 0])
        return chi2 / 2, slope, matrix

    def solve(self, start: FittedReceiver | Array, receiver: Receiver, most: int = 12) -> FittedReceiver:
        """Gauss-Newton steps from a start, each shortened until it gains."""
        x, trace = (start.x, start.trace) if isinstance(start, FittedReceiver) else (start, None)
        trace = trace or self.pulls.trace(x)
        cost, slope, matrix = self.normal(x, self.pulls.seen(trace, receiver), self.weights)
        for _ in range(most):
            step = -np.linalg.solve(matrix, slope)
            if -slope @ step / 2 < ENOUGH:
                break
            for shorter in (1.0, 0.4, 0.12):
                tried = x + shorter * step
                new_trace = self.pulls.trace(tried)
                new = self.normal(tried, self.pulls.seen(new_trace, receiver), self.weights)
                if new[0] < cost:
                    break
            else:
                break
            x, trace, (cost, slope, matrix) = tried, new_trace, new
        return FittedReceiver(x=x, half_chi2=cost, matrix=matrix, trace=trace)

    def _trace(self, at: FittedReceiver) -> tuple[Array, Array]:
        """The trace of a fit, ridden again where it was let go."""
        return at.trace or self.pulls.trace(at.x)

    def _best(self) -> tuple[Receiver, FittedReceiver]:
        """The likeliest receiver that was tried, and its fit."""
        best = min(self.found, key=lambda one: self.found[one][0])
        return best, self.found[best][1]

    def _walked(self) -> tuple[Receiver, FittedReceiver]:
        """The likeliest receiver by steps up and down the ladder from the best that was tried."""
        while True:
            best, solved = self._best()
            beside = (Receiver(best.shape, best.step + way) for way in (-1.0, 1.0))
            untried = [one for one in beside if one.exists and one not in self.found]
            if not untried:
                return best, solved
            for receiver in untried:
                self._find(solved, receiver)

    def predicted(self, at: FittedReceiver, receivers: Sequence[Receiver]) -> dict[Receiver, float]:
        """How much worse each receiver would be, from one straight step out of a fit with another."""
        trace = self._trace(at)
        out = {}
        for receiver in receivers:
            cost, slope, matrix = self.normal(at.x, self.pulls.seen(trace, receiver), self.weights)
            gained = float(slope @ np.linalg.solve(matrix, slope)) / 2
            out[receiver] = self._worse(cost - gained, matrix, receiver)
        return out

    def _worse(self, half_chi2: float, matrix: Array, receiver: Receiver) -> float:
        """Minus the logarithm of the evidence for a receiver: prior x exp(-cost) / sqrt det H."""
        return float(half_chi2 + np.linalg.slogdet(matrix)[1] / 2 - receiver.log_prior)

    def _sizes(self, at: FittedReceiver, receiver: Receiver) -> Array:
        """Sizes of the errors and roughness of the curve: those under which the speeds logged are the likeliest (marginal, the fit straight at x)."""
        seen = self.pulls.seen(self._trace(at), receiver)

        def cost(sizes: Array) -> float:
            weights = self.weighed(sizes)
            c, slope, matrix = self.normal(at.x, seen, weights)
            gained = slope @ np.linalg.solve(matrix, slope) / 2
            prior = weights.rows.T @ weights.rows
            dets = weights.log_det + (np.linalg.slogdet(matrix)[1] - np.linalg.slogdet(prior)[1]) / 2
            return float(c - gained + dets + np.sum(((sizes - LIKELY) / LIKELY_SD) ** 2) / 2)

        from scipy.optimize import minimize

        first = np.vstack([np.zeros(LIKELY.size), 0.4 * np.eye(LIKELY.size)])  # a twentieth of LIKELY_SD is near enough
        how = {"initial_simplex": first, "xatol": 0.05, "fatol": 0.05, "maxiter": 160}
        found = minimize(lambda z: cost(self.sizes + LIKELY_SD * z), first[0], method="Nelder-Mead", options=how)
        return np.asarray(self.sizes + LIKELY_SD * found.x)

    def _leave_out(self, at: FittedReceiver, receiver: Receiver) -> None:
        """Leave out samples that lie far from what all others say of them."""
        weights = self.weighed(self.sizes)
        for run, (rows, root) in enumerate(zip(self.pulls.seen(self._trace(at), receiver), weights.roots, strict=True)):
            precision = root.T @ root
            near = np.abs(precision @ rows[:, 0]) < FAR_SD * np.sqrt(np.diag(precision))
            self.left_out += int(np.sum(~near))
            time, speed = self.pulls.samples[run]
            self.pulls.samples[run] = time[near], speed[near]

    def _find(self, start: FittedReceiver | Array, receiver: Receiver) -> FittedReceiver:
        """Fit with one receiver, and keep it with how much its evidence lacks."""
        solved = self.solve(start, receiver)
        self.found[receiver] = (self._worse(solved.half_chi2, solved.matrix, receiver), solved)
        return solved

    def _untried(self, step: float, limit: float) -> list[Receiver]:
        """Receivers on a ladder of this step that were not tried: all at first, then those beside one that is not far worse than the best."""
        ladder = (Receiver(shape, float(k)) for shape in SHAPES for k in np.arange(0, STEPS + step, step))
        near = [one for one, (worse, _) in self.found.items() if worse < limit]
        return [
            one
            for one in ladder
            if one.exists
            and one not in self.found
            and (step == COARSEST or any(a.shape == one.shape and abs(a.step - one.step) <= 2 * step for a in near))
        ]

    def scan(self, step: float) -> int:
        """Fit with every receiver of the ladder that may have been it, and share them out by their evidence; how many are near the best."""
        for _ in range(3):
            best, solved = self._best()
            limit = self.found[best][0] + FAR_ENOUGH
            likely = self.predicted(solved, self._untried(step, limit))
            missing = [one for one, worse in likely.items() if worse < limit]
            for receiver in sorted(missing, key=lambda one: (one.shape != best.shape, abs(one.step - best.step))):
                near = [one for one in self.found if one.shape == receiver.shape] or [best]
                closest = min(near, key=lambda one: abs(one.step - receiver.step))
                self._find(self.found[closest][1], receiver)
            if not missing:
                break
        self.found = {one: (worse, replace(solved, trace=None)) for one, (worse, solved) in self.found.items()}
        top = min(worse for worse, _ in self.found.values())
        self.receivers = [r for r, (worse, _) in self.found.items() if worse < top + NEGLIGIBLE and r.step % step == 0]
        worse_by = np.array([self.found[r][0] - top for r in self.receivers])
        self.share = np.exp(-worse_by) / np.exp(-worse_by).sum()
        self.x = np.array([self.found[r][1].x for r in self.receivers])
        self.covariance = np.linalg.inv(np.array([self.found[r][1].matrix for r in self.receivers]))
        return int(np.sum(worse_by < 2))

    def span(self) -> tuple[float, float]:
        """Road speeds between which the throttle was fully open, but for what a log cannot tell of the first moments. [m/s]"""
        pulls = self.pulls
        x = self.x[np.argmax(self.share)]
        speed = pulls.ride(x[None])[0]
        own = x[SHARED:].reshape(pulls.count, OWN)
        settles = SETTLES_S + self.widths_s()[1] / 2
        ends = ((own[r, 1] + settles, own[r, 2]) for r in range(pulls.count))
        at = np.array([np.interp(end, pulls.time, speed[:, r]) for r, end in enumerate(ends)])
        low, high = np.median(at, axis=0)
        return float(low), float(high)

    def widths_s(self) -> tuple[float, float, float]:
        """The width of the receiver's smoothing: 5 %, mean, 95 %. [s]"""
        widths = np.array([receiver.width_s for receiver in self.receivers])
        order = np.argsort(widths)
        reached = np.cumsum(self.share[order])
        low, high = (float(np.interp(at, reached, widths[order])) for at in (0.05, 0.95))
        return low, float(self.share @ widths), high

    def parts(self, speed: Array) -> tuple[Array, Array, Array]:
        """Power at some speeds for each receiver, its covariance with the bike as told, and what one sd of each figure of the bike does. [W]"""
        rows = np.zeros((speed.size, self.x.shape[1]))
        rows[:, BIKE : BIKE + KNOTS] = self.pulls.basis(speed) * (self.pulls.scale * speed)[:, None]
        bike = self.covariance[:, :BIKE, :BIKE]
        by_bike = rows @ self.covariance[:, :, :BIKE] @ np.linalg.inv(bike)
        alone = rows @ self.covariance @ rows.T - by_bike @ bike @ by_bike.transpose(0, 2, 1)
        return self.x @ rows.T, alone, by_bike


def mixed(each: Array, covariances: Array, by_bike: Array, share: Array) -> tuple[Array, Array]:
    """Mean and covariance over receivers with these shares; what the bike's figures do comes in once."""
    mean = share @ each
    far = each - mean
    told = np.tensordot(share, by_bike, 1)
    return mean, np.tensordot(share, covariances, 1) + (share[:, None] * far).T @ far + told @ told.T
