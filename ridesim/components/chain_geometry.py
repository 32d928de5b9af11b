"""Chain and sprockets as geometry: pitch circles, links round two sprockets, centre distance for a length, wrap, pull."""

from __future__ import annotations

from typing import Any

import numpy as np

from ridesim.components.chain_checks import WHEEL_TEETH, Floats, Outside, elongations, floats, kept, positive, within

ROUNDS = 6  # Newton steps: five reach rounding for every pair of 3 to 150 teeth, however close; one to spare


def _pitch(pitch_m: Any) -> Floats:
    return positive("chain pitch", pitch_m, "Name the chain size, such as 520.")


def _wheel(where: str, teeth: Any) -> Floats:
    least, most = WHEEL_TEETH
    return within(where, teeth, least, most, f"must be from {least} to {most} teeth", "Count the teeth.")


def _drive(pitch_m: Any, front_teeth: Any, rear_teeth: Any) -> tuple[Floats, Floats, Floats]:
    return _pitch(pitch_m), _wheel("final_drive.front", front_teeth), _wheel("final_drive.rear", rear_teeth)


def _radius(p: Any, z: Any) -> Any:
    return p / (2.0 * np.sin(np.pi / z))


def _apart(centre_distance_m: Any, p: Any, z1: Any, z2: Any, outside: Outside) -> Floats:
    """The centre distance where the sprockets do not touch; elsewhere an error, or nan when asked for."""
    where, fix = "final_drive.centre_distance", "Measure from the middle of the countershaft to the middle of the axle."
    c = floats(where, centre_distance_m, "must be a length", fix)
    ok = (c > _radius(p, z1) + _radius(p, z2)) & (c < np.inf)
    kept(where, centre_distance_m, ok, outside, "must be finite and more than the sprockets need side by side", fix)
    return np.where(ok, c, np.nan)


def _lean(c: Any, p: Any, z1: Any, z2: Any) -> Any:
    """Angle between a straight run and the line of centres:  sin a = (R2 - R1) / C."""
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
    return _radius(_pitch(pitch_m), _wheel("teeth", teeth))


def touching_distance_m(pitch_m: Any, front_teeth: Any, rear_teeth: Any) -> Any:
    """Centre distance at which the two pitch circles touch:  R1 + R2.  Every drive needs more.

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

    Examples
    --------
    >>> float(round(touching_distance_m(0.015875, 16, 45), 4))
    0.1545
    """
    p, z1, z2 = _drive(pitch_m, front_teeth, rear_teeth)
    return _radius(p, z1) + _radius(p, z2)


def links_exact(
    centre_distance_m: Any, pitch_m: Any, front_teeth: Any, rear_teeth: Any, outside: Outside = "raise"
) -> Any:
    """Links round two sprockets, two-circle form:
    X = 2 (C/p) cos a + z1 (pi - 2a)/(2 pi) + z2 (pi + 2a)/(2 pi),  sin a = (R2 - R1)/C.

    Parameters
    ----------
    centre_distance_m : float or array
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
        A centre distance at which the sprockets touch, a pitch not above 0, teeth out of range.

    Examples
    --------
    >>> float(round(links_exact(0.5, 0.0127, 21, 63), 3))
    121.878
    """
    p, z1, z2 = _drive(pitch_m, front_teeth, rear_teeth)
    c = _apart(centre_distance_m, p, z1, z2, outside)
    return _length(c, _lean(c, p, z1, z2), p, z1, z2)


def links_handbook(
    centre_distance_m: Any, pitch_m: Any, front_teeth: Any, rear_teeth: Any, outside: Outside = "raise"
) -> Any:
    """Links round two sprockets, handbook form:  X = 2 C/p + (z1 + z2)/2 + ((z2 - z1)/(2 pi))^2 p/C.

    Parameters
    ----------
    centre_distance_m, pitch_m : float or array
        As for links_exact. [m]
    front_teeth, rear_teeth : int or array
        [-]
    outside : "raise" or "nan"
        What to do where the sprockets would touch.

    Returns
    -------
    float or array
        Not rounded. [links]

    Examples
    --------
    Bhandari, Design of Machine Elements, ex. 14.3 (21 and 63 teeth, 12.7 mm, 500 mm):

    >>> float(round(links_handbook(0.5, 0.0127, 21, 63), 6))
    121.875097
    """
    p, z1, z2 = _drive(pitch_m, front_teeth, rear_teeth)
    c = _apart(centre_distance_m, p, z1, z2, outside) / p
    return 2.0 * c + 0.5 * (z1 + z2) + ((z2 - z1) / (2.0 * np.pi)) ** 2 / c


def _centre_handbook(x: Any, p: Any, z1: Any, z2: Any) -> Any:
    v = x - 0.5 * (z1 + z2)
    inside = v**2 - 8.0 * ((z2 - z1) / (2.0 * np.pi)) ** 2
    return p / 4.0 * (v + np.sqrt(np.where((inside >= 0.0) & (v > 0.0), inside, np.nan)))


def centre_distance_handbook_m(
    links: Any, pitch_m: Any, front_teeth: Any, rear_teeth: Any, outside: Outside = "raise"
) -> Any:
    """Centre distance for a number of links, handbook form solved:
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

    Examples
    --------
    Bhandari, ex. 14.3: 122 links of 12.7 mm on 21 and 63 teeth.

    >>> float(round(1e3 * centre_distance_handbook_m(122, 0.0127, 21, 63), 6))
    500.804717
    """
    p, z1, z2 = _drive(pitch_m, front_teeth, rear_teeth)
    c = _centre_handbook(_links(links, outside), p, z1, z2)
    _long_enough(links, np.isfinite(c), outside)
    return c


