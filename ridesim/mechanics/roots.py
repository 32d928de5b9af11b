"""Roots and maxima of many functions at once, each inside its own bracket."""

from __future__ import annotations

from collections.abc import Callable

import numpy as np
from numpy.typing import NDArray

Array = NDArray[np.float64]
_LAST_STEP = 1e-8  # of the place itself
_MOST_STEPS = 80


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
            np.where(left, low, np.where(right, outer, inner)),
            np.where(left, f_low, np.where(right, f_outer, f_inner)),
            np.where(left, inner, np.where(right, high, outer)),
            np.where(left, f_inner, np.where(right, f_high, f_outer)),
        )
    return root


def newton_in_bracket(
    f: Callable[[Array], tuple[Array, Array]],
    low: Array,
    high: Array,
    f_low: Array,
    f_high: Array,
    last_step: float = _LAST_STEP,
) -> Array:
    """One root in each bracket by Newton's method, halving the bracket where Newton would leave it.

    Each element stops by itself after a step so small that what is left, about its square, does not matter, so that none depends
    on its neighbours.

    Parameters
    ----------
    f : callable
        Value and slope, element by element.
    low, high : array
        Ends of the brackets, low < high.
    f_low, f_high : array
        Values there, of opposite signs or zero.
    last_step : float
        The step to stop after, as a share of the place.

    Returns
    -------
    array
        Same shape.

    Examples
    --------
    >>> ends = (np.array([x]) for x in (0.0, 2.0, -2.0, 2.0))
    >>> newton_in_bracket(lambda x: (x**2 - 2.0, 2.0 * x), *ends).round(12).tolist()
    [1.414213562373]
    """
    apart = f_low - f_high
    share = np.divide(f_low, apart, out=np.zeros_like(apart), where=apart != 0.0)
    x = low + (high - low) * np.minimum(np.maximum(share, 0.0), 1.0)
    rises = f_low < 0.0
    done = np.zeros(x.shape, bool)
    for _ in range(_MOST_STEPS):
        value, slope = f(x)
        flat = slope == 0.0
        step = np.divide(value, np.where(flat, 1.0, slope))
        on_low_side = (value < 0.0) == rises
        low, high = np.where(on_low_side, x, low), np.where(on_low_side, high, x)
        new = x - step
        small = np.abs(step) <= last_step * np.abs(x)  # what is left after a step this small is its square
        outside = ((new < low) | (new > high) | flat) & ~small
        new = np.where(outside, 0.5 * (low + high), new)
        x = np.where(done, x, new)
        done |= small | (outside & (high - low <= _LAST_STEP**2 * np.abs(x)))
        if done.all():
            break
    return x


def secant_in_bracket(
    f: Callable[[Array], Array], low: Array, high: Array, f_low: Array, f_high: Array, rounds: int = 6
) -> Array:
    """One root in each bracket by the secant that keeps the bracket (the Illinois rule): for functions that bend little there.

    Parameters
    ----------
    f : callable
        Works element by element.
    low, high, f_low, f_high : array
        Ends of the brackets and the values there, of opposite signs.
    rounds : int
        Evaluations.

    Returns
    -------
    array
        Same shape.

    Examples
    --------
    >>> secant_in_bracket(lambda x: x**2 - 2.0, *(np.array([x]) for x in (1.4, 1.5, -0.04, 0.25))).round(8).tolist()
    [1.41421356]
    """
    for _ in range(rounds):
        root = (low * f_high - high * f_low) / (f_high - f_low)
        there = f(root)
        crossed = there * f_high < 0.0
        f_low = np.where(crossed, f_high, 0.5 * f_low)
        low, high, f_high = np.where(crossed, high, low), root, there
        f_high = np.where(f_high == 0.0, 1e-300, f_high)
    return np.asarray((low * f_high - high * f_low) / (f_high - f_low))


def cubic_peak(c1: Array, c2: Array, c3: Array, low: Array, high: Array, otherwise: Array) -> Array:
    """Where c1 x + c2 x^2 + c3 x^3 has its maximum, kept between low and high; `otherwise` where it has none.

    Parameters
    ----------
    c1, c2, c3 : array
        Coefficients.
    low, high, otherwise : array
        Bounds, and the place to give where the cubic only rises or falls.

    Returns
    -------
    array
        Same shape.

    Examples
    --------
    >>> one = np.ones(1)
    >>> cubic_peak(2.0 * one, -one, 0.0 * one, 0.0 * one, 5.0 * one, 0.0 * one).tolist()
    [1.0]
    """
    inside = c2 * c2 - 3.0 * c1 * c3
    root = np.sqrt(np.maximum(inside, 0.0))
    bends_down = c2 <= 0.0  # two forms of the same root, each without cancellation on its side
    over = np.where(bends_down, c1, -(c2 + root))
    under = np.where(bends_down, root - c2, 3.0 * c3)
    with np.errstate(over="ignore"):  # a place too far out to be held as a number lies beyond its bound
        place = np.divide(over, under, out=np.array(otherwise), where=(inside >= 0.0) & (under != 0.0))
    return np.asarray(np.minimum(np.maximum(place, low), high))
