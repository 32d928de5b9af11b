"""What pushes, what resists and what holds back: the forces on gears at engine speeds, every figure by its equation.

A row is one gear of one set-up. With the clutch slipping the engine turns at one speed: its torque is one number however fast the
wheel turns, and the crank's inertia drops out; the rest is the same.
"""

from __future__ import annotations

from functools import cached_property
from typing import Any

import numpy as np
from numpy.typing import NDArray

from ridesim.environment.road_forces import drag_n, road_resistance_n
from ridesim.mechanics import equations as eq
from ridesim.mechanics.setups import Array, Index, Ride, SetUps
from ridesim.mechanics.torque import TorqueCells

_COLUMNS = (  # what the forces are made of: by gear, then by set-up
    *("meters_per_radian", "force_per_torque", "effective_mass", "lift_mass", "pitch_moment", "lift_moment"),
    *("mass_kg", "load_arm_m", "height_m", "wheelbase_m", "drag_height_m", "friction"),
    *("coasting_mass", "free_rolling_mass", "f0_n", "f1_n_s_m", "f2_n_s2_m2", "rolling_coefficient"),
)
_BODY, _GRIP = ("mass_kg", "load_arm_m", "height_m"), ("friction", "wheelbase_m")
_PLACE = {name: n for n, name in enumerate(_COLUMNS)}


class GearRows:
    """Gears of set-ups on a ride, one row each, gear by gear of set-up by set-up. rows["mass_kg"] is that column of all rows, (R,)."""

    def __init__(self, setups: SetUps, cells: TorqueCells, ride: Ride, columns: Array | None = None) -> None:
        self.setups, self.cells, self.ride = setups, cells, ride
        if columns is None:
            columns, shape = np.empty((len(_COLUMNS), setups.ratios.size)), setups.ratios.shape
            for name, column in zip(_COLUMNS, columns, strict=True):
                value = getattr(setups, name)
                column.reshape(shape)[:] = value if value.ndim == 2 else value[:, None]
        self._columns = columns

    def __len__(self) -> int:
        return int(self._columns.shape[1])

    def __getitem__(self, name: str) -> Array:
        return np.asarray(self._columns[_PLACE[name]])

    def several(self, *names: str) -> Any:
        """Columns in a row, to be handed to an equation."""
        return tuple(self[name] for name in names)

    def take(self, rows: Index) -> GearRows:
        """Some of the rows, by number."""
        return GearRows(self.setups, self.cells, self.ride, self._columns.take(rows, axis=1))

    def at(self, w: Any) -> Forces:
        """The forces at engine speeds that broadcast against the rows: (R,), (n, R), (n, 1)."""
        return Forces(self, np.asarray(w, dtype=float))

    @cached_property
    def seen(self) -> Forces:
        """The forces at all nodes of the torque curve, (n, R)."""
        return self.at(self.cells.nodes[:, None])

    def coasting_m_s2(self, v: Array) -> Array:
        """How fast the rows slow down with the clutch open at road speeds. [m/s2]"""
        return np.asarray(self.resistance_n(v) / self["coasting_mass"])

    def drag_n(self, v: Any) -> Array:
        """Air drag at road speeds. [N]"""
        return np.asarray(drag_n(v, self["f2_n_s2_m2"], self.ride.headwind_m_s))

    def resistance_n(self, v: Any) -> Array:
        """Rolling, grade and air at road speeds. [N]"""
        return self.road_n(v) + self.drag_n(v)

    def road_n(self, v: Any) -> Array:
        """Rolling and grade at road speeds. [N]"""
        return np.asarray(road_resistance_n(v, self["f0_n"], self["f1_n_s_m"], self["mass_kg"], self.ride.slope_rad))


