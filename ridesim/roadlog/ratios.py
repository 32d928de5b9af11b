"""Unknown gear ratios out of a log that holds engine speed and road speed: their quotient gathers at one value a gear."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray

from ridesim.errors import InputError
from ridesim.roadlog.coastdown import NORMAL_90, Band
from ridesim.roadlog.log import CAUTIONS, Array, Log
from ridesim.surroundings.checks import within
from ridesim.units import TWO_PI

SLOWEST_M_S = 3.0
BIN = 0.004  # of the logarithm: 0.4 %
CLOSEST = 0.07  # two gears nearer than 7 % are taken for one
BELONGS = 0.03
DELAY_UNSURE_S = 0.15  # of a single sample: the receiver's smoothing is not a pure delay
DELAY_ERROR_S = 0.06  # of the delay found for the whole log
NOISE_M_S = 0.1
FEWEST = 8


@dataclass(frozen=True, kw_only=True)
class GearFound:
    """One gear: its overall ratio, how many samples speak for it, and how they spread about it (a share)."""

    gear: int
    overall_ratio: Band
    samples: int
    spread: float


@dataclass(frozen=True, kw_only=True)
class Ratios:
    """The gears of a log. gear_at holds for each sample its gear, 0 where the clutch slipped, it was shifted or stood."""

    gears: tuple[GearFound, ...]
    latency_s: float
    gear_at: NDArray[np.int8]
    stretches: tuple[Mapping[str, Any], ...]
    assumptions: tuple[str, ...]
    notes: tuple[str, ...]
    cautions: tuple[str, ...] = CAUTIONS


def find_ratios(
    log: Log,
    *,
    rolling_circumference_m: float,
    gears: int | None = None,
    latency_s: float | None = None,
    progress: Callable[[float], None] | None = None,
) -> Ratios:
    """Overall ratios from engine speed over road speed:  i = (omega / v) U / 2 pi.

    The logarithm of omega / v is gathered in a fine histogram; its peaks are the gears, each refined by a weighted mean of
    what lies within 3 % of it. Samples where the quotient moves (shifts, a slipping clutch) are dropped. A receiver tells
    the speed late, which at full throttle is worth several per cent: the delay is taken as the one that makes the peaks
    sharpest, and samples of little acceleration count most.

    Parameters
    ----------
    log : Log
        With engine speed.
    rolling_circumference_m : float
        U of the rear tire. [m]
    gears : int, optional
        How many to find, 1 to 8; all that are there when not given.
    latency_s : float, optional
        How much later the speed is than the engine speed; found when not given. [s]
    progress : callable, optional
        Told the share done.

    Returns
    -------
    Ratios
        Gears numbered from the shortest seen.

    Raises
    ------
    InputError
        No engine speed, too few samples on the move, or fewer gears than asked for.
    """
    if log.engine_speed_rad_s is None:
        raise InputError("log", log.name, "holds no engine speed", "Log road speed and engine speed together.")
    radius = float(within("rolling_circumference_m", rolling_circumference_m, 0.8, 3.5, "m")) / TWO_PI
    if gears is not None and (isinstance(gears, bool) or not isinstance(gears, int) or not 1 <= gears <= 8):
        raise InputError("gears", gears, "must be a whole number from 1 to 8", "Count the gears.")
    late = _delay(log) if latency_s is None else float(within("latency_s", latency_s, -5.0, 5.0, "s"))
    if progress:
        progress(0.5)
    quotient, weight, steady, pace = _quotients(log, late)
    if steady.sum() < FEWEST:
        raise InputError(
            "log",
            f"{steady.sum()} samples",
            "hold a gear too seldom to tell its ratio",
            "Ride some seconds in each gear without shifting.",
        )
    centres = _peaks(quotient[steady], gears)
    gear_at = np.zeros(quotient.size, dtype=np.int8)
    found = []
    for number, centre in enumerate(centres, start=1):
        inside = steady & (np.abs(quotient - centre) < BELONGS)
        gear_at[inside] = number
        found.append(_refined(number, quotient[inside], weight[inside], radius, log.time_s[inside], pace[inside]))
    gear_at.setflags(write=False)
    if progress:
        progress(1.0)
    notes = ["gears are numbered from the shortest that was ridden"]
    if late > 0.05:
        notes.append(f"the road speed is {late:.1f} s later than the engine speed")
    return Ratios(
        gears=tuple(found),
        latency_s=late,
        gear_at=gear_at,
        stretches=_stretches(log, gear_at),
        notes=tuple(notes),
        assumptions=(
            f"rolling circumference {rolling_circumference_m:.4f} m at every speed; an error of it goes into every ratio",
            "quotients that move faster than noise explains are taken as shifting or a slipping clutch",
        ),
    )


def _quotients(log: Log, late: float) -> tuple[Array, Array, NDArray[np.bool_], Array]:
    """log(omega / v) for each sample with the delay taken out, what it weighs, whether it holds still, and a / v."""
    assert log.engine_speed_rad_s is not None
    time, speed, engine = log.time_s, np.interp(log.time_s + late, log.time_s, log.speed_m_s), log.engine_speed_rad_s
    moving = (speed > SLOWEST_M_S) & np.isfinite(engine) & (np.nan_to_num(engine) > 50.0) & (time + late <= time[-1])
    quotient = np.where(moving, np.log(np.where(moving, engine, 1.0) / np.where(moving, speed, 1.0)), np.nan)
    rate = np.gradient(speed, time)
    doubt = np.hypot(NOISE_M_S, rate * DELAY_UNSURE_S) / np.maximum(speed, SLOWEST_M_S)
    near = np.full(quotient.size, np.inf)
    step = np.abs(np.diff(quotient))
    near[:-1] = np.where(np.isfinite(step), step, np.inf)
    near[1:] = np.maximum(np.where(np.isfinite(near[1:]), near[1:], 0.0), np.where(np.isfinite(step), step, np.inf))
    return quotient, 1.0 / doubt**2, moving & (near < 3.0 * doubt + 0.01), rate / np.maximum(speed, SLOWEST_M_S)


def _delay(log: Log) -> float:
    """The delay for which the quotients gather most: the highest sum of squares of the histogram. [s]"""
    best, sharpest = 0.0, -1.0
    for late in np.arange(-0.5, 3.01, 0.1):
        quotient, _, steady, _ = _quotients(log, float(late))
        if steady.sum() < FEWEST:
            continue
        _, height = _histogram(quotient[steady])
        if (sharp := float(np.sum(height**2))) > sharpest * (1 + 1e-9):
            best, sharpest = float(late), sharp
    return round(best, 3)


def _histogram(values: Array) -> tuple[Array, Array]:
    """Centres and heights of a histogram of the logarithm, smoothed over one per cent."""
    low = values.min() - 0.06
    counts = np.bincount(
        ((values - low) / BIN).astype(int), minlength=int((values.max() + 0.06 - low) / BIN) + 1
    ).astype(float)
    kernel = np.exp(-0.5 * (np.arange(-8, 9) * BIN / 0.009) ** 2)
    return low + BIN * (np.arange(counts.size) + 0.5), np.convolve(counts, kernel / kernel.sum(), mode="same")


def _peaks(values: Array, wanted: int | None) -> list[float]:
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
            raise InputError(
                "gears",
                wanted,
                f"are not all in this log: {tops.size} can be told apart",
                "Ride some seconds in every gear, or ask for fewer.",
            )
        tops = tops[np.argsort(inside)[::-1][:wanted]]
    if not tops.size:
        raise InputError(
            "log",
            None,
            "shows no gear: engine speed and road speed do not go together",
            "Check that both columns are what they say.",
        )
    return sorted((float(centre[top]) for top in tops), reverse=True)


def _refined(number: int, values: Array, weight: Array, radius: float, time: Array, pace: Array) -> GearFound:
    for _ in range(6):
        mean = float(np.average(values, weights=weight))
        spread = 1.4826 * np.median(np.abs(values - mean)) + 1e-6
        keep = np.abs(values - mean) < 3.0 * spread
        if keep.all():
            break
        values, weight, time, pace = values[keep], weight[keep], time[keep], pace[keep]
    mean = float(np.average(values, weights=weight))
    # errors of a receiver last for seconds: as many independent samples as there are pieces of two seconds
    pieces = max(int(np.unique((time / 2.0).astype(int)).size), 2)
    parts = weight.sum() ** 2 / np.sum(weight**2)
    scatter = np.sqrt(np.average((values - mean) ** 2, weights=weight) / max(min(pieces, parts) - 1, 1))
    error = float(np.hypot(scatter, DELAY_ERROR_S * np.average(pace, weights=weight)))
    ratio = float(np.exp(mean) * radius)
    band = Band(
        value=ratio,
        standard_error=ratio * error,
        low=ratio * (1 - NORMAL_90 * error),
        high=ratio * (1 + NORMAL_90 * error),
    )
    return GearFound(gear=number, overall_ratio=band, samples=int(values.size), spread=float(np.std(values)))


def _stretches(log: Log, gear_at: NDArray[np.int8]) -> tuple[Mapping[str, Any], ...]:
    """Each stretch in one gear, from and to which time."""
    ends = np.flatnonzero(np.diff(gear_at)) + 1
    return tuple(
        {"gear": int(gear_at[a]), "from_s": float(log.time_s[a]), "to_s": float(log.time_s[b - 1])}
        for a, b in zip([0, *ends], [*ends, gear_at.size], strict=True)
        if gear_at[a] and b - a > 1
    )
