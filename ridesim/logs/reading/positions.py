"""Positions as a receiver gives them: the way between them, the speed from it, repeated fixes, stands, and the unit of speeds."""

from __future__ import annotations

from typing import Any

import numpy as np
from numpy.typing import NDArray

from ridesim.logs.log import Array
from ridesim.units import quantity

EARTH_RADIUS_M = 6371008.8  # mean radius (2 a + b) / 3 of the WGS 84 ellipsoid
GAP_STEPS, GAP_S = 3.0, 2.0
FEWEST = 3
AROUND_S, LEAST_S = 3.0, 4.0  # to each side, and altogether, for telling a stand
CREEP_M_S = 0.8  # what the errors of positions look like over that time


def great_circle_m(latitude_deg: Any, longitude_deg: Any) -> Array:
    """Way between neighboring positions on a sphere:  d = 2 R asin sqrt(hav dphi + cos phi1 cos phi2 hav dlambda).

    Parameters
    ----------
    latitude_deg, longitude_deg : array (n,)
        [deg]

    Returns
    -------
    array (n - 1,)
        [m]

    Examples
    --------
    A degree of latitude:

    >>> great_circle_m([45.0, 46.0], [14.0, 14.0]).round(0).tolist()
    [111195.0]
    """
    phi, lam = np.radians(latitude_deg), np.radians(longitude_deg)
    half = np.sin(np.diff(phi) / 2) ** 2 + np.cos(phi[:-1]) * np.cos(phi[1:]) * np.sin(np.diff(lam) / 2) ** 2
    return np.asarray(2 * EARTH_RADIUS_M * np.arcsin(np.sqrt(np.clip(half, 0.0, 1.0))))


def speed_of_steps_m_s(time_s: Array, step_m: Array) -> Array:
    """Speed at each position from the way to both its neighbors:  v_k = (d_k-1 + d_k) / (t_k+1 - t_k-1).

    Beside a gap the neighbor on the other side alone counts: what happened in the gap is nobody's speed there.

    Parameters
    ----------
    time_s : array (n,)
        [s]
    step_m : array (n - 1,)
        [m]

    Returns
    -------
    array (n,)
        [m/s]

    Examples
    --------
    >>> speed_of_steps_m_s(np.array([0.0, 1.0, 2.0]), np.array([10.0, 12.0])).tolist()
    [10.0, 11.0, 12.0]
    >>> speed_of_steps_m_s(np.array([0.0, 1.0, 2.0, 62.0, 63.0]), np.array([10.0, 12.0, 0.0, 8.0])).tolist()
    [10.0, 11.0, 12.0, 8.0, 8.0]
    """
    step_s = np.diff(time_s)
    whole = ~gaps(step_s)
    before, after = np.append(False, whole), np.append(whole, False)
    alone = ~(before | after)  # a gap on both sides: the mean over them is all there is
    before[1:] |= alone[1:]
    after[:-1] |= alone[:-1]
    way = before * np.append(0.0, step_m) + after * np.append(step_m, 0.0)
    return np.asarray(way / (before * np.append(0.0, step_s) + after * np.append(step_s, 0.0)))


def gaps(step_s: Array) -> NDArray[np.bool_]:
    """Steps that are gaps: longer than three usual ones and 2 s."""
    return np.asarray(step_s > max(GAP_STEPS * float(np.median(step_s)), GAP_S))


def fresh_fixes(time_s: Array, latitude_deg: Array, longitude_deg: Array) -> NDArray[np.bool_]:
    """Rows that tell a place anew, or that tell of a stand.

    A logger that is quicker than its receiver writes each position several times: the way would be 0 and then all of it at
    once. A place that is held longer than such a receiver needs is a stand, and its rows stay.

    Examples
    --------
    >>> t = np.arange(8.0) / 2
    >>> fresh_fixes(t, np.array([1.0, 1, 2, 2, 3, 3, 4, 4]), np.zeros(8)).tolist()
    [True, False, True, False, True, False, True, False]
    """
    fresh = np.append(True, (np.diff(latitude_deg) != 0) | (np.diff(longitude_deg) != 0))[: time_s.size]
    if fresh.sum() < FEWEST:
        return np.ones(time_s.size, dtype=bool)
    usual = float(np.median(np.diff(time_s[fresh])))
    if usual < 1.5 * float(np.median(np.diff(time_s))):
        return np.ones(time_s.size, dtype=bool)
    since = time_s - np.maximum.accumulate(np.where(fresh, time_s, -np.inf))
    return np.asarray(fresh | (since > 1.5 * usual))


