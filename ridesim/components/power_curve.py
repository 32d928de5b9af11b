"""Torque against engine speed: points of a sheet become a monotone cubic that is never read outside its points."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from functools import cached_property
from typing import Any, Literal

import numpy as np
from numpy.typing import NDArray

from ridesim.errors import InputError
from ridesim.units import rpm

Array = NDArray[np.float64]


def power_w(engine_speed_rad_s: Any, torque_n_m: Any) -> Any:
    """Power of a torque at an engine speed:  P = T omega.

    Parameters
    ----------
    engine_speed_rad_s : float or array
        [rad/s]
    torque_n_m : float or array
        [N m]

    Returns
    -------
    float or array
        [W]

    Examples
    --------
    >>> float(round(power_w(628.3185, 37.0), 0))
    23248.0
    """
    return np.multiply(engine_speed_rad_s, torque_n_m)


@dataclass(frozen=True, kw_only=True, eq=False)
class PowerCurve:
    """Crank torque by engine speed, shape-preserving cubic (PCHIP) through the points.

    Parameters
    ----------
    engine_speed_rad_s : array, shape (K,)
        Rising, K >= 2. [rad/s]
    torque_n_m : array, shape (K,)
        At the crank. [N m]
    name : str
        The tune it belongs to.

    Examples
    --------
    >>> curve = PowerCurve(engine_speed_rad_s=np.array([200.0, 400.0, 600.0]), torque_n_m=np.array([30.0, 40.0, 30.0]), name="x")
    >>> float(curve.torque_at(400.0)), float(curve.torque_at(300.0))
    (40.0, 37.5)
    >>> curve.torque_at(100.0)
    Traceback (most recent call last):
    ...
    ridesim.errors.InputError: tune.x = '955 rev/min': is outside the curve's 1910 to 5730 rev/min. Add points, or ask inside them.
    """

    engine_speed_rad_s: Array
    torque_n_m: Array
    name: str = "tune"

    def __post_init__(self) -> None:
        speed, torque = (np.array(a, dtype=float) for a in (self.engine_speed_rad_s, self.torque_n_m))
        if speed.ndim != 1 or speed.shape != torque.shape or speed.size < 2:
            raise InputError(f"tune.{self.name}", f"{speed.size} points", "must be two points or more", "Add points.")
        if not (np.isfinite(speed).all() and np.isfinite(torque).all() and (np.diff(speed) > 0).all() and speed[0] > 0):
            problem = "must have rising, finite engine speeds and finite torques"
            raise InputError(f"tune.{self.name}", None, problem, "Sort the points.")
        for array in (speed, torque):
            array.setflags(write=False)
        object.__setattr__(self, "engine_speed_rad_s", speed)
        object.__setattr__(self, "torque_n_m", torque)

    @cached_property
    def coefficients(self) -> Array:
        """Cubic of each piece, highest power first, in (omega - left knot): shape (4, K-1). [N m/(rad/s)^n]"""
        return monotone_cubic(self.engine_speed_rad_s, self.torque_n_m)

    @property
    def first_rad_s(self) -> float:
        return float(self.engine_speed_rad_s[0])

    @property
    def last_rad_s(self) -> float:
        return float(self.engine_speed_rad_s[-1])

    def torque_at(self, engine_speed_rad_s: Any, *, outside: Literal["raise", "nan"] = "raise") -> Any:
        """Crank torque at engine speeds inside the points [N m]; outside them it refuses, or gives nan for a plot."""
        speed = np.asarray(engine_speed_rad_s, dtype=float)
        slack = 1e-9 * self.last_rad_s
        inside = (speed >= self.first_rad_s - slack) & (speed <= self.last_rad_s + slack)
        if outside == "raise" and not inside.all():
            worst = float(np.atleast_1d(speed)[~np.atleast_1d(inside)][0])
            problem = f"is outside the curve's {rpm(self.first_rad_s):.0f} to {rpm(self.last_rad_s):.0f} rev/min"
            fix = "Add points, or ask inside them."
            raise InputError(f"tune.{self.name}", f"{rpm(worst):.0f} rev/min", problem, fix)
        torque = evaluate(self.engine_speed_rad_s, self.coefficients, speed)
        return np.where(inside, torque, np.nan) if outside == "nan" else torque

    def upto(self, top_rad_s: float) -> PowerCurve:
        """The same curve ended at an engine speed (the rev limit); the shape below it does not change."""
        if top_rad_s >= self.last_rad_s:
            return self
        keep = self.engine_speed_rad_s < top_rad_s * (1 - 1e-12)
        knots = np.append(self.engine_speed_rad_s[keep], top_rad_s)
        torque = np.append(self.torque_n_m[keep], self.torque_at(top_rad_s))
        shorter = PowerCurve(engine_speed_rad_s=knots, torque_n_m=torque, name=self.name)
        shorter.__dict__["coefficients"] = self.coefficients[:, : knots.size - 1]
        return shorter

    def scaled(self, factor: float) -> PowerCurve:
        """The same curve with every torque times a factor."""
        scaled = PowerCurve(
            engine_speed_rad_s=self.engine_speed_rad_s, torque_n_m=self.torque_n_m * factor, name=self.name
        )
        scaled.__dict__["coefficients"] = self.coefficients * factor
        return scaled

    def peak_torque(self) -> tuple[float, float]:
        """(engine speed, torque) of the highest torque; a shape-preserving cubic has it at one of the points."""
        k = int(np.argmax(self.torque_n_m))
        return float(self.engine_speed_rad_s[k]), float(self.torque_n_m[k])

    def peak_power(self) -> tuple[float, float]:
        """(engine speed, power) of the highest power."""
        speed = np.sort(np.concatenate([np.linspace(self.first_rad_s, self.last_rad_s, 2001), self.engine_speed_rad_s]))
        power = power_w(speed, self.torque_at(speed))
        k = int(np.argmax(power))
        return float(speed[k]), float(power[k])


def monotone_cubic(x: Array, y: Array) -> Array:
    """Coefficients of the shape-preserving piecewise cubic (PCHIP) through points, highest power first.

    The slope at an inner point is the weighted harmonic mean of the secants beside it, 0 where they differ in sign, so
    the curve overshoots no point (Fritsch & Butland 1984). Worked here because scipy.interpolate, against which the
    tests hold it, takes longer to import than a whole answer takes.

    Parameters
    ----------
    x : array, shape (K,)
        Rising, K >= 2.
    y : array, shape (K,)

    Returns
    -------
    array, shape (4, K-1)
        In (x - left point).

    Examples
    --------
    >>> monotone_cubic(np.array([0.0, 1.0, 3.0]), np.array([0.0, 2.0, 2.0])).round(3).tolist()
    [[-1.333, 0.0], [0.667, 0.0], [2.667, 0.0], [0.0, 2.0]]
    """
    h = np.diff(x)
    secant = np.diff(y) / h
    if x.size == 2:
        return np.array([[0.0], [0.0], secant, [y[0]]])
    slope = np.zeros_like(y)
    left, right = secant[:-1], secant[1:]
    same = left * right > 0.0
    w_left, w_right = h[:-1] + 2.0 * h[1:], 2.0 * h[:-1] + h[1:]
    harmonic = w_left / np.where(same, left, 1.0) + w_right / np.where(same, right, 1.0)
    slope[1:-1] = np.where(same, (w_left + w_right) / np.where(same, harmonic, 1.0), 0.0)
    slope[0] = _end_slope(h[0], h[1], secant[0], secant[1])
    slope[-1] = _end_slope(h[-1], h[-2], secant[-1], secant[-2])
    bend = (slope[:-1] + slope[1:] - 2.0 * secant) / h
    return np.array([bend / h, (secant - slope[:-1]) / h - bend, slope[:-1], y[:-1]])


def _end_slope(h0: float, h1: float, secant0: float, secant1: float) -> float:
    """Three-point slope at an end, held so that the first piece keeps its shape."""
    slope = ((2.0 * h0 + h1) * secant0 - h0 * secant1) / (h0 + h1)
    if slope * secant0 <= 0.0:
        return 0.0
    if secant0 * secant1 <= 0.0 and abs(slope) > 3.0 * abs(secant0):
        return 3.0 * secant0
    return slope


def evaluate(knots: Array, coefficients: Array, at: Any) -> Array:
    """A piecewise cubic at any place; the end pieces are simply continued, so the caller keeps inside the knots.

    One piece from 1 on, (x - 1)^3 + 2 (x - 1) + 5, highest power first:

    >>> float(evaluate(np.array([1.0, 3.0]), np.array([[1.0], [0.0], [2.0], [5.0]]), 2.0))
    8.0
    """
    at = np.asarray(at, dtype=float)
    piece = np.clip(np.searchsorted(knots, at, side="right") - 1, 0, knots.size - 2)
    x = at - knots[piece]
    c3, c2, c1, c0 = coefficients[:, piece]
    return np.asarray(((c3 * x + c2) * x + c1) * x + c0)


def curve_from_points(
    points: Sequence[tuple[float, float]],
    *,
    kind: Literal["torque", "power"],
    measured_at: Literal["crank", "wheel"],
    efficiency: float,
    name: str,
) -> PowerCurve:
    """The crank torque curve of a sheet's points.

    Parameters
    ----------
    points : sequence of (engine speed, value)
        [rad/s] and [N m] or [W].
    kind : "torque" or "power"
        What the values are.
    measured_at : "crank" or "wheel"
        Wheel figures are taken as wheel power, or as wheel torque referred to crank speed, and divided by efficiency.
    efficiency : float
        Crank to tire. [-]
    name : str
        The tune.

    Examples
    --------
    >>> curve = curve_from_points([(200.0, 6000.0), (400.0, 14000.0)], kind="power", measured_at="crank", efficiency=0.93, name="x")
    >>> [float(t) for t in curve.torque_n_m]
    [30.0, 35.0]
    """
    speed, value = np.array(points, dtype=float).T
    torque = value / speed if kind == "power" else value
    if measured_at == "wheel":
        torque = torque / efficiency
    return PowerCurve(engine_speed_rad_s=speed, torque_n_m=torque, name=name)
