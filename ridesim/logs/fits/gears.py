"""Gears out of quotients of engine speed over road speed: where they gather, and one fit of all of them with the delay."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from ridesim.errors import InputError
from ridesim.logs.fits.signal import covariance_of_scores
from ridesim.logs.log import Array, Log

SLOWEST_M_S = 3.0
SLOWEST_RAD_S = 50.0
STANDING_M_S = 0.3
ABOVE_IDLE = 1.25  # below it the clutch may slip
BIN = 0.004  # of the logarithm: 0.4 %
CLOSEST = 0.07  # two gears nearer than 7 % are taken for one
BELONGS = 0.03
FURTHEST = 0.10
DELAY_UNSURE_S = 0.15  # of a single sample: the receiver's smoothing is not a pure delay
NOISE_M_S = 0.1
FEWEST = 8
ENOUGH_HZ = 5.0  # a receiver's errors last for some tenths of a second: more samples a second say nothing new
MOST_FOR_DELAY = 12_000  # samples; more tell nothing new of the delay


def thinned(log: Log) -> tuple[Array, Array, Array, int]:
    """Time, speed and engine speed as means over neighbors, so that some five a second are left; and how many went into each.

    Within a gear the means go together as the samples do.
    """
    assert log.engine_speed_rad_s is not None
    each = max(int(log.rate_hz / ENOUGH_HZ + 0.5), 1) if log.time_s.size >= 40 else 1
    whole = log.time_s.size // each * each
    time, speed, engine = (
        a[:whole].reshape(-1, each).mean(axis=1) for a in (log.time_s, log.speed_m_s, log.engine_speed_rad_s)
    )
    return time, speed, engine, each


def quotients(
    time: Array, speed: Array, engine: Array, late: float, noise_m_s: float = NOISE_M_S
) -> tuple[Array, NDArray[np.bool_], Array]:
    """log(omega / v) for each sample with the delay taken out, whether it holds still, and its likely noise."""
    moved = np.interp(time + late, time, speed)
    moving = (moved > SLOWEST_M_S) & np.isfinite(engine) & (np.nan_to_num(engine) > _clear_of_idle(speed, engine))
    moving &= (time + late <= time[-1]) & (time + late >= time[0])
    quotient = np.where(moving, np.log(np.where(moving, engine, 1.0) / np.where(moving, moved, 1.0)), np.nan)
    slow = np.maximum(moved, SLOWEST_M_S)
    doubt = np.hypot(noise_m_s, np.gradient(moved, time) * DELAY_UNSURE_S) / slow
    near = np.full(quotient.size, np.inf)
    step = np.abs(np.diff(quotient))
    near[:-1] = np.where(np.isfinite(step), step, np.inf)
    near[1:] = np.maximum(np.where(np.isfinite(near[1:]), near[1:], 0.0), np.where(np.isfinite(step), step, np.inf))
    return quotient, moving & (near < 3.0 * doubt + 0.01), noise_m_s / slow


def _clear_of_idle(speed: Array, engine: Array) -> float:
    """The engine speed below which a clutch may slip: somewhat above idle, where the log stands at idle. [rad/s]"""
    standing = (speed < STANDING_M_S) & np.isfinite(engine) & (np.nan_to_num(engine) > SLOWEST_RAD_S)
    return ABOVE_IDLE * float(np.median(engine[standing])) if standing.sum() >= 3 else SLOWEST_RAD_S


def rough_delay_s(time: Array, speed: Array, engine: Array) -> float:
    """The delay, to a fifth of a second, for which the quotients gather most: the highest sum of squares of the histogram.

    The fit that follows finds the rest of it.
    """
    if time.size > MOST_FOR_DELAY:  # whole pieces from all over the ride
        piece = MOST_FOR_DELAY // 24
        starts = np.linspace(0, time.size - piece, 24).astype(int)
        rows = np.unique((starts[:, None] + np.arange(piece)).ravel())
        time, speed, engine = time[rows], speed[rows], engine[rows]
    best, sharpest = 0.0, -1.0
    for late in np.arange(-0.6, 3.01, 0.2):
        quotient, steady, _ = quotients(time, speed, engine, float(late))
        if steady.sum() < FEWEST:
            continue
        _, height = _histogram(quotient[steady])
        if (sharp := float(np.sum(height**2))) > sharpest * (1 + 1e-9):
            best, sharpest = float(late), sharp
    return round(best, 3)


def belonging(quotient: Array, steady: NDArray[np.bool_], noise: Array, centers: list[float]) -> NDArray[np.int8]:
    """The gear of each sample, from 1, 0 for none.

    A sample belongs to the nearest gear within 3 %, or within what its noise explains when that is more: a limit tighter than
    the noise would cut the scatter off unevenly and drag the ratio to where it was guessed.
    """
    middle = np.array(centers)
    gear = np.zeros(quotient.size, dtype=np.int8)
    if not middle.size:
        return gear
    away = np.abs(np.where(steady, quotient, np.inf)[:, None] - middle)
    nearest = np.argmin(away, axis=1)
    gaps = np.full(middle.size, FURTHEST / 0.45)
    if middle.size > 1:
        apart = np.abs(np.diff(middle))
        gaps[:-1], gaps[1:] = np.minimum(gaps[:-1], apart), np.minimum(gaps[1:], apart)
    limit = np.minimum(np.maximum(BELONGS, 3.5 * noise + 0.01), 0.45 * gaps[nearest])
    inside = away[np.arange(quotient.size), nearest] < limit
    gear[inside] = nearest[inside] + 1
    return gear


def _histogram(values: Array) -> tuple[Array, Array]:
    """Centers and heights of a histogram of the logarithm, smoothed over one per cent."""
    low = values.min() - 0.06
    counts = np.bincount(
        ((values - low) / BIN).astype(int), minlength=int((values.max() + 0.06 - low) / BIN) + 1
    ).astype(float)
    kernel = np.exp(-0.5 * (np.arange(-8, 9) * BIN / 0.009) ** 2)
    return low + BIN * (np.arange(counts.size) + 0.5), np.convolve(counts, kernel / kernel.sum(), mode="same")


def fewer(wanted: int, there: int) -> InputError:
    """The refusal where not as many gears are in a log as were asked for."""
    return InputError(
        "gears",
        wanted,
        f"are not all in this log: {there} can be told apart",
        "Ride some seconds in every gear, or ask for fewer.",
    )


def tops_of(height: Array, apart: int) -> NDArray[np.int64]:
    """Places of the local maxima, the middle of a flat one; of two that are less than some bins apart the lower goes.

    >>> tops_of(np.array([0.0, 2, 1, 3, 3, 3, 0, 1, 0]), 3).tolist(), tops_of(np.array([0.0, 2, 1, 3, 0]), 3).tolist()
    ([1, 4, 7], [3])
    """
    turns = np.flatnonzero(np.diff(height))
    first, last = np.append(0, turns + 1), np.append(turns, height.size - 1)
    level = height[first]
    inside = np.flatnonzero((level[1:-1] > level[:-2]) & (level[1:-1] > level[2:])) + 1
    tops = (first[inside] + last[inside]) // 2
    stays = np.ones(tops.size, dtype=bool)
    for k in np.argsort(height[tops])[::-1]:
        if stays[k]:
            stays &= (np.abs(tops - tops[k]) >= apart) | (np.arange(tops.size) == k)
    return np.asarray(tops[stays])


def peaks(values: Array, wanted: int | None) -> list[float]:
    """Centers of the peaks, shortest gear first."""
    center, height = _histogram(values)
    tops = tops_of(height, max(int(CLOSEST / BIN), 1))
    inside = np.array([np.sum(np.abs(values - center[top]) < BELONGS) for top in tops])
    # a gear holds more than its share of the range; a smear of slipping does not
    crowd = [np.sum(np.abs(values - center[top]) < BELONGS / 2) for top in tops]
    real = (inside >= max(FEWEST, 0.004 * values.size)) & (np.array(crowd) > 0.6 * inside)
    tops, inside = tops[real], inside[real]
    if wanted is not None:
        if tops.size < wanted:
            raise fewer(wanted, int(tops.size))
        tops = tops[np.argsort(inside)[::-1][:wanted]]
    if not tops.size:
        problem = "shows no gear: engine speed and road speed do not go together"
        fix = "Check that both columns are what they say."
        raise InputError("log", None, problem, fix)
    return sorted((float(center[top]) for top in tops), reverse=True)


Gears = NDArray[np.int8]
OUTLIER = 4.0  # standard deviations
BORROWED = 30.0  # samples' worth of scatter that a gear with few samples borrows from the others
ROUNDS = 6
BROAD, BROADEST = (
    0.25,
    0.35,
)  # [s2] square of the width of a receiver's smoothing, before the log is looked at: 0 to 1 s
PAST_S, AHEAD_S = (
    1.2,
    0.4,
)  # a kernel's third moment is 0.8 s of its second: between a mean (0) and a lag of 0.8 s (1.6 s)
LEAST_DELAY_S, MOST_DELAY_S = -1.0, 4.0


@dataclass(frozen=True, kw_only=True)
class Fitted:
    """meters_per_rad is v / omega of each gear, error a share of it; seconds and samples are those that were used.

    noise_m_s is the scatter of a sample, of all gears together.
    """

    meters_per_rad: Array
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
    bend: Array
    gear: NDArray[np.int64]
    row: NDArray[np.int64]


def fit(time: Array, speed: Array, engine: Array, gear_at: Gears, start: Array, delay_s: float) -> Fitted:
    """Least squares of  v(t) = r_g omega(t - D)  over all gears g with one delay D.

    The noise stands in the speed, which is why the speed is fitted and not a quotient: the noise of a quotient is lopsided,
    and an error of the delay moves the ratios by a / v, which the shared D takes up. The errors of the receiver last, so the
    standard errors come from the residuals' own autocorrelation (pooled over the gears), by the sandwich rule; those of the
    delay and of the smoothing, which is fitted as its kernel's second moment, are in them.

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
    Fitted
    """
    count, step_s = start.size, float(np.median(np.diff(time)))
    radius, delay, broad = start.copy(), delay_s, BROAD
    slope = _slopes(time, engine, gear_at)
    scatter = np.full(count, np.inf)
    for _ in range(ROUNDS):
        bend = _bend(time, speed, engine, gear_at, radius, delay)
        pairs = _pairs(time, speed, engine, slope, bend, gear_at, delay)
        if pairs.speed.size < 3 * (count + 2):
            return _nothing(radius, delay)
        left = pairs.speed - radius[pairs.gear] * pairs.engine - broad * pairs.bend
        clean = np.abs(left) < OUTLIER * scatter[pairs.gear]
        pairs, left = _only(pairs, clean), left[clean]
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
        broad += float(step[-1])
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
        spread=scatter * samples / np.maximum(np.bincount(pairs.gear, pairs.speed, count), 1e-9),
        delay_s=delay,
        delay_error_s=float(errors[-2]),
        noise_m_s=_pooled(left),
    )


def _columns(pairs: _Pairs, radius: Array) -> Array:
    """What each sample's speed changes with each ratio, the delay, and the square of the smoothing's width."""
    columns = np.zeros((pairs.speed.size, radius.size + 2))
    columns[np.arange(pairs.speed.size), pairs.gear] = pairs.engine
    columns[:, -2] = -radius[pairs.gear] * pairs.rate
    columns[:, -1] = pairs.bend
    return columns


def _nothing(radius: Array, delay: float) -> Fitted:
    """The answer where too few samples lie inside a gear for any fit."""
    none = np.zeros(radius.size)
    return Fitted(
        meters_per_rad=radius,
        error=none + np.inf,
        seconds=none,
        samples=none.astype(np.int64),
        spread=none,
        delay_s=delay,
        delay_error_s=np.inf,
        noise_m_s=0.0,
    )


def _bend(time: Array, speed: Array, engine: Array, gear_at: Gears, radius: Array, delay: float) -> Array:
    """What smoothing leaves when its delay is out, for a standard deviation of one second of its kernel. [m/s]

    Whatever the kernel, to second order it tells v(t - D) + w^2 v''/2, with w its standard deviation (the time of an exponential
    lag, a moving mean's length over the root of twelve). v is told by the engine within a gear and by the log between them.
    """
    said = np.interp(time + delay, time, speed)
    known = (gear_at > 0) & np.isfinite(engine)
    said[known] = radius[gear_at[known] - 1] * engine[known]
    step_s = float(np.median(np.diff(time)))
    past, ahead = max(PAST_S, step_s), max(AHEAD_S, step_s)
    before, after = np.interp(time - past, time, said), np.interp(time + ahead, time, said)
    return np.asarray(((before - said) / past + (after - said) / ahead) / (past + ahead))


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


def _pairs(time: Array, speed: Array, engine: Array, slope: Array, bend: Array, gear_at: Gears, delay: float) -> _Pairs:
    """Engine speed at t - D by cubics between its samples, where those on both sides are in the same gear.

    Where the log is quick enough, the first and last step of each stretch are left out: the clutch may still be moving.
    """
    joined = _joined(time, gear_at)
    use = joined.copy()
    if np.median(np.diff(time)) < 0.4:
        use[1:] &= joined[:-1]
        use[:-1] &= joined[1:]
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
        bend=np.interp(when, time, bend),
        gear=gear_at[k].astype(np.int64) - 1,
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
