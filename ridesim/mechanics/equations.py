"""Front-wheel lift, grip and climb of a rigid bike, no suspension. Every equation stands once and is what the kernel runs: wheel
force and mass in drivetrain, drag and resistance in environment/road_forces, fuel in fuel. Arguments broadcast.
"""

from __future__ import annotations

from typing import Any

import numpy as np

from ridesim.units import G


def rolling_offset_m(rolling_resistance_n: Any, mass_kg: Any, rolling_radius_m: Any) -> Any:
    """How far ahead of its contact a rolling wheel's load stands:  e = Crr r = F0 r / (m g).

    A wheel that rolls steadily against a resistance F at its contact is in balance only if its load N stands e ahead of it, N e = F r.

    Parameters
    ----------
    rolling_resistance_n : Of both wheels on the level. [N]
    mass_kg : All up. [kg]
    rolling_radius_m : [m]

    Returns
    -------
    [m]

    Examples
    --------
    45 N of 250 kg is a coefficient of 0.01835; on wheels of 0.33 m:

    >>> float(round(rolling_offset_m(45.0, 250.0, 0.33), 5))
    0.00606
    """
    return np.multiply(rolling_resistance_n, rolling_radius_m) / np.multiply(mass_kg, G)


def pitch_moment_kg_m(
    mass_kg: Any,
    height_m: Any,
    front_inertia_kg_m2: Any,
    front_radius_m: Any,
    rear_inertia_kg_m2: Any,
    rear_radius_m: Any,
    crank_inertia_kg_m2: Any,
    ratio: Any,
    crank_sense: Any,
) -> Any:
    """Nose-up moment about the rear contact for each m/s2 of acceleration:  H = m h + Jf/rf + Jr/r + s Je i/r.

    At the moment the front wheel lifts the ground spins it no more: Jf is 0 there.

    Parameters
    ----------
    mass_kg, height_m : All up; height of the combined center of mass. [kg], [m]
    front_inertia_kg_m2, rear_inertia_kg_m2, crank_inertia_kg_m2 : [kg m2]
    front_radius_m, rear_radius_m : [m]
    ratio : Overall ratio. [-]
    crank_sense : +1 or -1, or array
        +1 when the crank turns the way the wheels turn. [-]

    Returns
    -------
    [kg m]

    Examples
    --------
    >>> float(round(pitch_moment_kg_m(250.0, 0.62, 0.66, 0.32, 0.66, 0.32, 0.0, 1.0, 1), 3))
    159.125
    """
    return (
        np.multiply(mass_kg, height_m)
        + np.divide(front_inertia_kg_m2, front_radius_m)
        + np.divide(rear_inertia_kg_m2, rear_radius_m)
        + np.multiply(crank_sense, crank_inertia_kg_m2) * np.divide(ratio, rear_radius_m)
    )


def front_load_n(
    acceleration_m_s2: Any,
    mass_kg: Any,
    ahead_m: Any,
    height_m: Any,
    wheelbase_m: Any,
    slope_rad: Any,
    drag_n: Any,
    drag_height_m: Any,
    pitch_kg_m: Any,
) -> Any:
    """Load on the front wheel:  N_f L = m g (b' cos th - h sin th) - F_D h_D - a H.

    Parameters
    ----------
    acceleration_m_s2 : [m/s2]
    mass_kg, ahead_m, height_m, wheelbase_m : All up; combined center of mass ahead of the rear wheel's load (b' = b - e, e of rolling_offset_m) and above the ground;
        wheelbase. [kg], [m]
    slope_rad : Uphill positive. [rad]
    drag_n, drag_height_m : Air drag and the height at which it acts. [N], [m]
    pitch_kg_m : H of pitch_moment_kg_m. [kg m]

    Returns
    -------
    Below 0 the front would leave the ground. [N]

    Examples
    --------
    160 kg accelerated by 400 N, center of mass 0.66 m ahead and 0.66 m high, wheelbase 1.5 m
    (Bedford & Fowler, Engineering Mechanics: Dynamics, problem 18.9, prints 514.6 N with g = 9.81):

    >>> float(round(front_load_n(2.5, 160.0, 0.66, 0.66, 1.5, 0.0, 0.0, 0.0, 160.0 * 0.66), 1))
    514.4
    """
    arm = np.multiply(ahead_m, np.cos(slope_rad)) - np.multiply(height_m, np.sin(slope_rad))
    static = np.multiply(mass_kg, G) * arm - np.multiply(drag_n, drag_height_m)
    return (static - np.multiply(acceleration_m_s2, pitch_kg_m)) / wheelbase_m


