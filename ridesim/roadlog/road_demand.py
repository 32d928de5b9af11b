"""What a logged ride asks of the tire second by second: speed and height smoothed, acceleration, grade and force."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from ridesim.errors import InputError
from ridesim.roadlog.log import Array, Log, frozen
from ridesim.surroundings.checks import within
from ridesim.surroundings.road_forces import resistance_n, slope_rad

STEP_S = 1.0
LONGEST_GAP_S = 10.0
LONGEST_RIDE_S = 16 * 3600
STEEPEST = 0.25
ELEVATION_SIGMA_S = 8.0


@dataclass(frozen=True, kw_only=True)
class Demand:
    """What the ride asks for each second: speed, acceleration, grade, and the force at the tire without the crank's inertia.

    counts is 1 where the second was logged and 0 where it lies in a gap.
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
    headwind_m_s: float = 0.0,
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
    headwind_m_s : float
        [m/s]

    Returns
    -------
    Demand
    """
    from scipy.signal import savgol_filter

    mass, coasting = (
        float(within(n, m, 50.0, 1500.0, "kg"))
        for n, m in (("mass_kg", mass_kg), ("coasting_mass_kg", coasting_mass_kg))
    )
    f0, f2 = (
        float(within("f0_n", f0_n, 0.0, 2000.0, "N")),
        float(within("f2_n_s2_m2", f2_n_s2_m2, 0.0, 10.0, "N s2/m2")),
    )
    wind = float(within("headwind_m_s", headwind_m_s, -40.0, 40.0, "m/s"))
    lasts = float(log.time_s[-1])
    if not 30.0 <= lasts <= LONGEST_RIDE_S:
        raise InputError(
            "log", f"{lasts:.0f} s", "must be a ride of 30 s to 16 hours", "Choose another ride, or cut it."
        )
    clock = np.arange(0.0, lasts, STEP_S)
    after = np.clip(np.searchsorted(log.time_s, clock), 1, log.time_s.size - 1)
    counts = (log.time_s[after] - log.time_s[after - 1] <= LONGEST_GAP_S).astype(float)
    speed = np.interp(clock, log.time_s, log.speed_m_s)
    rate = savgol_filter(speed, 5, 2, deriv=1, delta=STEP_S)
    speed = np.maximum(savgol_filter(speed, 5, 2), 0.0)
    grade = _grade(log, clock, speed)
    force = coasting * rate + resistance_n(speed, f0, 0.0, f2, mass, slope_rad(grade), wind)
    return Demand(
        speed_m_s=frozen(speed),
        acceleration_m_s2=frozen(rate),
        grade=frozen(grade),
        force_n=frozen(force),
        counts=frozen(counts),
    )


def _grade(log: Log, clock: Array, speed: Array) -> Array:
    """Rise over way, both smoothed alike; level where no elevation was logged."""
    from scipy.ndimage import gaussian_filter1d

    if log.elevation_m is None:
        return np.zeros_like(speed)
    known = np.isfinite(log.elevation_m)
    height = gaussian_filter1d(np.interp(clock, log.time_s[known], log.elevation_m[known]), ELEVATION_SIGMA_S / STEP_S)
    way = np.maximum(gaussian_filter1d(speed, ELEVATION_SIGMA_S / STEP_S), 1.0)
    return np.asarray(np.clip(np.gradient(height, STEP_S) / way, -STEEPEST, STEEPEST))
