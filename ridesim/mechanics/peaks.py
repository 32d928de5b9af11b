"""Where accelerations are highest along the engine speed, exactly."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray

from ridesim.mechanics.motion import Motion
from ridesim.mechanics.roots import cubic_peak

Array = NDArray[np.float64]


@dataclass(frozen=True, kw_only=True, eq=False)
class Peak:
    """Where something is highest along the engine speed, (R,), with both accelerations there."""

    w: Array
    engine: Array
    lift: Array


def peak(motion: Motion, best: NDArray[np.intp], share: Any, rounds: int = 1, rows: Any = slice(None)) -> Peak:
    """The highest engine acceleration less `share` lift accelerations, next to the best point of the grid, in all or some rows.

    With more rounds the share becomes the ratio just found, which leads to the highest ratio (Dinkelbach's way).
    In a tail wind the place may be off a little, to second order, where the wind falls calm; the values are of that place.
    """
    pieces = motion.pieces
    at = pieces.grid[best]
    gain, _, a1, a2 = motion.engine[:, rows]
    _, b1, b2 = motion.lift[:, rows]
    calm = None if motion.calm is None else motion.calm[rows]
    slope = gain * pieces.grid_slope[best] + a1 - share * b1 + 2.0 * at * (a2 - share * b2)
    if calm is not None:
        slope += 2.0 * np.minimum(at - calm, 0.0) * (motion.bend[0][rows] - share * motion.bend[1][rows])
    side = best - (slope < 0.0)  # the cell into which it still rises
    cell = np.minimum(np.maximum(side, 0), pieces.grid.size - 2)
    j = cell >> 1
    edge = pieces.edges[j]
    low, high, at = pieces.grid[cell] - edge, pieces.grid[cell + 1] - edge, at - edge
    at_end = side != cell
    low, high = np.where(at_end, at, low), np.where(at_end, at, high)
    under = None if calm is None else 0.5 * (low + high) + edge < calm
    e0, e1, e2, e3 = motion.engine_in_piece(rows, j, under)
    q0, q1, q2 = motion.quadratic_in_piece(motion.lift, 1, rows, j, under)
    for _ in range(rounds):
        x = cubic_peak(e1 - share * q1, e2 - share * q2, e3, low, high, at)
        there, lifts = ((e3 * x + e2) * x + e1) * x + e0, (q2 * x + q1) * x + q0
        if rounds > 1:
            share = there / lifts
    w = edge + x
    if calm is not None:
        there, lifts = motion.engine_of(rows).at(w), motion.lift_of(rows).at(w)
    return Peak(w=w, engine=there, lift=lifts)


def rivals(values: Array, best: NDArray[np.intp], least: Array) -> tuple[NDArray[np.intp], NDArray[np.intp]]:
    """Where values on the grid (N, P), highest at `best`, have another hump no lower than `least`, (P,): which columns, and the place.

    Between the points of the grid such a hump may be the higher one.
    """
    inner = values[1:-1]
    near = inner >= least
    near &= inner > values[:-2]
    near &= inner >= values[2:]
    near &= np.abs(np.arange(1, len(values) - 1)[:, None] - best) > 1
    k = np.nonzero(near.any(axis=0))[0]
    return k, 1 + np.where(near[:, k], inner[:, k], -np.inf).argmax(axis=0)
