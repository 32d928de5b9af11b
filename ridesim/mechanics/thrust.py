"""Force, acceleration, lift and climb in every gear of every set-up: the tables from which the single figures are read."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray

from ridesim.mechanics.lift import (
    front_load_n,
    light_front_slope_rad,
    place_that_lifts_m,
    traction_slope_rad,
)
from ridesim.mechanics.pieces import Pieces
from ridesim.mechanics.roots import bracketed_root, refined_maximum
from ridesim.mechanics.setups import Ride, SetUps
from ridesim.units import G

Array = NDArray[np.float64]
CLIMB_LIMITS = ("engine", "front lift", "rear tire")


@dataclass(frozen=True, kw_only=True, eq=False)
class Forces:
    """The forces on set-ups in gears, at engine speeds of shape (S, G, ...); everything else follows from these."""

    setups: SetUps
    pieces: Pieces
    ride: Ride

    def spread(self, name: str, like: Array) -> Array:
        """A set-up's field, (S,) or (S, G), with as many axes as `like`."""
        value = np.asarray(getattr(self.setups, name))
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

    def place_that_lifts(self, w: Array, torque: Array | None = None) -> Array:
        p = self.spread
        return np.asarray(place_that_lifts_m(
            self.acceleration(w, torque), p("mass_kg", w), p("height_m", w), self.ride.slope_rad, self.drag(self.speed(w)),
            p("drag_height_m", w), p("pitch_moment", w)))

    def lift_acceleration(self, w: Array) -> Array:
        th, s = self.ride.slope_rad, self.setups
        static = s.mass_kg * G * (s.ahead_m * np.cos(th) - s.height_m * np.sin(th))
        moment = static.reshape(static.shape + (1,) * (w.ndim - 1)) - self.drag(self.speed(w)) * self.spread("drag_height_m", w)
        return np.asarray(moment / self.spread("pitch_moment", w))

    def lift_ratio(self, w: Array, torque: Array | None = None) -> Array:
        """Engine acceleration over the acceleration that lifts.

        Where the front would be light at steady speed there is no ratio: inf if it lifts, -inf if the bike slows so much
        that it does not.
        """
        lift, a = self.lift_acceleration(w), self.acceleration(w, torque)
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
        place = (p("mass_kg", w), p("ahead_m", w))
        front = light_front_slope_rad(*place, p("height_m", w), drag, p("drag_height_m", w))
        tire = traction_slope_rad(
            p("friction", w), *place, p("wheelbase_m", w), p("height_m", w), drag, p("drag_height_m", w), rolling, other)
        return np.stack([engine, front, tire])

    def rear_holds_at_lift(self, w: Array) -> Array:
        """Whether the tire still grips at the acceleration that lifts:  (m + Jf/rf^2) a + R <= mu N_r  with N_f = 0."""
        p = self.spread
        v = self.speed(w)
        drag = self.drag(v)
        a = self.lift_acceleration(w)
        front = front_load_n(a, p("mass_kg", w), p("ahead_m", w), p("height_m", w), p("wheelbase_m", w), self.ride.slope_rad,
                             drag, p("drag_height_m", w), p("pitch_moment", w))
        rear = p("mass_kg", w) * G * np.cos(self.ride.slope_rad) - front
        rolling_mass = p("mass_kg", w) + p("front_inertia_kg_m2", w) / p("front_radius_m", w) ** 2
        return np.asarray(rolling_mass * a + self.resistance(v, drag) <= p("friction", w) * rear)


@dataclass(frozen=True, kw_only=True, eq=False)
class Gears:
    """Figures of every gear, arrays (S, G), SI; nan where a thing does not happen."""

    speed_at_top_m_s: Array  # at the highest engine speed of the curve
    top_speed_m_s: Array
    limited_by_revs: Any
    peak_force_n: Array
    steepest_slope_rad: Array
    steepest_limited_by: Any  # index into CLIMB_LIMITS
    lift_ratio: Array
    lift_speed_rad_s: Array  # engine speed of the highest lift ratio
    lift_from_rad_s: Array
    lift_to_rad_s: Array
    rider_shift_m: Array
    lifts_before_spin: Any
    upshift_rad_s: Array  # nan in the last gear


