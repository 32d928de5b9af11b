"""Speedometer and odometer after a change of tire or sprockets: the error depends on where the sensor sits."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any, Literal, get_args

import numpy as np

from ridesim.components.tire_dimensions import positive
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
            positive(f"speedometer.{name}", getattr(self, name))


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
    One tooth fewer in front, 44:15 to 44:14, with the sensor at the countershaft:

    >>> stock = SpeedometerDrive(front_circumference_m=2.1, rear_circumference_m=2.0, final_ratio=44 / 15)
    >>> changed = SpeedometerDrive(front_circumference_m=2.1, rear_circumference_m=2.0, final_ratio=44 / 14)
    >>> float(round(odometer_over_true("countershaft", calibrated=stock, now=changed), 4))
    1.0714
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


def indicated_limits_un_r39(true_m_s: Any) -> tuple[Any, Any]:
    """Least and most reading at type approval:  0 <= V1 - V2 <= 0.1 V2 + 4 km/h.  UN Regulation 39, 5.4 (01 series).

    V1 is the speed shown, V2 the true one. The rule is for new vehicles, on the tires they are approved with, at the
    test speeds of the regulation; vehicles in use are under local law.

    Parameters
    ----------
    true_m_s : float or array
        0 or more. [m/s]

    Returns
    -------
    (low, high) : float or array
        [m/s]

    Raises
    ------
    InputError
        A speed that is negative or not finite.

    Examples
    --------
    At 20 m/s (72 km/h):

    >>> low, high = indicated_limits_un_r39(20.0)
    >>> float(low), float(round(high, 3))
    (20.0, 23.111)
    """
    true = np.asarray(_speed("true_m_s", true_m_s))
    return true + 0.0, true * (1.0 + R39_SHARE) + R39_ALLOWANCE_M_S


def outside_un_r39_m_s(true_m_s: Any, indicated_m_s: Any) -> Any:
    """How far a reading lies outside UN Regulation 39: above 0 too high, below 0 too low, 0 within, ends included.

    Parameters
    ----------
    true_m_s, indicated_m_s : float or array
        0 or more. [m/s]

    Returns
    -------
    float or array
        [m/s]

    Raises
    ------
    InputError
        A speed that is negative or not finite.

    Examples
    --------
    >>> float(outside_un_r39_m_s(20.0, 19.5)), float(outside_un_r39_m_s(20.0, 22.0))
    (-0.5, 0.0)
    """
    low, high = indicated_limits_un_r39(true_m_s)
    shown = np.asarray(_speed("indicated_m_s", indicated_m_s))
    outside = np.maximum(shown - high, 0.0) + np.minimum(shown - low, 0.0)
    return np.where(np.abs(outside) <= 1e-9, 0.0, outside)[()]  # the ends are allowed


def _speed(where: str, value: Any) -> Any:
    return within(where, value, 0.0, 1e12, "m/s", "Give a speed of 0 or more.", "is not a speed")
