"""Equations of a tire: its sizes, what it rolls out, and a change of tire said as a change of gearing."""

from __future__ import annotations

from typing import Any

import numpy as np

from ridesim.errors import InputError, within
from ridesim.units import TWO_PI

CODE_UNIT_M = 0.0254  # one unit of a rim or width code; the codes are inches by origin and numbers by rule

DEFLECTION_FIX = "Give how far the tire is pressed in, a few mm."


def _shorter(where: str, value: Any, most: Any, fix: str) -> Any:
    """A length from nothing to less than `most`; a comparison with nan is false, so nan never passes."""
    length = np.asarray(value)
    if not np.all((length >= 0) & (length < most)):
        raise InputError(where, value, "is not between nothing and the tire's radius", fix)
    return length


def positive(where: str, value: Any, fix: str = "Give a number above 0.") -> Any:
    """Numbers above 0; InputError otherwise.

    >>> positive("wheelbase_m", 1.45)
    1.45
    """
    return within(where, value, 1e-12, 1e12, fix=fix, problem="is not a positive number")


def half_up_mm_m(length_m: Any) -> Any:
    """A length rounded half up to whole millimeters:  floor(1000 x + 1/2) / 1000.

    Python's own round would make 104.5 mm into 104 mm; the regulation makes it 105 mm.

    Parameters
    ----------
    length_m : float or array
        [m]

    Returns
    -------
    float or array
        [m]

    Examples
    --------
    >>> float(half_up_mm_m(0.1045))
    0.105
    """
    return np.floor(np.multiply(length_m, 1000.0) + 0.5 + 1e-9) / 1000.0


def nominal_rim_diameter_m(rim_code: Any) -> Any:
    """Conventional diameter of a rim code:  d = 25.4 mm x code, to a whole mm.  UN R75, 6.1.2.1.

    Parameters
    ----------
    rim_code : float or array
        The number marked after the width and aspect. [-]

    Returns
    -------
    float or array
        [m]

    Examples
    --------
    >>> [float(nominal_rim_diameter_m(code)) for code in (17, 18, 21)]
    [0.432, 0.457, 0.533]
    """
    return half_up_mm_m(np.multiply(rim_code, CODE_UNIT_M))


def section_height_m(section_width_m: Any, aspect: Any) -> Any:
    """Height of the section above the rim:  H = width x aspect, half up to a whole mm.  UN R75, 6.1.2.

    Parameters
    ----------
    section_width_m : float or array
        [m]
    aspect : float or array
        Height over width as a fraction. [-]

    Returns
    -------
    float or array
        [m]

    Examples
    --------
    >>> float(section_height_m(0.130, 0.80)), float(section_height_m(0.190, 0.55))
    (0.104, 0.105)
    """
    return half_up_mm_m(np.multiply(section_width_m, aspect))


def overall_diameter_m(rim_diameter_m: Any, section_height_m: Any) -> Any:
    """Outer diameter of a new, unloaded tire:  D = d + 2 H.  UN R75, 6.1.2.

    Parameters
    ----------
    rim_diameter_m : float or array
        [m]
    section_height_m : float or array
        [m]

    Returns
    -------
    float or array
        [m]

    Examples
    --------
    130/80-17:

    >>> float(overall_diameter_m(0.432, 0.104))
    0.64
    """
    return np.add(rim_diameter_m, np.multiply(2.0, section_height_m))


def worn_diameter_m(overall_diameter_m: Any, depth_lost_m: Any) -> Any:
    """Outer diameter after wear:  D - 2 x depth lost.

    Parameters
    ----------
    overall_diameter_m : float or array
        New. [m]
    depth_lost_m : float or array
        Tread lost on the crown; 0 up to less than the radius. [m]

    Returns
    -------
    float or array
        [m]

    Raises
    ------
    InputError
        A negative depth, or one that reaches the axle.

    Examples
    --------
    >>> float(round(worn_diameter_m(0.640, 0.005), 3))
    0.63
    """
    diameter = np.asarray(overall_diameter_m)
    return diameter - 2.0 * _shorter(
        "depth_lost_m", depth_lost_m, diameter / 2, "Measure the tread depth that is gone."
    )


def loaded_radius_m(free_radius_m: Any, deflection_m: Any) -> Any:
    """Height of the axle above the ground:  Rh = Rg - deflection.

    Parameters
    ----------
    free_radius_m : float or array
        Half the outer diameter. [m]
    deflection_m : float or array
        How far the tire is pressed in under its load; 0 up to less than the free radius. [m]

    Returns
    -------
    float or array
        [m]

    Raises
    ------
    InputError
        A negative deflection, or one that reaches the axle.

    Examples
    --------
    >>> float(round(loaded_radius_m(0.320, 0.008), 3))
    0.312
    """
    free = np.asarray(free_radius_m)
    return free - _shorter("deflection_m", deflection_m, free, DEFLECTION_FIX)


