"""Roots and highest places between nodes at which a function is known already."""

from __future__ import annotations

from collections.abc import Callable

import numpy as np
from numpy.typing import NDArray

from ridesim.mechanics.traction import Forces, GearRows

Array = NDArray[np.float64]
Index = NDArray[np.intp]
_STEP = 1e-4  # to a side of a node, as a share of the way to the next, to see where it rises
_MOST_ROUNDS, _NEAR = 12, 1e-9  # secants that move a root by less leave far less
_TIE = 0.01  # of its height: how much a hump may rise between two nodes


def root_between(f: Callable[[Array], Array], low: Array, high: Array) -> Array:
    """One root in each bracket by the secant that keeps the bracket (the Illinois rule).

    >>> root_between(lambda x: x**2 - 2.0, np.array([1.4]), np.array([1.5])).round(10).tolist()
    [1.4142135624]
    """
    f_low, f_high = f(low), f(high)
    for _ in range(_MOST_ROUNDS):
        apart = f_high - f_low
        flat = apart == 0.0
        root = np.where(flat, high, (low * f_high - high * f_low) / np.where(flat, 1.0, apart))
        there = f(root)
        crossed = there * f_high < 0.0
        f_low = np.where(crossed, f_high, 0.5 * f_low)
        moved, low, high, f_high = np.abs(root - high), np.where(crossed, high, low), root, there
        if (moved <= _NEAR * np.abs(root)).all():
            break
    return high


def highest(rows: GearRows, read: Callable[[Forces], Array], best: Index | None = None) -> tuple[Array, Array]:
    """Where a figure is highest along the engine speed, and how high, (R,): seen at the nodes, then closed in on.

    Where another hump is about as high at the nodes, the one that is higher between them counts.
    """
    seen = read(rows.seen)
    first = seen.argmax(axis=0) if best is None else best
    w, height = _closed_in(rows, read, seen, first)
    k = np.nonzero(humps(seen) > 1)[0] if best is None else first[:0]
    if k.size:
        some, at, top = seen[:, k], first[k], seen[first[k], k]
        least = np.where(np.isfinite(top), top - _TIE * np.abs(np.nan_to_num(top)), np.inf)
        rival = np.ones(some.shape, bool)
        rival[1:] &= some[1:] > some[:-1]
        rival[:-1] &= some[:-1] >= some[1:]
        rival &= (some >= least) & (np.abs(np.arange(len(some))[:, None] - at) > 1)
        n = np.nonzero(rival.any(axis=0))[0]
        other = np.where(rival[:, n], some[:, n], -np.inf).argmax(axis=0)
        at, over = _closed_in(rows.take(k[n]), read, some[:, n], other)
        better = over > height[k[n]]
        w[k[n[better]]], height[k[n[better]]] = at[better], over[better]
    return w, height


def humps(seen: Array) -> Index:
    """How many humps the values at the nodes (n, R) have, those at an end among them."""
    rises = seen[1:] > seen[:-1]
    return np.asarray(np.count_nonzero(rises[:-1] & ~rises[1:], axis=0) + rises[-1] + ~rises[0])


def _closed_in(rows: GearRows, read: Callable[[Forces], Array], seen: Array, best: Index) -> tuple[Array, Array]:
    """The highest place next to the best node.

    On the side to which it rises there is one smooth cubic up to the next node: looked at in four parts, then by a parabola over the
    best of them, and by one a tenth as wide.
    """
    nodes, every = rows.cells.nodes, np.arange(len(rows))
    w, height = nodes[best], seen[best, every]
    sides = nodes[np.clip(best + np.array([[-1], [1]]), 0, nodes.size - 1)] - w
    rises = read(rows.at(w + _STEP * sides)).argmax(axis=0)
    x = w + np.linspace(0.0, 1.0, 5)[:, None] * sides[rises, every]
    y = np.concatenate(
        [height[None], read(rows.at(x[1:4])), seen[np.clip(best + 2 * rises - 1, 0, nodes.size - 1), every][None]]
    )
    three = np.clip(y.argmax(axis=0), 1, 3) + np.array([[-1], [0], [1]])
    x, y = x[three, every], y[three, every]
    top, reach = _parabola_top(x, y, x[1]), 0.1 * (x[2] - x[0])
    near = np.clip(top, np.minimum(x[0], x[2]) + np.abs(reach), np.maximum(x[0], x[2]) - np.abs(reach))
    near = near + np.array([[-1.0], [0.0], [1.0]]) * reach
    top = _parabola_top(near, read(rows.at(near)), top)
    refined = read(rows.at(top))
    return np.where(refined >= height, top, w), np.fmax(refined, height)


def _parabola_top(x: Array, y: Array, otherwise: Array) -> Array:
    """Where the parabola through three places (3, R) of each row has its top, kept between them."""
    with np.errstate(divide="ignore", invalid="ignore"):
        rise, fall = (y[1] - y[0]) / (x[1] - x[0]), (y[2] - y[1]) / (x[2] - x[1])
        bend = (fall - rise) / (x[2] - x[0])
        top = 0.5 * (x[0] + x[1] - rise / bend)
        bends_down = (bend < 0.0) & np.isfinite(top)
    top = np.where(bends_down, top, otherwise)
    return np.clip(top, np.minimum(x[0], x[2]), np.maximum(x[0], x[2]))
