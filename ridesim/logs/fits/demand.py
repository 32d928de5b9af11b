"""What a logged ride asks of the bike, second by second: the force that the tire had to give."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from ridesim.environment.road_forces import resistance_n, slope_rad
from ridesim.errors import InputError
from ridesim.logs.fits.signal import parabolas
from ridesim.logs.log import Array, Log, frozen

STEP_S = 1.0
LONGEST_GAP_S = 10.0
LONGEST_RIDE_S = 16 * 3600
STEEPEST = 0.25
ELEVATION_SIGMA_S = 8.0


@dataclass(frozen=True, kw_only=True)
class Demand:
    """What the ride asks for each second.

    Attributes
    ----------
    speed_m_s, acceleration_m_s2 : array (seconds,)
        Smoothed over five seconds. [m/s], [m/s2]
    grade : array (seconds,)
        Rise over run, within 0.25. [-]
    force_n : array (seconds,)
        At the tire, with the inertia of the wheels but without the crank's; below 0 where brakes or engine hold. [N]
    counts : array (seconds,)
        1 where the second was logged, 0 where it lies in a gap.
    """

    speed_m_s: Array
    acceleration_m_s2: Array
    grade: Array
    force_n: Array
    counts: Array


def demand(
    log: Log,
    *,
    mass_kg: float,
    coasting_mass_kg: float,
    f0_n: float,
    f2_n_s2_m2: float,
) -> Demand:
    """The ride second by second: what force the tire had to give.

    Speed is put on a one-second clock and smoothed over five seconds by a parabola (Savitzky and Golay); elevation is
    smoothed with a bell of 8 s, and the grade kept within 25 %. Without elevation the road counts as level. Seconds in
    gaps over 10 s are left out.

    Parameters
    ----------
    log : Log
        Of 30 s to 16 hours.
    mass_kg : float
        With rider and luggage. [kg]
    coasting_mass_kg : float
        With the wheels' inertia, m + Jf/rf^2 + Jr/r^2. [kg]
    f0_n, f2_n_s2_m2 : float
        Resistance at level. [N], [N s2/m2]

    Returns
    -------
    Demand

    Raises
    ------
    InputError
        A ride that is shorter or longer.

    Examples
    --------
    A minute at a steady 20 m/s on the level asks for F0 + F2 v^2 = 40 + 0.4 x 400 N:

    >>> t = np.arange(60.0)
    >>> ride = Log(name="x", time_s=t, speed_m_s=20.0 + 0.0 * t, distance_m=20.0 * t)
    >>> demand(ride, mass_kg=250.0, coasting_mass_kg=260.0, f0_n=40.0, f2_n_s2_m2=0.4).force_n[30].round(6).item()
    200.0
    """
    lasts = float(log.time_s[-1])
    if not 30.0 <= lasts <= LONGEST_RIDE_S:
        raise InputError(
            "log", f"{lasts:.0f} s", "must be a ride of 30 s to 16 hours", "Choose another ride, or cut it."
        )
    clock = np.arange(0.0, lasts, STEP_S)
    after = np.clip(np.searchsorted(log.time_s, clock), 1, log.time_s.size - 1)
    counts = (log.time_s[after] - log.time_s[after - 1] <= LONGEST_GAP_S).astype(float)
    speed, rate = parabolas(np.interp(clock, log.time_s, log.speed_m_s), STEP_S)
    speed = np.maximum(speed, 0.0)
    grade = _grade(log, clock, speed)
    force = coasting_mass_kg * rate + resistance_n(speed, f0_n, 0.0, f2_n_s2_m2, mass_kg, slope_rad(grade), 0.0)
    return Demand(
        speed_m_s=frozen(speed),
        acceleration_m_s2=frozen(rate),
        grade=frozen(grade),
        force_n=frozen(force),
        counts=frozen(counts),
    )


def _grade(log: Log, clock: Array, speed: Array) -> Array:
    """Rise over way, both smoothed alike; level where no elevation was logged."""
    if log.elevation_m is None:
        return np.zeros_like(speed)
    known, sigma = np.isfinite(log.elevation_m), ELEVATION_SIGMA_S / STEP_S
    height = _smoothed(np.interp(clock, log.time_s[known], log.elevation_m[known]), sigma)
    way = np.maximum(_smoothed(speed, sigma), 1.0)
    return np.asarray(np.clip(np.gradient(height, STEP_S) / way, -STEEPEST, STEEPEST))


def _smoothed(values: Array, sigma: float) -> Array:
    """The bell curve's running mean; beyond its ends a row is mirrored. (Loading scipy's would take longer than the ride.)"""
    reach = int(4.0 * sigma + 0.5)
    bell = np.exp(-0.5 * (np.arange(-reach, reach + 1) / sigma) ** 2)
    return np.convolve(np.pad(values, reach, mode="symmetric"), bell / bell.sum(), mode="valid")
