"""Whether the speeds of a log go with its positions, and which unit they must be in."""

from __future__ import annotations

import numpy as np

from ridesim.roadlog.log import Array
from ridesim.roadlog.places import great_circle_m, speed_of_steps_m_s
from ridesim.units import quantity

UNITS = ("m/s", "km/h", "mph", "kn")
MOVES_M_S = 3.0
FEWEST = 20
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
    if place.size < FEWEST:
        return None
    moved = speed_of_steps_m_s(time_s[place], great_circle_m(latitude_deg[place], longitude_deg[place]))
    riding = (np.maximum(moved, speed[place]) > MOVES_M_S) & (moved > 0)
    return float(np.median(speed[place][riding] / moved[riding])) if riding.sum() >= FEWEST else None


def proved_unit(ratio: float) -> tuple[str, float] | None:
    """The unit, and m/s in one of it, that makes a ratio of shown_per_moved 1; None where none does.

    Examples
    --------
    >>> proved_unit(3.61)[0], proved_unit(2.9)
    ('km/h', None)
    """
    scales = ((unit, float(quantity(1.0, "speed", unit, "unit"))) for unit in UNITS)
    return next(((unit, scale) for unit, scale in scales if abs(ratio * scale - 1.0) < CLOSE), None)


def doubt_of(ratio: float | None) -> tuple[str, ...]:
    """What is to be said of speeds in m/s that do not go with the positions."""
    if ratio is None or abs(ratio - 1.0) < APART:
        return ()
    return (f"the speeds are {ratio:.2g} times what the positions of the log give: check the unit of the speed",)
