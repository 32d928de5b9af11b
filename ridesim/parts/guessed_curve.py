"""A stand-in torque curve from the two peaks of a data sheet, until a measured one takes its place."""

from __future__ import annotations

from ridesim.errors import InputError
from ridesim.parts.power_curve import power_w

LOW_SPEED = 0.5  # of the engine speed of peak torque
LOW_TORQUE = 0.80  # of peak torque there
PAST_PEAK = 1.08  # of the engine speed of peak power
PAST_POWER = 0.96  # of peak power there
CURVE_ERROR = 0.10  # how far the torque between and beside the peaks may be off
WHY = "shape guessed from the two peaks of a data sheet; replace it with measured points"


def points_from_peaks(
    peak_torque_n_m: float, torque_at_rad_s: float, peak_power_w: float, power_at_rad_s: float
) -> tuple[tuple[float, float], ...]:
    """Four points (engine speed, torque) through both peaks of a data sheet; their shape beside the peaks is a guess.

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
    tuple of pairs
        Engine speed and torque, rising in engine speed. [rad/s, N m]

    Raises
    ------
    InputError
        Peaks that cannot belong to one engine.

    Examples
    --------
    40 N m at 400 rad/s and 20 kW at 625 rad/s, where the torque is 32 N m:

    >>> [tuple(round(x, 2) for x in point) for point in points_from_peaks(40.0, 400.0, 20e3, 625.0)]
    [(200.0, 32.0), (400.0, 40.0), (625.0, 32.0), (675.0, 28.44)]
    """
    if power_at_rad_s <= torque_at_rad_s:
        raise InputError(
            "power_at", None, "is not above the engine speed of peak torque", "Peak power comes at the higher speed."
        )
    at_power = peak_power_w / power_at_rad_s
    if at_power > peak_torque_n_m * (1 + 1e-9):
        raise InputError(
            "power", None, "means more torque at its engine speed than the peak torque", "Check both peaks and their units."
        )
    if peak_power_w < float(power_w(torque_at_rad_s, peak_torque_n_m)) * (1 - 1e-9):
        raise InputError(
            "power", None, "is less than the engine gives at its peak torque", "Check both peaks and their units."
        )
    last = PAST_PEAK * power_at_rad_s
    return (
        (LOW_SPEED * torque_at_rad_s, LOW_TORQUE * peak_torque_n_m),
        (torque_at_rad_s, peak_torque_n_m),
        (power_at_rad_s, at_power),
        (last, PAST_POWER * peak_power_w / last),
    )