class Forces:
    """Rows at engine speeds: what is asked for is worked out, once."""

    def __init__(self, rows: GearRows, w: Array) -> None:
        self.rows, self.w = rows, w

    @cached_property
    def speed(self) -> Array:
        """Road speed. [m/s]"""
        return np.asarray(self.rows["meters_per_radian"] * self.w)

    @cached_property
    def thrust(self) -> Array:
        """Wheel force. [N]"""
        return np.asarray(self.rows["force_per_torque"] * self.rows.cells.torque(self.w))

    @cached_property
    def drag(self) -> Array:
        """Air drag. [N]"""
        return self.rows.drag_n(self.speed)

    @cached_property
    def resistance(self) -> Array:
        """Rolling, grade and air. [N]"""
        return self.rows.road_n(self.speed) + self.drag

    @cached_property
    def net(self) -> Array:
        """What is left to accelerate with. [N]"""
        return self.thrust - self.resistance

    @cached_property
    def engine(self) -> Array:
        """Acceleration by the engine alone. [m/s2]"""
        return np.asarray(self.net / self.rows["effective_mass"])

    @cached_property
    def lift(self) -> Array:
        """Acceleration at which the front wheel carries nothing. [m/s2]"""
        mass, arm, height, high, moment = self.rows.several(*_BODY, "drag_height_m", "lift_moment")
        slope = self.rows.ride.slope_rad
        return np.asarray(eq.lift_acceleration_m_s2(mass, arm, height, slope, self.drag, high, moment))

    @cached_property
    def spin(self) -> Array:
        """Acceleration at which the rear tire's grip is used up, inf where it never is. [m/s2]"""
        mass, arm, height, high, grip, base = self.rows.several(*_BODY, "drag_height_m", *_GRIP)
        held = grip, mass, arm, base, height, self.rows.ride.slope_rad, self.drag, high
        moves = self.rows["pitch_moment"], self.rows["free_rolling_mass"], self.resistance
        return np.asarray(eq.traction_acceleration_m_s2(*held, *moves))

    @cached_property
    def held_back(self) -> Array:
        """Acceleration that engine, front wheel and rear tire all allow. [m/s2]"""
        return np.minimum(np.minimum(self.engine, self.lift), self.spin)

    @cached_property
    def ruled_by(self) -> NDArray[np.int8]:
        """Which of them holds it: 0 the engine, 1 the front wheel, 2 the rear tire."""
        limit = (self.spin < self.lift).view(np.int8) + np.int8(1)
        return np.where(self.engine <= self.held_back, np.int8(0), limit)

    @cached_property
    def lift_lead(self) -> Array:
        """By how much the engine, the front wheel no longer spun, passes the acceleration that lifts. [m/s2]"""
        return np.asarray(self.net / self.rows["lift_mass"] - self.lift)

    @cached_property
    def lift_ratio(self) -> Array:
        """The engine's acceleration over the one that lifts, neither spinning the front wheel.

        Where the front is light at steady speed there is no ratio: inf if it lifts, -inf if the bike slows so much that it does not.
        """
        light = self.lift <= 0.0
        if not light.any():
            return self.lift_lead / self.lift + 1.0
        ratio = self.lift_lead / np.where(light, 1.0, self.lift) + 1.0
        return np.where(light, np.where(self.lift_lead >= 0.0, np.inf, -np.inf), ratio)

    @cached_property
    def friction_at_lift(self) -> Array:
        """Friction at which the rear tire just holds when the front lifts; on less it spins first. [-]"""
        r = self.rows
        return np.asarray(eq.friction_at_lift(self.lift, r["mass_kg"], r.ride.slope_rad, self.resistance))

    @cached_property
    def slopes(self) -> Array:
        """Steepest slope by engine, by front lift and by rear tire, on a new first axis. [rad]"""
        rows, other = self.rows, self.drag + self.rows["f1_n_s_m"] * self.speed
        mass, arm, height, high, grip, base = rows.several(*_BODY, "drag_height_m", *_GRIP)
        rolling = rows["rolling_coefficient"]
        engine = eq.engine_slope_rad(self.thrust - other, mass, rolling)
        front = eq.light_front_slope_rad(mass, arm, height, self.drag, high)
        rear = eq.traction_slope_rad(grip, mass, arm, base, height, self.drag, high, rolling, other)
        return np.stack([engine, front, rear])
