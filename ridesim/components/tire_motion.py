"""The driven tire at speed: it grows, so that the engine turns slower than by the roll-out, and slips, so that it turns faster.

The roll-out is measured at walking pace and without drive. Neither effect is known of a tire that was not measured at speed: both are
ranges here, and what follows from them is a range beside the plain figures, which leave them out.
"""

from __future__ import annotations

from typing import Any

import numpy as np

from ridesim.reference import read_table

GROWTH_AT_100_KMH = (
    0.0,
    0.005,
)  # of the circumference, from memory: a guideline for car tires has 0.4 % from 60 to 100 km/h
REFERENCE_M_S = 100 / 3.6


def growth_share(speed_m_s: Any, at_100_kmh: Any) -> Any:
    """How much farther a tire rolls in one turn at speed than at walking pace:  g (v / 100 km/h)^2, as the pull of the tread's mass does.

    Parameters
    ----------
    speed_m_s : float or array
        [m/s]
    at_100_kmh : float or array
        The share at 100 km/h; GROWTH_AT_100_KMH is its range (from memory).

    Returns
    -------
    float or array
        Of the circumference. [-]

    Examples
    --------
    >>> float(round(growth_share(41.67, 0.004), 4))
    0.009
    """
    return np.multiply(at_100_kmh, np.square(np.divide(speed_m_s, REFERENCE_M_S)))


def slip_share(force_n: Any, load_n: Any, stiffness: Any) -> Any:
    """How much faster a driven wheel turns than it rolls:  s = F / (C N), far below the grip.

    Parameters
    ----------
    force_n : float or array
        Drive force at the contact. [N]
    load_n : float or array
        On the driven wheel. [N]
    stiffness : float or array
        Slip stiffness over the load; `slip_stiffness()` is its range. [-]

    Returns
    -------
    float or array
        [-]

    Examples
    --------
    A quarter of the load as drive force is about 1 % of slip:

    >>> float(round(slip_share(400.0, 1600.0, 25.94), 4))
    0.0096
    """
    return np.divide(force_n, np.multiply(load_n, stiffness))


def slip_stiffness() -> tuple[float, float]:
    """Least and most slip stiffness over the load that published models of motorcycle tires have. [-]

    >>> slip_stiffness()
    (11.2, 28.194)
    """
    known = [float(row["stiffness_over_load"]) for row in read_table("tire_slip")]
    return min(known), max(known)


def turns_over_plain(growth: Any, slip: Any) -> Any:
    """Engine speed at a road speed over that by the roll-out alone:  (1 + s) / (1 + g).

    Parameters
    ----------
    growth, slip : float or array
        Shares. [-]

    Returns
    -------
    float or array
        [-]

    Examples
    --------
    >>> float(round(turns_over_plain(0.004, 0.010), 4))
    1.006
    """
    return np.divide(1.0 + np.asarray(slip), 1.0 + np.asarray(growth))
