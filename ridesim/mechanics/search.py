"""Roots and highest places between nodes at which a function is known already."""

from __future__ import annotations

from collections.abc import Callable

import numpy as np

from ridesim.mechanics.setups import Array, Index
from ridesim.mechanics.traction import Forces, GearRows

Read = Callable[[Forces], Array]
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


def highest(rows: GearRows, read: Read, best: Index | None = None) -> tuple[Array, Array]:
    """Where a figure is highest along the engine speed, and how high, (R,): at the best node, or in a cell beside it.

    Where another hump is about as high at the nodes, the one that is higher between them counts.
    """
    seen = read(rows.seen)
    first = seen.argmax(axis=0) if best is None else best
    w, height = _beside(rows, read, seen, first)
    k = np.nonzero(humps(seen) > 1)[0] if best is None else first[:0]
    if k.size:
        some, at, top = seen[:, k], first[k], seen[first[k], k]
        least = np.where(np.isfinite(top), top - _TIE * np.abs(np.nan_to_num(top)), np.inf)
        rival = (some >= least) & (np.abs(np.arange(len(some))[:, None] - at) > 1)
        rival[1:] &= some[1:] > some[:-1]
        rival[:-1] &= some[:-1] >= some[1:]
        n = np.nonzero(rival.any(axis=0))[0]
        other = np.where(rival[:, n], some[:, n], -np.inf).argmax(axis=0)
        at, over = _beside(rows.take(k[n]), read, some[:, n], other)
        better = over > height[k[n]]
        w[k[n[better]]], height[k[n[better]]] = at[better], over[better]
    return w, height


def humps(seen: Array) -> Index:
    """How many humps the values at the nodes (n, R) have, those at an end among them.

    >>> humps(np.array([[3.0, 0.0], [1.0, 2.0], [2.0, 1.0]])).tolist()
    [2, 1]
    """
    rises = seen[1:] > seen[:-1]
    return np.asarray((rises[:-1] > rises[1:]).sum(axis=0, dtype=np.int16) + rises[-1] + ~rises[0])


def _beside(rows: GearRows, read: Read, seen: Array, best: Index) -> tuple[Array, Array]:
    """The highest place in the cells that end at the best node, or of which it is the middle.

    Over a cell a figure is a cubic in the engine speed, or next to one: its three nodes and one place more tell where it tops out.
    """
    nodes, every = rows.cells.nodes, np.arange(len(rows))
    middle = 2 * np.clip([(best - 1) // 2, best // 2], 0, rows.cells.edges.size - 2) + 1
    center, half = nodes[middle], 0.5 * (nodes[middle + 1] - nodes[middle - 1])
    left, y, right = (seen[middle + side, every] for side in (-1, 0, 1))
    with np.errstate(divide="ignore", invalid="ignore"):
        odd, c = 0.5 * (right - left), 0.5 * (right + left) - y  # y + b u + c u^2 + d u^3, u from -1 to 1
        d = (4.0 * odd + 2.0 * c - 8.0 * (read(rows.at(center + 0.5 * half)) - y)) / 3.0
        b = odd - d
        u = b / (np.sqrt(c * c - 3.0 * b * d) - c)
    x = center + half * np.clip(np.nan_to_num(u), -1.0, 1.0)
    height = np.concatenate([seen[best, every][None], read(rows.at(x))])
    tallest = np.nan_to_num(height, nan=-np.inf).argmax(axis=0)
    return np.concatenate([nodes[best][None], x])[tallest, every], height[tallest, every]
