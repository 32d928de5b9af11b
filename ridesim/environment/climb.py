"""A way up or down: its heights, and the grades that last."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray

from ridesim.errors import InputError, one, several

LOWEST_M, HIGHEST_M = -400.0, 6000.0  # roads
SUSTAINED_M = 200.0  # a grade counts as a hill where it lasts so far


@dataclass(frozen=True, kw_only=True)
class Climb:
    """A way up or down: the height of every place of it, and the grade there.

    start_m     height where the ride begins [m]
    height_m    of places along the way [m]
    grade       uphill, lasting SUSTAINED_M; the ride's own grade throughout where no road is known [-]
    of_a_road   whether the grades are those of a road
    timed       whether it was ridden and not drawn: a track without times says nothing of speed
    """

    start_m: float
    height_m: NDArray[np.float64]
    grade: NDArray[np.float64]
    of_a_road: bool
    timed: bool = True


def stated_climb(start_m: float, end_m: float, grade: float = 0.0) -> Climb:
    """A climb or a descent between two heights, on one grade.

    >>> stated_climb(100.0, 2200.0).height_m.tolist()
    [100.0, 2200.0]

    Raises
    ------
    InputError
        A height at which there is no road.
    """
    low, high = (
        one(f"climb.{name}", height, LOWEST_M, HIGHEST_M, "m", "Give the height above sea level.")
        for name, height in (("from", start_m), ("to", end_m))
    )
    return Climb(start_m=low, height_m=np.array([low, high]), grade=np.full(2, grade), of_a_road=False)


def climb_along(distance_m: Any, height_m: Any, *, timed: bool = True) -> Climb:
    """The heights along a road, every quarter of SUSTAINED_M, and its grades over as much each:  (h(x + L/2) - h(x - L/2)) / L.

    Parameters
    ----------
    distance_m, height_m : array of shape (n,)
        Way from the start, which does not fall, and height there, nan where it is not known. [m]
    timed : bool
        Whether it was ridden and not drawn.

    Returns
    -------
    Climb

    Raises
    ------
    InputError
        No heights, heights no road has, or a way shorter than one such stretch.

    Examples
    --------
    >>> road = climb_along([0.0, 1000.0, 2000.0], [100.0, 150.0, 150.0])
    >>> road.start_m, len(road.grade), [round(float(g), 3) for g in road.grade[[4, -4]]]
    (100.0, 40, [0.05, 0.0])
    """
    way, height = np.asarray(distance_m, dtype=float), np.asarray(height_m, dtype=float)
    known = np.isfinite(way) & np.isfinite(height) if way.shape == height.shape else np.zeros(1, dtype=bool)
    if known.sum() < 2:
        raise InputError("route", None, "holds no heights", "Log it with heights, or give --from and --to.")
    way, height = way[known], height[known]
    several("route.height", height.tolist(), LOWEST_M, HIGHEST_M, "m", longest=height.size, fix="Check its heights.")
    if way[-1] - way[0] < SUSTAINED_M:
        problem = f"is shorter than {SUSTAINED_M:.0f} m"
        raise InputError("route", f"{way[-1] - way[0]:.0f} m", problem, "Take a longer one, or give --from and --to.")
    at = np.arange(way[0], way[-1], SUSTAINED_M / 4)
    half = SUSTAINED_M / 2
    ahead, behind = np.minimum(at + half, way[-1]), np.maximum(at - half, way[0])
    grade = (np.interp(ahead, way, height) - np.interp(behind, way, height)) / (ahead - behind)
    return Climb(
        start_m=float(height[0]), height_m=np.interp(at, way, height), grade=grade, of_a_road=True, timed=timed
    )
