"""The forces on set-ups in their gears at any engine speed."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property

import numpy as np
from numpy.typing import NDArray

from ridesim.mechanics.crossing import Crossings
from ridesim.mechanics.lift import (
    light_front_slope_rad,
    traction_acceleration_m_s2,
    traction_slope_rad,
)
from ridesim.mechanics.motion import Motion
from ridesim.mechanics.peaks import Peak, peak
from ridesim.mechanics.pieces import Pieces
from ridesim.mechanics.setups import Ride, SetUps
from ridesim.mechanics.survey import Survey, survey
from ridesim.units import G

Array = NDArray[np.float64]
CLIMB_LIMITS = ("engine", "front lift", "rear tire")


@dataclass(frozen=True, kw_only=True, eq=False)
class Forces:
    """The forces on set-ups in gears, at engine speeds of shape (S, G, ...); everything else follows from these."""

    setups: SetUps
    pieces: Pieces
    ride: Ride

    @cached_property
    def motion(self) -> Motion:
        """The same accelerations as polynomials, for looking at all of them at once."""
        return Motion(setups=self.setups, pieces=self.pieces, ride=self.ride)

    @cached_property
    def survey(self) -> Survey:
        """One look at all nodes of all gears."""
        return survey(self.motion)

    @cached_property
    def strongest(self) -> Peak:
        """Where the engine accelerates hardest, (S x G,)."""
        return peak(self.motion, self.survey.strongest, 0.0)

    @cached_property
    def crossings(self) -> Crossings:
        """Time and distance to accelerate in any gear."""
        return Crossings(motion=self.motion, seen=self.survey, strongest=self.strongest.engine)

    def spread(self, name: str, like: Array) -> Array:
        """A set-up's field, (S,) or (S, G), with as many axes as `like`."""
        value = np.asarray(getattr(self.setups, name))
        if value.ndim == 1 and like.shape == self.setups.ratios.shape:
            return self.setups.by_gear(name)
        return value.reshape(value.shape + (1,) * (like.ndim - value.ndim))

    def speed(self, w: Array) -> Array:
        return np.asarray(self.spread("metres_per_radian", w) * w)

    def thrust(self, w: Array, torque: Array | None = None) -> Array:
        """Wheel force, T eta / (r/i). [N]"""
        torque = self.pieces.torque(w) if torque is None else torque
        s = self.setups
        force_per_torque = (s.column("efficiency") * s.column("torque_factor")) / s.metres_per_radian
        return np.asarray(force_per_torque.reshape(force_per_torque.shape + (1,) * (w.ndim - 2)) * torque)

    def drag(self, v: Array) -> Array:
        against = v + self.ride.headwind_m_s
        return np.asarray(self.spread("f2_n_s2_m2", v) * against * np.abs(against))

    def resistance(self, v: Array, drag: Array) -> Array:
        th = self.ride.slope_rad
        steady = self.setups.f0_n * np.cos(th) + self.setups.mass_kg * (G * np.sin(th))
        return np.asarray(steady.reshape(steady.shape + (1,) * (v.ndim - 1)) + self.spread("f1_n_s_m", v) * v + drag)

    def net(self, w: Array, torque: Array | None = None) -> Array:
        """What is left to accelerate with. [N]"""
        v = self.speed(w)
        return np.asarray(self.thrust(w, torque) - self.resistance(v, self.drag(v)))

    def acceleration(self, w: Array, torque: Array | None = None) -> Array:
        """Engine acceleration, uncapped. [m/s2]"""
        return np.asarray(self.net(w, torque) / self.spread("effective_mass", w))

    def lift_acceleration(self, w: Array) -> Array:
        th, s = self.ride.slope_rad, self.setups
        static = s.mass_kg * G * (s.load_arm_m * np.cos(th) - s.height_m * np.sin(th))
        moment = static.reshape(static.shape + (1,) * (w.ndim - 1)) - self.drag(self.speed(w)) * self.spread(
            "drag_height_m", w
        )
        return np.asarray(moment / self.spread("lift_moment", w))

    def traction_acceleration(self, w: Array) -> Array:
        """Acceleration at which the rear spins, inf where it cannot. [m/s2]"""
        p, v = self.spread, self.speed(w)
        drag = self.drag(v)
        rolling_mass = p("mass_kg", w) + p("front_inertia_kg_m2", w) / p("front_radius_m", w) ** 2
        return np.asarray(
            traction_acceleration_m_s2(
                p("friction", w),
                p("mass_kg", w),
                p("load_arm_m", w),
                p("wheelbase_m", w),
                p("height_m", w),
                self.ride.slope_rad,
                drag,
                p("drag_height_m", w),
                p("pitch_moment", w),
                rolling_mass,
                self.resistance(v, drag),
            )
        )

    def lift_ratio(self, w: Array, torque: Array | None = None) -> Array:
        """Engine acceleration, the front wheel not spun, over the acceleration that lifts.

        Where the front would be light at steady speed there is no ratio: inf if it lifts, -inf if the bike slows so much
        that it does not.
        """
        lift, a = self.lift_acceleration(w), self.net(w, torque) / self.spread("lift_mass", w)
        return np.where(lift > 0, a / np.where(lift > 0, lift, 1.0), np.where(a >= lift, np.inf, -np.inf))

    def slopes(self, w: Array, torque: Array | None = None) -> Array:
        """Steepest slope by engine, by front lift and by rear tire, stacked on a new first axis. [rad]"""
        p = self.spread
        v = self.speed(w)
        drag = self.drag(v)
        weight = p("mass_kg", w) * G
        other = drag + p("f1_n_s_m", w) * v
        rolling = p("f0_n", w) / weight
        share = (self.thrust(w, torque) - other) / weight
        engine = np.arcsin(np.clip(share / np.sqrt(1.0 + rolling**2), -1.0, 1.0)) - np.arctan(rolling)
        place = (p("mass_kg", w), p("load_arm_m", w))
        front = light_front_slope_rad(*place, p("height_m", w), drag, p("drag_height_m", w))
        tire = traction_slope_rad(
            p("friction", w), *place, p("wheelbase_m", w), p("height_m", w), drag, p("drag_height_m", w), rolling, other
        )
        return np.stack([engine, front, tire])

    def friction_at_lift(self, w: Array) -> Array:
        """The friction with which the rear tire just grips at the acceleration that lifts, N_f = 0:  mu = (m a + R) / (m g cos th)."""
        mass, v = self.spread("mass_kg", w), self.speed(w)
        force = mass * self.lift_acceleration(w) + self.resistance(v, self.drag(v))
        return np.asarray(force / (mass * (G * np.cos(self.ride.slope_rad))))
