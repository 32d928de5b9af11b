"""Every acceleration as a polynomial in the engine speed.

In one gear of one set-up, with v = (r/i) omega, the engine's acceleration is  gain T(omega) + a0 + a1 omega + a2 omega^2,  and the
accelerations that lift the front and that spin the rear are quadratics. So their values at the nodes of the torque curve,
for all gears of all set-ups at once, are products of small matrices, and inside one piece of the curve the engine's is a cubic.

A tail wind faster than the bike turns the sign of the drag: `bend` is what has to be added below that calm speed.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property
from typing import Any

import numpy as np
from numpy.typing import NDArray

from ridesim.mechanics.pieces import Pieces
from ridesim.mechanics.setups import Ride, SetUps
from ridesim.units import G

Array = NDArray[np.float64]
NEVER = 1e30  # acceleration of a tire that never spins [m/s2]; finite, so that 0 times it is 0


@dataclass(frozen=True, kw_only=True, eq=False)
class Motion:
    """Coefficients for R = S x G rows, gear by gear of set-up by set-up."""

    setups: SetUps
    pieces: Pieces
    ride: Ride

    @cached_property
    def metres(self) -> Array:
        """r/i, (R,). [m/rad]"""
        return self.setups.metres_per_radian.ravel()

    @cached_property
    def drag(self) -> Array:
        """Drag for a wind that stays against the bike, (3, S, G), lowest power of omega first. [N ...]"""
        wind, metres, f2 = self.ride.headwind_m_s, self.setups.metres_per_radian, self.setups.by_gear("f2_n_s2_m2")
        terms = np.empty((3, *metres.shape))
        terms[0] = f2 * wind**2
        along = f2 * metres
        terms[1] = (2.0 * wind) * along
        terms[2] = along * metres
        return terms

    @cached_property
    def steady(self) -> Array:
        """Rolling and grade, (S, 1). [N]"""
        s, th = self.setups, self.ride.slope_rad
        return np.asarray((s.f0_n * np.cos(th) + s.mass_kg * (G * np.sin(th)))[:, None])

    @cached_property
    def held(self) -> Array:
        """Moment that keeps the front down at rest, (S, 1). [N m]"""
        s, th = self.setups, self.ride.slope_rad
        return np.asarray((s.mass_kg * G * (s.load_arm_m * np.cos(th) - s.height_m * np.sin(th)))[:, None])

    @cached_property
    def engine(self) -> Array:
        """gain, a0, a1, a2: (4, R). [m/s2 ...]"""
        s = self.setups
        metres, per_mass = s.metres_per_radian, 1.0 / s.effective_mass
        terms = np.empty((4, *metres.shape))
        terms[0] = np.repeat(s.efficiency * s.torque_factor, metres.shape[1]).reshape(metres.shape) * per_mass / metres
        terms[1:] = -self.drag
        terms[1] -= np.repeat(self.steady, metres.shape[1]).reshape(metres.shape)
        if s.f1_n_s_m.any():
            terms[2] -= s.by_gear("f1_n_s_m") * metres
        terms[1:] *= per_mass
        return terms.reshape(4, -1)

    @cached_property
    def cap(self) -> Array:
        """The acceleration at which the front wheel carries nothing, (3, R). [m/s2 ...]"""
        return lift_terms(self.setups, self.held, self.drag, self.setups.lift_moment).reshape(3, -1)

    @cached_property
    def lift(self) -> Array:
        """The same as what the engine would do with the front wheel still spun: so it stands beside `engine`, (3, R). [m/s2 ...]"""
        return np.asarray(self.cap * (self.setups.lift_mass / self.setups.effective_mass).ravel())

    @cached_property
    def tire(self) -> Array:
        """The acceleration that spins the rear, (3, R). [m/s2 ...]"""
        return tire_terms(
            self.setups,
            self.ride,
            self.held,
            self.drag,
            self.steady,
            self.setups.metres_per_radian,
            self.setups.pitch_moment,
        ).reshape(3, -1)

    @cached_property
    def calm(self) -> Array | None:
        """Engine speed below which a tail wind pushes, (R,); None when no wind comes from behind. [rad/s]"""
        return -self.ride.headwind_m_s / self.metres if self.ride.headwind_m_s < 0.0 else None

    @cached_property
    def bend(self) -> Array:
        """What the engine, lift, tire and cap terms gain below calm for each (omega - calm)^2, (4, R)."""
        s = self.setups
        twice = 2.0 * self.drag[2]
        high = s.column("drag_height_m")
        tire, grips = tire_inertia(s, s.pitch_moment)
        share = np.where(grips, 0.0, (1.0 - s.column("friction") * high / s.column("wheelbase_m")) / tire)
        cap = twice * high / s.lift_moment
        lift = cap * s.lift_mass / s.effective_mass
        return np.array([twice / s.effective_mass, lift, twice * share, cap]).reshape(4, -1)

    def engine_at_nodes(self, rows: Any) -> Array:
        """The engine's acceleration at all nodes, (N, P); few rows at a time. [m/s2]"""
        return self._sums(self.engine, self.pieces.basis, 0, rows)

    def engine_at_grid(self, rows: Any) -> Array:
        """The same at the edges and middles of the pieces, (2J+1, P). [m/s2]"""
        return self._sums(self.engine, self.pieces.grid_basis, 0, rows)

    def engine_by(self, basis: Array, rows: Any) -> Array:
        """The same at n engine speeds of which torque, 1, omega and omega squared are given, (4, n): (n, P). [m/s2]"""
        return self._sums(self.engine, basis, 0, rows)

    def lift_at_grid(self, rows: Any) -> Array:
        """The acceleration that lifts the front, at the edges and middles. [m/s2]"""
        return self._sums(self.lift, self.pieces.grid_basis[1:], 1, rows)

    def caps_at_nodes(self, rows: Any) -> tuple[Array, Array]:
        """The accelerations that lift the front and that spin the rear, at all nodes. [m/s2]"""
        basis = self.pieces.basis[1:]
        return self._sums(self.cap, basis, 3, rows), self._sums(self.tire, basis, 2, rows)

    def _sums(self, terms: Array, basis: Array, which: int, rows: Any) -> Array:
        values = basis.T @ terms[:, rows]
        if self.calm is not None:
            below = np.minimum(basis[-2][:, None] - self.calm[rows], 0.0)
            values += self.bend[which][rows] * below**2
        return values

    def engine_of(self, rows: Any) -> Along:
        """The engine's acceleration in some rows."""
        return self._along(rows, self.engine[0], self.engine[1:], 0)

    def lift_of(self, rows: Any) -> Along:
        """The acceleration that lifts the front in some rows."""
        return self._along(rows, None, self.lift, 1)

    def _along(self, rows: Any, gain: Array | None, terms: Array, which: int) -> Along:
        calm = self.calm
        c0, c1, c2 = terms
        return Along(
            pieces=self.pieces,
            gain=None if gain is None else gain[rows],
            c0=c0[rows],
            c1=c1[rows],
            c2=c2[rows],
            calm=None if calm is None else calm[rows],
            bend=None if calm is None else self.bend[which][rows],
        )

    def engine_in_piece(self, rows: Any, j: Any, below: Any = None) -> tuple[Array, Array, Array, Array]:
        """The engine's cubic in x = omega - edge, lowest power first. `below` marks places slower than a tail wind."""
        gain, a0, a1, a2 = (row[rows] for row in self.engine)
        edge = self.pieces.edges.take(j)
        along = a2 * edge
        b0, b1, b2 = self._bent(a0 + edge * (a1 + along), a1 + 2.0 * along, a2, 0, rows, edge, below)
        c0, c1, c2, c3 = (row.take(j) for row in self.pieces.coefficients)
        return gain * c0 + b0, gain * c1 + b1, gain * c2 + b2, gain * c3

    def quadratic_in_piece(
        self, terms: Array, which: int, rows: Any, j: Any, below: Any = None
    ) -> tuple[Array, Array, Array]:
        """The lift (which 1), tire (which 2) or cap (which 3) quadratic in x = omega - edge, lowest power first."""
        b0, b1, b2 = (row[rows] for row in terms)
        edge = self.pieces.edges.take(j)
        along = b2 * edge
        return self._bent(b0 + edge * (b1 + along), b1 + 2.0 * along, b2, which, rows, edge, below)

    def _bent(
        self, c0: Array, c1: Array, c2: Array, which: int, rows: Any, edge: Array, below: Any
    ) -> tuple[Array, Array, Array]:
        if self.calm is None or below is None:
            return c0, c1, c2
        bend = np.where(below, self.bend[which][rows], 0.0)
        apart = edge - self.calm[rows]
        return c0 + bend * apart**2, c1 + 2.0 * bend * apart, c2 + bend


