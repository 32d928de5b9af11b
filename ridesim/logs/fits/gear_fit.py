"""One fit of all gears of a log with the receiver's delay and smoothing."""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from ridesim.logs.fits.receiver import LONGEST_MEAN_S, NARROWEST_S, SHAPES, smoothed
from ridesim.logs.fits.signal import covariance_of_scores
from ridesim.logs.log import Array

Gears = NDArray[np.int8]
OUTLIER = 4.0  # standard deviations
BORROWED = 30.0  # samples' worth of scatter that a gear with few samples borrows from the others
ROUNDS = 6
BROAD, BROADEST = 0.25, 0.35  # square of the width of a receiver's smoothing, before the log is looked at [s2]
WIDER, FINE_S, BEYOND_S = 1.1, 0.1, 6.0  # for its slope; steps of the true speed, and how far it goes on beyond the log
SHIFT_S, SETTLES_S = 3.0, 2.0  # the longest gap between two gears that is a shift, and how long a start is remembered
LEAST_DELAY_S, MOST_DELAY_S = -1.0, 4.0


@dataclass(frozen=True, kw_only=True)
class Fitted:
    """The gears of a log by least squares.

    Attributes
    ----------
    meters_per_rad : array (gears,)
        v / omega. [m/rad]
    error : array (gears,)
        Its standard error, as a share of it. [-]
    seconds, samples : array (gears,)
        Those that were used. [s], [-]
    delay_s : float
        By how much the speed is later than the engine. [s]
    noise_m_s : float
        Scatter of a sample, of all gears together. [m/s]
    log_likelihood : float
        That of the residuals and of the smoothing's width, but for a constant.
    """

    meters_per_rad: Array
    error: Array
    seconds: Array
    samples: NDArray[np.int64]
    delay_s: float
    noise_m_s: float
    log_likelihood: float


@dataclass(frozen=True, kw_only=True)
class _Pairs:
    """Speeds, and at the time each tells of, within one gear: engine speed, its rate of change, what smoothing adds, and its slope."""

    speed: Array
    engine: Array
    rate: Array
    smoothing: Array
    bend: Array
    gear: NDArray[np.int64]
    row: NDArray[np.int64]


def fit(time: Array, speed: Array, engine: Array, gear_at: Gears, start: Array, delay_s: float) -> Fitted | None:
    """Least squares of  v(t) = (K r_g omega)(t - D)  over all gears g with one delay D and one smoothing K of the receiver.

    The noise stands in the speed, which is why the speed is fitted and not a quotient: the noise of a quotient is lopsided,
    and an error of the delay moves the ratios by a / v, which the shared D takes up. K is each of the shapes of `receiver.py`
    with a width of its own, mixed by how likely the residuals are. The errors of the receiver last, so the standard errors
    come from the residuals' own autocorrelation (pooled over the gears), by the sandwich rule; those of delay and smoothing
    are in them.

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

    Returns
    -------
    Fitted, or None where too few samples lie inside a gear
    """
    made = (_with_shape(time, speed, engine, gear_at, start, delay_s, shape) for shape in SHAPES)
    each = [one for one in made if one is not None]
    if not each:
        return None
    best = max(each, key=lambda one: one.log_likelihood)
    share = np.exp([one.log_likelihood - best.log_likelihood for one in each])
    share /= share.sum()
    radius = np.array([one.meters_per_rad for one in each])
    mean = share @ radius
    error = np.sqrt(share @ (np.array([one.error * one.meters_per_rad for one in each]) ** 2 + (radius - mean) ** 2))
    return replace(best, meters_per_rad=mean, error=error / mean)


def _with_shape(
    time: Array, speed: Array, engine: Array, gear_at: Gears, start: Array, delay_s: float, shape: str
) -> Fitted | None:
    """The fit with one shape of the receiver's smoothing; None where too few samples lie inside a gear."""
    count, step_s = start.size, float(np.median(np.diff(time)))
    radius, delay, broad = start.copy(), delay_s, BROAD
    slope = _slopes(time, engine, gear_at)
    scatter = np.full(count, np.inf)
    for _ in range(ROUNDS):
        said = _told(time, speed, engine, gear_at, radius, delay)
        pairs = _pairs(time, speed, engine, slope, _smoothing(time, said, shape, broad), gear_at, delay)
        if pairs.speed.size < 3 * (count + 2):
            return None
        left = pairs.speed - radius[pairs.gear] * pairs.engine - pairs.smoothing
        clean = np.abs(left) < OUTLIER * scatter[pairs.gear]
        pairs, left = _Pairs(**{name: values[clean] for name, values in vars(pairs).items()}), left[clean]
        scatter = _scatter(left, pairs.gear, count)
        noise = scatter[pairs.gear]
        columns = _columns(pairs, radius) / noise[:, None]
        normal = columns.T @ columns
        normal += np.diag(1e-12 * (np.diag(normal) + 1.0))
        normal[-1, -1] += BROADEST**-2
        right = columns.T @ (left / noise)
        right[-1] -= (broad - BROAD) / BROADEST**2
        step = np.linalg.solve(normal, right)
        radius = radius + step[:-2]
        delay = float(np.clip(delay + np.clip(step[-2], -0.3, 0.3), LEAST_DELAY_S, MOST_DELAY_S))
        broad = float(np.clip(broad + np.clip(step[-1], -0.5 * broad, broad), NARROWEST_S**2, LONGEST_MEAN_S**2))
    inverse = np.linalg.inv(normal)
    meat, surer = covariance_of_scores(columns, left / noise, pairs.row, step_s)
    meat[-1, -1] += BROADEST**-2
    errors = np.sqrt(np.diag(inverse @ meat @ inverse)) * surer
    samples = np.bincount(pairs.gear, minlength=count)
    return Fitted(
        meters_per_rad=radius,
        error=errors[:-2] / radius,
        seconds=np.asarray(samples * step_s, dtype=float),
        samples=samples,
        delay_s=delay,
        noise_m_s=_pooled(left),
        log_likelihood=_log_likelihood(left) - ((broad - BROAD) / BROADEST) ** 2 / 2,
    )


