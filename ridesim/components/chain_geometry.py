"""Chain and sprockets as geometry: pitch circles, links round two sprockets, center distance for a length, wrap, pull."""

from __future__ import annotations

from typing import Any, Literal

import numpy as np
from numpy.typing import NDArray

from ridesim.errors import InputError, within

Outside = Literal["raise", "nan"]
Floats = NDArray[np.float64]

ROUNDS = 6  # Newton steps: five reach rounding for every pair of 3 to 150 teeth, however close; one to spare
# The formulas hold from a triangle up; above 150 teeth no roller chain wheel is made.
WHEEL_TEETH = (3, 150)
# Front sprockets of motorcycles have 10 to 20 teeth as a rule, 6 on the smallest, up to 40 where a first stage drives
# a jackshaft; rear ones run from 12 to about 80. With room, and the same as the build file takes.
FRONT_TEETH, REAR_TEETH = (6, 40), (12, 100)
# How many to either side of what is fitted are looked at, front and rear, where none are named: by a choice, for a wanted
# engine speed, by a ride ridden again, and to get back the gearing on another tire.
AROUND = {"choice": (3, 6), "wanted": (3, 8), "ride": (1, 3), "tire": (1, 12)}
LINKS = (30, 250)  # 30 links do not go round two small sprockets with air between; 250 is past the longest swingarm
MOST_ELONGATION = 0.1  # long past the end of any chain: a figure in per cent, or a slip of the pen
COUNT_TEETH, COUNT_LINKS = "Count the teeth.", "Count the links."
_TINY, _HUGE = float(np.finfo(float).tiny), float(np.finfo(float).max)


def near(front: int, rear: int, question: str = "choice") -> tuple[range, range]:
    """The front and the rear sprockets that a question looks among: so many to either side, of those that are made.

    >>> near(15, 45), near(7, 45, "ride")
    ((range(12, 19), range(39, 52)), (range(6, 9), range(42, 49)))
    """
    ends = zip((front, rear), AROUND[question], (FRONT_TEETH, REAR_TEETH), strict=True)
    fronts, rears = (range(max(least, own - by), min(most, own + by) + 1) for own, by, (least, most) in ends)
    return fronts, rears


def positive(where: str, value: Any, fix: str) -> Floats:
    """Finite numbers above 0; InputError otherwise.

    >>> float(positive("chain pitch", 0.015875, "Name the chain size, such as 520."))
    0.015875
    """
    return np.asarray(within(where, value, _TINY, _HUGE, fix=fix, problem="must be a finite number above 0"))


def _given(where: str, value: Any, right: Any, outside: Outside, problem: str, fix: str) -> Floats:
    """The numbers, nan for those that are not right where nan was asked for; else the first of them is refused."""
    if outside not in ("raise", "nan"):
        raise InputError("outside", outside, "must be 'raise' or 'nan'", "Leave it out to be told of what cannot be.")
    numbers, right = np.broadcast_arrays(np.asarray(value, dtype=float), right)
    if outside == "raise" and not right.all():
        raise InputError(where, numbers[~right].flat[0].item(), problem, fix)
    return np.where(right, numbers, np.nan)


def _numbers(where: str, value: Any, fix: str) -> Floats:
    """Any numbers, nan and infinity among them: which of them count is for the formula to say."""
    found = np.asarray(value)
    if found.dtype.kind not in "iuf" or not found.size:
        raise InputError(where, value, "must be a number", fix)
    return found.astype(float)


def wheel_teeth(where: str, teeth: Any) -> Floats:
    """Teeth that a chain wheel can have, 3 to 150; InputError otherwise. [-]

    >>> wheel_teeth("final_drive.front", [15, 16]).tolist()
    [15.0, 16.0]
    """
    return np.asarray(within(where, teeth, *WHEEL_TEETH, "teeth", COUNT_TEETH))


def _drive(pitch_m: Any, front_teeth: Any, rear_teeth: Any) -> tuple[Floats, Floats, Floats]:
    return _pitch(pitch_m), wheel_teeth("final_drive.front", front_teeth), wheel_teeth("final_drive.rear", rear_teeth)


def _pitch(pitch_m: Any) -> Floats:
    return positive("chain pitch", pitch_m, "Name the chain size, such as 520.")


def _radius(p: Any, z: Any) -> Any:
    return p / (2.0 * np.sin(np.pi / z))


def _apart(center_distance_m: Any, p: Any, z1: Any, z2: Any, outside: Outside) -> Floats:
    """The center distance where the sprockets do not touch; elsewhere an error, or nan when asked for."""
    where, fix = "final_drive.centre_distance", "Measure from the middle of the countershaft to the middle of the axle."
    c = _numbers(where, center_distance_m, fix)
    right = (c > _radius(p, z1) + _radius(p, z2)) & (c < np.inf)
    return _given(where, c, right, outside, "must be finite and more than the sprockets need side by side", fix)


def _lean(c: Any, p: Any, z1: Any, z2: Any) -> Any:
    """Angle between a straight run and the line of centers:  sin a = (R2 - R1) / C."""
    return np.arcsin((_radius(p, z2) - _radius(p, z1)) / c)


