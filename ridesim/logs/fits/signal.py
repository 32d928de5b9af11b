"""Speed and its rate of change out of noisy, uneven samples, by local polynomials with a stated window."""

from __future__ import annotations

from math import lgamma
from typing import Any

import numpy as np

from ridesim.logs.log import Array, Log


def local_polynomial(time_s: Any, value: Any, at_s: Any, half_window_s: float, order: int = 2) -> tuple[Array, Array]:
    """Speed and acceleration from a polynomial fitted around each time, weighted by (1 - (dt/h)^2)^2.

    A window that holds too few samples is widened to the nearest order + 2.

    Parameters
    ----------
    time_s, value : array (n,)
        Samples, time rising; n is order + 2 or more. [s], [m/s]
    at_s : array (k,)
        Where to ask, inside the samples. [s]
    half_window_s : float
        h. [s]
    order : int
        Of the polynomial.

    Returns
    -------
    speed, acceleration : array (k,)
        [m/s], [m/s2]

    Examples
    --------
    A parabola comes back exactly:

    >>> t = np.array([0.0, 0.9, 2.1, 3.0, 4.0, 5.2])
    >>> [float(one[0].round(9)) for one in local_polynomial(t, 10 + 3 * t - 0.2 * t**2, [2.0], 2.5)]
    [15.2, 2.2]
    """
    time, value, at = (np.asarray(x, dtype=float) for x in (time_s, value, at_s))
    away = time - at[:, None]
    need = np.sort(np.abs(away), axis=1)[:, order + 1]
    width = np.maximum(half_window_s, 1.2 * need)[:, None]
    share = away / width
    weight = np.where(np.abs(share) < 1, (1 - share**2) ** 2, 0.0)
    powers = share[..., None] ** np.arange(order + 1)
    moments = np.einsum("kn,kni,knj->kij", weight, powers, powers)
    # rows of the solution are what each sample adds to speed (0) and slope (1)
    adds = np.linalg.solve(moments, np.swapaxes(powers * weight[..., None], 1, 2))
    return adds[:, 0] @ value, (adds[:, 1] / width) @ value


def smooth_log_acceleration(log: Log, half_window_s: float) -> Array:
    """Acceleration all along a log by local parabolas, in pieces so that a long ride stays small in memory. [m/s2]"""
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
        out[start : start + at.size] = local_polynomial(time[a:b], log.speed_m_s[a:b], at, half_window_s)[1]
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
