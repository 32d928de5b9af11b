"""Set-ups: many variants of a bike side by side in arrays, the one form in which the kernel takes a bike.

The first axis counts set-ups (S), the second gears (G). One bike is S = 1.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass, fields
from functools import cached_property
from typing import Any

import numpy as np
from numpy.typing import NDArray

from ridesim.mechanics.drivetrain import effective_mass_kg, road_speed_m_s, wheel_force_n
from ridesim.mechanics.equations import pitch_moment_kg_m
from ridesim.units import G

Array = NDArray[np.float64]
Index = NDArray[np.intp]
_FRONT, _REAR = ("front_inertia_kg_m2", "front_radius_m"), ("rear_inertia_kg_m2", "rear_radius_m")
_CRANK = ("crank_inertia_kg_m2", "ratios", "crank_sense")


@dataclass(frozen=True, kw_only=True)
class Ride:
    """What the bike is asked to do.

    speed_m_s, slope_rad and headwind_m_s are true speed, uphill slope and wind against the bike; targets_m_s are the
    speeds a standing start is timed to, distance_m the distance, roll_on_m_s the two speeds of the roll-on. rev_limit_rad_s
    bounds the engine speed of the launch; without it the end of the curve does.
    """

    cruise_m_s: float = 100 / 3.6
    slope_rad: float = 0.0
    headwind_m_s: float = 0.0
    targets_m_s: tuple[float, ...] = (60 / 3.6, 100 / 3.6)
    distance_m: float = 400.0
    roll_on_m_s: tuple[float, float] = (60 / 3.6, 100 / 3.6)
    rev_limit_rad_s: float | None = None


@dataclass(frozen=True, kw_only=True, eq=False)
class SetUps:
    """Arrays of shape (S,), ratios of shape (S, G); SI. torque_factor scales the curve (air of the day, curve error).

    Those of the same figures are the same set-ups.
    """

    ratios: Array
    mass_kg: Array
    rider_kg: Array
    ahead_m: Array
    height_m: Array
    wheelbase_m: Array
    drag_height_m: Array
    front_inertia_kg_m2: Array
    rear_inertia_kg_m2: Array
    crank_inertia_kg_m2: Array
    crank_sense: Array
    rolling_offset_m: Array  # how far ahead of its contact each wheel's load stands, for rolling resistance
    front_radius_m: Array
    rear_radius_m: Array
    efficiency: Array
    torque_factor: Array
    f0_n: Array
    f1_n_s_m: Array
    f2_n_s2_m2: Array
    friction: Array
    shift_time_s: Array
    displacement_m3: Array
    indicated_efficiency: Array
    fuel_density_kg_m3: Array
    tank_m3: Array
    cycle: int = 4

    def __len__(self) -> int:
        return len(self.ratios)

    @cached_property
    def _arrays(self) -> dict[str, Array]:
        return {f.name: getattr(self, f.name) for f in fields(self) if f.name != "cycle"}

    @cached_property
    def _figures(self) -> tuple[Any, ...]:
        return self.cycle, self.ratios.shape, b"".join(array.tobytes() for array in self._arrays.values())

    def __hash__(self) -> int:
        return hash(self._figures)

    def __eq__(self, other: object) -> bool:
        return isinstance(other, SetUps) and self._figures == other._figures

    def column(self, name: str) -> Array:
        """A (S,) field as (S, 1), to stand beside the gears."""
        return np.asarray(getattr(self, name))[:, None]

    def _by(self, equation: Callable[..., Any], *arguments: str | float) -> Array:
        """An equation of fields and numbers, the fields of a set-up standing beside its gears, (S, G)."""
        given = (self.ratios if a == "ratios" else self.column(a) if isinstance(a, str) else a for a in arguments)
        return np.asarray(equation(*given))

    @cached_property
    def meters_per_radian(self) -> Array:
        """Road travelled for each radian of the crank, r/i, (S, G). [m/rad]"""
        return self._by(road_speed_m_s, 1.0, "ratios", "rear_radius_m")

    @cached_property
    def force_per_torque(self) -> Array:
        """Wheel force for each N m of the sheet, (S, G). [1/m]"""
        return self._by(wheel_force_n, "torque_factor", "ratios", "efficiency", "rear_radius_m")

    @cached_property
    def effective_mass(self) -> Array:
        """m_k with the clutch closed, (S, G). [kg]"""
        return self._by(effective_mass_kg, "mass_kg", *_FRONT, *_REAR, "crank_inertia_kg_m2", "ratios", "efficiency")

    @cached_property
    def pitch_moment(self) -> Array:
        """H with the clutch closed, (S, G). [kg m]"""
        return self._by(pitch_moment_kg_m, "mass_kg", "height_m", *_FRONT, *_REAR, *_CRANK)

    @cached_property
    def lift_mass(self) -> Array:
        """m_k at the moment the front lifts, when the ground spins it no more, (S, G). [kg]"""
        return self._by(effective_mass_kg, "mass_kg", 0.0, 1.0, *_REAR, "crank_inertia_kg_m2", "ratios", "efficiency")

    @cached_property
    def lift_moment(self) -> Array:
        """H at the moment the front lifts, (S, G). [kg m]"""
        return self._by(pitch_moment_kg_m, "mass_kg", "height_m", 0.0, 1.0, *_REAR, *_CRANK)

    @cached_property
    def coasting_mass(self) -> Array:
        """m with both wheels, the clutch open, (S,). [kg]"""
        return self._by(effective_mass_kg, "mass_kg", *_FRONT, *_REAR, 0.0, 1.0, 1.0)[:, 0]

    @cached_property
    def free_rolling_mass(self) -> Array:
        """m + Jf/rf^2, what the rear contact pushes, (S,). [kg]"""
        return self._by(effective_mass_kg, "mass_kg", *_FRONT, 0.0, 1.0, 0.0, 1.0, 1.0)[:, 0]

    @cached_property
    def load_arm_m(self) -> Array:
        """b', what is left of b when rolling resistance has moved the wheel loads ahead, (S,). [m]"""
        return np.asarray(self.ahead_m - self.rolling_offset_m)

    @cached_property
    def rolling_coefficient(self) -> Array:
        """Rolling force over weight, C, (S,). [-]"""
        return np.asarray(self.f0_n / (self.mass_kg * G))

    def take(self, which: Any) -> SetUps:
        """Some of the set-ups, by index, mask or slice."""
        return SetUps(cycle=self.cycle, **{name: array[which] for name, array in self._arrays.items()})


def broadcast(values: Mapping[str, Any], *, cycle: int = 4) -> SetUps:
    """Set-ups from scalars and arrays: every field is spread to the longest S; `ratios` is (G,) or (S, G)."""
    arrays = {name: np.atleast_1d(np.asarray(value, dtype=float)) for name, value in values.items()}
    ratios = np.atleast_2d(arrays.pop("ratios"))
    size = np.broadcast_shapes(*(a.shape for a in arrays.values()), ratios.shape[:1])[0]
    spread = {name: np.ascontiguousarray(np.broadcast_to(a, (size,))) for name, a in arrays.items()}
    return SetUps(ratios=np.ascontiguousarray(np.broadcast_to(ratios, (size, ratios.shape[1]))), cycle=cycle, **spread)
