"""From crank to contact patch: ratios, speeds, wheel force, effective mass. Arguments are floats or arrays and broadcast."""

from __future__ import annotations

from typing import Any

import numpy as np


def overall_ratio(primary_ratio: Any, gear_ratio: Any, front_teeth: Any, rear_teeth: Any) -> Any:
    """Crank turns for one turn of the rear wheel:  i = primary x gear x z2 / z1.

    Parameters
    ----------
    primary_ratio : Crank turns per clutch turn. [-]
    gear_ratio : Clutch turns per countershaft turn. [-]
    front_teeth : Countershaft sprocket, z1. [-]
    rear_teeth : Wheel sprocket, z2. [-]

    Returns
    -------
    [-]

    Examples
    --------
    >>> float(round(overall_ratio(72 / 30, 30 / 12, 14, 42), 4))
    18.0
    """
    return np.multiply(primary_ratio, gear_ratio) * np.divide(rear_teeth, front_teeth)


def road_speed_m_s(engine_speed_rad_s: Any, ratio: Any, rolling_radius_m: Any) -> Any:
    """Road speed with the clutch closed and no tire slip:  v = omega r / i.

    Parameters
    ----------
    engine_speed_rad_s : [rad/s]
    ratio : Overall ratio, crank turns per wheel turn. [-]
    rolling_radius_m : Rolling circumference over 2 pi. [m]

    Returns
    -------
    [m/s]

    Examples
    --------
    6000 rev/min is 628.3185 rad/s; through 5:1 to a 0.300 m wheel:

    >>> float(round(road_speed_m_s(628.3185, 5.0, 0.300), 3))
    37.699
    """
    return np.multiply(engine_speed_rad_s, rolling_radius_m) / ratio


def engine_speed_rad_s(speed_m_s: Any, ratio: Any, rolling_radius_m: Any) -> Any:
    """Engine speed at a road speed:  omega = v i / r.

    Parameters
    ----------
    speed_m_s : [m/s]
    ratio : Overall ratio. [-]
    rolling_radius_m : [m]

    Returns
    -------
    [rad/s]

    Examples
    --------
    24 km/h on a wheel of 0.3 m radius through 22:1 (Khurmi & Gupta, Theory of Machines, ex. 3.15, prints 489 rad/s):

    >>> float(round(engine_speed_rad_s(6.67, 22.0, 0.3), 0))
    489.0
    """
    return np.multiply(speed_m_s, ratio) / rolling_radius_m


def mean_piston_speed_m_s(stroke_m: Any, engine_speed_rad_s: Any) -> Any:
    """Mean piston speed, two strokes a turn:  c = 2 S n = S omega / pi.

    Parameters
    ----------
    stroke_m : [m]
    engine_speed_rad_s : [rad/s]

    Returns
    -------
    [m/s]

    Examples
    --------
    70 mm of stroke at 6000 rev/min:

    >>> float(round(mean_piston_speed_m_s(0.070, 628.3185), 2))
    14.0
    """
    return np.multiply(stroke_m, engine_speed_rad_s) / np.pi


def wheel_force_n(torque_n_m: Any, ratio: Any, efficiency: Any, rolling_radius_m: Any) -> Any:
    """Force at the rear contact patch:  F = T i eta / r.

    Parameters
    ----------
    torque_n_m : At the crank. [N m]
    ratio : Overall ratio. [-]
    efficiency : Crank to tire. [-]
    rolling_radius_m : [m]

    Returns
    -------
    [N]

    Examples
    --------
    >>> float(round(wheel_force_n(35.0, 18.0, 0.92, 0.33), 0))
    1756.0
    """
    return np.multiply(torque_n_m, ratio) * efficiency / rolling_radius_m


def effective_mass_kg(
    mass_kg: Any,
    front_inertia_kg_m2: Any,
    front_radius_m: Any,
    rear_inertia_kg_m2: Any,
    rear_radius_m: Any,
    crank_inertia_kg_m2: Any,
    ratio: Any,
    efficiency: Any,
) -> Any:
    """Mass the wheel force accelerates, rotating parts included:  m_k = m + Jf/rf^2 + Jr/r^2 + eta Je i^2/r^2.

    The crank's inertia torque is taken before the losses, hence its efficiency.

    Parameters
    ----------
    mass_kg : All up. [kg]
    front_inertia_kg_m2, rear_inertia_kg_m2, crank_inertia_kg_m2 : Spin inertias; the crank's with flywheel and clutch, at crank speed; 0 while the clutch slips or is open. [kg m2]
    front_radius_m, rear_radius_m : Rolling radii. [m]
    ratio : Overall ratio. [-]
    efficiency : Crank to tire. [-]

    Returns
    -------
    [kg]

    Examples
    --------
    The vehicle of Khurmi & Gupta, Theory of Machines, ex. 3.15 (1500 kg, wheels 8 kg m2 in all, engine 1 kg m2, 22:1, 0.85):

    >>> float(round(effective_mass_kg(1500.0, 4.0, 0.3, 4.0, 0.3, 1.0, 22.0, 0.85), 1))
    6160.0
    """
    return (
        np.asarray(mass_kg, dtype=float)
        + np.divide(front_inertia_kg_m2, np.square(front_radius_m))
        + np.divide(rear_inertia_kg_m2, np.square(rear_radius_m))
        + np.multiply(efficiency, crank_inertia_kg_m2) * np.square(np.divide(ratio, rear_radius_m))
    )
