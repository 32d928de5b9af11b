"""Masses and where they sit: the combined center of mass of bike, rider and luggage."""

from __future__ import annotations

from typing import Any

import numpy as np

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