def _log_likelihood(left: Array) -> float:
    """Of residuals that fade from one to the next, but for a constant."""
    keeps = float(np.clip(np.sum(left[1:] * left[:-1]) / np.sum(left**2), 0.0, 0.98))
    return float(-left.size / 2 * np.log(np.mean((left[1:] - keeps * left[:-1]) ** 2)))


def _columns(pairs: _Pairs, radius: Array) -> Array:
    """What each sample's speed changes with each ratio, the delay, and the square of the smoothing's width."""
    columns = np.zeros((pairs.speed.size, radius.size + 2))
    columns[np.arange(pairs.speed.size), pairs.gear] = pairs.engine
    columns[:, -2] = -radius[pairs.gear] * pairs.rate
    columns[:, -1] = pairs.bend
    return columns


def _smoothing(time: Array, said: Array, shape: str, square_s2: float) -> tuple[Array, Array]:
    """What a receiver of this shape makes of the speed when its delay is out, and its slope by the square of its width. [m/s]"""
    step_s = float(np.median(np.diff(time)))
    fine = min(step_s, FINE_S)
    clock = np.arange(time[0] - BEYOND_S, time[-1] + BEYOND_S, fine)
    true, kind = np.interp(clock, time, said), SHAPES[shape]
    at, more = (
        np.interp(
            time + kind.delay * width,
            clock,
            smoothed(true, fine, np.array(0.0), kind.lags, kind.lag * width, kind.mean * width),
        )
        for width in np.sqrt([square_s2, WIDER * square_s2])
    )
    return at - said, (more - at) / ((WIDER - 1.0) * square_s2)


def _told(time: Array, speed: Array, engine: Array, gear_at: Gears, radius: Array, delay: float) -> Array:
    """The true speed: told by the engine within a gear, straight over a shift between two, elsewhere as logged. [m/s]"""
    said = np.interp(time + delay, time, speed)
    known = np.flatnonzero((gear_at > 0) & np.isfinite(engine))
    said[known] = radius[gear_at[known] - 1] * engine[known]
    if known.size:
        after = np.minimum(np.searchsorted(known, np.arange(time.size)), known.size - 1)
        a, b = known[np.maximum(after - 1, 0)], known[after]
        shift = (a < np.arange(time.size)) & (b > np.arange(time.size)) & (time[b] - time[a] < SHIFT_S)
        said[shift] = np.interp(time[shift], time[known], said[known])
    return np.asarray(said)


def _joined(time: Array, gear_at: Gears) -> NDArray[np.bool_]:
    """Whether each step from a sample to the next lies within one gear."""
    steps = np.diff(time)
    return np.asarray((gear_at[1:] == gear_at[:-1]) & (gear_at[1:] > 0) & (steps < 2.5 * np.median(steps)))


def _slopes(time: Array, engine: Array, gear_at: Gears) -> Array:
    """Rate of change of the engine speed at each sample, from neighbors in the same gear only. [rad/s2]"""
    joined = _joined(time, gear_at)
    rate = np.where(joined, np.diff(engine) / np.diff(time), 0.0)
    before, after = np.append(0.0, rate), np.append(rate, 0.0)
    has_before, has_after = np.append(False, joined), np.append(joined, False)
    return np.asarray((before + after) / np.maximum(has_before.astype(float) + has_after, 1.0))


def _pairs(
    time: Array,
    speed: Array,
    engine: Array,
    slope: Array,
    smoothing: tuple[Array, Array],
    gear_at: Gears,
    delay: float,
) -> _Pairs:
    """Engine speed at t - D by cubics between its samples, where those on both sides are in the same gear.

    Where the log is quick enough, the first and last step of each stretch are left out: the clutch may still be moving. So are the
    first SETTLES_S after a start: what the receiver still remembers of it, the engine did not tell.
    """
    joined = _joined(time, gear_at)
    use = joined.copy()
    if np.median(np.diff(time)) < 0.4:
        use[1:] &= joined[:-1]
        use[:-1] &= joined[1:]
    when = time - delay
    k = np.clip(np.searchsorted(time, when, side="right") - 1, 0, time.size - 2)
    good = use[k] & (when >= time[0]) & (when <= time[-1]) & np.isfinite(speed)
    if (told := np.flatnonzero(gear_at > 0)).size:
        starts = time[told[np.append(True, np.diff(time[told]) > SHIFT_S)]]
        good &= when > starts[np.maximum(np.searchsorted(starts, when, side="right") - 1, 0)] + SETTLES_S
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
        smoothing=np.interp(when, time, smoothing[0]),
        bend=np.interp(when, time, smoothing[1]),
        gear=gear_at[k].astype(np.int64) - 1,
        row=np.flatnonzero(good),
    )


def _pooled(left: Array) -> float:
    """Standard deviation of all residuals, from their median, which a few strays do not move. [m/s]"""
    return float(np.median(np.abs(left)) * 1.4826)


def _scatter(left: Array, gear: NDArray[np.int64], count: int) -> Array:
    """Standard deviation of the residuals by gear, drawn towards that of all. [m/s]"""
    pooled = max(_pooled(left), 1e-3)
    held = np.minimum(left**2, (OUTLIER * pooled) ** 2)
    samples = np.bincount(gear, minlength=count)
    return np.asarray(np.sqrt((BORROWED * pooled**2 + np.bincount(gear, held, count)) / (BORROWED + samples)))
