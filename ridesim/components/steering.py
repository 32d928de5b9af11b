"""Where masses sit; rake, trail and ground clearance, and how other tires change them: loaded radii, a rigid frame."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import numpy as np

from ridesim.components.tire_dimensions import positive
from ridesim.errors import InputError

# How far back a seated rider can move and still hold the bars: arms straighten from a right angle at the elbow by
# a + b - sqrt(a^2 + b^2), 0.23 m on a tall man (95th percentiles of ANSUR II: shoulder to elbow 394 mm, forearm with hand 519 mm,
# of which three quarters to the grip, from memory), and a little is left for the hips to slide farther than the shoulders.
MOVES_BACK_M = 0.25


def combined_place_m(masses_kg: tuple[Any, ...], places_m: tuple[Any, ...]) -> Any:
    """Mass-weighted mean of one coordinate:  x = sum(m x) / sum(m).

    Parameters
    ----------
    masses_kg : tuple of float or array
        [kg]
    places_m : tuple of float or array
        One coordinate of each mass: distance ahead of the rear axle, or height. [m]

    Returns
    -------
    float or array
        [m]

    Examples
    --------
    A 125 kg bike with its mass 0.8 m ahead and a 75 kg rider 0.4 m ahead (Hibbeler & Gupta, Engineering Mechanics, ex. 17.6):

    >>> float(combined_place_m((125.0, 75.0), (0.8, 0.4)))
    0.65
    """
    total = sum(np.asarray(m, dtype=float) for m in masses_kg)
    return sum(np.multiply(m, x) for m, x in zip(masses_kg, places_m, strict=True)) / total


def trail_m(front_radius_m: Any, rake_rad: Any, fork_offset_m: Any) -> Any:
    """Trail on the ground:  c = (R sin l - f) / cos l.

    From the point where the steering axis meets the ground back to the contact, positive when the contact trails.
    Meijaard et al., Linearized dynamics equations for the balance and steer of a bicycle, 2007, table 1 (symbols).

    Parameters
    ----------
    front_radius_m : float or array
        Loaded. [m]
    rake_rad : float or array
        Steering axis from the vertical; less than a right angle. [rad]
    fork_offset_m : float or array
        Perpendicular from the steering axis to the front axle, forward positive. [m]

    Returns
    -------
    float or array
        [m]

    Raises
    ------
    InputError
        A radius that is not positive, or a rake outside 0 to a right angle.

    Examples
    --------
    >>> float(round(trail_m(0.3475, 0.4712389, 0.045), 4))
    0.1266
    """
    return mechanical_trail_m(front_radius_m, rake_rad, fork_offset_m) / np.cos(rake_rad)


def mechanical_trail_m(front_radius_m: Any, rake_rad: Any, fork_offset_m: Any) -> Any:
    """Trail square to the steering axis:  R sin l - f.

    Parameters
    ----------
    front_radius_m : float or array
        Loaded. [m]
    rake_rad : float or array
        Steering axis from the vertical. [rad]
    fork_offset_m : float or array
        Perpendicular from the steering axis to the front axle, forward positive. [m]

    Returns
    -------
    float or array
        [m]

    Raises
    ------
    InputError
        A radius that is not positive, or a rake outside 0 to a right angle.

    Examples
    --------
    >>> float(round(mechanical_trail_m(0.3475, 0.4712389, 0.045), 4))
    0.1128
    """
    positive("front_radius_m", front_radius_m)
    rake = np.asarray(rake_rad, dtype=float)
    if not np.all((rake >= 0) & (rake < np.pi / 2)):
        raise InputError("rake_rad", rake_rad, "is not between 0 and a right angle", "Give the rake from the vertical.")
    return np.multiply(front_radius_m, np.sin(rake)) - fork_offset_m


@dataclass(frozen=True, kw_only=True)
class SteeringChange:
    """The steering geometry with other tires, by the exact turn of a rigid frame.

    rake_rad, trail_m, wheelbase_m   with the new tires [rad], [m]
    rake_change_rad                  new less old [rad]
    clearance_change_m               of the stated point of the frame [m]
    assumptions                      in words
    """

    rake_rad: Any
    trail_m: Any
    wheelbase_m: Any
    rake_change_rad: Any
    clearance_change_m: Any
    assumptions: tuple[str, ...]


def rigid_frame(
    *,
    front_radius_m: Any,
    rear_radius_m: Any,
    new_front_radius_m: Any,
    new_rear_radius_m: Any,
    wheelbase_m: Any,
    rake_rad: Any,
    fork_offset_m: Any,
    point_ahead_m: Any = 0.0,
    point_height_m: Any | None = None,
) -> SteeringChange:
    """Steering geometry after a change of tires: the frame turns as one piece about its rear axle.

        A = sqrt(L^2 + (Rf - Rr)^2),   turn = asin((Rf' - Rr') / A) - asin((Rf - Rr) / A)
        L' = sqrt(A^2 - (Rf' - Rr')^2),   height' = Rr' + x sin(turn) + (height - Rr) cos(turn)

    The axles keep their distance A and the steering axis its place in the frame: suspension sag as before.

    Parameters
    ----------
    front_radius_m, rear_radius_m : float or array
        Loaded, old tires. [m]
    new_front_radius_m, new_rear_radius_m : float or array
        Loaded, new tires. [m]
    wheelbase_m : float or array
        With the old tires. [m]
    rake_rad : float or array
        With the old tires. [rad]
    fork_offset_m : float or array
        [m]
    point_ahead_m : float or array
        A point of the frame, ahead of the rear axle. [m]
    point_height_m : float or array, optional
        Its height above the ground with the old tires; the rear axle's when not given. [m]

    Returns
    -------
    SteeringChange
        Angles [rad], lengths [m].

    Raises
    ------
    InputError
        Radii or a wheelbase that are not positive, or radii that differ by more than the axles are apart.

    Examples
    --------
    A rear tire 20.5 mm taller takes 0.81 degrees (0.0141 rad) of rake and 5.8 mm of the 126.6 mm of trail:

    >>> change = rigid_frame(front_radius_m=0.3475, rear_radius_m=0.320, new_front_radius_m=0.3475,
    ...                      new_rear_radius_m=0.3405, wheelbase_m=1.450, rake_rad=0.4712389, fork_offset_m=0.045)
    >>> float(round(change.rake_change_rad, 4)), float(round(change.trail_m, 4))
    (-0.0141, 0.1208)
    """
    front, rear = positive("front_radius_m", front_radius_m), positive("rear_radius_m", rear_radius_m)
    new_front = positive("new_front_radius_m", new_front_radius_m)
    new_rear = positive("new_rear_radius_m", new_rear_radius_m)
    axles = np.hypot(positive("wheelbase_m", wheelbase_m), front - rear)
    if not np.all(np.abs(new_front - new_rear) < axles):
        problem = "differs from the rear by more than the wheelbase"
        raise InputError("new_front_radius_m", new_front_radius_m, problem, "Check the radii and the wheelbase.")
    turn = np.arcsin((new_front - new_rear) / axles) - np.arcsin((front - rear) / axles)
    rake = rake_rad + turn
    base = np.sqrt(axles**2 - (new_front - new_rear) ** 2)
    height = rear if point_height_m is None else np.asarray(point_height_m, dtype=float)
    risen = new_rear + np.multiply(point_ahead_m, np.sin(turn)) + (height - rear) * np.cos(turn) - height
    return SteeringChange(
        rake_rad=rake,
        trail_m=trail_m(new_front, rake, fork_offset_m),
        wheelbase_m=base,
        rake_change_rad=turn,
        clearance_change_m=risen,
        assumptions=("Rigid frame: suspension sag, fork height and axle place as before; loaded radii.",),
    )
