"""Time and distance to cross short stretches of engine speed, where acceleration is the least of three polynomials.

On one cubic piece of the torque curve, in one gear, everything is a polynomial in x = omega - left edge: the engine's
acceleration a cubic, the accelerations that lift the front or spin the rear quadratics. Where another of the three
becomes the least, the stretch is cut at the exact crossing; where the time per rad/s varies by more than a factor two, as it
does close to top speed, it is halved until it does not. What is left is smooth enough for five Lobatto points.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from ridesim.mechanics.roots import bracketed_root

Array = NDArray[np.float64]
_NODES = np.array([0.0, 0.5 - np.sqrt(3.0 / 28.0), 0.5, 0.5 + np.sqrt(3.0 / 28.0), 1.0])
_WEIGHTS = np.array([0.05, 49.0 / 180.0, 16.0 / 45.0, 49.0 / 180.0, 0.05])
_MOST_HALVINGS = 60
_TIE = 1e-9


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

    def take(self, which: Array) -> Stretches:
        return Stretches(
            low=self.low[which], high=self.high[which], engine=self.engine[:, which], lift=self.lift[:, which],
            traction=self.traction[:, which], metres=self.metres[which], start_m_s=self.start_m_s[which])

    def between(self, low: Array, high: Array) -> Stretches:
        return Stretches(low=low, high=high, engine=self.engine, lift=self.lift, traction=self.traction,
                         metres=self.metres, start_m_s=self.start_m_s)

    def three(self, x: Array) -> Array:
        """The three accelerations at x of shape (P, n): (3, P, n). [m/s2]"""
        e, q, t = self.engine[..., None], self.lift[..., None], self.traction[..., None]
        return np.stack([
            ((e[3] * x + e[2]) * x + e[1]) * x + e[0], (q[2] * x + q[1]) * x + q[0], (t[2] * x + t[1]) * x + t[0]])


def crossing_times(stretches: Stretches) -> tuple[Array, Array]:
    """Time [s] and distance [m] to accelerate across each stretch; inf where the acceleration falls to nothing on the way.

    Exact to about 1e-7 of each stretch (compared in the tests with solve_ivp at rtol 1e-10).
    """
    time, distance = np.zeros_like(stretches.low), np.zeros_like(stretches.low)
    owner = np.arange(stretches.low.size)
    work = stretches
    for _ in range(_MOST_HALVINGS):
        done, dt, dx, cut = _attempt(work)
        np.add.at(time, owner[done], dt)
        np.add.at(distance, owner[done], dx)
        if done.all():
            return time, distance
        left, cut = work.take(~done), cut[~done]
        owner = np.concatenate([owner[~done]] * 2)
        first, second = left.between(left.low, cut), left.between(cut, left.high)
        work = Stretches(**{
            name: np.concatenate([getattr(first, name), getattr(second, name)], axis=-1) for name in Stretches.__dataclass_fields__})
    time[owner], distance[owner] = np.inf, np.inf
    return time, distance


def _attempt(s: Stretches) -> tuple[Array, Array, Array, Array]:
    """Which stretches are smooth enough, their time and distance, and where to cut the others."""
    width = s.high - s.low
    x = s.low[:, None] + width[:, None] * _NODES
    three = s.three(x)
    a = three.min(axis=0)
    rules = np.argmin(three[:, :, 2], axis=0)  # the limit in force at the middle should be so everywhere
    ruling = np.take_along_axis(three, rules[None, :, None], axis=0)[0]
    one_rules = (ruling <= a + _TIE * np.abs(a) + 1e-12).all(axis=1)
    stuck = (a <= 0.0).any(axis=1)
    smooth = a.max(axis=1) <= 2.0 * a.min(axis=1)
    done = stuck | (one_rules & smooth)
    cut = s.low + 0.5 * width
    mixed = ~one_rules & ~stuck
    if mixed.any():
        cut[mixed] = _crossing(s.take(mixed), x[mixed], ruling[mixed], three[:, mixed], rules[mixed])
    slowness = np.divide(s.metres[done, None], a[done], out=np.zeros_like(a[done]), where=~stuck[done, None])
    v = s.start_m_s[done, None] + s.metres[done, None] * x[done]
    never = stuck[done]
    dt = np.where(never, np.inf, width[done] * (slowness @ _WEIGHTS))
    dx = np.where(never, np.inf, width[done] * ((slowness * v) @ _WEIGHTS))
    return done, dt, dx, cut


def _crossing(s: Stretches, x: Array, ruling: Array, three: Array, rules: Array) -> Array:
    """Where the limit in force at the middle hands over to the one that undercuts it most."""
    rows = np.arange(rules.size)
    worst = np.argmax(ruling - three.min(axis=0), axis=1)
    rival = np.argmin(three[:, rows, worst], axis=0)

    def lead(at: Array) -> Array:
        values = s.three(at[:, None])[:, :, 0]
        return values[rules, rows] - values[rival, rows]

    cut = bracketed_root(lead, x[:, 2], x[rows, worst])
    # keep off the ends, so that both parts shrink
    margin = 1e-9 * (s.high - s.low)
    return np.clip(cut, s.low + margin, s.high - margin)
