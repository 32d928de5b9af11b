"""One look at every gear of every set-up at all nodes of the torque curve, block by block so that the arrays stay small.

What is kept of it: where things are highest, how far up a gear pulls, and the time and distance to cross every piece.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray

from ridesim.mechanics.motion import Motion
from ridesim.mechanics.peaks import peak, rivals
from ridesim.mechanics.pieces import NODES
from ridesim.mechanics.roots import newton_in_bracket

Array = NDArray[np.float64]
Index = NDArray[np.intp]
BLOCK = 1300  # rows of a block: at 69 nodes 0.7 MB; no power of two, so that rows do not share cache sets
_TIE = 0.01  # how much of its height a hump may rise between two points of the grid
SLOWEST = 1e-6  # an acceleration below this counts as none when pieces are judged [m/s2]
# the factor by which 1/a may vary over a plain piece, and how far a may bend off the straight line between its ends, as a share of
# the least: five Lobatto points then integrate 1/a to 7e-6 of the piece at worst, to about 1e-7 as a rule
UNEVEN, BENT = 2.0, 0.1


@dataclass(frozen=True, kw_only=True, eq=False)
class Survey:
    """What was seen, for R = S x G rows; indices are those of the grid.

    strongest, nearest : where the engine's acceleration, and its lead over the one that lifts, are highest;
    steepest, ratio : where their ratio is highest, and how high (inf where the front is light by itself and still lifts);
    pulls_to : highest point at which the engine holds the speed (the last one where it holds none);
    crest : above that, or anywhere where it holds none, the point up to which the engine comes nearest to holding one again; -1 where
    its acceleration only falls;
    plain (J, 2R) : pieces over which one limit is in force and 1/a varies little;
    rough_before (J+1, 2R) : how many pieces below each edge are not plain;
    time, distance (J+1, 2R) : running integrals of 1/a and of omega/a at the edges, over plain pieces only.
    The second R rows are room for gears whose limits count.
    """

    strongest: Index
    nearest: Index
    steepest: Index
    ratio: Array
    pulls_to: Index
    crest: Index
    plain: NDArray[np.bool_]
    rough_before: NDArray[np.int16]
    time: Array
    distance: Array


def survey(motion: Motion) -> Survey:
    """Look at every row."""
    rows, count = motion.metres.size, motion.pieces.count
    found = Survey(
        strongest=np.empty(rows, np.intp),
        nearest=np.empty(rows, np.intp),
        steepest=np.empty(rows, np.intp),
        ratio=np.empty(rows),
        pulls_to=np.empty(rows, np.intp),
        crest=np.full(rows, -1),
        plain=np.empty((count, 2 * rows), bool),
        rough_before=np.empty((count + 1, 2 * rows), np.int16),
        time=np.empty((count + 1, 2 * rows)),
        distance=np.empty((count + 1, 2 * rows)),
    )
    for start in range(0, rows, BLOCK):
        part = slice(start, min(start + BLOCK, rows))
        engine = motion.engine_at_nodes(part)
        _highest(motion, part, engine[::2], found)
        add_integrals(found, part, motion, part, engine)
    return found


def _highest(motion: Motion, part: slice, engine: Array, found: Survey) -> None:
    found.strongest[part] = engine.argmax(axis=0)
    found.pulls_to[part] = engine.shape[0] - 1 - (engine[::-1] >= 0.0).argmax(axis=0)
    _crests(engine, found.pulls_to[part], found.crest[part])
    lift = motion.lift_at_grid(part)
    lead = engine - lift
    found.nearest[part] = lead.argmax(axis=0)
    if motion.pieces.humped:
        _higher_hump(motion, part, engine, found.strongest[part], 0.0)
        _higher_hump(motion, part, lead, found.nearest[part], 1.0)
    light = lift <= 0.0
    if light.any():
        ratio = np.where(light, np.where(lead >= 0.0, np.inf, -np.inf), engine / np.where(light, 1.0, lift))
        _without_bound(motion, part, lift, ratio)
    else:
        ratio = np.divide(engine, lift, out=lead)
    best = ratio.argmax(axis=0)
    if motion.pieces.humped:
        _higher_hump(motion, part, ratio, best, None)
    found.steepest[part] = best
    found.ratio[part] = ratio[best, np.arange(best.size)]


def _higher_hump(motion: Motion, part: slice, values: Array, best: Index, share: float | None) -> None:
    """Where two humps are about as high on the grid, put in the place of the one that is higher between its points.

    values (N, P) are engine accelerations less `share` of those that lift, or without a share the ratio of the two.
    """
    height = values[best, np.arange(best.size)]
    tall = np.isfinite(height)
    height[~tall] = 0.0
    k, other = rivals(values, best, np.where(tall, height - _TIE * np.abs(height), np.inf))
    if k.size == 0:
        return

    def top(place: Index) -> Array:
        if share is not None:
            found = peak(motion, place, share, rows=k + part.start)
            return found.engine - share * found.lift
        with np.errstate(divide="ignore", invalid="ignore"):  # no ratio where the front is light
            found = peak(motion, place, values[place, k], rounds=2, rows=k + part.start)
            return found.engine / found.lift

    higher = top(other) > top(best[k])
    best[k[higher]] = other[higher]


def _crests(engine: Array, pulls_to: Index, crest: Index) -> None:
    """Put in the points at which a second hump of the acceleration, between points of the grid, may reach above zero."""
    short = np.nonzero(engine[-1] < 0.0)[0]
    if short.size == 0:
        return
    least = pulls_to[short]
    least[least == len(engine) - 1] = 0  # it holds none
    some = engine.take(short, axis=1)
    rises = some[1:] > some[:-1]
    rises &= np.arange(len(rises))[:, None] >= least
    humps = np.nonzero(rises.any(axis=0))[0]
    if humps.size:
        crest[short[humps]] = 1 + np.where(rises[:, humps], some[1:, humps], -np.inf).argmax(axis=0)


def _without_bound(motion: Motion, part: slice, lift: Array, ratio: Array) -> None:
    """Mark as inf the points before which the front goes light by itself while the engine still pulls."""
    k, rows = np.nonzero((lift[:-1] > 0.0) & (lift[1:] <= 0.0))
    grid, whole = motion.pieces.grid, rows + part.start
    light = newton_in_bracket(motion.lift_of(whole).with_slope, grid[k], grid[k + 1], lift[k, rows], lift[k + 1, rows])
    pulls = motion.engine_of(whole).at(light) > 0.0
    ratio[k[pulls] + 1, rows[pulls]] = np.inf


def add_integrals(
    found: Survey, into: slice, motion: Motion, gears: Any, acceleration: Array, turns: NDArray[np.bool_] | None = None
) -> None:
    """Put into some rows, from accelerations (N, P), the plain pieces and the running integrals.

    A piece is not plain where `turns` says so, where 1/a varies much, and where a tail wind falls calm.
    """
    pieces = motion.pieces
    slow = np.maximum(acceleration, SLOWEST)
    left, middle, right = slow[:-1:4], slow[2::4], slow[4::4]
    least, most = np.minimum(left, right), np.maximum(left, right)
    plain = most <= UNEVEN * least
    plain &= least > SLOWEST
    bent = np.add(left, right, out=most)
    bent *= 0.5
    bent -= middle
    least *= BENT
    plain &= np.abs(bent, out=bent) <= least
    if turns is not None:
        plain &= ~turns
    if motion.calm is not None:
        calm = motion.calm[gears]
        plain &= (pieces.edges[:-1, None] >= calm) | (pieces.edges[1:, None] <= calm)
    found.plain[:, into] = plain
    np.divide(1.0, slow, out=slow)
    size, (node, row) = slow.shape[1], slow.strides
    by_piece = np.ndarray((pieces.count, NODES.size, size), buffer=slow, strides=(4 * node, node, row))
    integrals = np.matmul(pieces.lobatto, by_piece)
    integrals *= plain[:, None]
    _run_up(integrals[:, 0], found.time[:, into])
    _run_up(integrals[:, 1], found.distance[:, into])
    _run_up(~plain, found.rough_before[:, into])


def _run_up(values: NDArray[Any], sums: NDArray[Any]) -> None:
    """Sums of the rows of values above each row, starting from nothing; row by row, which is much quicker than along a column."""
    sums[0] = 0
    for before, value, after in zip(sums, values, sums[1:], strict=False):
        np.add(before, value, out=after)