def standing(time_s: Array, latitude_deg: Array, longitude_deg: Array) -> NDArray[np.bool_]:
    """Where the bike stands although its positions wander: over six seconds it gets nowhere.

    Examples
    --------
    >>> t = np.arange(20.0)
    >>> standing(t, np.where(t < 10, 45.0, 45.0 + 1e-4 * (t - 9)), np.zeros(20)).astype(int).tolist()
    [0, 1, 1, 1, 1, 1, 1, 0, 0, 0, 0, 0, 0, 0, 0, 0, 0, 0, 0, 0]
    """
    a = np.searchsorted(time_s, time_s - AROUND_S)
    b = np.searchsorted(time_s, time_s + AROUND_S, side="right") - 1
    took = time_s[b] - time_s[a]
    pairs = np.stack([a, b], axis=1)
    phi, lam = (np.radians(x[pairs]) for x in (latitude_deg, longitude_deg))
    north, east = np.diff(phi, axis=1)[:, 0], np.diff(lam, axis=1)[:, 0] * np.cos(phi[:, 0])
    got = EARTH_RADIUS_M * np.hypot(north, east)
    return np.asarray((took >= LEAST_S) & (took <= 2 * AROUND_S) & (got < CREEP_M_S * took))


UNITS = ("m/s", "km/h", "mph", "kn")
MOVES_M_S = 3.0
FEWEST_MOVING = 20
MOST = 40_000  # samples
CLOSE = 0.04
APART = 0.20  # a speed that is further off than this is not in the unit it is said to be in


def shown_per_moved(time_s: Array, speed: Array, latitude_deg: Array, longitude_deg: Array) -> float | None:
    """Speed as it is written over speed from the positions, the median on the move; None where too little speaks for it.

    Positions that stand still between two fixes are passed over.

    Examples
    --------
    A degree in 10 000 each second is 11.12 m/s, written as 40.03:

    >>> t = np.arange(40.0)
    >>> round(shown_per_moved(t, np.full(40, 40.03), 45 + 1e-4 * t, np.full(40, 14.0)), 2)
    3.6
    """
    if time_s.size > MOST:  # pieces from all over the log tell as much as the whole of it
        starts = np.linspace(0, time_s.size - MOST // 20, 20).astype(int)
        rows = (starts[:, None] + np.arange(MOST // 20)).ravel()
        time_s, speed, latitude_deg, longitude_deg = (a[rows] for a in (time_s, speed, latitude_deg, longitude_deg))
    known = np.isfinite(latitude_deg) & np.isfinite(longitude_deg) & np.isfinite(speed)
    known &= (np.abs(latitude_deg) <= 90) & (np.abs(longitude_deg) <= 180)
    place = np.flatnonzero(known)
    fresh = (np.diff(latitude_deg[place]) != 0) | (np.diff(longitude_deg[place]) != 0)
    place = place[np.concatenate([[True], fresh])] if place.size else place
    latest = np.maximum.accumulate(time_s[place])
    place = place[np.concatenate([[True], np.diff(latest) > 0])] if place.size else place
    if place.size < FEWEST_MOVING:
        return None
    moved = speed_of_steps_m_s(time_s[place], great_circle_m(latitude_deg[place], longitude_deg[place]))
    riding = (np.maximum(moved, speed[place]) > MOVES_M_S) & (moved > 0)
    return float(np.median(speed[place][riding] / moved[riding])) if riding.sum() >= FEWEST_MOVING else None


def proved_unit(ratio: float) -> tuple[str, float] | None:
    """The unit, and m/s in one of it, that makes a ratio of shown_per_moved 1; None where none does.

    Examples
    --------
    >>> proved_unit(3.61)[0], proved_unit(2.9)
    ('km/h', None)
    """
    scales = ((unit, float(quantity(1.0, "speed", unit, "unit"))) for unit in UNITS)
    return next(((unit, scale) for unit, scale in scales if abs(ratio * scale - 1.0) < CLOSE), None)


def warning_of(ratio: float | None) -> tuple[str, ...]:
    """What is to be said of speeds in m/s that do not go with the positions."""
    if ratio is None or abs(ratio - 1.0) < APART:
        return ()
    return (f"the speeds are {ratio:.2g} times what the positions of the log give: check the unit of the speed",)
