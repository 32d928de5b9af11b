"""A torque curve cut into short cubic pieces: exact evaluation anywhere, and the nodes at which everything is looked at.

Every piece has five Lobatto nodes: its ends, its middle and two between. The nodes are engine speeds, so they are the same for
every gear of every set-up, and so is the torque there.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property, lru_cache
from typing import Any

import numpy as np
from numpy.typing import NDArray

from ridesim.components.power_curve import PowerCurve
from ridesim.units import rad_s

Array = NDArray[np.float64]
LONGEST_PIECE_RAD_S = float(rad_s(400.0))  # so that of two humps of a curve the higher one is found
NODES = np.array([0.0, 0.5 - np.sqrt(3.0 / 28.0), 0.5, 0.5 + np.sqrt(3.0 / 28.0), 1.0])
WEIGHTS = np.array([0.05, 49.0 / 180.0, 16.0 / 45.0, 49.0 / 180.0, 0.05])
_MOST_CELLS = 4096


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

    @property
    def count(self) -> int:
        return int(self.edges.size) - 1

    @cached_property
    def widths(self) -> Array:
        return np.diff(self.edges)

    @cached_property
    def nodes(self) -> Array:
        """Engine speeds of all Lobatto nodes, (4J+1,); every second one is a point of the grid. [rad/s]"""
        inner = self.edges[:-1, None] + self.widths[:, None] * NODES[:-1]
        return np.append(inner.ravel(), self.edges[-1])

    @cached_property
    def basis(self) -> Array:
        """Torque, 1, omega and omega squared at the nodes, (4, 4J+1): what every acceleration is a sum of."""
        return np.array([self.torque(self.nodes), np.ones(self.nodes.size), self.nodes, self.nodes**2])

    @cached_property
    def lobatto(self) -> Array:
        """Weights by which the values of f at a piece's five nodes give its integrals of f and of omega f, (J, 2, 5)."""
        at = self.edges[:-1, None] + self.widths[:, None] * NODES
        weights = self.widths[:, None] * WEIGHTS
        return np.stack([weights, weights * at], axis=1)

    @cached_property
    def grid_slope(self) -> Array:
        """Slope of the torque at the points of the grid. [N m s/rad]"""
        return self.torque_and_slope(self.grid)[1]

    @cached_property
    def peak_torque(self) -> float:
        """A shape-preserving cubic stays between its points, so its peak is at an edge. [N m]"""
        return float(self.grid_torque[::2].max())

    @cached_property
    def humped(self) -> bool:
        """Whether the torque falls and rises again, so that an acceleration may have two humps of like height."""
        falls = np.diff(self.grid_torque) < 0.0
        return bool((falls[:-1] & ~falls[1:]).any())

    @cached_property
    def grid_basis(self) -> Array:
        """Torque, 1, omega and omega squared on the grid, (4, 2J+1)."""
        return np.ascontiguousarray(self.basis[:, ::2])

    @cached_property
    def _cells(self) -> tuple[float, NDArray[np.intp]] | None:
        """Equal cells no wider than the shortest piece: (cells for each rad/s, piece at each cell's left end)."""
        count = int(np.ceil((self.last - self.first) / self.widths.min()))
        if count > _MOST_CELLS:
            return None
        per = count / (self.last - self.first)
        return per, np.searchsorted(self.edges, self.first + np.arange(count) / per, side="right").clip(
            1, self.count
        ) - 1

    @cached_property
    def _right_edges(self) -> Array:
        return np.append(self.edges[1:-1], np.inf)

    def piece_of(self, engine_speed: Array) -> NDArray[np.intp]:
        """The piece that holds each engine speed; outside the edges, the nearest."""
        if self._cells is None:
            return np.searchsorted(self.edges[1:-1], engine_speed, side="right")
        per, pieces = self._cells
        j = pieces.take(((engine_speed - self.first) * per).astype(np.intp), mode="clip")
        j += engine_speed >= self._right_edges.take(j)
        return j

    def torque(self, engine_speed: Any) -> Array:
        """Torque at engine speeds, which the caller keeps inside the edges. [N m]"""
        at = np.asarray(engine_speed, dtype=float)
        j = self.piece_of(at)
        x = at - self.edges.take(j)
        c0, c1, c2, c3 = self.coefficients
        return np.asarray(((c3.take(j) * x + c2.take(j)) * x + c1.take(j)) * x + c0.take(j))

    def torque_and_slope(self, engine_speed: Array) -> tuple[Array, Array]:
        """Torque [N m] and its slope [N m s/rad] at engine speeds inside the edges."""
        j = self.piece_of(engine_speed)
        x = engine_speed - self.edges.take(j)
        c0, c1, c2, c3 = (row.take(j) for row in self.coefficients)
        c3x = c3 * x
        inner = c3x + c2
        return (inner * x + c1) * x + c0, (2.0 * inner + c3x) * x + c1


@lru_cache(maxsize=16)
def pieces_of(curve: PowerCurve, longest: float = LONGEST_PIECE_RAD_S) -> Pieces:
    """Cut every cubic of a curve into equal parts no longer than `longest` [rad/s]; a curve never changes, so it is cut once.

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
