"""Chain and sprockets as geometry: pitch circles, length round two sprockets, centre distance for a length, ripple, wear."""

from __future__ import annotations

from typing import Any

import numpy as np

from ridesim.errors import InputError

ROUNDS = 12  # Newton steps; the handbook form starts within a thousandth, so four reach rounding


def pitch_radius_m(pitch_m: Any, teeth: Any) -> Any:
    """Radius of the circle on which the pins lie:  R = p / (2 sin(pi / z)).

    Parameters
    ----------
    pitch_m : float or array
        Above 0. [m]
    teeth : int or array
        At least 3. [-]

    Returns
    -------
    float or array
        [m]

    Examples
    --------
    A 17-tooth wheel of 1 inch pitch is 138.23 mm across its pitch circle:

    >>> float(round(2e3 * pitch_radius_m(0.0254, 17), 2))
    138.23
    """
    return np.divide(pitch_m, 2.0 * np.sin(np.pi / np.asarray(teeth, dtype=float)))


def _angle(centre_distance_m: Any, pitch_m: Any, front_teeth: Any, rear_teeth: Any) -> Any:
    """Half the difference of the two wraps: sin a = (R2 - R1) / C; nan where the sprockets do not even fit side by side."""
    difference = pitch_radius_m(pitch_m, rear_teeth) - pitch_radius_m(pitch_m, front_teeth)
    share = np.divide(difference, centre_distance_m)
    return np.arcsin(np.where(np.abs(share) < 1.0, share, np.nan))


def links_exact(centre_distance_m: Any, pitch_m: Any, front_teeth: Any, rear_teeth: Any) -> Any:
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

    Returns
    -------
    float or array
        Not rounded; nan where the pitch circles would overlap. [links]

    Examples
    --------
    >>> float(round(links_exact(0.5, 0.0127, 21, 63), 3))
    121.878
    """
    c, p = np.asarray(centre_distance_m, dtype=float), np.asarray(pitch_m, dtype=float)
    z1, z2 = np.asarray(front_teeth, dtype=float), np.asarray(rear_teeth, dtype=float)
    apart = c > pitch_radius_m(p, z1) + pitch_radius_m(p, z2)
    a = _angle(np.where(apart, c, np.nan), p, z1, z2)
    return 2.0 * c / p * np.cos(a) + 0.5 * (z1 + z2) + a / np.pi * (z2 - z1)


def links_handbook(centre_distance_m: Any, pitch_m: Any, front_teeth: Any, rear_teeth: Any) -> Any:
    """Links round two sprockets, handbook form:  X = 2 C/p + (z1 + z2)/2 + ((z2 - z1)/(2 pi))^2 p/C.

    Parameters
    ----------
    centre_distance_m, pitch_m : float or array
        [m]
    front_teeth, rear_teeth : int or array
        [-]

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
    z1, z2 = np.asarray(front_teeth, dtype=float), np.asarray(rear_teeth, dtype=float)
    c = np.divide(centre_distance_m, pitch_m)
    return 2.0 * c + 0.5 * (z1 + z2) + ((z2 - z1) / (2.0 * np.pi)) ** 2 / c