def _links(links: Any, outside: Outside) -> Floats:
    where, problem, fix = "final_drive.links", "must be a finite number of links", "Count the links."
    x = floats(where, links, problem, fix)
    kept(where, links, np.isfinite(x), outside, problem, fix)
    return np.where(np.isfinite(x), x, np.nan)


def _long_enough(links: Any, ok: Any, outside: Outside) -> None:
    problem = "is too short to go round these sprockets"
    kept("final_drive.links", links, ok, outside, problem, "Count the links and the teeth again.")


def centre_distance_m(links: Any, pitch_m: Any, front_teeth: Any, rear_teeth: Any, outside: Outside = "raise") -> Any:
    """Centre distance at which a number of links just goes round: links_exact inverted by Newton's method in a bracket.

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
    >>> float(round(links_exact(centre_distance_m(112, 0.015875, 16, 45), 0.015875, 16, 45), 9))
    112.0
    """
    p, z1, z2 = _drive(pitch_m, front_teeth, rear_teeth)
    x = _links(links, outside)
    least = _radius(p, z1) + _radius(p, z2)
    possible = x > _length(least, _lean(least, p, z1, z2), p, z1, z2)
    _long_enough(links, possible, outside)
    most = np.where(possible, 0.5 * p * x, np.nan)
    c = np.where(possible, np.fmax(_centre_handbook(x, p, z1, z2), least), np.nan)
    for _ in range(ROUNDS):
        a = _lean(c, p, z1, z2)
        rate = 2.0 / p * (np.cos(a) + np.tan(a) * (np.sin(a) - p * (z2 - z1) / (2.0 * np.pi * c)))
        c = np.clip(c - (_length(c, a, p, z1, z2) - x) / rate, least, most)
    return c[()]


def wrap_angle_rad(
    centre_distance_m: Any, pitch_m: Any, front_teeth: Any, rear_teeth: Any, outside: Outside = "raise"
) -> Any:
    """Angle over which the chain lies on the smaller sprocket:  pi - 2 |a|,  sin a = (R2 - R1)/C.

    Handbooks ask for 120 degrees at least (least_wrap in the table chain_rules); it is met by any radii up to 1 : 3.

    Parameters
    ----------
    centre_distance_m, pitch_m : float or array
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
    return np.pi - 2.0 * np.abs(_lean(_apart(centre_distance_m, p, z1, z2, outside), p, z1, z2))


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

    Examples
    --------
    >>> float(round(1e3 * worn_pitch_m(0.015875, 0.02), 4))
    16.1925
    """
    return _pitch(pitch_m) * (1.0 + elongations(elongation))


def speed_ripple(teeth: Any) -> Any:
    """How far the chain speed falls below its highest, once a tooth, at a steady turn of the sprocket:  1 - cos(pi / z).

    Parameters
    ----------
    teeth : int or array
        3 to 150. [-]

    Returns
    -------
    float or array
        [-]

    Examples
    --------
    >>> float(round(100 * speed_ripple(15), 4))
    2.1852
    """
    return 1.0 - np.cos(np.pi / _wheel("teeth", teeth))


def chain_pull_n(
    engine_torque_n_m: Any, primary_ratio: Any, gear_ratio: Any, front_pitch_radius_m: Any, efficiency: Any
) -> Any:
    """Pull in the driving run of the chain:  P = T x primary x gear x efficiency / R1.

    Parameters
    ----------
    engine_torque_n_m : float or array
        At the crank; below 0 when the engine brakes. [N m]
    primary_ratio, gear_ratio : float or array
        [-]
    front_pitch_radius_m : float or array
        [m]
    efficiency : float or array
        Crank to front sprocket: primary drive and gearbox, without the chain's own loss. Above 0, at most 1. [-]

    Returns
    -------
    float or array
        [N]

    Examples
    --------
    >>> float(round(chain_pull_n(41.0, 68 / 30, 32 / 13, 0.0407, 0.96), 0))
    5396.0
    """
    torque = floats("engine torque", engine_torque_n_m, "must be a torque", "Give it in N m at the crank.")
    kept("engine torque", engine_torque_n_m, np.isfinite(torque), "raise", "must be finite", "Give it in N m.")
    ratios = positive("gearbox.primary", primary_ratio, "Driven over driving teeth.") * positive(
        "gearbox.gears", gear_ratio, "Driven over driving teeth."
    )
    share = within("gearbox.efficiency", efficiency, 1e-3, 1.0, "must be above 0 and at most 1", "Usual is 0.96.")
    return torque * ratios * share / positive("front sprocket radius", front_pitch_radius_m, "See pitch_radius_m.")


def share_of_strength(pull_n: Any, minimum_tensile_n: Any) -> Any:
    """Pull over minimum tensile strength; its inverse is the factor of safety of handbooks.

    Parameters
    ----------
    pull_n, minimum_tensile_n : float or array
        [N]

    Returns
    -------
    float or array
        [-]

    Examples
    --------
    >>> float(share_of_strength(5300.0, 26500.0))
    0.2
    """
    pull = floats("chain pull", pull_n, "must be a force", "See chain_pull_n.")
    kept("chain pull", pull_n, np.isfinite(pull), "raise", "must be finite", "See chain_pull_n.")
    return pull / positive("tensile strength", minimum_tensile_n, "Read it in the chain maker's list.")