def _length(c: Any, a: Any, p: Any, z1: Any, z2: Any) -> Any:
    return 2.0 * c / p * np.cos(a) + 0.5 * (z1 + z2) + a / np.pi * (z2 - z1)


def pitch_radius_m(pitch_m: Any, teeth: Any) -> Any:
    """Radius of the circle on which the pins lie:  R = p / (2 sin(pi / z)).

    Parameters
    ----------
    pitch_m : float or array
        Above 0. [m]
    teeth : int or array
        3 to 150. [-]

    Returns
    -------
    float or array
        [m]

    Raises
    ------
    InputError
        A pitch that is not above 0, or teeth outside the range.

    Examples
    --------
    A 17-tooth wheel of 1 inch pitch is 138.23 mm across its pitch circle:

    >>> float(round(2e3 * pitch_radius_m(0.0254, 17), 2))
    138.23
    """
    return _radius(_pitch(pitch_m), wheel_teeth("teeth", teeth))


def touching_distance_m(pitch_m: Any, front_teeth: Any, rear_teeth: Any) -> Any:
    """Center distance at which the two pitch circles touch:  R1 + R2.  Every drive needs more.

    Parameters
    ----------
    pitch_m : float or array
        [m]
    front_teeth, rear_teeth : int or array
        [-]

    Returns
    -------
    float or array
        [m]

    Raises
    ------
    InputError
        A pitch not above 0, teeth out of range.

    Examples
    --------
    >>> float(round(touching_distance_m(0.015875, 16, 45), 4))
    0.1545
    """
    p, z1, z2 = _drive(pitch_m, front_teeth, rear_teeth)
    return _radius(p, z1) + _radius(p, z2)


def links_exact(
    center_distance_m: Any, pitch_m: Any, front_teeth: Any, rear_teeth: Any, outside: Outside = "raise"
) -> Any:
    """Links round two sprockets, two-circle form:
    X = 2 (C/p) cos a + z1 (pi - 2a)/(2 pi) + z2 (pi + 2a)/(2 pi),  sin a = (R2 - R1)/C.

    Parameters
    ----------
    center_distance_m : float or array
        More than the sum of the two pitch radii. [m]
    pitch_m : float or array
        [m]
    front_teeth, rear_teeth : int or array
        [-]
    outside : "raise" or "nan"
        What to do where the sprockets would touch; an array may hold nan only when "nan" is asked for.

    Returns
    -------
    float or array
        Not rounded. [links]

    Raises
    ------
    InputError
        A center distance at which the sprockets touch, a pitch not above 0, teeth out of range.

    Examples
    --------
    >>> float(round(links_exact(0.5, 0.0127, 21, 63), 3))
    121.878
    """
    p, z1, z2 = _drive(pitch_m, front_teeth, rear_teeth)
    c = _apart(center_distance_m, p, z1, z2, outside)
    return _length(c, _lean(c, p, z1, z2), p, z1, z2)


def links_handbook(
    center_distance_m: Any, pitch_m: Any, front_teeth: Any, rear_teeth: Any, outside: Outside = "raise"
) -> Any:
    """Links round two sprockets, handbook form:  X = 2 C/p + (z1 + z2)/2 + ((z2 - z1)/(2 pi))^2 p/C.

    Parameters
    ----------
    center_distance_m, pitch_m : float or array
        As for links_exact. [m]
    front_teeth, rear_teeth : int or array
        [-]
    outside : "raise" or "nan"
        What to do where the sprockets would touch.

    Returns
    -------
    float or array
        Not rounded. [links]

    Raises
    ------
    InputError
        As links_exact.

    Examples
    --------
    Bhandari, Design of Machine Elements, ex. 14.3 (21 and 63 teeth, 12.7 mm, 500 mm):

    >>> float(round(links_handbook(0.5, 0.0127, 21, 63), 6))
    121.875097
    """
    p, z1, z2 = _drive(pitch_m, front_teeth, rear_teeth)
    c = _apart(center_distance_m, p, z1, z2, outside) / p
    return 2.0 * c + 0.5 * (z1 + z2) + ((z2 - z1) / (2.0 * np.pi)) ** 2 / c


def _center_handbook(x: Any, p: Any, z1: Any, z2: Any) -> Any:
    v = x - 0.5 * (z1 + z2)
    inside = v**2 - 8.0 * ((z2 - z1) / (2.0 * np.pi)) ** 2
    return p / 4.0 * (v + np.sqrt(np.where((inside >= 0.0) & (v > 0.0), inside, np.nan)))