def chord_rolling_circumference_m(free_radius_m: Any, deflection_m: Any) -> Any:
    """Way rolled in one turn by a tire whose tread keeps its length and lies flat on a chord of the free circle.

        cos t = (Rg - deflection) / Rg,   U = 2 pi Rg sin(t) / t

    To first order U/2pi = 2/3 Rg + 1/3 Rh: two thirds of the way from the loaded radius to the free one, and so
    neither 2 pi Rg nor 2 pi Rh. A model: the belt of a radial tire keeps the ends of its range a little closer to
    2 pi Rg. Source of the algebra: the rigid-chord derivation of vehicle dynamics, as printed at
    https://automotorgarage.com/post/how-to-calculate-value-of-rolling-radius.

    Parameters
    ----------
    free_radius_m : float or array
        Half the outer diameter, above 0. [m]
    deflection_m : float or array
        0 up to less than the free radius. [m]

    Returns
    -------
    float or array
        [m]

    Raises
    ------
    InputError
        A radius or deflection outside its range.

    Examples
    --------
    Rg 320 mm pressed in by 15 mm rolls like a disc of 314.984 mm:

    >>> float(round(chord_rolling_circumference_m(0.320, 0.015) / 6.283185307, 6))
    0.314984
    """
    loaded_radius_m(free_radius_m, deflection_m)  # for its checks
    free = np.asarray(free_radius_m)
    half_angle = 2.0 * np.arcsin(np.sqrt(np.asarray(deflection_m) / (2.0 * free)))  # arccos loses digits near 1
    return TWO_PI * free * np.sinc(half_angle / np.pi)


def free_radius_of_rolling_m(circumference_m: float, deflection_m: float) -> float:
    """Free radius whose chord model rolls a measured circumference: the inverse of chord_rolling_circumference_m.

    Parameters
    ----------
    circumference_m : float
        [m]
    deflection_m : float
        [m]

    Returns
    -------
    float
        [m]

    Raises
    ------
    InputError
        A circumference that is not positive, or a deflection that no such tire can have.

    Examples
    --------
    >>> round(free_radius_of_rolling_m(chord_rolling_circumference_m(0.320, 0.015), 0.015), 9)
    0.32
    """
    radius = float(positive("circumference_m", circumference_m, "Measure the roll-out again.")) / TWO_PI
    _shorter("deflection_m", deflection_m, radius / 2, DEFLECTION_FIX)
    free = radius + float(deflection_m) / 3.0
    for _ in range(50):  # dU/dRg is within a few percent of 2 pi: every pass gains more than a digit
        step = (float(circumference_m) - float(chord_rolling_circumference_m(free, deflection_m))) / TWO_PI
        free += step
        if abs(step) < 1e-15:
            break
    return free


def roll_out_circumference_m(distance_m: Any, turns: Any) -> Any:
    """Rolling circumference by measurement:  U = distance / turns.

    A chalk mark on the tire and the floor, rider seated, the bike rolled straight ahead.

    Parameters
    ----------
    distance_m : float or array
        Way rolled, above 0. [m]
    turns : float or array
        Turns of the wheel, above 0. [-]

    Returns
    -------
    float or array
        [m]

    Raises
    ------
    InputError
        A distance or a count that is not positive and finite.

    Examples
    --------
    >>> float(round(roll_out_circumference_m(10.15, 5), 4))
    2.03
    """
    distance = positive("distance_m", distance_m, "Measure the floor between the chalk marks.")
    return distance / positive("turns", turns, "Count the wheel's turns.")


def gearing_change(u_old_m: Any, u_new_m: Any) -> Any:
    """Relative change of road speed at the same engine speed:  U_new / U_old - 1.

    Above 0 the gearing is taller (longer), below 0 shorter.

    Parameters
    ----------
    u_old_m : float or array
        Rolling circumference now, above 0. [m]
    u_new_m : float or array
        Rolling circumference after the change, above 0. [m]

    Returns
    -------
    float or array
        [-]

    Raises
    ------
    InputError
        A circumference that is not positive.

    Examples
    --------
    >>> float(round(gearing_change(2.00, 2.06), 4))
    0.03
    """
    return positive("u_new_m", u_new_m) / positive("u_old_m", u_old_m) - 1.0


def equivalent_rear_teeth(rear_teeth: Any, u_old_m: Any, u_new_m: Any) -> Any:
    """Rear teeth that would have done on the old tire what the new tire does:  z2 x U_old / U_new.

    Parameters
    ----------
    rear_teeth : float or array
        Teeth of the rear sprocket, above 0. [-]
    u_old_m : float or array
        Rolling circumference now, above 0. [m]
    u_new_m : float or array
        Rolling circumference after the change, above 0. [m]

    Returns
    -------
    float or array
        [-]

    Raises
    ------
    InputError
        A count or circumference that is not positive.

    Examples
    --------
    A tire 3 % larger under 45 teeth gears like 43.7 teeth on the old one:

    >>> float(round(equivalent_rear_teeth(45, 2.00, 2.06), 2))
    43.69
    """
    return positive("rear_teeth", rear_teeth) * positive("u_old_m", u_old_m) / positive("u_new_m", u_new_m)
