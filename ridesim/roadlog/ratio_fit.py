"""All gears and the delay of the receiver in one fit, and how far off each ratio may be."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from ridesim.roadlog.log import Array

Gears = NDArray[np.int8]
REMEMBERS_S = 10.0  # how long an error of the receiver is looked for in the samples after it
FORGOTTEN = 0.05  # of the autocorrelation
FEWEST_PAIRS = 20
OUTLIER = 4.0  # standard deviations
BORROWED = 30.0  # samples' worth of scatter that a gear with few samples borrows from the others
ROUNDS = 6
MOST_LOST = 0.6
SMOOTHED_S = 0.3  # a receiver's own smoothing, which is not a pure delay
LEAST_DELAY_S, MOST_DELAY_S = -1.0, 4.0


@dataclass(frozen=True, kw_only=True)
class Fitted:
    """metres_per_rad is v / omega of each gear, error a share of it; seconds and samples are those that were used.

    noise_m_s is the scatter of a sample, of all gears together.
    """

    metres_per_rad: Array
    error: Array
    seconds: Array
    samples: NDArray[np.int64]
    spread: Array
    delay_s: float
    delay_error_s: float
    noise_m_s: float


@dataclass(frozen=True, kw_only=True)
class _Pairs:
    """Speeds, and the engine speed and its rate of change at the time each of them tells of, all within one gear."""

    speed: Array
    engine: Array
    rate: Array
    gear: NDArray[np.int64]
    stretch: NDArray[np.int64]
    row: NDArray[np.int64]


def fit(time: Array, speed: Array, engine: Array, gear_at: Gears, start: Array, delay_s: float, find: bool) -> Fitted:
    """Least squares of  v(t) = r_g omega(t - D)  over all gears g with one delay D.

    The noise stands in the speed, which is why the speed is fitted and not a quotient: the noise of a quotient is lopsided,
    and an error of the delay moves the ratios by a / v, which the shared D takes up. The errors of the receiver last, so the
    standard errors come from the residuals' own autocorrelation (pooled over the gears), by the sandwich rule; those of the
    delay are in them.

    Parameters
    ----------
    time, speed, engine : array (n,)
        [s], [m/s], [rad/s]
    gear_at : array (n,)
        From 1, 0 outside every gear, by the engine speed's clock.
    start : array (gears,)
        r to begin with. [m/rad]
    delay_s : float
        D to begin with. [s]
    find : bool
        Whether D is to be found.

    Returns
    -------
    Fitted
    """
    count, step_s = start.size, float(np.median(np.diff(time)))
    radius, delay = start.copy(), delay_s
    slope = _slopes(time, engine, gear_at)
    scatter = np.full(count, np.inf)
    for _ in range(ROUNDS):
        pairs = _pairs(time, speed, engine, slope, gear_at, delay)
        if pairs.speed.size < 3 * (count + 1):
            return _nothing(radius, delay)
        left = pairs.speed - radius[pairs.gear] * pairs.engine
        clean = np.abs(left) < OUTLIER * scatter[pairs.gear]
        pairs, left = _only(pairs, clean), left[clean]
        scatter = _scatter(left, pairs.gear, count)
        noise = scatter[pairs.gear]
        u, z = pairs.engine / noise, -radius[pairs.gear] * pairs.rate / noise * find
        normal = _matrix(u, u, z, z, pairs.gear, count)
        normal += np.diag(1e-12 * (np.diag(normal) + 1.0))
        right = np.append(np.bincount(pairs.gear, u * left / noise, count), np.sum(z * left / noise))
        step = np.linalg.solve(normal, right)
        radius = radius + step[:-1]
        if find:
            delay = float(np.clip(delay + np.clip(step[-1], -0.3, 0.3), LEAST_DELAY_S, MOST_DELAY_S))
    inverse = np.linalg.inv(normal)
    errors = np.sqrt(np.diag(inverse @ _meat(u, z, left / noise, pairs, step_s, count) @ inverse))
    samples = np.bincount(pairs.gear, minlength=count)
    return Fitted(
        metres_per_rad=radius,
        error=np.hypot(errors[:-1] / radius, _shape(pairs, count, step_s)),
        seconds=np.asarray(samples * step_s, dtype=float),
        samples=samples,
        spread=scatter * samples / np.maximum(np.bincount(pairs.gear, pairs.speed, count), 1e-9),
        delay_s=delay,
        delay_error_s=float(errors[-1]),
        noise_m_s=_pooled(left),
    )


def _nothing(radius: Array, delay: float) -> Fitted:
    """The answer where too few samples lie inside a gear for any fit."""
    none = np.zeros(radius.size)
    return Fitted(
        metres_per_rad=radius,
        error=none + np.inf,
        seconds=none,
        samples=none.astype(np.int64),
        spread=none,
        delay_s=delay,
        delay_error_s=np.inf,
        noise_m_s=0.0,
    )


def _shape(pairs: _Pairs, count: int, step_s: float) -> Array:
    """What smoothing leaves when its delay is out, as a share of the ratio.

    An exponential smoothing of time T tells v(t - T) + T^2 v''/2; over a stretch the mean of v'' is the change of the
    acceleration over the time, which short stretches between hard pulls and braking do not average out.
    """
    ends = np.flatnonzero(np.diff(pairs.stretch))
    first, last = np.append(0, ends + 1), np.append(ends, pairs.stretch.size - 1)
    bent = np.bincount(pairs.gear[first], pairs.rate[last] - pairs.rate[first], count)
    sums = np.bincount(pairs.gear, pairs.engine, count) * step_s
    return np.asarray(0.5 * SMOOTHED_S**2 * np.abs(bent) / np.maximum(sums, 1e-9))


def _joined(time: Array, gear_at: Gears) -> NDArray[np.bool_]:
    """Whether each step from a sample to the next lies within one gear."""
    steps = np.diff(time)
    return np.asarray((gear_at[1:] == gear_at[:-1]) & (gear_at[1:] > 0) & (steps < 2.5 * np.median(steps)))


def _slopes(time: Array, engine: Array, gear_at: Gears) -> Array:
    """Rate of change of the engine speed at each sample, from neighbours in the same gear only. [rad/s2]"""
    joined = _joined(time, gear_at)
    rate = np.where(joined, np.diff(engine) / np.diff(time), 0.0)
    before, after = np.append(0.0, rate), np.append(rate, 0.0)
    has_before, has_after = np.append(False, joined), np.append(joined, False)
    return np.asarray((before + after) / np.maximum(has_before.astype(float) + has_after, 1.0))


def _pairs(time: Array, speed: Array, engine: Array, slope: Array, gear_at: Gears, delay: float) -> _Pairs:
    """Engine speed at t - D by cubics between its samples, where those on both sides are in the same gear.

    Where the log is quick enough, the first and last step of each stretch are left out: the clutch may still be moving.
    """
    joined = _joined(time, gear_at)
    use = joined.copy()
    if np.median(np.diff(time)) < 0.4:
        use[1:] &= joined[:-1]
        use[:-1] &= joined[1:]
    stretch = np.cumsum(~np.append(False, joined))
    when = time - delay
    k = np.clip(np.searchsorted(time, when, side="right") - 1, 0, time.size - 2)
    good = use[k] & (when >= time[0]) & (when <= time[-1]) & np.isfinite(speed)
    k, when = k[good], when[good]
    width = time[k + 1] - time[k]
    s = (when - time[k]) / width
    a, b = engine[k], engine[k + 1]
    p, q = slope[k] * width, slope[k + 1] * width
    value = a + s * p + s**2 * (3 * (b - a) - 2 * p - q) + s**3 * (p + q - 2 * (b - a))
    rate = (p + 2 * s * (3 * (b - a) - 2 * p - q) + 3 * s**2 * (p + q - 2 * (b - a))) / width
    return _Pairs(
        speed=speed[good],
        engine=value,
        rate=rate,
        gear=gear_at[k].astype(np.int64) - 1,
        stretch=stretch[k],
        row=np.flatnonzero(good),
    )


def _only(pairs: _Pairs, keep: NDArray[np.bool_]) -> _Pairs:
    return _Pairs(**{name: getattr(pairs, name)[keep] for name in pairs.__dataclass_fields__})


def _pooled(left: Array) -> float:
    """Standard deviation of all residuals, from their median, which a few strays do not move. [m/s]"""
    return float(np.median(np.abs(left)) * 1.4826)


def _scatter(left: Array, gear: NDArray[np.int64], count: int) -> Array:
    """Standard deviation of the residuals by gear, drawn towards that of all. [m/s]"""
    pooled = max(_pooled(left), 1e-3)
    held = np.minimum(left**2, (OUTLIER * pooled) ** 2)
    samples = np.bincount(gear, minlength=count)
    return np.asarray(np.sqrt((BORROWED * pooled**2 + np.bincount(gear, held, count)) / (BORROWED + samples)))


def _matrix(u: Array, u2: Array, z: Array, z2: Array, gear: NDArray[np.int64], count: int) -> Array:
    """Sums over samples of products of the columns: one a gear (u), and the delay's (z), which all gears share."""
    out = np.zeros((count + 1, count + 1))
    out[np.arange(count), np.arange(count)] = np.bincount(gear, u * u2, count)
    out[:count, count] = out[count, :count] = np.bincount(gear, u * z2 + u2 * z, count) / 2
    out[count, count] = np.sum(z * z2)
    return out


