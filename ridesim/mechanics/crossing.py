"""Time and distance to accelerate between any two engine speeds of a gear.

Over plain pieces of the torque curve they are integrals known beforehand, and within one a quadrature of its own; pieces in which
the limit changes, the acceleration falls to nothing or a tail wind falls calm are cut there and integrated for themselves.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property

import numpy as np
from numpy.typing import NDArray

from ridesim.mechanics.motion import NEVER, Motion
from ridesim.mechanics.quadrature import Stretches, crossing_times
from ridesim.mechanics.survey import BLOCK, SLOWEST, Survey, add_integrals

Array = NDArray[np.float64]
Index = NDArray[np.intp]


_INNER, _OUTER = np.sqrt(3.0 / 7.0 - 2.0 / 7.0 * np.sqrt(1.2)), np.sqrt(3.0 / 7.0 + 2.0 / 7.0 * np.sqrt(1.2))
_GAUSS = 0.5 + 0.5 * np.array([-_OUTER, -_INNER, _INNER, _OUTER])  # four points of Gauss and Legendre in 0..1
_GAUSS_WEIGHTS = (18.0 + np.sqrt(30.0) * np.array([-1.0, 1.0, 1.0, -1.0])) / 72.0
_MOMENT_WEIGHTS = _GAUSS_WEIGHTS * _GAUSS


@dataclass(frozen=True, kw_only=True, eq=False)
class Crossings:
    """Every gear by its engine alone (rows 0 to R - 1), then, as further rows, the gears whose limits can come into force."""

    motion: Motion
    seen: Survey
    strongest: Array  # the highest engine acceleration of each gear (R,) [m/s2]

    @cached_property
    def limited(self) -> Index:
        """Gears in which the front might lift or the rear spin at some engine speed; their rows are filled here."""
        motion, pieces = self.motion, self.motion.pieces
        if motion.calm is not None:  # in a tail wind the limits are no parabolas, so that their ends do not bound them
            rows = np.arange(motion.metres.size)
        else:
            may = np.zeros(motion.metres.size, bool)
            for c0, c1, c2 in (motion.cap, motion.tire):
                first, last = c0 + (c1 + c2 * pieces.first) * pieces.first, c0 + (c1 + c2 * pieces.last) * pieces.last
                may |= (self.strongest >= np.minimum(first, last)) | (c2 > 0.0)
            rows = np.nonzero(may)[0]
        for start in range(0, rows.size, BLOCK):
            self._fill(rows[start : start + BLOCK], motion.metres.size + start)
        return rows

    def _fill(self, gears: Index, first: int) -> None:
        engine, (lift, tire) = self.motion.engine_at_nodes(gears), self.motion.caps_at_nodes(gears)
        cap = np.minimum(lift, tire)
        free, lifts = engine <= cap, lift <= tire
        turns = (free[1:] != free[:-1]) | ((lifts[1:] != lifts[:-1]) & ~(free[1:] & free[:-1]))
        by_piece = turns.reshape(self.motion.pieces.count, 4, gears.size).any(axis=1)
        add_integrals(
            self.seen, slice(first, first + gears.size), self.motion, gears, np.minimum(engine, cap), by_piece
        )

    @cached_property
    def run_row(self) -> Index:
        """For each gear the row to use when the limits count."""
        rows = np.arange(self.motion.metres.size)
        rows[self.limited] = rows.size + np.arange(self.limited.size)
        return rows

    @cached_property
    def gear_row(self) -> Index:
        """The gear of each row."""
        return np.concatenate([np.arange(self.motion.metres.size), self.limited])

    def running(self, rows: Index, w: Array) -> tuple[Array, Array]:
        """Integrals of 1/a and of omega/a from the first edge to engine speeds w, plain pieces only, for P rows."""
        pieces, seen = self.motion.pieces, self.seen
        j = pieces.piece_of(w)
        edge = pieces.edges.take(j)
        inside, moment = Within(self, rows, j).integrals(w - edge)
        k = j * seen.plain.shape[1] + rows
        plain = seen.plain.ravel().take(k)
        inside *= plain
        moment *= plain
        return seen.time.ravel().take(k) + inside, seen.distance.ravel().take(k) + edge * inside + moment

    def rough(self, rows: Index, low: Array, high: Array) -> tuple[Index, Index, Array, Array]:
        """Parts of the P intervals that lie in pieces that are not plain: (number of the interval, piece, low, high)."""
        pieces, before = self.motion.pieces, self.seen.rough_before
        edges, width = pieces.edges, before.shape[1]
        some = np.nonzero(
            before.ravel().take((pieces.piece_of(high) + 1) * width + rows)
            > before.ravel().take(pieces.piece_of(low) * width + rows)
        )[0]
        meets = ~self.seen.plain.take(rows[some], axis=1)
        meets &= edges[1:, None] > low[some]
        meets &= edges[:-1, None] < high[some]
        j, k = np.nonzero(meets)
        k = some[k]
        low, high = np.maximum(low[k], edges[j]), np.minimum(high[k], edges[j + 1])
        if self.motion.calm is not None:
            calm = self.motion.calm[self.gear_row[rows[k]]]
            cut = (calm > low) & (calm < high)
            k, j = np.concatenate([k, k[cut]]), np.concatenate([j, j[cut]])
            low, high = np.concatenate([low, calm[cut]]), np.concatenate([np.where(cut, calm, high), high[cut]])
        return k, j, low, high

    def stretches(self, rows: Index, j: Index, low: Array, high: Array) -> Stretches:
        """The accelerations on P parts of pieces."""
        motion, gear = self.motion, self.gear_row[rows]
        edge = motion.pieces.edges.take(j)
        below = None if motion.calm is None else 0.5 * (low + high) < motion.calm[gear]
        engine = np.array(motion.engine_in_piece(gear, j, below))
        lift = np.array(motion.quadratic_in_piece(motion.cap, 3, gear, j, below))
        tire = np.array(motion.quadratic_in_piece(motion.tire, 2, gear, j, below))
        free = rows < motion.metres.size
        for limit in (lift, tire):
            limit[0, free], limit[1:, free] = NEVER, 0.0
        metres = motion.metres[gear]
        return Stretches(
            low=low - edge,
            high=high - edge,
            engine=engine,
            lift=lift,
            traction=tire,
            metres=metres,
            start_m_s=metres * edge,
        )

    def crossing(self, rows: Index, j: Index, low: Array, high: Array) -> tuple[Array, Array]:
        """Time and distance to cross P parts of pieces; those that no limit touches go by themselves, which is quicker."""
        time, distance = np.empty(rows.size), np.empty(rows.size)
        capped = rows >= self.motion.metres.size
        for some in (np.nonzero(capped)[0], np.nonzero(~capped)[0]):
            if some.size:
                time[some], distance[some] = crossing_times(self.stretches(rows[some], j[some], low[some], high[some]))
        return time, distance

    def plain_between(self, rows: Index, low: Array, high: Array) -> tuple[Array, Array]:
        """Time [s] and distance [m] from engine speed low to high in P rows, over plain pieces only."""
        size = rows.size
        time, distance = self.running(np.concatenate([rows, rows]), np.concatenate([low, high]))
        metres = self.motion.metres[self.gear_row[rows]]
        return metres * (time[size:] - time[:size]), metres * metres * (distance[size:] - distance[:size])


class Within:
    """One plain piece for each of P rows: the integrals from its left edge to anywhere in it, by four Gauss points of their own."""

    def __init__(self, known: Crossings, rows: Index, j: Index) -> None:
        motion, gear = known.motion, known.gear_row[rows]
        edge = motion.pieces.edges.take(j)
        # a plain piece lies on one side of where a tail wind falls calm
        below = None if motion.calm is None else edge + 0.5 * motion.pieces.widths.take(j) < motion.calm[gear]
        self.engine = motion.engine_in_piece(gear, j, below)
        self.capped = np.nonzero(rows >= motion.metres.size)[0]
        if self.capped.size:
            some, at = gear[self.capped], j[self.capped]
            under = None if below is None else below[self.capped]
            self.caps = [
                motion.quadratic_in_piece(terms, which, some, at, under)
                for which, terms in ((3, motion.cap), (2, motion.tire))
            ]

    def slowness(self, x: Array) -> Array:
        """1/a at x = omega - edge, (..., P)."""
        c0, c1, c2, c3 = self.engine
        a = ((c3 * x + c2) * x + c1) * x + c0
        if self.capped.size:
            at = x[..., self.capped]
            for c0, c1, c2 in self.caps:
                a[..., self.capped] = np.minimum(a[..., self.capped], (c2 * at + c1) * at + c0)
        return np.divide(1.0, np.maximum(a, SLOWEST))

    def integrals(self, x: Array) -> tuple[Array, Array]:
        """Integrals of 1/a and of x/a from the left edge to x."""
        slow = self.slowness(x * _GAUSS[:, None])
        return x * (_GAUSS_WEIGHTS @ slow), x * x * (_MOMENT_WEIGHTS @ slow)