def lift_acceleration_m_s2(
    mass_kg: Any, ahead_m: Any, height_m: Any, slope_rad: Any, drag_n: Any, drag_height_m: Any, pitch_kg_m: Any
) -> Any:
    """Acceleration at which the front wheel carries nothing:  a = (m g (b' cos th - h sin th) - F_D h_D) / H.

    Parameters
    ----------
    mass_kg, ahead_m, height_m : [kg], [m]
    slope_rad : [rad]
    drag_n, drag_height_m : [N], [m]
    pitch_kg_m : H of pitch_moment_kg_m. [kg m]

    Returns
    -------
    Zero or less where the front is light without any acceleration. [m/s2]

    Examples
    --------
    250 kg, b 0.70 m, h 0.62 m, nothing else: g b / h.

    >>> float(round(lift_acceleration_m_s2(250.0, 0.70, 0.62, 0.0, 0.0, 0.0, 250.0 * 0.62), 5))
    11.07202
    """
    arm = np.multiply(ahead_m, np.cos(slope_rad)) - np.multiply(height_m, np.sin(slope_rad))
    return (np.multiply(mass_kg, G) * arm - np.multiply(drag_n, drag_height_m)) / pitch_kg_m


def traction_acceleration_m_s2(
    friction: Any,
    mass_kg: Any,
    ahead_m: Any,
    wheelbase_m: Any,
    height_m: Any,
    slope_rad: Any,
    drag_n: Any,
    drag_height_m: Any,
    pitch_kg_m: Any,
    free_rolling_mass_kg: Any,
    resistance_n: Any,
) -> Any:
    """Acceleration at which the rear tire's grip is used up:  (m + Jf/rf^2) a + R = mu N_r,  N_r = m g cos th - N_f.

    Solved for a, since N_f itself falls with a. Where the load thrown back grows faster than the force needed, there is
    no such acceleration and the result is inf.

    Parameters
    ----------
    friction : Peak coefficient of tire on surface. [-]
    mass_kg, ahead_m, wheelbase_m, height_m : [kg], [m]
    slope_rad, drag_n, drag_height_m, pitch_kg_m : As for front_load_n.
    free_rolling_mass_kg : m + Jf/rf^2: what the rear contact must push. [kg]
    resistance_n : Rolling, grade and air together. [N]

    Returns
    -------
    [m/s2]

    Examples
    --------
    mu 0.8, wheelbase 1.48 m, b 0.70 m, h 0.62 m, no losses: a = mu g (L - b) / (L - mu h).

    >>> float(round(traction_acceleration_m_s2(0.8, 250.0, 0.70, 1.48, 0.62, 0.0, 0.0, 0.0, 155.0, 250.0, 0.0), 5))
    6.21885
    """
    weight = np.multiply(mass_kg, G)
    front = front_load_n(0.0, mass_kg, ahead_m, height_m, wheelbase_m, slope_rad, drag_n, drag_height_m, pitch_kg_m)
    push = np.multiply(friction, weight * np.cos(slope_rad) - front) - resistance_n
    inertia = free_rolling_mass_kg - np.multiply(friction, pitch_kg_m) / wheelbase_m
    return np.where(inertia > 0, push / np.where(inertia > 0, inertia, 1.0), np.inf)[()]


def friction_at_lift(lift_m_s2: Any, mass_kg: Any, slope_rad: Any, resistance_n: Any) -> Any:
    """Friction the rear tire needs for the front to lift before it spins:  mu = (m a_lift + R) / (m g cos th).

    At that moment the rear carries all the weight, and the ground spins the front wheel no more.

    Parameters
    ----------
    lift_m_s2 : a of lift_acceleration_m_s2. [m/s2]
    mass_kg, slope_rad, resistance_n : As for traction_acceleration_m_s2.

    Returns
    -------
    [-]

    Examples
    --------
    No losses: mu = b / h, here 0.70 / 0.62.

    >>> float(round(friction_at_lift(11.07202, 250.0, 0.0, 0.0), 5))
    1.12903
    """
    return (np.multiply(mass_kg, lift_m_s2) + resistance_n) / (np.multiply(mass_kg, G) * np.cos(slope_rad))


def rider_shift_m(short_m_s2: Any, pitch_kg_m: Any, rider_kg: Any, slope_rad: Any) -> Any:
    """How far back the rider's own center of mass must go for the front to lift:  x = (a_lift - a) H / (m_rider g cos th).

    It is (m / m_rider) (b' - b_req) with b_req the place for which N_f = 0 at a; 0 where it lifts by itself.

    Parameters
    ----------
    short_m_s2 : a_lift - a. [m/s2]
    pitch_kg_m, slope_rad : As for lift_acceleration_m_s2. [kg m], [rad]
    rider_kg : [kg]

    Returns
    -------
    [m]

    Examples
    --------
    2 m/s2 short on 155 kg m, and a rider of 90 kg:

    >>> float(round(rider_shift_m(2.0, 155.0, 90.0, 0.0), 4))
    0.3512
    """
    return np.maximum(np.multiply(short_m_s2, pitch_kg_m) / (np.multiply(rider_kg, G) * np.cos(slope_rad)), 0.0)


