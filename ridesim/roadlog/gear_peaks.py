"""Where the quotients of engine speed over road speed gather: how many gears a log holds, about which ratio, about what delay."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from ridesim.errors import InputError
from ridesim.roadlog.log import Array

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
MOST_FOR_DELAY = 12_000  # samples; more tell nothing new of the delay


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


def belonging(quotient: Array, steady: NDArray[np.bool_], noise: Array, centres: list[float]) -> NDArray[np.int8]:
    """The gear of each sample, from 1, 0 for none.

    A sample belongs to the nearest gear within 3 %, or within what its noise explains when that is more: a limit tighter than
    the noise would cut the scatter off unevenly and drag the ratio to where it was guessed.
    """
    middle = np.array(centres)
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
    """Centres and heights of a histogram of the logarithm, smoothed over one per cent."""
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


def peaks(values: Array, wanted: int | None) -> list[float]:
    """Centres of the peaks, shortest gear first."""
    from scipy.signal import find_peaks

    centre, height = _histogram(values)
    tops, _ = find_peaks(height, distance=max(int(CLOSEST / BIN), 1))
    inside = np.array([np.sum(np.abs(values - centre[top]) < BELONGS) for top in tops])
    # a gear holds more than its share of the range; a smear of slipping does not
    crowd = [np.sum(np.abs(values - centre[top]) < BELONGS / 2) for top in tops]
    real = (inside >= max(FEWEST, 0.004 * values.size)) & (np.array(crowd) > 0.6 * inside)
    tops, inside = tops[real], inside[real]
    if wanted is not None:
        if tops.size < wanted:
            raise fewer(wanted, int(tops.size))
        tops = tops[np.argsort(inside)[::-1][:wanted]]
    if not tops.size:
        raise InputError(
            "log",
            None,
            "shows no gear: engine speed and road speed do not go together",
            "Check that both columns are what they say.",
        )
    return sorted((float(centre[top]) for top in tops), reverse=True)
