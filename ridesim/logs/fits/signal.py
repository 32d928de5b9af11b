"""Speed and its rate of change out of noisy, uneven samples, by local polynomials with a stated window."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from math import lgamma
from typing import Any

import numpy as np

from ridesim.errors import InputError
from ridesim.logs.log import Array, Log, Run, frozen

ORDER = 3  # of the local polynomial
NARROWEST_S, WIDEST_S = 0.8, 4.0  # wider ones flatten what a tune is looked at for


@dataclass(frozen=True, kw_only=True)
class Smooth:
    """A smoothed segment: speed and acceleration at time_s.

    rate_error_per_noise is the standard error of the acceleration for each m/s of independent noise of one sample [1/s].
    """

    time_s: Array
    speed_m_s: Array
    acceleration_m_s2: Array
    rate_error_per_noise: Array
    half_window_s: float


def local_polynomial(time_s: Any, value: Any, at_s: Any, half_window_s: float, order: int = ORDER) -> Smooth:
    """Speed and acceleration from a polynomial fitted around each time, weighted by (1 - (dt/h)^2)^2.

    The slope of a local cubic has no bias from a ride whose speed is a cubic of time within the window; what is left goes
    with the fifth derivative and h^4, and smoothing_bias_m_s2 says how much it is. Its variance is that of a sample times the
    sum of the squared weights. A window that holds too few samples is widened to the nearest order + 2.

    Parameters
    ----------
    time_s, value : array (n,)
        Samples, time rising. [s], [m/s]
    at_s : array (k,)
        Where to ask, inside the samples. [s]
    half_window_s : float
        h. [s]
    order : int
        Of the polynomial.

    Returns
    -------
    Smooth

    Examples
    --------
    A parabola comes back exactly:

    >>> t = np.array([0.0, 0.9, 2.1, 3.0, 4.0, 5.2])
    >>> smooth = local_polynomial(t, 10 + 3 * t - 0.2 * t**2, [2.0], 2.5)
    >>> float(smooth.speed_m_s[0].round(9)), float(smooth.acceleration_m_s2[0].round(9))
    (15.2, 2.2)
    """
    time, value, at = (np.asarray(x, dtype=float) for x in (time_s, value, at_s))
    if time.size < order + 2:
        problem = f"are too few to smooth with: {order + 2} or more are needed"
        fix = "Log more often, or cut a longer segment."
        raise InputError("time_s", f"{time.size} samples", problem, fix)
    away = time - at[:, None]
    need = np.sort(np.abs(away), axis=1)[:, order + 1]
    width = np.maximum(half_window_s, 1.2 * need)[:, None]
    share = away / width
    weight = np.where(np.abs(share) < 1, (1 - share**2) ** 2, 0.0)
    powers = share[..., None] ** np.arange(order + 1)
    moments = np.einsum("kn,kni,knj->kij", weight, powers, powers)
    # rows of the solution are what each sample adds to speed (0) and slope (1)
    adds = np.linalg.solve(moments, np.swapaxes(powers * weight[..., None], 1, 2))
    slope = adds[:, 1] / width
    return Smooth(
        time_s=frozen(at),
        speed_m_s=frozen(adds[:, 0] @ value),
        acceleration_m_s2=frozen(slope @ value),
        rate_error_per_noise=frozen(np.sqrt(np.sum(slope**2, axis=1))),
        half_window_s=float(half_window_s),
    )


def noise_of(runs: Sequence[Run]) -> float:
    """Noise of one sample, from the third differences of neighboring samples, which leave nothing of a smooth ride. [m/s]

    Uneven steps are allowed for: each combination of four neighbors that annuls every parabola is scaled to the noise of
    one sample. An error that lasts over several samples is seen too small.
    """
    parts = []
    for run in runs:
        t, v = run.time_s, run.speed_m_s
        if t.size < 4:
            continue
        four_t = np.lib.stride_tricks.sliding_window_view(t, 4)
        four_v = np.lib.stride_tricks.sliding_window_view(v, 4)
        gaps = four_t[:, :, None] - four_t[:, None, :] + np.eye(4)
        divided = 1.0 / np.prod(gaps, axis=2)  # third divided difference
        parts.append(np.sum(divided * four_v, axis=1) / np.sqrt(np.sum(divided**2, axis=1)))
    if not parts:
        raise InputError("runs", None, "are too short to tell their noise", "Cut longer segmentes.")
    return float(np.sqrt(np.mean(np.concatenate(parts) ** 2)))


def smoothing_bias_m_s2(run: Run, at_s: Any, half_window_s: float) -> Array:
    """What the window takes off or adds to the acceleration, from the smoothing of a run without noise of the same shape.

    The shape is a polynomial of degree 6 (less for few samples) through the whole run: smoothed like the run and compared
    with its own derivative.

    Parameters
    ----------
    run : Run
    at_s : array (k,)
        [s]
    half_window_s : float
        [s]

    Returns
    -------
    array (k,)
        Smoothed less true acceleration. [m/s2]
    """
    shape = np.polynomial.Polynomial.fit(run.time_s, run.speed_m_s, max(1, min(6, run.time_s.size - 3)))
    smooth = local_polynomial(run.time_s, shape(run.time_s), at_s, half_window_s)
    return np.asarray(smooth.acceleration_m_s2 - shape.deriv()(np.asarray(at_s, dtype=float)))


def best_window_s(runs: Sequence[Run], noise_m_s: float) -> float:
    """The half window for which noise and bend together put the average acceleration of the runs least off.

    The noise of the average falls with the number of runs; the bend is the same in all of them and does not.
    """
    steps = np.concatenate([np.diff(run.time_s) for run in runs])
    share = np.linspace(0.15, 0.85, 16)
    best, least = WIDEST_S, np.inf
    for half in np.geomspace(max(NARROWEST_S, 2.0 * float(np.median(steps))), WIDEST_S, 9):
        noise, bend = [], []
        for run in runs:
            at = run.time_s[-1] * share
            noise.append(
                (noise_m_s * local_polynomial(run.time_s, run.speed_m_s, at, float(half)).rate_error_per_noise) ** 2
            )
            bend.append(smoothing_bias_m_s2(run, at, float(half)))
        total = float(np.mean(np.mean(bend, axis=0) ** 2) + np.mean(noise) / len(runs))
        if total < least:
            best, least = float(half), total
    return best


def smooth_log_acceleration(log: Log, half_window_s: float = 2.0, order: int = ORDER) -> Array:
    """Acceleration all along a log by local polynomials, in pieces so that a long ride stays small in memory. [m/s2]"""
    if log.time_s.size < 6:
        return np.gradient(log.speed_m_s, log.time_s)
    time = log.time_s
    out = np.empty(time.size)
    piece, margin = 40, 40  # the work grows with the square of a piece; the margin serves windows that gaps make wider
    for start in range(0, time.size, piece):
        at = time[start : start + piece]
        a = min(int(np.searchsorted(time, at[0] - half_window_s)), start - margin)
        b = max(int(np.searchsorted(time, at[-1] + half_window_s, side="right")), start + piece + margin)
        a, b = max(a, 0), min(b, time.size)
        a = min(a, max(b - 6, 0))
        out[start : start + at.size] = local_polynomial(
            time[a:b], log.speed_m_s[a:b], at, half_window_s, order
        ).acceleration_m_s2
    return out


def student_95(free: float) -> float:
    """The 95 % quantile of Student's law: the t for which  integral of c (1 + x^2/n)^(-(n + 1)/2) from 0 to t = 0.45.

    Its own few lines, because a command would load scipy for longer than it takes to answer.

    >>> round(student_95(1.0), 6), round(student_95(10.0), 6)
    (6.313752, 1.812461)
    """
    nodes, weights = np.polynomial.legendre.leggauss(60)
    log_c = lgamma((free + 1) / 2) - lgamma(free / 2) - 0.5 * np.log(np.pi * free)

    def density(x: Any) -> Any:
        return np.exp(log_c - (free + 1) / 2 * np.log1p(np.square(x) / free))

    t = 1.6448536269514722
    for _ in range(20):
        t += (0.45 - t / 2 * float(weights @ density(t / 2 * (nodes + 1)))) / float(density(t))
    return t


def parabolas(values: Array, step: float) -> tuple[Array, Array]:
    """Values and slopes of parabolas through each five neighbors (Savitzky and Golay); those at the ends go on to the ends.

    >>> [(one.round(9) + 0.0).tolist() for one in parabolas(np.arange(6.0) ** 2, 1.0)]
    [[0.0, 1.0, 4.0, 9.0, 16.0, 25.0], [0.0, 2.0, 4.0, 6.0, 8.0, 10.0]]
    """
    solve = np.linalg.pinv(np.vander(np.arange(-2.0, 3.0), 3, increasing=True))
    a, b, c = np.pad(solve @ np.lib.stride_tricks.sliding_window_view(values, 5).T, ((0, 0), (2, 2)), mode="edge")
    at = np.zeros(values.size)
    at[:2], at[-2:] = (-2.0, -1.0), (1.0, 2.0)
    return a + b * at + c * at**2, (b + 2 * c * at) / step


def bell(values: Array, sigma: float) -> Array:
    """Means weighted by a normal law of some samples, cut off at four of them and mirrored at the ends."""
    reach = int(4.0 * sigma + 0.5)
    weights = np.exp(-0.5 * (np.arange(-reach, reach + 1) / sigma) ** 2)
    return np.convolve(np.pad(values, reach, mode="symmetric"), weights / weights.sum(), mode="valid")
