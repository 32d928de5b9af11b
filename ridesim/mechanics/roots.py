"""Roots and maxima of many functions at once, each inside its own bracket."""

from __future__ import annotations

from collections.abc import Callable

import numpy as np
from numpy.typing import NDArray

Array = NDArray[np.float64]


def bracketed_root(f: Callable[[Array], Array], low: Array, high: Array, rounds: int = 9) -> Array:
    """One root in each bracket by Ridders' method, which never leaves the bracket and converges quadratically.

    Parameters
    ----------
    f : callable
        Works on arrays of the brackets' shape, element by element.
    low, high : array
        Ends of the brackets; f has opposite signs there, or is zero at one of them.
    rounds : int
        Two evaluations each; nine bring a smooth function to rounding.

    Returns
    -------
    array
        Same shape.

    Examples
    --------
    >>> bracketed_root(lambda x: x**2 - np.array([2.0, 9.0]), np.array([0.0, 1.0]), np.array([2.0, 5.0])).round(12).tolist()
    [1.414213562373, 3.0]
    """
    f_low, f_high = f(low), f(high)
    root = np.where(f_high == 0.0, high, low)
    for _ in range(rounds):
        middle = 0.5 * (low + high)
        f_middle = f(middle)
        slope = np.sqrt(np.maximum(f_middle**2 - f_low * f_high, 0.0))
        step = np.divide(f_middle, slope, out=np.zeros_like(slope), where=slope > 0)
        root = middle + (middle - low) * np.sign(f_low - f_high) * step
        f_root = f(root)
        inner, outer = np.minimum(root, middle), np.maximum(root, middle)
        f_inner, f_outer = (np.where(root < middle, a, b) for a, b in ((f_root, f_middle), (f_middle, f_root)))
        left, right = f_low * f_inner <= 0, f_outer * f_high <= 0
        low, f_low, high, f_high = (
            np.where(left, low, np.where(right, outer, inner)), np.where(left, f_low, np.where(right, f_outer, f_inner)),
            np.where(left, inner, np.where(right, high, outer)), np.where(left, f_inner, np.where(right, f_high, f_outer)),
        )
    return root


def refined_maximum(
    f: Callable[[Array], Array], grid: Array, values: Array, rounds: int = 3, points: int = 7
) -> tuple[Array, Array]:
    """Place and height of the largest value along the last axis, refined between the grid points next to it.

    Parameters
    ----------
    f : callable
        Takes places of shape (..., points), gives values of that shape.
    grid : array, shape (N,)
        Rising.
    values : array, shape (..., N)
        f on the grid.

    Returns
    -------
    tuple of two arrays, shape (...)
        Place and value. Each round narrows the place by (points - 1)/2.

    Examples
    --------
    >>> grid = np.linspace(0.0, 3.0, 7)
    >>> place, value = refined_maximum(lambda x: 4.0 - (x - 1.2) ** 2, grid, (4.0 - (grid - 1.2) ** 2)[None, :], rounds=8)
    >>> place.round(3).tolist(), value.round(6).tolist()
    ([1.2], [4.0])
    """
    best = np.argmax(values, axis=-1)
    low, high = grid[np.maximum(best - 1, 0)], grid[np.minimum(best + 1, grid.size - 1)]
    place, value = grid[best], np.take_along_axis(values, best[..., None], axis=-1)[..., 0]
    share = np.linspace(0.0, 1.0, points)
    for _ in range(rounds):
        places = low[..., None] + (high - low)[..., None] * share
        found = f(places)
        k = np.argmax(found, axis=-1)
        here = np.take_along_axis(found, k[..., None], axis=-1)[..., 0]
        at = np.take_along_axis(places, k[..., None], axis=-1)[..., 0]
        place, value = np.where(here > value, at, place), np.maximum(here, value)
        step = (high - low) / (points - 1)
        low, high = np.maximum(place - step, low), np.minimum(place + step, high)
    return place, value