def center_distance_handbook_m(
    links: Any, pitch_m: Any, front_teeth: Any, rear_teeth: Any, outside: Outside = "raise"
) -> Any:
    """Center distance for a number of links, handbook form solved:
    C = (p/4) (v + sqrt(v^2 - 8 ((z2 - z1)/(2 pi))^2)),  v = X - (z1 + z2)/2.

    Parameters
    ----------
    links : float or array
        [links]
    pitch_m : float or array
        [m]
    front_teeth, rear_teeth : int or array
        [-]
    outside : "raise" or "nan"
        What to do where the chain is too short to go round.

    Returns
    -------
    float or array
        [m]

    Raises
    ------
    InputError
        A chain too short to go round, a pitch not above 0, teeth out of range.

    Examples
    --------
    Bhandari, ex. 14.3: 122 links of 12.7 mm on 21 and 63 teeth.

    >>> float(round(1e3 * center_distance_handbook_m(122, 0.0127, 21, 63), 6))
    500.804717
    """
    p, z1, z2 = _drive(pitch_m, front_teeth, rear_teeth)
    c = _center_handbook(_links(links, outside), p, z1, z2)
    _long_enough(links, np.isfinite(c), outside)
    return c


def _links(links: Any, outside: Outside) -> Floats:
    x = _numbers("final_drive.links", links, COUNT_LINKS)
    return _given("final_drive.links", x, np.isfinite(x), outside, "must be a finite number of links", COUNT_LINKS)


def _long_enough(links: Any, right: Any, outside: Outside) -> None:
    problem = "is too short to go round these sprockets"
    _given("final_drive.links", links, right, outside, problem, "Count the links and the teeth again.")


def center_distance_m(links: Any, pitch_m: Any, front_teeth: Any, rear_teeth: Any, outside: Outside = "raise") -> Any:
    """Center distance at which a number of links just goes round: links_exact inverted by Newton's method in a bracket.

    X grows with C, at the rate (2/p) (cos a - tan(a) (p (z2 - z1)/(2 pi) - (R2 - R1))/C): the second term, small, is
    there because an arc holds z links a turn, a little less than its circumference 2 pi R over p. The bracket
    R1 + R2 <= C <= p X/2 holds each step. Six steps from the handbook form settle to a relative 1e-12 and better.

    Parameters
    ----------
    links : float or array
        [links]
    pitch_m : float or array
        Of the chain as it is: a worn chain has a longer one. [m]
    front_teeth, rear_teeth : int or array
        [-]
    outside : "raise" or "nan"
        What to do where the chain is too short to go round; an array may hold nan only when "nan" is asked for.

    Returns
    -------
    float or array
        [m]

    Raises
    ------
    InputError
        A chain too short to go round, a pitch not above 0, teeth out of range.

    Examples
    --------
    >>> float(round(links_exact(center_distance_m(112, 0.015875, 16, 45), 0.015875, 16, 45), 9))
    112.0
    """
    p, z1, z2 = _drive(pitch_m, front_teeth, rear_teeth)
    x = _links(links, outside)
    least = _radius(p, z1) + _radius(p, z2)
    possible = x > _length(least, _lean(least, p, z1, z2), p, z1, z2)
    _long_enough(links, possible, outside)
    most = np.where(possible, 0.5 * p * x, np.nan)
    c = np.where(possible, np.fmax(_center_handbook(x, p, z1, z2), least), np.nan)
    for _ in range(ROUNDS):
        a = _lean(c, p, z1, z2)
        rate = 2.0 / p * (np.cos(a) + np.tan(a) * (np.sin(a) - p * (z2 - z1) / (2.0 * np.pi * c)))
        c = np.clip(c - (_length(c, a, p, z1, z2) - x) / rate, least, most)
    return c[()]


def wrap_angle_rad(
    center_distance_m: Any, pitch_m: Any, front_teeth: Any, rear_teeth: Any, outside: Outside = "raise"
) -> Any:
    """Angle over which the chain lies on the smaller sprocket:  pi - 2 |a|,  sin a = (R2 - R1)/C.

    Handbooks ask for 120 degrees at least (least_wrap in the table chain_rules); it is met by any radii up to 1 : 3.

    Parameters
    ----------
    center_distance_m, pitch_m : float or array
        As for links_exact. [m]
    front_teeth, rear_teeth : int or array
        [-]
    outside : "raise" or "nan"
        What to do where the sprockets would touch.

    Returns
    -------
    float or array
        [rad]

    Examples
    --------
    >>> float(round(np.degrees(wrap_angle_rad(0.6, 0.015875, 16, 45)), 1))
    166.0
    """
    p, z1, z2 = _drive(pitch_m, front_teeth, rear_teeth)
    return np.pi - 2.0 * np.abs(_lean(_apart(center_distance_m, p, z1, z2, outside), p, z1, z2))


def worn_pitch_m(pitch_m: Any, elongation: Any) -> Any:
    """Pitch of a worn chain:  p (1 + e).

    Parameters
    ----------
    pitch_m : float or array
        New. [m]
    elongation : float or array
        0.02 is two per cent; 0 to 0.1. [-]

    Returns
    -------
    float or array
        [m]

    Raises
    ------
    InputError
        A pitch not above 0, an elongation out of range.

    Examples
    --------
    >>> float(round(1e3 * worn_pitch_m(0.015875, 0.02), 4))
    16.1925
    """
    fix = "Measure over 20 pitches: the length over the nominal one, less 1."
    return _pitch(pitch_m) * (1.0 + within("final_drive.chain_wear", elongation, 0.0, MOST_ELONGATION, "", fix))
