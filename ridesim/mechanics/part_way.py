"""Where a distance ends inside a piece of the torque curve, and the time to there."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from ridesim.mechanics.crossing import Crossings, Within
from ridesim.mechanics.quadrature import Stretches, crossing_times

Array = NDArray[np.float64]
Index = NDArray[np.intp]
_LAST_BIT = 1e-4  # of a distance [m/m]
_STEPS = 5  # of Newton's method on a polynomial that is nearly straight


def part_way(known: Crossings, row: Index, j: Index, goal: Array) -> tuple[Array, Array]:
    """Engine speed in a plain piece at which the integral of omega/a from its left edge reaches the goal, and that of 1/a to there."""
    pieces = known.motion.pieces
    edge, width = pieces.edges.take(j), pieces.widths.take(j)
    within = Within(known, row, j)
    x = 0.5 * width
    for _ in range(_STEPS):
        inside, moment = within.integrals(x)
        step = (edge * inside + moment - goal) / (within.slowness(x) * (edge + x))
        x = np.minimum(np.maximum(x - step, 0.0), width)
    return edge + x, within.integrals(x)[0]


def into_stretch(s: Stretches, goal_m: Array) -> tuple[Array, Array]:
    """Time to cover a distance that ends inside each stretch, and the x where it ends; nan where the acceleration ends before.

    Newton on the distance, along the exponential by which a speed nears its top: straight steps would need many there. The last
    bit is gone with the acceleration there, which changes too little over it to tell.
    """
    low, high = s.low.copy(), s.high.copy()
    x = _along_the_exponential(s, low, -goal_m, low, high)
    dt = np.zeros_like(x)
    open_ones = np.arange(x.size)  # each is left alone once it has arrived, whatever the others still need
    for _ in range(60):
        part, goal = s.take(open_ones), goal_m[open_ones]
        here = x[open_ones]
        dt[open_ones], dx = crossing_times(part.between(part.low, here))
        miss = dx - goal
        going = np.abs(miss) > _LAST_BIT * np.maximum(goal, 1.0)
        arrived = open_ones[~going]
        bit, x[arrived] = _last_bit(part.take(~going), here[~going], miss[~going])
        dt[arrived] += bit
        if not going.any():
            break
        part, miss, here, open_ones = part.take(going), miss[going], here[going], open_ones[going]
        low[open_ones] = np.where(miss < 0, here, low[open_ones])
        high[open_ones] = np.where(miss < 0, high[open_ones], here)
        x[open_ones] = _along_the_exponential(part, here, miss, low[open_ones], high[open_ones])
    else:
        dt[open_ones], x[open_ones] = np.nan, np.nan
    return dt, x


def _along_the_exponential(s: Stretches, x: Array, miss_m: Array, low: Array, high: Array) -> Array:
    """Where the miss at x is made good if the acceleration falls evenly with the speed; the middle where that is not in between."""
    a = s.three(x).min(axis=0)
    _, c1, c2, c3 = s.engine
    fall = np.maximum(-((3.0 * c3 * x + 2.0 * c2) * x + c1), 1e-9)
    with np.errstate(invalid="ignore", divide="ignore"):  # past a place that is never reached the miss is infinite
        rate = fall / (s.metres * (s.start_m_s + s.metres * x))
        place = x - a / fall * np.expm1(np.minimum(rate * miss_m, 50.0))
    return np.where((place > low) & (place < high), place, 0.5 * (low + high))


def _last_bit(s: Stretches, x: Array, miss_m: Array) -> tuple[Array, Array]:
    """Time to make good a slight miss at x, and the x where it is made good, the acceleration staying as it is there."""
    v = s.start_m_s + s.metres * x
    then = np.sqrt(v * v - 2.0 * s.three(x).min(axis=0) * miss_m)
    return -2.0 * miss_m / (v + then), (then - s.start_m_s) / s.metres