@dataclass(frozen=True, kw_only=True, eq=False)
class Along:
    """One acceleration along the engine speed, for P rows: gain T(w) + c0 + c1 w + c2 w^2 (no torque without a gain)."""

    pieces: Pieces
    gain: Array | None
    c0: Array
    c1: Array
    c2: Array
    calm: Array | None
    bend: Array | None

    def at(self, w: Array) -> Array:
        """At engine speeds (..., P). [m/s2]"""
        value: Array = self.c0 + (self.c1 + self.c2 * w) * w
        if self.gain is not None:
            value += self.gain * self.pieces.torque(w)
        if self.calm is not None and self.bend is not None:
            value += self.bend * np.minimum(w - self.calm, 0.0) ** 2
        return value

    def at_grid(self, n: Any) -> Array:
        """At points of the grid by their number. [m/s2]"""
        w = self.pieces.grid[n]
        value: Array = self.c0 + (self.c1 + self.c2 * w) * w
        if self.gain is not None:
            value += self.gain * self.pieces.grid_torque[n]
        if self.calm is not None and self.bend is not None:
            value += self.bend * np.minimum(w - self.calm, 0.0) ** 2
        return value

    def take(self, which: Any) -> Along:
        """Some of the rows."""

        def of(row: Array | None) -> Any:
            return None if row is None else row[which]

        return Along(
            pieces=self.pieces,
            gain=of(self.gain),
            c0=of(self.c0),
            c1=of(self.c1),
            c2=of(self.c2),
            calm=of(self.calm),
            bend=of(self.bend),
        )

    def with_slope(self, w: Array) -> tuple[Array, Array]:
        """The same and its slope. [m/s2], [m/s2 s/rad]"""
        along = self.c2 * w
        value, slope = self.c0 + (self.c1 + along) * w, self.c1 + 2.0 * along
        if self.gain is not None:
            torque, rise = self.pieces.torque_and_slope(w)
            value += self.gain * torque
            slope += self.gain * rise
        if self.calm is not None and self.bend is not None:
            below = np.minimum(w - self.calm, 0.0)
            value += self.bend * below**2
            slope += 2.0 * self.bend * below
        return value, slope


