"""Forces of the road and the air on a bike, and what a coast-down makes of them: pure functions."""

from __future__ import annotations

from typing import Any

import numpy as np

from ridesim.errors import InputError, within
from ridesim.units import G


def slope_rad(grade: Any) -> Any:
    """Angle of a slope:  theta = atan(grade).

    Parameters
    ----------
    grade : float or array
        Rise over horizontal way; 0.10 is 10 %. [-]

    Returns
    -------
    float or array
        [rad]

    Examples
    --------
    >>> float(round(slope_rad(0.10), 5))
    0.09967
    """
    return np.arctan(grade)


def drag_n(speed_m_s: Any, f2_n_s2_m2: Any, headwind_m_s: Any) -> Any:
    """Air drag against the motion:  F_D = f2 (v + w) |v + w|.

    Parameters
    ----------
    speed_m_s : float or array
        v. [m/s]
    f2_n_s2_m2 : float or array
        0.5 rho CdA. [N s2/m2]
    headwind_m_s : float or array
        w, negative from behind. [m/s]

    Returns
    -------
    float or array
        Negative when a wind from behind outruns the bike and pushes it. [N]

    Examples
    --------
    >>> float(drag_n(20.0, 0.4, 5.0)), float(drag_n(20.0, 0.4, -25.0))
    (250.0, -10.0)
    """
    through_air = np.add(speed_m_s, headwind_m_s)
    return np.multiply(f2_n_s2_m2, through_air * np.abs(through_air))


def road_resistance_n(speed_m_s: Any, f0_n: Any, f1_n_s_m: Any, mass_kg: Any, slope_rad: Any) -> Any:
    """Force of the road against the motion:  f0 cos(theta) + m g sin(theta) + f1 v.

    Parameters
    ----------
    speed_m_s, f0_n, f1_n_s_m, mass_kg, slope_rad : float or array
        As for resistance_n. [m/s], [N], [N s/m], [kg], [rad]

    Returns
    -------
    float or array
        [N]

    Examples
    --------
    >>> float(road_resistance_n(20.0, 30.0, 0.5, 250.0, 0.0))
    40.0
    """
    steady = np.multiply(f0_n, np.cos(slope_rad)) + np.multiply(mass_kg, G) * np.sin(slope_rad)
    return steady + np.multiply(f1_n_s_m, speed_m_s)


def resistance_n(
    speed_m_s: Any, f0_n: Any, f1_n_s_m: Any, f2_n_s2_m2: Any, mass_kg: Any, slope_rad: Any, headwind_m_s: Any
) -> Any:
    """Force against the motion:  R = f0 cos(theta) + m g sin(theta) + f1 v + f2 (v + w) |v + w|.

    Parameters
    ----------
    speed_m_s : float or array
        v, forward. [m/s]
    f0_n : float or array
        Rolling part at level. [N]
    f1_n_s_m : float or array
        [N s/m]
    f2_n_s2_m2 : float or array
        [N s2/m2]
    mass_kg : float or array
        m, with rider and luggage. [kg]
    slope_rad : float or array
        theta, uphill positive. [rad]
    headwind_m_s : float or array
        w, negative from behind. [m/s]

    Returns
    -------
    float or array
        Negative when slope or wind push more than the rest holds. [N]

    Examples
    --------
    30 N of rolling and 0.4 x 20^2 = 160 N of drag:

    >>> float(resistance_n(20.0, 30.0, 0.0, 0.4, 250.0, 0.0, 0.0))
    190.0
    """
    road = road_resistance_n(speed_m_s, f0_n, f1_n_s_m, mass_kg, slope_rad)
    return road + drag_n(speed_m_s, f2_n_s2_m2, headwind_m_s)


def _coast(from_m_s: Any, to_m_s: Any, f0_n: Any, f2_n_s2_m2: Any, mass_kg: Any) -> tuple[Any, Any, Any, Any]:
    fast = within("speed_from", from_m_s, 0.0, 200.0, "m/s")
    slow = within("speed_to", to_m_s, 0.0, 200.0, "m/s")
    f0, f2 = within("f0", f0_n, 0.0, 5000.0, "N"), within("f2", f2_n_s2_m2, 0.0, 10.0, "N/(m/s)^2")
    within("effective_mass", mass_kg, 1.0, 10000.0, "kg")
    if not np.all(np.greater_equal(fast, slow)):
        raise InputError("speed_to", to_m_s, "is above the speed the coast-down starts from", "Swap the two speeds.")
    if not np.all(f0 + f2 * slow > 0):
        raise InputError("speed_to", to_m_s, "is never reached without rolling resistance", "End at a speed above 0.")
    return fast, slow, f0, f2


def coast_down_time_s(
    speed_from_m_s: Any, speed_to_m_s: Any, f0_n: Any, f2_n_s2_m2: Any, effective_mass_kg: Any
) -> Any:
    """Time to coast down at level without wind:  t = m / sqrt(f0 f2) (atan(v1 sqrt(f2/f0)) - atan(v2 sqrt(f2/f0))).

    Written as one arc tangent, so that f0 = 0 and f2 = 0 need no case of their own:
    t = m (v1 - v2) / D atan(z) / z,  D = f0 + f2 v1 v2,  z = sqrt(f0 f2) (v1 - v2) / D.

    Parameters
    ----------
    speed_from_m_s, speed_to_m_s : float or array
        v1 and v2, v1 >= v2 >= 0. [m/s]
    f0_n : float or array
        [N]
    f2_n_s2_m2 : float or array
        [N s2/m2]
    effective_mass_kg : float or array
        m with the inertia of what turns. [kg]

    Returns
    -------
    float or array
        [s]

    Raises
    ------
    InputError
        Negative or impossible figures, a rising speed, or a stop without rolling resistance.

    Examples
    --------
    >>> float(round(coast_down_time_s(120 / 3.6, 60 / 3.6, 36.7749, 0.36, 250.0), 4))
    17.2273
    """
    fast, slow, f0, f2 = _coast(speed_from_m_s, speed_to_m_s, f0_n, f2_n_s2_m2, effective_mass_kg)
    held = f0 + f2 * fast * slow
    z = np.sqrt(f0 * f2) * (fast - slow) / held
    return effective_mass_kg * (fast - slow) / held * np.where(z > 0, np.arctan(z) / np.where(z > 0, z, 1.0), 1.0)
