"""The torque curve as the kernel reads it: short cubic cells with a node at each end and one in each middle."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property, lru_cache
from typing import Any

import numpy as np

from ridesim.components.power_curve import PowerCurve
from ridesim.mechanics.setups import Array, Index
from ridesim.units import rad_s

LONGEST_CELL_RAD_S = float(rad_s(360.0))
_UNEVEN = 3e-4  # of the peak torque: how far the cubic of a cell may stand off a parabola
_SLIP_CELLS = 16


@dataclass(frozen=True, kw_only=True, eq=False)
class TorqueCells:
    """Cells of a torque curve: edges (J+1,) [rad/s]; coefficients (4, J), lowest power first, in (omega - left edge)."""

    edges: Array
    coefficients: Array

    @property
    def first(self) -> float:
        return float(self.edges[0])

    @property
    def last(self) -> float:
        return float(self.edges[-1])

    @cached_property
    def nodes(self) -> Array:
        """Edges and middles, (2J+1,): the engine speeds at which every gear of every set-up is looked at. [rad/s]"""
        nodes = np.empty(2 * self.edges.size - 1)
        nodes[0::2], nodes[1::2] = self.edges, 0.5 * (self.edges[:-1] + self.edges[1:])
        return nodes

    @cached_property
    def peak(self) -> tuple[float, float]:
        """Engine speed and torque of the highest torque: a shape-preserving cubic has it at an edge. [rad/s], [N m]"""
        torque = self.torque(self.edges)
        return float(self.edges[torque.argmax()]), float(torque.max())

    def cell_of(self, w: Array) -> Index:
        """The cell that holds each engine speed; outside the edges the nearest."""
        return np.searchsorted(self.edges[1:-1], w, side="right")

    def torque(self, w: Any) -> Array:
        """Torque at engine speeds, which the caller keeps inside the edges. [N m]"""
        w = np.asarray(w, dtype=float)
        j = self.cell_of(w)
        x = w - self.edges.take(j)
        c0, c1, c2, c3 = (c.take(j) for c in self.coefficients)
        return np.asarray(((c3 * x + c2) * x + c1) * x + c0)


def steady(last_rad_s: float, torque_n_m: float) -> TorqueCells:
    """Cells of a torque that stays the same from standstill up: what a slipping clutch passes on, however fast the wheel turns."""
    coefficients = np.zeros((4, _SLIP_CELLS))
    coefficients[0] = torque_n_m
    return TorqueCells(edges=np.linspace(0.0, last_rad_s, _SLIP_CELLS + 1), coefficients=coefficients)


@lru_cache(maxsize=16)
def cells_of(curve: PowerCurve, longest_rad_s: float = LONGEST_CELL_RAD_S) -> TorqueCells:
    """Cut every cubic of a curve into equal cells, none longer than `longest_rad_s` and each nearly a parabola; a curve never changes, so it is cut once.

    >>> curve = PowerCurve(engine_speed_rad_s=np.array([200.0, 400.0, 600.0]), torque_n_m=np.array([30.0, 40.0, 30.0]))
    >>> float(abs(cells_of(curve).torque(350.0) - curve.torque_at(350.0))) < 1e-12
    True
    """
    knots, cubic = curve.engine_speed_rad_s, curve.coefficients[::-1]
    h = 0.5 * np.diff(knots)
    bends = np.abs(cubic[3]) * h**3 / (_UNEVEN * max(np.abs(curve.torque_n_m).max(), 1e-9))
    parts = np.maximum(np.ceil(np.maximum(2.0 * h / longest_rad_s, np.cbrt(bends))), 1.0).astype(int)
    of = np.repeat(np.arange(parts.size), parts)
    d = np.concatenate([np.arange(n) / n for n in parts]) * np.diff(knots)[of]
    c0, c1, c2, c3 = cubic[:, of]
    shifted = np.array([((c3 * d + c2) * d + c1) * d + c0, (3 * c3 * d + 2 * c2) * d + c1, 3 * c3 * d + c2, c3])
    return TorqueCells(edges=np.append(knots[of] + d, knots[-1]), coefficients=shifted)
