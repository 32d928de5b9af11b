"""Where to change up: in every gear the engine speed from which the next one accelerates harder."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from ridesim.mechanics.motion import Motion
from ridesim.mechanics.roots import newton_in_bracket

Array = NDArray[np.float64]
Index = NDArray[np.intp]
_ALIKE = 1e-9  # steps between two gears that differ by less are one
_LAST_STEP = 1e-5  # of Newton's method: leaves 1e-10 of the shift point, on which times depend to second order only
_SLOWEST = 1e-6  # what counts as no acceleration when two ways through the gears are timed [m/s2]
_LOOKS = 65  # places at which they are
_GAIN = 1e-6  # of the time: what makes it worth waiting for a later shift point


def upshift_engine_speed(motion: Motion) -> Array:
    """Engine speed at which the next gear begins to accelerate harder, else the end of the curve; nan in the last gear, (S, G).

    A curve with a hollow in it may give several such speeds: the one is taken from which the way up is quickest.
    """
    shape = motion.setups.ratios.shape
    result = np.full(shape, np.nan)
    if shape[1] > 1:
        rows = np.arange(motion.metres.size).reshape(shape)[:, :-1].T
        result[:, :-1] = _shift_points(motion, rows).reshape(rows.shape).T
    return result


def _shift_points(motion: Motion, by_gear: Index) -> Array:
    """The same for the rows of all gears but the last, (G - 1, S), gear after gear: (P,)."""
    rows = by_gear.ravel()
    drop = motion.metres[rows] / motion.metres[rows + 1]
    last, ends = np.empty(rows.size, np.intp), np.empty((2, rows.size))
    hollows = []
    for start in range(0, rows.size, by_gear.shape[1]):
        part = slice(start, start + by_gear.shape[1])
        lead, stays = _leads(motion, rows[part], drop[part])
        leaves = stays.copy()
        leaves[:-1] &= ~stays[1:]
        none = ~stays[0]
        if none.any():
            leaves[0] |= none & ~stays.any(axis=0)  # the next gear is better everywhere
        last[part] = place = len(leaves) - 1 - leaves[::-1].argmax(axis=0)
        ends[:, part] = _beside(lead, place)
        several = np.nonzero(leaves.argmax(axis=0) < place)[0]
        if several.size:
            hollows.append((start + several, leaves[:, several], lead[:, several]))
    found = _handover(motion, rows, drop, last, ends)
    for k, leaves, lead in hollows:
        found[k] = _quickest(motion, rows[k], drop[k], leaves, lead)
    return found


def _leads(motion: Motion, rows: Index, drop: Array) -> tuple[Array, NDArray[np.bool_]]:
    """On the grid the lead of a gear's acceleration over the next one's at the same road speed, and whether it is worth staying."""
    pieces = motion.pieces
    step = drop[:1] if (np.abs(drop - drop[0]) <= _ALIKE).all() else drop
    slower = pieces.grid[:, None] * step
    reach = np.maximum(slower, pieces.first)
    if step.size < drop.size:
        at = reach[:, 0]
        after = motion.engine_by(np.array([pieces.torque(at), np.ones(at.size), at, at * at]), rows + 1)
    else:
        after = motion.engine_of(rows + 1).at(reach)
    lead = motion.engine_at_grid(rows)
    lead -= after
    return lead, (lead > 0.0) | (slower < pieces.first)


def _beside(lead: Array, place: Index) -> Array:
    """The lead at a place of the grid and at the next one, (2, P)."""
    each = np.arange(place.size)
    return np.stack([lead[place, each], lead[np.minimum(place + 1, len(lead) - 1), each]])


def _handover(motion: Motion, rows: Index, drop: Array, last: Index, ends: Array) -> Array:
    """The shift point just above the grid's point `last`, the highest worth staying at; the end of the curve above its end."""
    pieces = motion.pieces
    found = np.full(rows.size, pieces.last)
    k = np.nonzero(last < pieces.grid.size - 1)[0]
    if k.size == 0:
        return found
    last, drop, stay, change = last[k], drop[k], motion.engine_of(rows[k]), motion.engine_of(rows[k] + 1)

    def ahead(w: Array) -> tuple[Array, Array]:
        (a, rise), (b, fall) = stay.with_slope(w), change.with_slope(np.maximum(w * drop, pieces.first))
        return a - b, rise - drop * fall

    low, high, (f_low, f_high) = pieces.grid[last], pieces.grid[last + 1], ends[:, k]
    # below `earliest` the next gear would turn slower than the first point of the curve
    earliest = np.minimum(pieces.first / drop, pieces.last)
    late = earliest > low
    if late.any():
        low = np.where(late, earliest, low)
        f_low = np.where(late, ahead(low)[0], f_low)
    at_once = f_low <= 0.0  # the next gear is better as soon as it can take over
    high, f_high = np.where(at_once, low, high), np.where(at_once, f_low, f_high)
    found[k] = newton_in_bracket(ahead, low, high, f_low, f_high, _LAST_STEP)
    return found


def _quickest(motion: Motion, rows: Index, drop: Array, leaves: NDArray[np.bool_], lead: Array) -> Array:
    """Of several shift points in each row the one that gains most time, rising from one to the next."""
    order = np.cumsum(leaves, axis=0)
    stay, change = motion.engine_of(rows), motion.engine_of(rows + 1)

    def place(n: int) -> Array:
        last = (order >= n).argmax(axis=0)
        return _handover(motion, rows, drop, last, _beside(lead, last))

    best = place(1)
    for n in range(2, int(order[-1].max()) + 1):
        later = place(n)
        w = best + np.linspace(0.0, 1.0, _LOOKS)[:, None] * (later - best)
        staying = np.trapezoid(1.0 / np.maximum(stay.at(w), _SLOWEST), axis=0)
        changed = np.trapezoid(1.0 / np.maximum(change.at(np.maximum(w * drop, motion.pieces.first)), _SLOWEST), axis=0)
        # where neither gear pulls there is nothing to gain
        best = np.where((order[-1] >= n) & (changed - staying > _GAIN * staying), later, best)
    return best
