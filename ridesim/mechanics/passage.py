"""Time and distance to accelerate from one engine speed of a gear to another, cell by cell of the torque curve.

Over a cell the acceleration is taken as the parabola through its values at the ends and in the middle, and that is integrated
exactly. A cell in which another limit takes over, or which bends much, is cut into small ones.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import Any

import numpy as np
from numpy.typing import NDArray

from ridesim.mechanics.setups import Array, Index
from ridesim.mechanics.traction import Forces, GearRows

NEVER_S = 1e5
_STANDS_S = 1e6  # given to a cell that is never crossed: more than NEVER_S, little enough to be subtracted again
_SERIES = 0.1  # of 1 - p up to which a short series is good to 1e-6
_NEARLY_1 = 1.0 - 1e-15
_STRAIGHT = 1e-7  # bend below which the acceleration is a straight line
_BENT, _PARTS, _ROUNDS = 0.015, 4, 5  # bend above which a cell is cut, into how many parts, and how often


def parabola_passage(
    speed: Array, gain: Array, left: Array, middle: Array, right: Array, twist: Any = 0.0
) -> tuple[Array, Array, Array]:
    """Time and distance to gain speed while the acceleration is a parabola in the speed.

    With c = 2 a_m - (a_0 + a_1)/2 and p = a_0 a_1 / c^2 the integral of dv/a is

        t = dv/c Th(1 - p),    Th(q) = artanh(sqrt q)/sqrt q, for q < 0 arctan(sqrt -q)/sqrt -q,

    which stays right where the acceleration falls to nothing at an end. With u from -1 to 1 over the gain and a_m' the mean of the
    ends, the integral of the slope of a over a is ln(a_1/a_0), so  int u dt = ((a_1 - a_0) t - dv ln(a_1/a_0)) / (4 (a_m - a_m')).

    Parameters
    ----------
    speed, gain : array
        Where it begins, and how much is gained, dv. [m/s]
    left, middle, right : array
        Acceleration at the beginning, half way and at the end. [m/s2]
    twist : float or array
        By how much twist (u^3 - u) it stands off the parabola, to the first order; little. [m/s2]

    Returns
    -------
    tuple of three arrays
        Time [s], distance [m], and how much it bends and twists, as a share of the mean of the ends. Where the acceleration is
        nothing on the way the time is 1e6 s.

    Examples
    --------
    250 kg pushed by 400 N against 0.36 v^2 from rest to 25 m/s: t = sqrt(m^2/(F k)) artanh(v sqrt(k/F)), x = m/(2 k) ln(F/(F - k v^2)).

    >>> a = [np.array([(400 - 0.36 * v**2) / 250]) for v in (0.0, 12.5, 25.0)]
    >>> t, x, _ = parabola_passage(np.zeros(1), np.full(1, 25.0), *a)
    >>> round(float(t[0]), 5), round(250 / 12 * float(np.arctanh(0.75)), 5)
    (20.2699, 20.2699)
    >>> round(float(x[0]), 4), round(250 / 0.72 * float(np.log(400 / 175)), 4)
    (287.0412, 287.0412)
    """
    moves = np.minimum(left, right) > 0.0
    per = 2.0 / np.where(moves, left + right, 1.0)
    bend = middle * per - 1.0
    moves &= bend > -0.5
    bend = np.where(moves, bend, 0.0)
    z = 0.5 * per * (right - left)
    pace, steadier = gain * per, 1.0 / (1.0 + 2.0 * bend)
    p = left * right * np.square(per * steadier)
    q, z2 = 1.0 - p, z * z
    theta = _polynomial(q, 1.0 / 9.0, 1.0 / 7.0, 0.2, 1.0 / 3.0, 1.0)
    skew = _polynomial(z2, -1.0 / 7.0, -0.2, -1.0 / 3.0)  # int u dt over pace, to the first order in bend
    skew += (4.0 / 15.0) * bend
    skew *= z
    odd = (4.0 / 15.0) * z * (1.0 + (6.0 / 7.0) * z2)  # by how much a twist shortens t
    steep = np.nonzero((np.abs(q) > _SERIES) & moves)
    if steep[0].size:
        q, p, b, zs = q[steep], p[steep], bend[steep], z[steep]
        root = np.sqrt(np.abs(q))
        with np.errstate(divide="ignore", invalid="ignore"):
            theta[steep] = exact = np.where(q > 0.0, np.log1p(root) - 0.5 * np.log(p), np.arctan(root)) / root
            even = (1.0 - exact) / zs
            curved = (2.0 * zs * exact / (1.0 + 2.0 * b) - np.log(right[steep] / left[steep])) / (4.0 * b)
            line = (np.arctanh(np.minimum(np.abs(zs), _NEARLY_1)) / np.abs(zs) - 1.0) / zs**2
            twisted = ((3.0 - zs**2) * line - 1.0) / zs
        skew[steep] = np.where(np.abs(b) < _STRAIGHT, even, curved)
        odd[steep] = np.where(np.abs(zs) > 0.3, twisted, odd[steep])
    theta *= steadier
    theta -= odd * (per * twist)
    time = pace * theta
    distance = (speed + 0.5 * gain) * time + 0.5 * gain * pace * skew
    if not moves.all():
        dips = ~moves & (np.minimum(np.minimum(left, right), middle) > 0.0)
        bend = np.where(moves, bend, np.where(dips, 1.0, 0.0))  # what dips between its three values is looked at closer
        time = np.where(moves, time, _STANDS_S)
        distance = np.where(moves, distance, _STANDS_S * speed)  # it keeps the speed it has
    return time, distance, np.abs(bend)


def _polynomial(x: Array, *coefficients: float) -> Array:
    """A polynomial, highest power first, with no array made but its own."""
    value = coefficients[0] * x
    for coefficient in coefficients[1:-1]:
        value += coefficient
        value *= x
    value += coefficients[-1]
    return np.asarray(value)


def _running_sums(values: Array) -> Array:
    """Sums of the rows above each row; row by row, which is much quicker than np.cumsum along a column."""
    sums = np.empty((len(values) + 1, *values.shape[1:]))
    sums[0] = 0.0
    for n, value in enumerate(values):
        np.add(sums[n], value, out=sums[n + 1])
    return sums


@dataclass(frozen=True, eq=False)
class Passage:
    """Running time and distance at the edges of the cells, (J+1, R), by the engine alone or with the limits held to."""

    rows: GearRows
    limited: bool
    time: Array
    distance: Array

    def pulls(self, k: Index, w: Array) -> Array:
        """Acceleration of the rows k at engine speeds. [m/s2]"""
        forces = self.rows.take(k).at(w)
        return forces.held_back if self.limited else forces.engine

    def between(self, k: Index, low: Array, high: Array) -> tuple[Array, Array]:
        """Time [s] and distance [m] from engine speed low to high in the rows k: whole cells, and the parts of cells at both ends."""
        cells, size = self.rows.cells, self.time.shape[1]
        first, last = cells.cell_of(low), cells.cell_of(high)
        apart = last > first
        starts = np.concatenate([low, cells.edges.take(last)])
        ends = np.concatenate([np.where(apart, cells.edges.take(first + 1), high), high])
        parts = _stretch(self.rows.take(np.concatenate([k, k])), starts, ends, self.limited).reshape(2, 2, k.size)
        begin, end = (first + 1) * size + k, last * size + k
        whole = [sums.ravel().take(end) - sums.ravel().take(begin) for sums in (self.time, self.distance)]
        time, distance = parts[:, 0] + np.where(apart, parts[:, 1] + whole, 0.0)
        return time, distance


def passage(rows: GearRows, *, limited: bool = False, free: Passage | None = None) -> Passage:
    """Every cell of every row crossed, and added up; rows that no limit can touch are taken from the passage by the engine alone."""
    if free is not None:
        some = _may_be_limited(rows)
        time, distance = free.time.copy(), free.distance.copy()
        if some.size:
            own = passage(rows.take(some), limited=True)
            time[:, some], distance[:, some] = own.time, own.distance
        return replace(free, limited=True, time=time, distance=distance)
    time, distance, rough = _crossed(rows.seen, limited)
    j, k = np.nonzero(rough)
    if j.size:
        time[j, k], distance[j, k] = _cut(rows.take(k), rows.cells.edges[j], rows.cells.edges[j + 1], limited)
    return Passage(rows, limited, _running_sums(time), _running_sums(distance))


def _may_be_limited(rows: GearRows) -> Index:
    """Rows whose engine somewhere reaches what lifts the front or spins the rear.

    Both limits fall as the speed rises, as drag unloads the front, and loads the rear by less than it pushes unless it acts high up.
    """
    ends = rows.at(np.array([[rows.cells.first], [rows.cells.last]]))
    rises = rows["friction"] * rows["drag_height_m"] > rows["wheelbase_m"]
    return np.nonzero((rows.seen.engine.max(axis=0) >= np.minimum(ends.lift[1], ends.spin[1])) | rises)[0]


def _stretch(rows: GearRows, low: Array, high: Array, limited: bool, rounds: int = _ROUNDS) -> Array:
    """Time and distance over short stretches of P rows, (2, P)."""
    time, distance, rough = _crossed(rows.at(low + np.array([[0.0], [0.5], [1.0]]) * (high - low)), limited)
    crossed, nothing = np.concatenate([time, distance]), high <= low
    crossed[:, nothing] = 0.0
    n = np.nonzero(rough[0] & ~nothing)[0]
    if n.size and rounds:
        crossed[:, n] = _cut(rows.take(n), low[n], high[n], limited, rounds)
    return crossed


def _cut(rows: GearRows, low: Array, high: Array, limited: bool, rounds: int = _ROUNDS) -> Array:
    """The same by small parts."""
    edges = low + np.linspace(0.0, 1.0, _PARTS + 1)[:, None] * (high - low)
    parts = rows.take(np.tile(np.arange(low.size), _PARTS))
    each = _stretch(parts, edges[:-1].ravel(), edges[1:].ravel(), limited, rounds - 1)
    return np.asarray(each.reshape(2, _PARTS, -1).sum(axis=1))


def _crossed(forces: Forces, limited: bool) -> tuple[Array, Array, NDArray[np.bool_]]:
    """Time, distance and whether it is too rough for that, over cells with nodes (2J+1, R) at their ends and in their middles: (J, R)."""
    rows, v, a = forces.rows, forces.speed, forces.held_back if limited else forces.engine
    half = 0.5 * (forces.w[2::2] - forces.w[:-2:2])
    cubic = rows.cells.coefficients[3].take(rows.cells.cell_of(forces.w[1::2])) * half**3
    twist = cubic * (rows["force_per_torque"] / rows["effective_mass"])
    if limited:
        rules = forces.ruled_by
        twist = np.where(rules[1::2] == 0, twist, 0.0)
    time, distance, bend = parabola_passage(v[:-2:2], v[2::2] - v[:-2:2], a[:-2:2], a[1::2], a[2::2], twist)
    rough = bend > _BENT
    if limited:
        rough |= (rules[:-2:2] != rules[1::2]) | (rules[1::2] != rules[2::2])
    return time, distance, rough
