"""The sums under a pull: engine speed from road speed, every run on one grid, and what scatters."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

import numpy as np

from ridesim.errors import InputError
from ridesim.roadlog.coastdown import NORMAL_90, CoastDown
from ridesim.roadlog.log import Array, Run
from ridesim.roadlog.signal import local_polynomial, smoothing_bias_m_s2
from ridesim.surroundings.checks import within

RESAMPLES = 1000
FINE_S = 0.05


def wheel_power_w(speed_m_s: Any, acceleration_m_s2: Any, driven_mass_kg: Any, resistance_n: Any) -> Any:
    """Power at the tire of a bike that gathers speed:  P = (m_k dv/dt + R) v.

    Parameters
    ----------
    speed_m_s : float or array
        v. [m/s]
    acceleration_m_s2 : float or array
        dv/dt. [m/s2]
    driven_mass_kg : float or array
        m_k, with the inertia of wheels and crank in that gear, so that the power is what the tire would get at steady
        speed. [kg]
    resistance_n : float or array
        R(v). [N]

    Returns
    -------
    float or array
        [W]

    Examples
    --------
    >>> float(wheel_power_w(25.0, 1.5, 300.0, 250.0))
    17500.0
    """
    return (np.multiply(driven_mass_kg, acceleration_m_s2) + resistance_n) * speed_m_s


def engine_per_road(runs: Sequence[Run], ratio: float | None, radius: float | None, latency: float) -> float:
    """Engine speed for each m/s of road speed, from the ratio or from what was logged. [rad/m]"""
    if ratio is not None and radius is not None:
        return float(within("overall_ratio", ratio, 1.0, 80.0, "")) / float(
            within("rolling_radius_m", radius, 0.1, 0.6, "m")
        )
    late = float(within("latency_s", latency, -5.0, 5.0, "s"))
    shares = []
    for run in runs:
        if run.engine_speed_rad_s is None:
            raise InputError(
                run.name,
                None,
                "has no engine speed, and ratio and rolling radius are not given",
                "Give overall_ratio and rolling_radius_m.",
            )
        known = np.isfinite(run.engine_speed_rad_s)
        engine_then = (
            np.interp(run.time_s - late, run.time_s[known], run.engine_speed_rad_s[known]) if known.sum() > 2 else None
        )
        inside = run.time_s - late >= run.time_s[0]
        if engine_then is not None:
            shares.append(
                (engine_then / np.maximum(run.speed_m_s, 0.5))[inside & (run.time_s - late <= run.time_s[-1])]
            )
    if not shares:
        raise InputError("runs", None, "hold no engine speed", "Give overall_ratio and rolling_radius_m.")
    return float(np.median(np.concatenate(shares)))


def on_grid(runs: Sequence[Run], per: float, window: float, step: float) -> tuple[Array, Array, Array, Array]:
    """Engine speeds that every run reaches; on them each run's acceleration, its bias, and its error a m/s of noise."""
    smooth = []
    for run in runs:
        at = np.arange(run.time_s[0], run.time_s[-1], FINE_S)
        found = local_polynomial(run.time_s, run.speed_m_s, at, window)
        rising = np.maximum.accumulate(found.speed_m_s)
        first = np.concatenate([[True], np.diff(rising) > 1e-9])
        smooth.append(
            (
                rising[first],
                found.acceleration_m_s2[first],
                smoothing_bias_m_s2(run, at, window)[first],
                found.rate_error_per_noise[first],
            )
        )
    low, high = max(s[0][0] for s in smooth) * per, min(s[0][-1] for s in smooth) * per
    grid = step * np.arange(np.ceil(low / step - 1e-9), np.floor(high / step + 1e-9) + 1)
    if grid.size < 3:
        raise InputError(
            "runs",
            None,
            "share too little of the range of engine speeds",
            "Start every pull from the same low engine speed and hold it to the same high one.",
        )
    on = [[np.interp(grid / per, s[0], s[k]) for s in smooth] for k in (1, 2, 3)]
    return grid, np.array(on[0]), np.array(on[1]), np.array(on[2])


def coefficients(resistance: CoastDown | tuple[float, float]) -> tuple[float, float]:
    if isinstance(resistance, CoastDown):
        return resistance.f0_n.value, resistance.f2_n_s2_m2.value
    f0, f2 = resistance
    return float(within("resistance[1]", f0, 0.0, 5000.0, "N")), float(
        within("resistance[2]", f2, 0.0, 10.0, "N/(m/s)^2")
    )


def both_ways_mean(each: Array, ways: Array) -> Array:
    """Mean of the means of each direction, so that a run more one way does not bring the wind back in."""
    return np.asarray(np.mean([each[ways == way].mean(axis=0) for way in np.unique(ways)], axis=0))


def run_share_of(each: Array, ways: Array, noise_w: Array, seed: int) -> tuple[Array, str]:
    """Half the 5 to 95 % band of the scatter from run to run: runs drawn again, or noise alone where they are few."""
    from scipy.stats import t as student

    sets = [each[ways == way] for way in np.unique(ways)]
    if min(len(one) for one in sets) < 2 or len(each) < 3:
        return NORMAL_90 * np.sqrt(
            np.mean(noise_w**2, axis=0) / len(each)
        ), "the noise of the receiver alone: too few runs to draw again"
    drawn = drawn_means_w(each, ways, seed)
    return student.ppf(0.95, len(each) - len(sets)) * drawn.std(axis=0), "runs drawn again"


def drawn_means_w(each: Array, ways: Array, seed: int) -> Array:
    """How far the mean strays when runs are drawn again each way, a row a drawing; empty where runs are too few."""
    sets = [each[ways == way] for way in np.unique(ways)]
    if min(len(one) for one in sets) < 2:
        return np.empty((0, each.shape[1]))
    rng = np.random.default_rng(seed)
    drawn = np.zeros((RESAMPLES, each.shape[1]))
    for one in sets:
        # a set drawn from n runs spreads too little by (n - 1) / n
        centred = (one - one.mean(axis=0)) * np.sqrt(len(one) / (len(one) - 1))
        drawn += centred[rng.integers(0, len(one), (RESAMPLES, len(one)))].mean(axis=1) / len(sets)
    return drawn


def shared_error_w(
    resistance: CoastDown | tuple[float, float],
    driven_given: Any,
    driven: float,
    mass_given: Any,
    mass: float,
    f0: float,
    speed: Array,
    rate: Array,
) -> Array:
    """Standard error that mass and resistance put on every run alike. [W]"""
    share = (
        max(getattr(driven_given, "plus_minus", 0.0) / driven, getattr(mass_given, "plus_minus", 0.0) / mass)
        / NORMAL_90
    )
    inertia = share * driven * np.abs(rate) * speed
    if not isinstance(resistance, CoastDown):
        return np.asarray(inertia)
    design = np.stack([np.ones_like(speed), speed**2])
    against = np.einsum("ik,ij,jk->k", design, resistance.covariance, design)
    widen = resistance.factor / NORMAL_90  # few runs: the coast-down's own factor, not that of the normal law
    return np.asarray(np.sqrt(inertia**2 + against * (widen * speed) ** 2))
