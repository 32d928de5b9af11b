"""A torque curve cut into short cubic pieces: the grid on which signs are watched, and exact evaluation anywhere."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray

from ridesim.parts.power_curve import PowerCurve
from ridesim.units import rad_s

Array = NDArray[np.float64]
LONGEST_PIECE_RAD_S = float(rad_s(500.0))


@dataclass(frozen=True, kw_only=True, eq=False)
class Pieces:
    """Cubic pieces of a torque curve.

    edges : (J+1,) engine speeds [rad/s]; coefficients : (4, J), lowest power first, in (omega - left edge);
    grid : (2J+1,) edges and middles, with the torque there [N m].
    """

    edges: Array
    coefficients: Array
    grid: Array
    grid_torque: Array

    @property
    def first(self) -> float:
        return float(self.edges[0])

    @property
    def last(self) -> float:
        return float(self.edges[-1])

    def torque(self, engine_speed: Any) -> Array:
        """Torque at engine speeds, which the caller keeps inside the edges. [N m]"""
        at = np.asarray(engine_speed, dtype=float)
        j = np.minimum(np.maximum(np.searchsorted(self.edges, at, side="right") - 1, 0), self.edges.size - 2)
        x = at - self.edges[j]
        c0, c1, c2, c3 = (row[j] for row in self.coefficients)
        return np.asarray(((c3 * x + c2) * x + c1) * x + c0)


def pieces_of(curve: PowerCurve, longest: float = LONGEST_PIECE_RAD_S) -> Pieces:
    """Cut every cubic of a curve into equal parts no longer than `longest`. [rad/s]

    >>> curve = PowerCurve(engine_speed_rad_s=np.array([200.0, 400.0, 600.0]), torque_n_m=np.array([30.0, 40.0, 30.0]))
    >>> pieces = pieces_of(curve)
    >>> float(abs(pieces.torque(350.0) - curve.torque_at(350.0))) < 1e-12
    True
    """
    knots, cubic = curve.engine_speed_rad_s, curve.coefficients[::-1]
    parts = np.maximum(np.ceil(np.diff(knots) / longest).astype(int), 1)
    of = np.repeat(np.arange(parts.size), parts)
    share = np.concatenate([np.arange(n) / n for n in parts])
    left = knots[of] + share * np.diff(knots)[of]
    d = left - knots[of]
    c0, c1, c2, c3 = cubic[:, of]
    shifted = np.array([((c3 * d + c2) * d + c1) * d + c0, (3 * c3 * d + 2 * c2) * d + c1, 3 * c3 * d + c2, c3])
    edges = np.append(left, knots[-1])
    grid = np.empty(2 * edges.size - 1)
    grid[0::2], grid[1::2] = edges, 0.5 * (edges[:-1] + edges[1:])
    return Pieces(edges=edges, coefficients=shifted, grid=grid, grid_torque=np.asarray(curve.torque_at(grid)))
