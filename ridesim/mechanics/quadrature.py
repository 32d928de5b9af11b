"""Time and distance to cross short stretches of engine speed, where acceleration is the least of three polynomials.

On one cubic piece of the torque curve, in one gear, everything is a polynomial in x = omega - left edge: the engine's
acceleration a cubic, the accelerations that lift the front or spin the rear quadratics. Where another of the three
becomes the least, the stretch is cut at the exact crossing. Close to top speed, where the engine's cubic falls to nothing, its root
is divided out and its logarithm integrated by itself. A stretch over which 1/a still varies by more than half, or over which a bends
much, is halved until it does not. What is left is smooth enough for five Lobatto points.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property
from typing import Any

import numpy as np
from numpy.typing import NDArray

from ridesim.mechanics.motion import NEVER
from ridesim.mechanics.pieces import NODES, WEIGHTS
from ridesim.mechanics.roots import newton_in_bracket

Array = NDArray[np.float64]
_MOST_HALVINGS = 60
_ROOT_STEPS = 6
_TIE = 1e-9
# how far 1/a may vary over a stretch, and how far a may bend off the straight line between its ends, as a share of the least: five
# Lobatto points are then good to about a millionth
_SMOOTH, _BENT = 1.5, 0.1


@dataclass(frozen=True, kw_only=True, eq=False)
class Stretches:
    """Stretches of engine speed, (P,) each, between low and high in x = omega - edge.

    engine (4, P), lift (3, P) and traction (3, P) are the accelerations' coefficients in x, lowest power first [m/s2 ...];
    metres (P,) is r/i, the road travelled for each radian, start_m_s (P,) the road speed at x = 0.
    """

    low: Array
    high: Array
    engine: Array
    lift: Array
    traction: Array
    metres: Array
    start_m_s: Array

    def take(self, which: Any) -> Stretches:
        """Some of the stretches, by mask or number; `np.take` copies columns several times faster than an index does."""
        if which.dtype == bool:
            which = np.nonzero(which)[0]
        return Stretches(**{n: np.take(getattr(self, n), which, axis=-1) for n in self.__dataclass_fields__})

    def between(self, low: Array, high: Array) -> Stretches:
        return Stretches(
            low=low,
            high=high,
            engine=self.engine,
            lift=self.lift,
            traction=self.traction,
            metres=self.metres,
            start_m_s=self.start_m_s,
        )

    @cached_property
    def unlimited(self) -> bool:
        """Whether neither limit can come into force on any of the stretches."""
        return bool((np.minimum(self.lift[0], self.traction[0]) >= NEVER).all())

    def engine_at(self, x: Array) -> Array:
        """The engine's acceleration at x of shape (n, P) or (P,). [m/s2]"""
        e = self.engine
        return np.asarray(((e[3] * x + e[2]) * x + e[1]) * x + e[0])

    def three(self, x: Array) -> Array:
        """The three accelerations at x of shape (n, P) or (P,): stacked on a new first axis. [m/s2]"""
        q, t = self.lift, self.traction
        values = np.empty((3, *x.shape))
        values[0] = self.engine_at(x)
        values[1] = (q[2] * x + q[1]) * x + q[0]
        values[2] = (t[2] * x + t[1]) * x + t[0]
        return values


def crossing_times(stretches: Stretches) -> tuple[Array, Array]:
    """Time [s] and distance [m] to accelerate across each stretch; inf where the acceleration falls to nothing on the way.

    Exact to about 1e-7 of each stretch (compared in the tests with solve_ivp at rtol 1e-10).
    """
    size = stretches.low.size
    time, distance = np.zeros(size), np.zeros(size)
    owner, work = np.arange(size), stretches
    for _ in range(_MOST_HALVINGS):
        done, dt, dx, cut = _attempt(work)
        time += np.bincount(owner[done], weights=dt, minlength=size)
        distance += np.bincount(owner[done], weights=dx, minlength=size)
        if done.all():
            return time, distance
        left = work.take(~done)
        owner = np.concatenate([owner[~done]] * 2)
        first, second = left.between(left.low, cut), left.between(cut, left.high)
        work = Stretches(
            **{
                name: np.concatenate([getattr(first, name), getattr(second, name)], axis=-1)
                for name in Stretches.__dataclass_fields__
            }
        )
    time[owner], distance[owner] = np.inf, np.inf
    return time, distance


