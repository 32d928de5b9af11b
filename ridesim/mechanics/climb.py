"""The steepest climb of every gear: the most that engine, front wheel and rear tire allow together, over all engine speeds.

Each of the three slopes is an arc sine or arc cosine less a fixed angle, so its sine follows from one square root: speeds are
compared by their sines.
"""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

import numpy as np
from numpy.typing import NDArray

from ridesim.mechanics.motion import Motion
from ridesim.mechanics.peaks import peak, rivals
from ridesim.mechanics.roots import secant_in_bracket
from ridesim.mechanics.survey import BLOCK
from ridesim.units import G

Array = NDArray[np.float64]
Rows = NDArray[np.intp]
_TIE = 1e-3  # of the sine: how much a hump may rise between two points of the grid


def steepest_sines(motion: Motion, strongest_w: Array, strongest: Array) -> Array:
    """Sines of the slopes by engine, front lift and rear tire at the engine speed of the steepest climb, (3, R).

    Where front and tire hold at the slope of the engine's strongest speed, that is the place. Where they already do not at the
    curve's first point, and faster riding only makes that worse, it is there. Elsewhere it is the grid's best, or the place next to
    it where the engine's slope crosses the others' or where those are highest.

    strongest_w and strongest (R,) are where the engine's acceleration is highest, and how high.
    """
    by_setup = _by_setup(motion)
    sines = _sines(motion, by_setup, slice(None))(strongest_w, strongest)
    rows = np.nonzero(_lead(sines) > 0.0)[0]
    if rows.size:
        at_first = _sines(motion, by_setup, rows)(np.full(rows.size, motion.pieces.first))
        # drag always unloads the front, and loads the rear by less than it pushes unless it acts high up
        s = motion.setups
        worsens = s.friction * s.drag_height_m <= s.wheelbase_m
        early = (_lead(at_first) >= 0.0) & worsens[rows // s.ratios.shape[1]]
        sines[:, rows[early]] = at_first[:, early]
        rows = rows[~early]
    if rows.size:
        sines[:, rows] = _under_the_caps(motion, by_setup, rows)
    return sines


def _under_the_caps(motion: Motion, by_setup: Array, rows: Rows) -> Array:
    grid = motion.pieces.grid
    best, found = np.empty(rows.size, np.intp), np.empty((3, rows.size))
    # at the best point of the grid and its neighbours
    beside, leads = np.empty((3, rows.size)), np.empty((3, rows.size))
    others = []
    for start in range(0, rows.size, BLOCK):
        part = slice(start, start + BLOCK)
        sines = _sines(motion, by_setup, rows[part])(grid[:, None], motion.engine_at_grid(rows[part]))
        caps = np.minimum(sines[1], sines[2])
        least, lead = np.minimum(sines[0], caps), sines[0] - caps
        best[part] = place = least.argmax(axis=0)
        found[:, part] = sines[:, place, np.arange(place.size)]
        beside[:, part], leads[:, part] = _around(least, place), _around(lead, place)
        k, other = rivals(least, place, beside[1, part] - _TIE)
        others.append((start + k, other, _around(least[:, k], other), _around(lead[:, k], other)))
    height = beside[1].copy()
    _climb_higher(motion, by_setup, rows, np.arange(rows.size), best, beside, leads, found, height)
    for k, place, around, lead in others:
        if k.size:
            _climb_higher(motion, by_setup, rows, k, place, around, lead, found, height)
    return found


def _around(values: Array, place: Rows) -> Array:
    """Values of the grid at a place of each row and at its neighbours, (3, P)."""
    around = np.minimum(np.maximum(place + np.array([[-1], [0], [1]]), 0), len(values) - 1)
    return np.asarray(values[around, np.arange(place.size)])


def _climb_higher(
    motion: Motion,
    by_setup: Array,
    rows: Rows,
    k: Rows,
    place: Rows,
    beside: Array,
    leads: Array,
    found: Array,
    height: Array,
) -> None:
    """For the rows k look next to a place of the grid, where the lead changes sign or engine or caps are highest, and keep what is steeper."""
    grid = motion.pieces.grid
    below, above = np.maximum(place - 1, 0), np.minimum(place + 1, grid.size - 1)

    def cross(n: Rows, start: Array, end: Array, f_start: Array, f_end: Array) -> None:
        near = _sines(motion, by_setup, rows[k[n]])
        at = secant_in_bracket(lambda w: _lead(near(w)), start, end, f_start, f_end)
        _take_better(near(at), found, height, k[n])

    left, right = leads[0] * leads[1] < 0.0, leads[2] * leads[1] < 0.0
    n = np.nonzero(left | right)[0]
    if n.size:
        side = left[n]
        cross(
            n,
            grid[place[n]],
            grid[np.where(side, below[n], above[n])],
            leads[1, n],
            np.where(side, leads[0, n], leads[2, n]),
        )
    n = np.nonzero(~(left | right) & (below < place) & (place < above))[0]
    if n.size:
        at = peak(motion, place[n], 0.0, rows=rows[k[n]]).w
        capped = np.nonzero(leads[1, n] > 0.0)[0]
        at[capped] = _top_of_parabola(
            *(grid[around[n[capped]]] for around in (below, place, above)), *beside[:, n[capped]]
        )
        sines = _sines(motion, by_setup, rows[k[n]])(at)
        _take_better(sines, found, height, k[n])
        # a hump that reaches over the caps between two points of the grid is cut off where it first does
        cut = np.nonzero((_lead(sines) > 0.0) & (leads[0, n] < 0.0))[0]
        if cut.size:
            cross(n[cut], at[cut], grid[below[n[cut]]], _lead(sines)[cut], leads[0, n[cut]])


def _take_better(sines: Array, found: Array, height: Array, k: Rows) -> None:
    """Put what climbs more steeply into found and height."""
    least = sines.min(axis=0)
    better = least > height[k]
    found[:, k[better]], height[k[better]] = sines[:, better], least[better]


def _top_of_parabola(
    left: Array, middle: Array, right: Array, at_left: Array, at_middle: Array, at_right: Array
) -> Array:
    """Where the parabola through three points, the middle one highest, has its top."""
    a, b = (middle - left) * (at_middle - at_right), (right - middle) * (at_middle - at_left)
    both = a + b
    return middle + 0.5 * np.divide(
        (right - middle) * b - (middle - left) * a, both, out=np.zeros_like(both), where=both > 0.0
    )


def _lead(sines: Array) -> Array:
    return np.asarray(sines[0] - np.minimum(sines[1], sines[2]))


def _by_setup(motion: Motion) -> Array:
    """What the slopes of each set-up are made of, (13, S).

    With C the rolling coefficient, by engine  sin(th + atan C) = (F - F_D - f1 v) / (m g sqrt(1 + C^2)), by front
    cos(th + atan(h/b)) = F_D h_D / (m g sqrt(b^2 + h^2)), by tire  P sin th + Q cos th = S  (see traction_slope_rad).
    """
    s = motion.setups
    weight = s.mass_kg * G
    rolling = s.f0_n / weight
    steep = 1.0 / np.sqrt(1.0 + rolling**2)
    ahead = s.load_arm_m
    arm = np.hypot(ahead, s.height_m)
    sine = 1.0 - s.friction * s.height_m / s.wheelbase_m
    cosine = rolling - s.friction * (1.0 - ahead / s.wheelbase_m)
    size = np.hypot(sine, cosine)
    return np.array(
        [
            motion.steady[:, 0],
            steep / weight,
            rolling * steep,
            steep,
            s.drag_height_m / (weight * arm),
            ahead / arm,
            s.height_m / arm,
            (s.friction * s.drag_height_m / s.wheelbase_m - 1.0) / (weight * size),
            s.f1_n_s_m / (weight * size),
            sine / size,
            cosine / size,
            np.where(sine <= 0.0, -np.inf, np.where(cosine <= 0.0, sine / size, 1.0)),
            s.f2_n_s2_m2,
        ]
    )


def _sines(motion: Motion, by_setup: Array, rows: Any) -> Callable[..., Array]:
    """A function of engine speeds (..., P), and the engine's acceleration there where it is known, for P rows: (3, ..., P)."""
    s, gears = motion.setups, motion.setups.ratios.shape[1]
    setup = np.repeat(np.arange(len(s)), gears) if isinstance(rows, slice) else rows // gears
    (steady, per_weight, flat, steep, per_arm, lean, rise, per_size, f1, cut, tilt, enough, f2) = by_setup.take(
        setup, axis=1
    )
    metres, mass = motion.metres[rows], s.effective_mass.ravel()[rows]
    mass, steady = mass * per_weight, steady * per_weight
    acceleration, wind, any_f1 = motion.engine_of(rows), motion.ride.headwind_m_s, bool(s.f1_n_s_m.any())

    def sines(w: Array, engine: Array | None = None) -> Array:
        engine = acceleration.at(w) if engine is None else engine
        v = metres * w
        against = v + wind if wind else v
        drag = against * np.abs(against)
        drag *= f2
        result = np.empty((3, *v.shape))
        share = np.minimum(np.maximum(engine * mass + steady, -1.0), 1.0)
        np.subtract(share * steep, _other(share) * flat, out=result[0])
        load = np.minimum(np.maximum(drag * per_arm, -rise), 1.0)
        np.subtract(_other(load) * lean, load * rise, out=result[1])
        push = drag * per_size
        if any_f1:
            push -= f1 * v
        holds = push >= enough
        push = np.minimum(np.maximum(push, -1.0), 1.0)
        np.subtract(push * cut, _other(push) * tilt, out=result[2])
        result[2][holds] = 1.0
        return result

    return sines


def _other(sine: Array) -> Array:
    """sqrt(1 - x^2)."""
    square = sine * sine
    np.subtract(1.0, square, out=square)
    return np.sqrt(square, out=square)
