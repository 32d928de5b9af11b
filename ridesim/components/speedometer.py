"""Speedometer and odometer after a change of tire or sprockets: the error depends on where the sensor sits."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any, Literal, get_args

import numpy as np

from ridesim.errors import InputError, did_you_mean, within
from ridesim.units import kmh

Sensor = Literal["front wheel", "rear wheel", "countershaft"]
SENSORS: tuple[str, ...] = get_args(Sensor)

R39_SHARE = 0.1  # UN Regulation 39, 5.4: V1 - V2 is at most a tenth of the true speed ...
R39_ALLOWANCE_M_S = 4.0 / kmh(1.0)  # ... and 4 km/h


@dataclass(frozen=True, kw_only=True)
class SpeedometerDrive:
    """What a speedometer's sensor sees: the tires on the bike and the final drive. Arrays broadcast.

    front_circumference_m, rear_circumference_m   rolling circumference [m]
    final_ratio                                   rear teeth over front teeth [-]
    """

    front_circumference_m: Any
    rear_circumference_m: Any
    final_ratio: Any

    def __post_init__(self) -> None:
        for name in ("front_circumference_m", "rear_circumference_m", "final_ratio"):
            where, fix = f"speedometer.{name}", "Give a number above 0."
            within(where, getattr(self, name), 1e-12, 1e12, "", fix, "is not a positive number")


@dataclass(frozen=True, kw_only=True)
class IndicatedLimits:
    """The readings a speedometer may show at a true speed.

    true_m_s, low_m_s, high_m_s   [m/s]
    """

    true_m_s: Any
    low_m_s: Any
    high_m_s: Any


@dataclass(frozen=True, kw_only=True)
class ReadingVerdict:
    """A reading beside the limits of UN Regulation 39.

    true_m_s, indicated_m_s   [m/s]
    limits                    the readings allowed
    within                    whether the reading lies between them, ends included
    outside_m_s               how far outside: above 0 reads too high, below 0 too low, 0 within [m/s]
    """

    true_m_s: Any
    indicated_m_s: Any
    limits: IndicatedLimits
    within: Any
    outside_m_s: Any


def odometer_over_true(sensor: str, *, calibrated: SpeedometerDrive, now: SpeedometerDrive) -> Any:
    """Distance counted over distance ridden, by what the sensor turns with.

        front wheel:   U_front,calibrated / U_front,now
        rear wheel:    U_rear,calibrated / U_rear,now
        countershaft:  (U_rear,calibrated x ratio_now) / (U_rear,now x ratio_calibrated)

    Parameters
    ----------
    sensor : str
        "front wheel", "rear wheel" or "countershaft".
    calibrated : SpeedometerDrive
        Tires and sprockets the instrument was made for.
    now : SpeedometerDrive
        Tires and sprockets on the bike.

    Returns
    -------
    float or array
        1 is true; above 1 it counts too much. [-]

    Raises
    ------
    InputError
        A sensor that is none of the three.

    Examples
    --------
    One tooth fewer in front, 45:16 to 45:15, with the sensor at the countershaft:

    >>> stock = SpeedometerDrive(front_circumference_m=2.1, rear_circumference_m=2.0, final_ratio=45 / 16)
    >>> changed = SpeedometerDrive(front_circumference_m=2.1, rear_circumference_m=2.0, final_ratio=45 / 15)
    >>> float(round(odometer_over_true("countershaft", calibrated=stock, now=changed), 4))
    1.0667
    >>> float(odometer_over_true("front wheel", calibrated=stock, now=changed))
    1.0
    """
    if sensor == "front wheel":
        return np.divide(calibrated.front_circumference_m, now.front_circumference_m)
    rear = np.divide(calibrated.rear_circumference_m, now.rear_circumference_m)
    if sensor == "rear wheel":
        return rear
    if sensor == "countershaft":
        return rear * np.divide(now.final_ratio, calibrated.final_ratio)
    raise InputError("speedometer.sensor", sensor, "is not a place of a sensor", did_you_mean(sensor, SENSORS))


def indicated_over_true(
    sensor: str, *, calibrated: SpeedometerDrive, now: SpeedometerDrive, reads_high: Any = 0.0
) -> Any:
    """Speed shown over true speed:  (1 + reads_high) x odometer_over_true.

    Parameters
    ----------
    sensor : str
        "front wheel", "rear wheel" or "countershaft".
    calibrated : SpeedometerDrive
        Tires and sprockets the instrument was made for.
    now : SpeedometerDrive
        Tires and sprockets on the bike.
    reads_high : float or array
        How much it shows over the true speed as calibrated, such as 0.05; above -1. [-]

    Returns
    -------
    float or array
        1 is true; above 1 it reads high. [-]

    Raises
    ------
    InputError
        A sensor that is none of the three, or a share of -1 or less.

    Examples
    --------
    A rear tire 3 % larger takes most of a 5 % lead away:

    >>> stock = SpeedometerDrive(front_circumference_m=2.1, rear_circumference_m=2.00, final_ratio=2.8)
    >>> larger = SpeedometerDrive(front_circumference_m=2.1, rear_circumference_m=2.06, final_ratio=2.8)
    >>> float(round(indicated_over_true("rear wheel", calibrated=stock, now=larger, reads_high=0.05), 4))
    1.0194
    """
    problem = "is not a share above -1"
    share = within("speedometer.reads_high", reads_high, -1 + 1e-12, 1e12, "", "Give a share such as 0.05.", problem)
    return (1.0 + share) * odometer_over_true(sensor, calibrated=calibrated, now=now)


def indicated_limits_un_r39(true_m_s: Any) -> IndicatedLimits:
    """Readings allowed at type approval:  0 <= V1 - V2 <= 0.1 V2 + 4 km/h.  UN Regulation 39, 5.4 (01 series).

    V1 is the speed shown, V2 the true one. The rule is for new vehicles, on the tires they are approved with, at the
    test speeds of the regulation; vehicles in use are under local law.

    Parameters
    ----------
    true_m_s : float or array
        0 or more. [m/s]

    Returns
    -------
    IndicatedLimits

    Raises
    ------
    InputError
        A speed that is negative or not finite.

    Examples
    --------
    At 20 m/s (72 km/h):

    >>> limits = indicated_limits_un_r39(20.0)
    >>> float(limits.low_m_s), float(round(limits.high_m_s, 3))
    (20.0, 23.111)
    """
    true = np.asarray(_speed("true_m_s", true_m_s))
    return IndicatedLimits(true_m_s=true_m_s, low_m_s=true + 0.0, high_m_s=true * (1.0 + R39_SHARE) + R39_ALLOWANCE_M_S)


def reading_verdict(true_m_s: Any, indicated_m_s: Any) -> ReadingVerdict:
    """Whether a reading lies within UN Regulation 39, and how far outside it is.

    Parameters
    ----------
    true_m_s : float or array
        0 or more. [m/s]
    indicated_m_s : float or array
        0 or more. [m/s]

    Returns
    -------
    ReadingVerdict

    Raises
    ------
    InputError
        A speed that is negative or not finite.

    Examples
    --------
    >>> verdict = reading_verdict(20.0, 19.5)
    >>> bool(verdict.within), float(verdict.outside_m_s)
    (False, -0.5)
    """
    limits = indicated_limits_un_r39(true_m_s)
    shown = np.asarray(_speed("indicated_m_s", indicated_m_s))
    outside = np.maximum(shown - limits.high_m_s, 0.0) + np.minimum(shown - limits.low_m_s, 0.0)
    outside = np.where(np.abs(outside) <= 1e-9 * np.maximum(shown, 1.0), 0.0, outside)  # the ends are allowed
    return ReadingVerdict(
        true_m_s=true_m_s, indicated_m_s=indicated_m_s, limits=limits, within=outside == 0.0, outside_m_s=outside[()]
    )


def _speed(where: str, value: Any) -> Any:
    return within(where, value, 0.0, 1e12, "m/s", "Give a speed of 0 or more.", "is not a speed")
