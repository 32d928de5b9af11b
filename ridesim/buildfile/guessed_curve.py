"""A stand-in torque curve from the two peaks of a data sheet, until a measured one takes its place."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from ridesim.errors import InputError
from ridesim.units import either

LOW_SPEED = 0.5  # of the engine speed of peak torque
LOW_TORQUE = 0.80  # of peak torque there
PAST_PEAK = 0.08  # of the engine speed of peak power, beyond it
PAST_POWER = 0.04  # of peak power, lost there
CURVE_ERROR = 0.10  # how far the torque between and beside the peaks may be off
WHY = "shape guessed from the two peaks of a data sheet; replace it with measured points"
RECONCILED = 0.05  # peaks that disagree by no more are rounded, or from two sheets; beyond it one of them is wrong
NEAR = 1e-4  # a point so near to each peak, on either side, keeps the curve between points from rising over it
RISE = (
    4e-4  # of peak power, by which it is above the power at peak torque at least: level, it would have its top anywhere
)
SHARPEST = 4.0
BETWEEN = 12  # stretches from peak to peak


@dataclass(frozen=True, kw_only=True)
class GuessedCurve:
    """A curve through both peaks that rises over neither.

    points    engine speed and torque, rising in engine speed [rad/s, N m]
    said      what of the peaks was changed so that they agree; empty where they do
    """

    points: tuple[tuple[float, float], ...]
    said: str


def points_from_peaks(
    peak_torque_n_m: float, torque_at_rad_s: float, peak_power_w: float, power_at_rad_s: float
) -> GuessedCurve:
    """Points through both peaks of a data sheet, over neither of them; their shape beside the peaks is a guess.

    From peak to peak the power is P - (P - P_T) (1 - s)^p, s from 0 to 1, P_T the power at peak torque: p such that the torque has
    its top at s = 0, and the power has its own at s = 1. Beyond, the power falls as a parabola.

    Parameters
    ----------
    peak_torque_n_m : float
        At the crank. [N m]
    torque_at_rad_s : float
        Its engine speed. [rad/s]
    peak_power_w : float
        At the crank. [W]
    power_at_rad_s : float
        Its engine speed, above that of the torque. [rad/s]

    Returns
    -------
    GuessedCurve
        Peaks that disagree by up to 5 % are lowered until they agree, and that is said.

    Raises
    ------
    InputError
        Peaks that cannot belong to one engine.

    Examples
    --------
    40 N m at 400 rad/s and 20 kW at 625 rad/s, where the torque is 32 N m:

    >>> curve = points_from_peaks(40.0, 400.0, 20e3, 625.0)
    >>> [tuple(round(x, 2) for x in curve.points[n]) for n in (0, 1, 15, 17)]
    [(200.0, 32.0), (400.0, 40.0), (625.0, 32.0), (650.0, 30.46)]
    """
    if power_at_rad_s <= torque_at_rad_s:
        raise InputError(
            "power_at", None, "is not above the engine speed of peak torque", "Peak power comes at the higher speed."
        )
    torque, power, said = _reconciled(peak_torque_n_m, torque_at_rad_s, peak_power_w, power_at_rad_s)
    width = power_at_rad_s - torque_at_rad_s
    missing = power - torque * torque_at_rad_s
    exponent = min(torque * width / missing, SHARPEST) if missing > 2 * RISE * power else 1.0
    near = min(NEAR, 0.02 * width / power_at_rad_s)
    closer = (1 - np.cos(np.pi * np.arange(1, BETWEEN) / BETWEEN)) / 2  # towards either peak
    s = np.concatenate(([near * torque_at_rad_s / width], closer, [1 - near * power_at_rad_s / width]))
    between = torque_at_rad_s + width * s
    beyond = np.array([0.0, near, PAST_PEAK / 2, PAST_PEAK])
    after = power_at_rad_s * (1 + beyond)
    speeds = np.concatenate(([LOW_SPEED * torque_at_rad_s, torque_at_rad_s], between, after))
    torques = np.concatenate((
        [LOW_TORQUE * torque, torque],
        (power - missing * (1 - s) ** exponent) / between,
        power * (1 - PAST_POWER * (beyond / PAST_PEAK) ** 2) / after,
    ))  # fmt: skip
    return GuessedCurve(points=tuple(zip(speeds.tolist(), torques.tolist(), strict=True)), said=said)


def _reconciled(torque: float, torque_at: float, power: float, power_at: float) -> tuple[float, float, str]:
    """Torque and power of the peaks, the one that the other does not allow lowered by a few per cent, and what to say of it."""
    most = torque * power_at
    if power > most * (1 + RECONCILED):
        fix = "Check both peaks and their units."
        raise InputError("power", None, "means more torque at its engine speed than the peak torque", fix)
    if power > most:
        return (
            torque,
            most,
            "peak power taken as " + either("power", most) + ": more would ask for more than the peak torque",
        )
    if torque * torque_at > power * (1 + RECONCILED):
        raise InputError(
            "power", None, "is less than the engine gives at its peak torque", "Check both peaks and their units."
        )
    least = (1 - RISE) * power / torque_at
    if torque * torque_at > power:
        return (
            least,
            power,
            "peak torque taken as " + either("torque", least) + ": more would make more than the peak power there",
        )
    return min(torque, least), power, ""
