"""Speed and its rate of change out of noisy, uneven samples, by local polynomials with a stated window; errors that last."""

from __future__ import annotations

from math import lgamma
from typing import Any

import numpy as np
from numpy.typing import NDArray

from ridesim.logs.fits.bike import NORMAL_90
from ridesim.logs.log import Array, Log

REMEMBERS_S = 10.0  # how long an error of the receiver is looked for in the samples after it
LONGEST_S = 8.0  # an error of the receiver that lasts
FEWEST_PAIRS = 20
MOST_LOST = 0.6
FEWEST_FREE = 3.0
FORGOTTEN = 0.01  # of the variance


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
    """The 95 % quantile of Student's law:  the integral of cos^(nu-1) from 0 to atan(t / sqrt(nu)) is 0.9 of that to pi/2.

    By Newton's method from below, where each step falls short, so that it needs no bracket; the integral by Simpson's rule.
    scipy has it too, but takes longer to load than a fit to make.

    Parameters
    ----------
    free : float
        nu, the degrees of freedom, 1 or more; they need not be whole. [-]

    Returns
    -------
    float
        t, by which a standard error is multiplied for half a 5 to 95 % band. [-]

    Examples
    --------
    The fewer free residuals, the wider: tables have 6.314 for one, 1.812 for ten, and 1.645 for very many.

    >>> [round(student_95(free), 6) for free in (1.0, 2.5, 10.0, 1e6)]
    [6.313752, 2.558219, 1.812461, 1.644855]
    """
    power, whole = free - 1.0, np.sqrt(np.pi) / 2 * np.exp(lgamma(free / 2) - lgamma((free + 1) / 2))
    weights = np.tile([2.0, 4.0], 200)
    angle = np.arctan(NORMAL_90 / np.sqrt(free))
    for _ in range(50):
        heights = np.cos(np.linspace(0.0, angle, 401)) ** power
        area = angle / 1200 * (weights @ heights[:-1] - heights[0] + heights[-1])
        step = (0.9 * whole - area) / heights[-1]
        angle += step
        if abs(step) < 1e-14 * angle:
            break
    return float(np.tan(angle) * np.sqrt(free))


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


def covariance_of_scores(columns: Array, left: Array, row: NDArray[np.int64], step_s: float) -> tuple[Array, float]:
    """Covariance of the scores of a least-squares fit whose errors last, and by what a band is wider because that is only estimated.

    Residuals go together as an error that fades does, whichever gears they lie in: the receiver does not know of shifts, so
    neighbors in two gears share its errors as neighbors in one do.

    How long errors last is itself read off the residuals. Over N = T / tau times that they came and went, the variance of a mean goes
    with tau^2, ln tau has a variance of 2 / N and is 2 / N too low (Kendall 1954, from memory): the mean of the variance is
    1 + 8 / N times that at the likeliest tau, and it is known as well as by N / 4 free residuals (Student's law).

    Parameters
    ----------
    columns : array (n, parameters)
        Of the fit, divided by the noise.
    left : array (n,)
        Residuals, divided by the noise.
    row : array (n,)
        Which sample of the log each of them is, rising.
    step_s : float
        Between samples. [s]

    Returns
    -------
    covariance : array (parameters, parameters)
    wider : float
        1 or more.
    """
    most = max(round(REMEMBERS_S / step_s), 1)
    together, count, ends = [], [], []
    for lag in range(1, most + 1):
        b = np.minimum(np.searchsorted(row, row + lag), row.size - 1)
        a = np.flatnonzero(row[b] == row + lag)
        if a.size < FEWEST_PAIRS:
            break
        ends.append((a, b[a]))
        together.append(float(np.mean(left[a] * left[b[a]])))
        count.append(a.size)
    square = float(np.mean(left**2))
    if not ends:
        return np.asarray(columns.T @ columns * square), 1.0
    level, keeps, lasts_s = _fading(np.array(together) / square, np.array(count), columns.shape[1] / left.size, step_s)
    meat = columns.T @ columns
    for (a, b), share in zip(ends, keeps, strict=False):
        if share < FORGOTTEN:
            break
        both = columns[a].T @ columns[b]
        meat += share * (both + both.T)
    known = left.size * step_s / max(lasts_s, step_s)  # times the errors came and went
    return np.asarray(meat * square * level * (1.0 + 8.0 / known)), student_95(
        max(known / 4.0, FEWEST_FREE)
    ) / NORMAL_90


def _fading(together: Array, count: Array, lost: float, step_s: float) -> tuple[float, Array, float]:
    """The variance over that of the residuals, the share of it that two errors some steps apart have in common, and how long they last.

    An error that fades exponentially and one that does not last: 1 at lag 0, p q^k at lag k. A fit of some parameters to n samples
    takes (parameters / n) of the sum over all lags out of the residuals' covariance at every lag, so that errors that last
    look shorter than they are; that is in what is compared.
    """
    lasts = np.geomspace(0.1, LONGEST_S, 30)[:, None, None]
    share = np.linspace(0.0, 1.0, 21)[:, None]
    lag = np.arange(1, together.size + 1)
    fades = np.exp(-lag * step_s / lasts)
    per_step = np.exp(-step_s / lasts)
    gone = np.minimum(lost * (1.0 + 2.0 * share * per_step / (1.0 - per_step)), MOST_LOST)
    seen = (share * fades - gone) / (1.0 - gone)
    misfit = np.sum(count * (seen - together) ** 2, axis=-1)
    i, j = np.unravel_index(int(np.argmin(misfit)), misfit.shape)
    return float(1.0 / (1.0 - gone[i, j, 0])), np.asarray(share[j] * fades[i, 0]), float(share[j, 0] * lasts[i, 0, 0])
