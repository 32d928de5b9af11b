"""Full-throttle pulls in one gear: wheel power over engine speed with its band, as a curve a build file can hold."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np

from ridesim.errors import InputError
from ridesim.roadlog.coastdown import NORMAL_90, CoastDown
from ridesim.roadlog.log import CAUTIONS, Array, Run, both_ways, frozen
from ridesim.roadlog.pull_sums import (
    both_ways_mean,
    coefficients,
    engine_per_road,
    on_grid,
    run_share_of,
    shared_error_w,
    wheel_power_w,
)
from ridesim.roadlog.signal import best_window_s, noise_of
from ridesim.surroundings.checks import within
from ridesim.surroundings.correction import AS_MEASURED, LARGEST, SMALLEST
from ridesim.surroundings.road_forces import resistance_n, slope_rad
from ridesim.units import in_both, rad_s, rpm


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
    steps: tuple[str, ...]
    notes: tuple[str, ...]
    cautions: tuple[str, ...] = CAUTIONS

    def as_tune_toml(
        self,
        name: str,
        *,
        temperature_k: float | None = None,
        pressure_pa: float | None = None,
        humidity: float | None = None,
    ) -> str:
        """The curve as a tune of a build file: [tune.NAME] with points of engine speed and torque at the wheel.

        A curve that was not corrected needs the air it was ridden in.
        """
        key = name.strip()
        if not key or len(key) > 40 or any(not (c.isalnum() or c in "_-") for c in key) or not key.isascii():
            raise InputError("tune", name, "is not a usable name", "Use letters, digits, - and _.")
        lines = [f"[tune.{key}]", 'measured_at = "wheel"', f'standard = "{self.standard}"']
        if self.standard == AS_MEASURED:
            if temperature_k is None or pressure_pa is None:
                raise InputError(
                    f"tune.{key}.standard",
                    self.standard,
                    "needs the air the pulls were ridden in",
                    "Give temperature_k and pressure_pa, or correct the curve to a standard.",
                )
            t = float(within("temperature_k", temperature_k, 233.0, 334.0, "K"))
            p = float(within("pressure_pa", pressure_pa, 5e4, 1.1e5, "Pa"))
            lines += [f'temperature = "{t:.2f} K"', f'pressure = "{p:.0f} Pa"']
            if humidity is not None:
                lines.append(f"humidity = {float(within('humidity', humidity, 0.0, 1.0, '')) * 100:.0f}")
        pairs = zip(rpm(self.engine_speed_rad_s), self.torque_n_m, strict=True)
        points = ", ".join(f"[{speed:.0f}, {torque:.2f}]" for speed, torque in pairs)
        error = float(np.max((self.high_w - self.low_w) / (2 * self.power_w)))
        return "\n".join(
            [
                *lines,
                f'curve_error = "{min(100 * error, 30.0):.1f} %"',
                f"points = [{points}]",
                'points_are = "N*m"',
                "",
            ]
        )


def wheel_curve(
    runs: Sequence[Run],
    *,
    driven_mass_kg: float,
    mass_kg: float,
    resistance: CoastDown | tuple[float, float],
    overall_ratio: float | None = None,
    rolling_radius_m: float | None = None,
    latency_s: float = 0.0,
    half_window_s: float | None = None,
    headwind_m_s: float = 0.0,
    grade: float = 0.0,
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
    overall_ratio, rolling_radius_m : float, optional
        Crank turns per wheel turn, and U / 2 pi; without them the engine speed must be logged. [-], [m]
    latency_s : float
        How much later the receiver's speed is than the logged engine speed. [s]
    half_window_s : float, optional
        Of the smoothing; chosen when not given. [s]
    headwind_m_s, grade : float
        Met by runs of direction 1, where known. [m/s], [-]
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
        Too few samples, runs that share no range of speed, no way to tell the engine speed.

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
    per = engine_per_road(runs, overall_ratio, rolling_radius_m, latency_s)
    noise = noise_of(runs)
    window = (
        best_window_s(runs, noise)
        if half_window_s is None
        else float(within("half_window_s", half_window_s, 0.2, 10.0, "s"))
    )
    if progress:
        progress(0.3)
    grid, rate, bias, noise_error = on_grid(
        runs, per, window, float(within("step_rad_s", step_rad_s, 1.0, 200.0, "rad/s"))
    )
    speed = grid / per
    f0, f2 = coefficients(resistance)
    ways = np.array([run.direction for run in runs], dtype=float)[:, None]
    against = resistance_n(speed, f0, 0.0, f2, mass, slope_rad(grade) * ways, headwind_m_s * ways)
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
        steps=(
            f"omega / v = {per:.3f} rad/m",
            f"P = (m_k dv/dt + R) v with m_k = {driven:.1f} kg, R = {f0:.1f} N + {f2:.4f} v^2",
            f"corrected by {factor:.4f} ({standard})",
        ),
        notes=_notes(runs, factor, standard, headwind_m_s, grade, bias_w, power),
    )


def _usable(runs: Sequence[Run]) -> list[Run]:
    runs = list(runs)
    if not 1 <= len(runs) <= 100:
        raise InputError("runs", f"{len(runs)} runs", "must be 1 to 100 runs", "Four each way is a good set.")
    for run in runs:
        if run.time_s.size < 5:
            raise InputError(
                run.name,
                f"{run.time_s.size} samples",
                "are too few for a pull: five or more are needed",
                "Take a higher gear, or a receiver that logs more often.",
            )
        if run.speed_m_s[-1] - run.speed_m_s[0] < 2.0:
            raise InputError(
                run.name,
                in_both("speed", float(run.speed_m_s[-1] - run.speed_m_s[0])),
                "hardly gathers speed, so it is no pull",
                "Cut the run from opening the throttle to closing it.",
            )
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


def _notes(
    runs: Sequence[Run], factor: float, standard: str, wind: float, grade: float, bias: Array, power: Array
) -> tuple[str, ...]:
    notes = []
    if not both_ways(runs) and not (wind or grade):
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