def centre_distance_handbook_m(links: Any, pitch_m: Any, front_teeth: Any, rear_teeth: Any) -> Any:
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

    Returns
    -------
    float or array
        nan where the chain is too short to go round. [m]

    Examples
    --------
    Bhandari, ex. 14.3: 122 links of 12.7 mm on 21 and 63 teeth.

    >>> float(round(1e3 * centre_distance_handbook_m(122, 0.0127, 21, 63), 6))
    500.804717
    """
    z1, z2 = np.asarray(front_teeth, dtype=float), np.asarray(rear_teeth, dtype=float)
    v = np.asarray(links, dtype=float) - 0.5 * (z1 + z2)
    inside = v**2 - 8.0 * ((z2 - z1) / (2.0 * np.pi)) ** 2
    root = np.sqrt(np.where((inside >= 0.0) & (v > 0.0), inside, np.nan))
    return np.asarray(pitch_m, dtype=float) / 4.0 * (v + root)


def centre_distance_m(links: Any, pitch_m: Any, front_teeth: Any, rear_teeth: Any) -> Any:
    """Centre distance at which a number of links just goes round: the two-circle form inverted by Newton's method.

    The length grows with the distance at the rate 2 cos(a)/p, so the steps cannot miss.

    Parameters
    ----------
    links : float or array
        [links]
    pitch_m : float or array
        Of the chain as it is: worn chains have a longer one. [m]
    front_teeth, rear_teeth : int or array
        [-]

    Returns
    -------
    float or array
        nan where the chain is too short to go round. [m]

    Examples
    --------
    >>> float(round(links_exact(centre_distance_m(112, 0.015875, 16, 45), 0.015875, 16, 45), 9))
    112.0
    """
    x, p = np.asarray(links, dtype=float), np.asarray(pitch_m, dtype=float)
    z1, z2 = np.asarray(front_teeth, dtype=float), np.asarray(rear_teeth, dtype=float)
    least = (pitch_radius_m(p, z1) + pitch_radius_m(p, z2)) * (1.0 + 1e-12)
    possible = x >= links_exact(least, p, z1, z2)
    c = np.where(possible, np.fmax(centre_distance_handbook_m(x, p, z1, z2), least), np.nan)
    for _ in range(ROUNDS):
        a = _angle(c, p, z1, z2)
        length = 2.0 * c / p * np.cos(a) + 0.5 * (z1 + z2) + a / np.pi * (z2 - z1)
        c = np.maximum(c - (length - x) * p / (2.0 * np.cos(a)), least)
    return np.where(possible, c, np.nan)[()]


def worn_pitch_m(pitch_m: Any, elongation: Any) -> Any:
    """Pitch of a worn chain:  p (1 + e).

    Parameters
    ----------
    pitch_m : float or array
        New. [m]
    elongation : float or array
        0.02 is two per cent. [-]

    Returns
    -------
    float or array
        [m]

    Examples
    --------
    >>> float(round(1e3 * worn_pitch_m(0.015875, 0.02), 4))
    16.1925
    """
    return np.multiply(pitch_m, 1.0 + np.asarray(elongation, dtype=float))


def speed_ripple(teeth: Any) -> Any:
    """How far the chain speed falls below its highest once a tooth:  1 - cos(pi / z).

    Parameters
    ----------
    teeth : int or array
        [-]

    Returns
    -------
    float or array
        [-]

    Examples
    --------
    >>> float(round(100 * speed_ripple(15), 4))
    2.1852
    """
    return 1.0 - np.cos(np.pi / np.asarray(teeth, dtype=float))


def even_wear_turns(teeth: Any, links: Any) -> Any:
    """Chain turns after which a tooth meets the same link again:  z / gcd(z, X). Equal to z when they share no factor.

    Parameters
    ----------
    teeth : int or array
        [-]
    links : int or array
        [links]

    Returns
    -------
    int or array
        [turns of the chain]

    Examples
    --------
    >>> int(even_wear_turns(15, 108)), int(even_wear_turns(17, 108))
    (5, 17)
    """
    z = np.asarray(teeth, dtype=int)
    return z // np.gcd(z, np.asarray(links, dtype=int))


def wrap_angle_rad(centre_distance_m: Any, pitch_m: Any, front_teeth: Any, rear_teeth: Any) -> Any:
    """Angle over which the chain lies on the smaller sprocket:  pi - 2 |a|. Handbooks ask for 120 degrees at least.

    Parameters
    ----------
    centre_distance_m, pitch_m : float or array
        [m]
    front_teeth, rear_teeth : int or array
        [-]

    Returns
    -------
    float or array
        [rad]

    Examples
    --------
    >>> float(round(np.degrees(wrap_angle_rad(0.6, 0.015875, 16, 45)), 1))
    166.0
    """
    return np.pi - 2.0 * np.abs(_angle(centre_distance_m, pitch_m, front_teeth, rear_teeth))


def chain_pull_n(
    engine_torque_n_m: Any, primary_ratio: Any, gear_ratio: Any, front_pitch_radius_m: Any, efficiency: Any
) -> Any:
    """Pull in the upper run of the chain:  T primary gear eta / R1.

    Parameters
    ----------
    engine_torque_n_m : float or array
        At the crank. [N m]
    primary_ratio, gear_ratio : float or array
        [-]
    front_pitch_radius_m : float or array
        [m]
    efficiency : float or array
        [-]

    Returns
    -------
    float or array
        [N]

    Examples
    --------
    >>> float(round(chain_pull_n(41.0, 68 / 30, 32 / 13, 0.0407, 0.93), 0))
    5227.0
    """
    return np.multiply(engine_torque_n_m, primary_ratio) * np.multiply(gear_ratio, efficiency) / front_pitch_radius_m


def share_of_strength(pull_n: Any, minimum_tensile_n: Any) -> Any:
    """Pull over minimum tensile strength.

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
    >>> share_of_strength(5300.0, 26500.0)
    0.2
    """
    return pull_n / minimum_tensile_n


def require_teeth(where: str, teeth: Any, least: int, most: int) -> None:
    """InputError unless every tooth count is a whole number in a range that sprockets are made in."""
    values = np.asarray(teeth)
    if values.dtype.kind not in "iu" or values.size == 0 or (values < least).any() or (values > most).any():
        raise InputError(where, teeth, f"must be whole numbers of teeth from {least} to {most}", "Count the teeth.")
