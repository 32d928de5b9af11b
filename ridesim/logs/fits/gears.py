"""Gears out of quotients of engine speed over road speed: where they gather."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from ridesim.errors import InputError
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

    Within a gear the means go together as the samples do. [s], [m/s], [rad/s]

    Examples
    --------
    Twenty samples a second become five:

    >>> t = np.arange(80) / 20
    >>> time, speed, engine, each = thinned(Log(name="x", time_s=t, speed_m_s=2 * t, distance_m=t, engine_speed_rad_s=9 * t))
    >>> each, time.size, time[:2].round(3).tolist(), speed[:2].round(3).tolist()
    (4, 20, [0.075, 0.275], [0.15, 0.55])
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
    """log(omega / v) for each sample with the delay taken out, whether it holds still, and its likely noise.

    Parameters
    ----------
    time, speed, engine : array (n,)
        [s], [m/s], [rad/s]
    late : float
        By how much the speed is later than the engine. [s]
    noise_m_s : float
        Standard deviation of a speed. [m/s]

    Returns
    -------
    tuple of array (n,)
        The logarithm [ln(rad/m)], nan below 3 m/s or near idle; whether it moves no more than noise explains; its standard
        deviation [-].
    """
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

    The fit that follows finds the rest of it. Looked for from -0.6 to 3 s; of a long ride, in pieces from all over it.

    Examples
    --------
    The speed of a ride in two gears is written 1 s after the engine's:

    >>> t = np.arange(0.0, 200.0, 0.2)
    >>> speed = 15.0 + 5.0 * np.sin(t / 5.0)
    >>> rough_delay_s(t, np.interp(t - 1.0, t, speed), speed * np.where(t < 100.0, 45.0, 33.0))
    1.0
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
    """Centers of the peaks, shortest gear first.

    Two that are less than 7 % apart are taken for one; a smear that a slipping clutch leaves is no peak.

    Parameters
    ----------
    values : array (n,)
        ln(omega / v) of the samples that hold still. [ln(rad/m)]
    wanted : int or None
        How many gears there are, None for all that are there.

    Raises
    ------
    InputError
        No peak, or fewer than wanted.

    Examples
    --------
    >>> rng = np.random.default_rng(1)
    >>> some = np.concatenate([rng.normal(np.log(gear), 0.01, 200) for gear in (33.0, 45.0)])
    >>> np.exp(peaks(some, None)).round(0).tolist()
    [45.0, 33.0]
    """
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
