"""Full-throttle pulls in one gear: wheel power over engine speed with its band."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np

from ridesim.environment.power_correction import AS_MEASURED, LARGEST, SMALLEST
from ridesim.environment.road_forces import resistance_n
from ridesim.errors import InputError, within
from ridesim.logs.fits.coast import NORMAL_90, CoastDown
from ridesim.logs.fits.signal import best_window_s, local_polynomial, noise_of, smoothing_bias_m_s2, student_95
from ridesim.logs.log import CAUTIONS, Array, Run, both_ways, counted, frozen
from ridesim.units import in_both, rad_s

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
        problem = "share too little of the range of engine speeds"
        fix = "Start every pull from the same low engine speed and hold it to the same high one."
        raise InputError("runs", None, problem, fix)
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
    sets = [each[ways == way] for way in np.unique(ways)]
    if min(len(one) for one in sets) < 2 or len(each) < 3:
        return NORMAL_90 * np.sqrt(
            np.mean(noise_w**2, axis=0) / len(each)
        ), "the noise of the receiver alone: too few runs to draw again"
    drawn = drawn_means_w(each, ways, seed)
    return student_95(len(each) - len(sets)) * drawn.std(axis=0), "runs drawn again"


def drawn_means_w(each: Array, ways: Array, seed: int) -> Array:
    """How far the mean strays when runs are drawn again each way, a row a drawing; empty where runs are too few."""
    sets = [each[ways == way] for way in np.unique(ways)]
    if min(len(one) for one in sets) < 2:
        return np.empty((0, each.shape[1]))
    rng = np.random.default_rng(seed)
    drawn = np.zeros((RESAMPLES, each.shape[1]))
    for one in sets:
        # a set drawn from n runs spreads too little by (n - 1) / n
        centerd = (one - one.mean(axis=0)) * np.sqrt(len(one) / (len(one) - 1))
        drawn += centerd[rng.integers(0, len(one), (RESAMPLES, len(one)))].mean(axis=1) / len(sets)
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


@dataclass(frozen=True, kw_only=True)
class WheelCurve:
    """Power at the wheel over engine speed, corrected as told, with its 5 to 95 % band.

    torque_n_m is power over engine speed, the wheel's torque referred to the crank. by_run_w holds one row a run.
    run_share is the part of the half band that comes from run to run, shared_share that of mass and resistance, which
    two curves of the same bike have in common; both in W.
    """

    engine_speed_rad_s: Array
    speed_m_s: Array
    power_w: Array
    low_w: Array
    high_w: Array
    torque_n_m: Array
    run_share_w: Array
    shared_share_w: Array
    smoothing_bias_w: Array
    by_run_w: Array
    directions: tuple[int, ...]
    half_window_s: float
    noise_m_s: float
    correction: float
    standard: str
    rows: tuple[Mapping[str, Any], ...]
    assumptions: tuple[str, ...]
    notes: tuple[str, ...]
    cautions: tuple[str, ...] = CAUTIONS


def wheel_curve(
    runs: Sequence[Run],
    *,
    driven_mass_kg: float,
    mass_kg: float,
    resistance: CoastDown | tuple[float, float],
    overall_ratio: float,
    rolling_radius_m: float,
    correction: float = 1.0,
    standard: str = AS_MEASURED,
    step_rad_s: float = float(rad_s(250.0)),
    seed: int = 1,
    progress: Callable[[float], None] | None = None,
) -> WheelCurve:
    """Wheel power over engine speed from pulls in one gear:  P = (m_k dv/dt + R(v)) v.

    Speed and its rate come from local cubics (signal.local_polynomial). A delay of the receiver shifts both alike and
    does no harm; its own smoothing acts as a delay as long as it is short beside the window. Differentiating multiplies
    noise: the window is chosen so that noise and bend together are least, and both are told. Runs are averaged for each
    way along the road and then over both ways, which takes wind and slope out.

    Parameters
    ----------
    runs : sequence of Run
        Full throttle in one gear, from low to high speed, at most 100.
    driven_mass_kg : float
        m_k = m + Jf/rf^2 + Jr/r^2 + eta Je i^2/r^2 of that gear; a Measured carries its tolerance. [kg]
    mass_kg : float
        m, for the slope. [kg]
    resistance : CoastDown or (F0, F2)
        At level without wind; a CoastDown carries its covariance. [N], [N s2/m2]
    overall_ratio, rolling_radius_m : float
        Crank turns per wheel turn, and U / 2 pi. [-], [m]
    correction : float
        Standard power over measured power, from surroundings.correction. [-]
    standard : str
        Its name; "as measured" goes with a correction of 1.
    step_rad_s : float
        Of the engine speeds of the curve. [rad/s]

    Returns
    -------
    WheelCurve

    Raises
    ------
    InputError
        Too few samples, or runs that share no range of speed.

    Examples
    --------
    A steady 2 m/s2 at 300 kg against 100 N is 700 N at the tire, 14 kW at 20 m/s, which is 400 rad/s at 6:1 and 0.3 m:

    >>> t = np.arange(0.0, 10.0, 0.5)
    >>> runs = [Run(time_s=t, speed_m_s=10.0 + 2.0 * t, direction=d) for d in (1, 1, -1, -1)]
    >>> curve = wheel_curve(runs, driven_mass_kg=300.0, mass_kg=250.0, resistance=(100.0, 0.0), overall_ratio=6.0,
    ...                     rolling_radius_m=0.3, step_rad_s=100.0)
    >>> curve.engine_speed_rad_s.tolist(), float(curve.power_w[2].round(3)), float(curve.torque_n_m[2].round(4))
    ([200.0, 300.0, 400.0, 500.0], 14000.0, 35.0)
    """
    runs = _usable(runs)
    driven = float(within("driven_mass_kg", driven_mass_kg, 50.0, 5000.0, "kg"))
    mass = float(within("mass_kg", mass_kg, 50.0, 1000.0, "kg"))
    factor = float(within("correction", correction, 0.5, 2.0, ""))
    if standard == AS_MEASURED and factor != 1.0:
        raise InputError(
            "standard", standard, "does not go with a correction", "Name the standard the correction is of."
        )
    ratio = float(within("overall_ratio", overall_ratio, 1.0, 80.0, ""))
    per = ratio / float(within("rolling_radius_m", rolling_radius_m, 0.1, 0.6, "m"))
    noise = noise_of(runs)
    window = best_window_s(runs, noise)
    if progress:
        progress(0.3)
    grid, rate, bias, noise_error = on_grid(
        runs, per, window, float(within("step_rad_s", step_rad_s, 1.0, 200.0, "rad/s"))
    )
    speed = grid / per
    f0, f2 = coefficients(resistance)
    ways = np.array([run.direction for run in runs], dtype=float)[:, None]
    against = resistance_n(speed, f0, 0.0, f2, mass, 0.0 * ways, 0.0)
    each = wheel_power_w(speed, rate, driven, against)
    power = both_ways_mean(each, ways[:, 0])
    run_half, how = run_share_of(each, ways[:, 0], driven * noise * noise_error * speed, seed)
    shared_half = NORMAL_90 * shared_error_w(
        resistance, driven_mass_kg, driven, mass_kg, mass, f0, speed, both_ways_mean(rate, ways[:, 0])
    )
    bias_w = driven * both_ways_mean(bias, ways[:, 0]) * speed
    half = np.sqrt(run_half**2 + shared_half**2) + np.abs(bias_w)  # a bend is no accident: it adds in full
    if progress:
        progress(1.0)
    return WheelCurve(
        engine_speed_rad_s=frozen(grid),
        speed_m_s=frozen(speed),
        power_w=frozen(factor * power),
        low_w=frozen(factor * (power - half)),
        high_w=frozen(factor * (power + half)),
        torque_n_m=frozen(factor * power / grid),
        run_share_w=frozen(factor * run_half),
        shared_share_w=frozen(factor * shared_half),
        smoothing_bias_w=frozen(factor * bias_w),
        by_run_w=frozen(factor * each),
        directions=tuple(run.direction for run in runs),
        half_window_s=window,
        noise_m_s=noise,
        correction=factor,
        standard=standard,
        rows=_rows(grid, speed, factor * power, factor * half),
        assumptions=(
            f"smoothed by local cubics over {window:.2f} s to each side; what that bends is in the band",
            f"band from {how}: 5 to 95 %",
            "no slip of the tire on the road is taken off",
        ),
        notes=_notes(runs, factor, standard, bias_w, power),
    )


def _usable(runs: Sequence[Run]) -> list[Run]:
    runs = counted(runs, 100, "Four each way is a good set.")
    for run in runs:
        if run.time_s.size < 5:
            problem = "are too few for a pull: five or more are needed"
            fix = "Take a higher gear, or a receiver that logs more often."
            raise InputError(run.name, f"{run.time_s.size} samples", problem, fix)
        if run.speed_m_s[-1] - run.speed_m_s[0] < 2.0:
            problem = "hardly gathers speed, so it is no pull"
            fix = "Cut the run from opening the throttle to closing it."
            raise InputError(run.name, in_both("speed", float(run.speed_m_s[-1] - run.speed_m_s[0])), problem, fix)
    return runs


def _rows(grid: Array, speed: Array, power: Array, half: Array) -> tuple[Mapping[str, Any], ...]:
    return tuple(
        {
            "engine_speed_rad_s": float(w),
            "speed_m_s": float(v),
            "power_w": float(p),
            "low_w": float(p - h),
            "high_w": float(p + h),
            "torque_n_m": float(p / w),
        }
        for w, v, p, h in zip(grid, speed, power, half, strict=True)
    )


def _notes(runs: Sequence[Run], factor: float, standard: str, bias: Array, power: Array) -> tuple[str, ...]:
    notes = []
    if not both_ways(runs):
        notes.append(
            "ridden one way only: wind and slope are in the power, and not in the band; ride back the same stretch as well"
        )
    if not SMALLEST <= factor <= LARGEST:
        notes.append(
            f"the correction of {factor:.3f} ({standard}) is outside the {SMALLEST:g} to {LARGEST:g} it is meant for: "
            "take the power as a guide"
        )
    if float(np.max(np.abs(bias / power))) > 0.02:
        notes.append(
            f"the smoothing bends the curve by up to {np.max(np.abs(bias / power)):.1%}: narrow bumps and dips are flattened; "
            "a higher gear or a faster receiver shows more"
        )
    return tuple(notes)