def gears(forces: Forces) -> Gears:
    """Every figure of every gear."""
    s, pieces = forces.setups, forces.pieces
    shape = s.ratios.shape
    w = np.broadcast_to(pieces.grid, (*shape, pieces.grid.size))
    torque = pieces.grid_torque
    top_w, by_revs = top_engine_speed(forces, w, torque)
    ratio_grid = forces.lift_ratio(w, torque)
    lift_w, lift = refined_maximum(forces.lift_ratio, pieces.grid, ratio_grid)
    lift_from, lift_to = _lift_window(forces, ratio_grid)
    _, place = refined_maximum(forces.place_that_lifts, pieces.grid, forces.place_that_lifts(w, torque))
    shift = s.column("mass_kg") / s.column("rider_kg") * (s.column("ahead_m") - place)
    climb_w, climb = refined_maximum(
        lambda x: np.min(forces.slopes(x), axis=0), pieces.grid, np.min(forces.slopes(w, torque), axis=0), rounds=4, points=9)
    return Gears(
        speed_at_top_m_s=s.metres_per_radian * pieces.last,
        top_speed_m_s=s.metres_per_radian * top_w,
        limited_by_revs=by_revs,
        # between two points a shape-preserving cubic stays between their torques: the peak is at a point
        peak_force_n=forces.thrust(pieces.edges[None, None, :], torque[::2]).max(axis=-1),
        steepest_slope_rad=climb,
        steepest_limited_by=np.argmin(forces.slopes(climb_w[..., None])[..., 0], axis=0),
        lift_ratio=lift,
        lift_speed_rad_s=lift_w,
        lift_from_rad_s=lift_from,
        lift_to_rad_s=lift_to,
        rider_shift_m=np.where(lift >= 1.0, 0.0, np.maximum(shift, 0.0)),
        lifts_before_spin=forces.rear_holds_at_lift(lift_w[..., None])[..., 0],
        upshift_rad_s=upshift_engine_speed(forces, w, torque),
    )


def top_engine_speed(forces: Forces, w: Array, torque: Array) -> tuple[Array, Any]:
    """Engine speed at the top speed of each gear, and whether the revs end it; nan where the gear holds no speed at all."""
    grid = forces.pieces.grid
    positive = forces.net(w, torque) >= 0.0
    highest = positive.shape[-1] - 1 - np.argmax(positive[..., ::-1], axis=-1)
    holds = positive.any(axis=-1)
    by_revs = holds & (highest == grid.size - 1)
    low, high = grid[highest], grid[np.minimum(highest + 1, grid.size - 1)]
    root = bracketed_root(lambda x: forces.net(x), low, np.where(by_revs | ~holds, low, high))
    return np.where(holds, np.where(by_revs, grid[-1], root), np.nan), by_revs


def _lift_window(forces: Forces, ratio: Array) -> tuple[Array, Array]:
    """The lowest and the highest engine speed at which the front comes up on the throttle alone."""
    grid = forces.pieces.grid
    lifts = ratio >= 1.0
    some = lifts.any(axis=-1)
    first, last = np.argmax(lifts, axis=-1), lifts.shape[-1] - 1 - np.argmax(lifts[..., ::-1], axis=-1)

    def over(x: Array) -> Array:
        return np.clip(forces.lift_ratio(x), -1e6, 1e6) - 1.0

    starts = np.where(some & (first > 0), grid[np.maximum(first - 1, 0)], grid[first])
    ends = np.where(some & (last < grid.size - 1), grid[np.minimum(last + 1, grid.size - 1)], grid[last])
    if not some.any():
        return np.full(some.shape, np.nan), np.full(some.shape, np.nan)
    low = bracketed_root(over, starts, grid[first])
    high = bracketed_root(over, grid[last], ends)
    return np.where(some, low, np.nan), np.where(some, high, np.nan)


def upshift_engine_speed(forces: Forces, w: Array, torque: Array) -> Array:
    """Engine speed at which the next gear begins to accelerate harder, else the end of the curve; nan in the last gear."""
    s, pieces = forces.setups, forces.pieces
    result = np.full(s.ratios.shape, np.nan)
    if s.ratios.shape[1] == 1:
        return result
    drop = s.metres_per_radian[:, :-1] / s.metres_per_radian[:, 1:]
    earliest = pieces.first / drop  # below it the next gear would turn below the first point of the curve

    def better_here(x: Array) -> Array:
        stay = _pad(x, last=pieces.last)
        change = _pad(x * drop.reshape(drop.shape + (1,) * (x.ndim - 2)), first=pieces.first)
        return forces.acceleration(stay)[:, :-1] - forces.acceleration(np.maximum(change, pieces.first))[:, 1:]

    grid = w[:, :-1]
    difference = np.where(grid >= earliest[..., None], better_here(grid), np.inf)
    stays = difference > 0.0
    last = np.where(stays.any(axis=-1), stays.shape[-1] - 1 - np.argmax(stays[..., ::-1], axis=-1), 0)
    low = np.maximum(pieces.grid[last], np.minimum(earliest, pieces.last))
    at_end = (last == pieces.grid.size - 1) & stays[..., -1]
    high = np.where(at_end, low, pieces.grid[np.minimum(last + 1, pieces.grid.size - 1)])
    at_once = better_here(low) <= 0.0  # the next gear is better as soon as it can take over
    root = bracketed_root(better_here, low, np.where(at_once, low, high))
    result[:, :-1] = np.where(at_end, pieces.last, np.where(at_once, low, root))
    return result


def _pad(x: Array, *, first: float | None = None, last: float | None = None) -> Array:
    """Engine speeds of all gears but one as an array for all gears, the missing gear filled with a harmless speed."""
    fill = np.full_like(x[:, :1], first if first is not None else last)
    return np.concatenate([fill, x] if first is not None else [x, fill], axis=1)