def lift_terms(setups: SetUps, held: Array, drag: Array, pitch: Array) -> Array:
    """Powers of omega in  (m g (b cos th - h sin th) - F_D h_D) / H,  in the shape of drag. [m/s2 ...]"""
    terms = drag * -setups.column("drag_height_m")
    terms[0] += held
    return np.asarray(terms / pitch)


def tire_inertia(setups: SetUps, pitch: Array) -> tuple[Array, NDArray[np.bool_]]:
    """The mass m + Jf/rf^2 - mu H/L, and where it is not above 0: there the load thrown back outgrows the force and no tire spins. [kg]"""
    s = setups
    rolling = s.mass_kg + s.front_inertia_kg_m2 / s.front_radius_m**2
    inertia = rolling[:, None] - (s.friction / s.wheelbase_m)[:, None] * pitch
    grips = inertia <= 0.0
    return np.where(grips, 1.0, inertia), grips


def tire_terms(
    setups: SetUps, ride: Ride, held: Array, drag: Array, steady: Array, metres: Array, pitch: Array
) -> Array:
    """Powers of omega in  (mu N_r0 - R) / (m + Jf/rf^2 - mu H/L),  NEVER where the rear cannot spin. [m/s2 ...]"""
    s = setups
    inertia, grips = tire_inertia(s, pitch)
    mu, base = s.column("friction"), s.column("wheelbase_m")
    terms = drag * (mu * s.column("drag_height_m") / base - 1.0)
    terms[0] += mu * (s.column("mass_kg") * (G * np.cos(ride.slope_rad)) - held / base) - steady
    terms[1] -= s.column("f1_n_s_m") * metres
    terms /= inertia
    terms[0][grips] = NEVER
    terms[1:, grips] = 0.0
    return np.asarray(terms)