def engine_slope_rad(left_n: Any, mass_kg: Any, rolling_coefficient: Any) -> Any:
    """Slope at which a force is used up at steady speed:  m g (sin th + C cos th) = F, th = asin(F / (m g sqrt(1 + C^2))) - atan C.

    Parameters
    ----------
    left_n : Wheel force less air drag and the speed-proportional part, F. [N]
    mass_kg : [kg]
    rolling_coefficient : Rolling force over weight, C. [-]

    Returns
    -------
    A right angle less atan C where the force is more than the weight. [rad]

    Examples
    --------
    500 N on 250 kg without rolling resistance: sin th = 0.20394.

    >>> float(round(engine_slope_rad(500.0, 250.0, 0.0), 5))
    0.20538
    """
    share = np.divide(left_n, np.multiply(mass_kg, G) * np.sqrt(1.0 + np.square(rolling_coefficient)))
    return np.arcsin(np.clip(share, -1.0, 1.0)) - np.arctan(rolling_coefficient)


def light_front_slope_rad(mass_kg: Any, ahead_m: Any, height_m: Any, drag_n: Any, drag_height_m: Any) -> Any:
    """Slope at which the front carries nothing at steady speed:  m g (b cos th - h sin th) = F_D h_D.

    Closed form: sqrt(b^2 + h^2) cos(th + atan(h/b)) = F_D h_D / (m g).

    Parameters
    ----------
    mass_kg, ahead_m, height_m, drag_n, drag_height_m : As for front_load_n.

    Returns
    -------
    [rad]

    Examples
    --------
    Without drag it is atan(b / h):

    >>> float(round(light_front_slope_rad(250.0, 0.70, 0.62, 0.0, 0.75), 4)) == round(float(np.arctan(0.70 / 0.62)), 4)
    True
    """
    arm = np.hypot(ahead_m, height_m)
    share = np.multiply(drag_n, drag_height_m) / (np.multiply(mass_kg, G) * arm)
    return np.arccos(np.clip(share, -1.0, 1.0)) - np.arctan2(height_m, ahead_m)


def traction_slope_rad(
    friction: Any,
    mass_kg: Any,
    ahead_m: Any,
    wheelbase_m: Any,
    height_m: Any,
    drag_n: Any,
    drag_height_m: Any,
    rolling_coefficient: Any,
    other_resistance_n: Any,
) -> Any:
    """Slope at which steady climbing uses up the rear tire's grip:  m g (C cos th + sin th) + F = mu N_r.

    With N_r = m g cos th (1 - b/L) + m g sin th h/L + F_D h_D/L it is P sin th + Q cos th = S, solved in closed form;
    pi/2 where the tire holds at any slope.

    Parameters
    ----------
    friction, mass_kg, ahead_m, wheelbase_m, height_m, drag_n, drag_height_m : As for traction_acceleration_m_s2.
    rolling_coefficient : Rolling force over weight, C. [-]
    other_resistance_n : Air drag and the speed-proportional part, F. [N]

    Returns
    -------
    [rad]

    Examples
    --------
    No losses: tan th = mu (1 - b/L) / (1 - mu h/L).

    >>> th = traction_slope_rad(0.5, 250.0, 0.70, 1.48, 0.62, 0.0, 0.75, 0.0, 0.0)
    >>> float(round(np.tan(th), 6)) == round(0.5 * (1 - 0.70 / 1.48) / (1 - 0.5 * 0.62 / 1.48), 6)
    True
    """
    sine = 1.0 - np.multiply(friction, height_m) / wheelbase_m
    cosine = np.subtract(rolling_coefficient, np.multiply(friction, 1.0 - np.divide(ahead_m, wheelbase_m)))
    loads = np.multiply(friction, np.multiply(drag_n, drag_height_m)) / wheelbase_m
    push = (loads - other_resistance_n) / np.multiply(mass_kg, G)
    size = np.hypot(sine, cosine)
    angle = np.arcsin(np.clip(push / size, -1.0, 1.0)) - np.arctan2(cosine, sine)
    return np.where((sine <= 0) | (push >= size), np.pi / 2, np.minimum(angle, np.pi / 2))[()]
