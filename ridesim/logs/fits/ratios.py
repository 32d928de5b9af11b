"""Unknown gear ratios out of a log that holds engine speed and road speed: their quotient gathers at one value a gear."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from itertools import pairwise
from typing import Any

import numpy as np
from numpy.typing import NDArray

from ridesim.errors import InputError, within
from ridesim.logs.fits.bike import NORMAL_90
from ridesim.logs.fits.coast import Band, band
from ridesim.logs.fits.gear_fit import Fitted, fit
from ridesim.logs.fits.gears import (
    CLOSEST,
    FEWEST,
    NOISE_M_S,
    belonging,
    fewer,
    peaks,
    quotients,
    rough_delay_s,
    thinned,
)
from ridesim.logs.log import CAUTIONS, Array, Log
from ridesim.units import TWO_PI, either

SETTLED_WITHIN = 0.005
SURE = 3.5  # standard errors that must fit into it: of a thousand ratios at the very edge, one half would lie outside
LOUDER = 4  # times the search is begun anew at most
LARGER, FIRST_LARGER = (
    1.2,
    2.0,
)  # a step so much larger than the one below it, the first than the second, asks for a gear between
LEAST_S = 4.0  # in a gear, for a ratio at all

HOLD_S = (120.0, 75.0, 50.0, 35.0)  # seconds in first, second, third, and every gear above
PROTOCOL = (
    f"Hold each gear in the middle of its revs, rolling the speed gently up and down: {HOLD_S[0]:.0f} s in first, "
    f"{HOLD_S[1]:.0f} s in second, {HOLD_S[2]:.0f} s in third, {HOLD_S[3]:.0f} s in every gear above. Begin and end at a standstill."
)


@dataclass(frozen=True, kw_only=True)
class GearFound:
    """One gear of a log.

    Attributes
    ----------
    gear : int
        From 1, the shortest that was ridden.
    overall_ratio : Band
        Crank turns for one turn of the wheel, with its 5 to 95 % band. [-]
    samples : int
        How many of the log speak for it.
    settled : bool
        Whether the ratio is within half a per cent as surely as noise lets one say: 3.5 standard errors fit into it.
    longer_s : float
        How many seconds more in this gear would settle it, in steps of 5; 0 when it is. [s]
    seconds : float
        Ridden in this gear. [s]
    """

    gear: int
    overall_ratio: Band
    samples: int
    settled: bool
    longer_s: float
    seconds: float


@dataclass(frozen=True, kw_only=True)
class Ratios:
    """The gears of a log.

    Attributes
    ----------
    gears : tuple of GearFound
        From the shortest.
    latency_s : float
        By how much the road speed is later than the engine speed. [s]
    gear_at : array of int (samples,)
        The gear at each sample of the log, 0 where the clutch slipped, the rider shifted, or the bike stood.
    segments : tuple of mapping
        Each stretch in one gear: gear, from_s and to_s on the clock of the log. [s]
    assumptions, notes, cautions : tuple of str
    """

    gears: tuple[GearFound, ...]
    latency_s: float
    gear_at: NDArray[np.int8]
    segments: tuple[Mapping[str, Any], ...]
    assumptions: tuple[str, ...]
    notes: tuple[str, ...]
    cautions: tuple[str, ...] = CAUTIONS


def find_ratios(
    log: Log,
    *,
    rolling_circumference_m: float,
    gears: int | None = None,
) -> Ratios:
    """Overall ratios from engine speed and road speed:  v(t) = omega(t - D) U / (2 pi i).

    The logarithm of omega / v is gathered in a fine histogram; its peaks are the gears. Samples where the quotient moves
    (shifts, a slipping clutch) are dropped. Then one least-squares fit finds all ratios, the delay D of the receiver and its
    smoothing together: at full throttle a tenth of a second is worth a per cent and more. Standard errors hold those of both
    and the time over which a receiver's errors last.

    Parameters
    ----------
    log : Log
        With engine speed.
    rolling_circumference_m : float
        U of the rear tire. [m]
    gears : int, optional
        How many to find, 1 to 8; all that are there when not given.

    Returns
    -------
    Ratios
        Gears numbered from the shortest seen.

    Raises
    ------
    InputError
        No engine speed, too few samples on the move, or fewer gears than asked for.

    Examples
    --------
    A minute each in 15:1 and 11:1 on a wheel of 2 m, rolling up and down, without noise or delay:

    >>> t = np.arange(0.0, 120.0, 0.5)
    >>> speed = 15.0 + 3.0 * np.sin(t / 4.0)
    >>> engine = speed * TWO_PI / 2.0 * np.where(t < 60.0, 15.0, 11.0)
    >>> ride = Log(name="x", time_s=t, speed_m_s=speed, distance_m=15.0 * t, engine_speed_rad_s=engine)
    >>> found = find_ratios(ride, rolling_circumference_m=2.0)
    >>> [round(gear.overall_ratio.value, 2) for gear in found.gears], found.gear_at[[30, 200]].tolist()
    ([15.0, 11.0], [1, 2])
    """
    if log.engine_speed_rad_s is None:
        why = log.not_read.get("engine speed")
        fix = f"It {why}." if why else "Log road speed and engine speed together."
        raise InputError("log", log.name, "holds no engine speed", fix)
    radius = float(within("rolling_circumference_m", rolling_circumference_m, 0.8, 3.5, "m")) / TWO_PI
    if gears is not None and (isinstance(gears, bool) or not isinstance(gears, int) or not 1 <= gears <= 8):
        raise InputError("gears", gears, "must be a whole number from 1 to 8", "Count the gears.")
    time, speed, engine, each = thinned(log)
    late = rough_delay_s(time, speed, engine)
    done, gear_at = _searched(time, speed, engine, gears, late)
    found = tuple(_gear(k, done, radius, each) for k in range(done.error.size))
    wide = np.zeros(log.time_s.size, dtype=np.int8)
    wide[: gear_at.size * each] = np.repeat(gear_at, each)
    wide.setflags(write=False)
    return Ratios(
        gears=found,
        latency_s=round(done.delay_s, 3),
        gear_at=wide,
        segments=_segments(log, wide),
        notes=_notes(found, done),
        assumptions=(
            "rolling circumference "
            + either("length", rolling_circumference_m)
            + " at every speed; its error goes into every ratio",
            "quotients that move faster than noise explains are taken as shifting or a slipping clutch",
        ),
    )


def _searched(
    time: Array, speed: Array, engine: Array, wanted: int | None, late: float
) -> tuple[Fitted, NDArray[np.int8]]:
    """Peaks and their fit, once more where the receiver turns out to be noisier than was thought: it hides samples in a gear."""
    noise = NOISE_M_S
    for _ in range(LOUDER):
        seen = quotients(time, speed, engine, late, noise)
        if seen[1].sum() < FEWEST:
            got, problem = f"{seen[1].sum()} samples", "hold a gear too seldom to tell its ratio"
            raise InputError("log", got, problem, "Ride some seconds in each gear without shifting.")
        done, gear_at = _fitted(time, speed, engine, seen, peaks(seen[0][seen[1]], wanted), late)
        if done.noise_m_s < 1.3 * noise:
            break
        noise, late = done.noise_m_s, done.delay_s
    if wanted is not None and done.error.size < wanted:
        raise fewer(wanted, done.error.size)
    return done, gear_at


def _fitted(
    time: Array,
    speed: Array,
    engine: Array,
    seen: tuple[Array, NDArray[np.bool_], Array],
    centers: list[float],
    late: float,
) -> tuple[Fitted, NDArray[np.int8]]:
    """The fit, done again without the peaks that turn out to be no gear, until all that are left are."""
    while centers:
        gear_at = belonging(*seen, centers)
        done = fit(time, speed, engine, gear_at, np.exp(-np.array(centers)), late)
        if done is None:
            break
        stand = [k for k in range(len(centers)) if _stands(k, done)]
        if len(stand) == len(centers):
            return done, gear_at
        centers = [float(-np.log(done.meters_per_rad[k])) for k in stand]
    fix = f"Ride {LEAST_S:.0f} s and more in each gear without shifting."
    raise InputError("log", None, "holds no gear long enough to tell its ratio", fix)


def _stands(k: int, done: Fitted) -> bool:
    """Whether a peak is a gear of its own: ridden long enough, and no shoulder of one that was ridden longer."""
    close = np.abs(np.log(done.meters_per_rad / done.meters_per_rad[k])) < CLOSEST
    return bool(done.seconds[k] >= LEAST_S and done.seconds[k] >= done.seconds[close].max())


def _gear(k: int, done: Fitted, radius: float, each: int) -> GearFound:
    ratio, error = float(radius / done.meters_per_rad[k]), float(done.error[k])
    enough = SETTLED_WITHIN / SURE
    return GearFound(
        gear=k + 1,
        overall_ratio=band(ratio, ratio * error, NORMAL_90),
        samples=int(done.samples[k]) * each,
        settled=error <= enough,
        # the square of the error falls with the time
        longer_s=0.0 if error <= enough else float(np.ceil(done.seconds[k] * ((error / enough) ** 2 - 1) / 5.0) * 5.0),
        seconds=float(done.seconds[k]),
    )


def _notes(found: tuple[GearFound, ...], done: Fitted) -> tuple[str, ...]:
    notes = ["gears are numbered from the shortest that was ridden"]
    if done.delay_s > 0.05:
        notes.append(f"the road speed is {done.delay_s:.2f} s later than the engine speed")
    notes += [
        f"gear {gear.gear}: ride this gear {gear.longer_s:.0f} s longer to be sure of half a percent; nine times in ten it is "
        f"within {100 * (NORMAL_90 * gear.overall_ratio.standard_error / gear.overall_ratio.value):.1f} % now"
        for gear in found
        if not gear.settled
    ]
    notes += skipped([gear.overall_ratio.value for gear in found])
    if not all(gear.settled for gear in found):
        notes.append(PROTOCOL)
    return tuple(notes)


def skipped(ratios: Sequence[float]) -> list[str]:
    """Where a gear seems to be missing: steps of a gearbox grow smaller upwards (common practice, no source).

    >>> skipped([15.7, 11.5, 8.9, 7.3, 6.1]), len(skipped([15.7, 11.5, 7.3, 6.1])), len(skipped([15.7, 8.9, 7.3, 6.1]))
    ([], 1, 1)
    """
    steps = [low / high for low, high in pairwise(ratios)]
    sizes = np.log(steps)
    missing = [k for k in range(1, len(steps)) if sizes[k] > LARGER * sizes[k - 1]]
    if len(steps) > 1 and sizes[0] > FIRST_LARGER * sizes[1]:
        missing.insert(0, 0)
    return [
        f"a gear seems to be missing between gear {k + 1} and gear {k + 2}: the step of {steps[k]:.2f} is larger than its neighbors; "
        "was one not ridden?"
        for k in missing
    ]


def _segments(log: Log, gear_at: NDArray[np.int8]) -> tuple[Mapping[str, Any], ...]:
    """Each segment in one gear, from and to which time."""
    ends = np.flatnonzero(np.diff(gear_at)) + 1
    return tuple(
        {"gear": int(gear_at[a]), "from_s": float(log.time_s[a]), "to_s": float(log.time_s[b - 1])}
        for a, b in zip([0, *ends], [*ends, gear_at.size], strict=True)
        if gear_at[a] and b - a > 1
    )