def _attempt(s: Stretches) -> tuple[NDArray[np.bool_], Array, Array, Array]:
    """Which stretches are smooth enough, their time and distance, and where to cut the others."""
    width = s.high - s.low
    x = s.low + width * NODES[:, None]
    mixed = None
    if s.unlimited:
        a = s.engine_at(x)
    else:
        three = s.three(x)
        a = three.min(axis=0)
        rules = np.argmin(three[:, 2], axis=0)  # the limit in force at the middle should be so everywhere
        ruling = three[rules, :, np.arange(rules.size)].T
        mixed = (ruling - a > _TIE * np.abs(a) + 1e-12).any(axis=0)
    least = a.min(axis=0)
    stuck = ~(least > 0.0)
    done = stuck | ((a.max(axis=0) <= _SMOOTH * least) & (np.abs(0.5 * (a[0] + a[4]) - a[2]) <= _BENT * least))
    if mixed is not None:
        mixed &= ~stuck
        done &= ~mixed
    slowness = s.metres / np.where(stuck, 1.0, a)
    dt = width * (WEIGHTS @ slowness)
    dx = width * (WEIGHTS @ (slowness * (s.start_m_s + s.metres * x)))
    dt[stuck], dx[stuck] = np.inf, np.inf
    if done.all():
        return done, dt, dx, width[:0]
    steep = np.nonzero(~done if mixed is None else ~done & ~mixed & (rules == 0))[0]
    if steep.size:
        usable, time, distance = _past_the_root(s.take(steep))
        steep = steep[usable]
        done[steep], dt[steep], dx[steep] = True, time[usable], distance[usable]
    go_on = ~done
    cut = s.low + 0.5 * width
    if mixed is not None and mixed.any():
        cut[mixed] = _crossing(s.take(mixed), x[:, mixed], ruling[:, mixed], three[:, :, mixed], rules[mixed])
    return done, dt[done], dx[done], cut[go_on]


def _past_the_root(s: Stretches) -> tuple[NDArray[np.bool_], Array, Array]:
    """Time and distance where the engine's cubic falls towards a root not far past the end, and where that way can be gone.

    With a = (x_t - x) b(x):  1/a = 1/(b_t (x_t - x)) + (b_1 + b_2 (x_t + x))/(b_t b),  and  v/a = v_t/a - (r/i)/b.
    """
    c0, c1, c2, c3 = s.engine
    x_t = s.high
    for _ in range(_ROOT_STEPS):  # from below, where the cubic is positive and falls
        slope = (3.0 * c3 * x_t + 2.0 * c2) * x_t + c1
        x_t = x_t - (((c3 * x_t + c2) * x_t + c1) * x_t + c0) / np.where(slope < 0.0, slope, -np.inf)
    left = ((c3 * x_t + c2) * x_t + c1) * x_t + c0
    b2, b1 = -c3, -(c2 + x_t * c3)
    b0 = -(c1 + x_t * (c2 + x_t * c3))
    x = s.low + (s.high - s.low) * NODES[:, None]
    b = (b2 * x + b1) * x + b0
    b_t = (b2 * x_t + b1) * x_t + b0
    # the root is met to rounding, seen from the end of the stretch, and what is divided out is smooth
    scale = np.abs(c0) + np.abs(c1 * x_t)
    found = (
        (x_t > s.high)
        & (np.abs(left) <= 1e-13 * scale)
        & (b_t > 0.0)
        & (b.min(axis=0) > 0.0)
        & (b.max(axis=0) <= _SMOOTH * b.min(axis=0))
    )
    b, b_t, x_t = np.where(found, b, 1.0), np.where(found, b_t, 1.0), np.where(found, x_t, s.high + 1.0)
    width = s.high - s.low
    smooth = width * (WEIGHTS @ ((b1 + b2 * (x_t + x)) / (b_t * b)))
    time = s.metres * (np.log((x_t - s.low) / (x_t - s.high)) / b_t + smooth)
    distance = (s.start_m_s + s.metres * x_t) * time - s.metres**2 * width * (WEIGHTS @ (1.0 / b))
    return found, time, distance


def _crossing(s: Stretches, x: Array, ruling: Array, three: Array, rules: Array) -> Array:
    """Where the limit in force at the middle hands over to the one that undercuts it most."""
    rows = np.arange(rules.size)
    worst = np.argmax(ruling - three.min(axis=0), axis=0)
    rival = np.argmin(three[:, worst, rows], axis=0)
    polynomials = np.zeros((3, 4, rules.size))
    polynomials[0], polynomials[1, :3], polynomials[2, :3] = s.engine, s.lift, s.traction
    c0, c1, c2, c3 = (polynomials[rules, :, rows] - polynomials[rival, :, rows]).T

    def lead(at: Array) -> tuple[Array, Array]:
        return ((c3 * at + c2) * at + c1) * at + c0, (3.0 * c3 * at + 2.0 * c2) * at + c1

    ends = x[2], x[worst, rows]
    forward = ends[0] < ends[1]
    low, high = np.where(forward, *ends), np.where(forward, *ends[::-1])
    cut = newton_in_bracket(lead, low, high, lead(low)[0], lead(high)[0])
    # keep off the ends, so that both parts shrink
    margin = 1e-9 * (s.high - s.low)
    return np.asarray(np.minimum(np.maximum(cut, s.low + margin), s.high - margin))