def _meat(u: Array, z: Array, left: Array, pairs: _Pairs, step_s: float, count: int) -> Array:
    """Covariance of the scores: residuals of one stretch go together as their autocorrelation says."""
    meat = _matrix(u, u, z, z, pairs.gear, count)
    white = meat.copy()
    square = float(np.mean(left**2))
    lags = 0
    for lag in range(1, max(round(REMEMBERS_S / step_s), 1) + 1):
        # the receiver does not know of shifts: whatever lies that far apart in one gear counts, what lies between them or not
        b = np.minimum(np.searchsorted(pairs.row, pairs.row + lag), pairs.row.size - 1)
        a = np.flatnonzero((pairs.row[b] == pairs.row + lag) & (pairs.gear[b] == pairs.gear))
        if a.size < FEWEST_PAIRS:
            break
        b, lags = b[a], lag
        together = float(np.mean(left[a] * left[b])) / square
        if together < FORGOTTEN:
            break
        meat += 2 * together * _matrix(u[a], u[b], z[a], z[b], pairs.gear[a], count)
    low = np.diag(meat) < np.diag(white)
    meat[low, :] = white[low, :]
    meat[:, low] = white[:, low]
    # the fit takes out of the residuals what would show in their autocorrelation: one part in n at each lag for each parameter
    lost = (2 * lags + 1) * (count + 1) / left.size
    return meat * square / (1.0 - min(lost, MOST_LOST))
