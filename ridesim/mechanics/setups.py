"""Set-ups: many variants of a bike side by side in arrays, the one form in which the kernel takes a bike.

The first axis counts set-ups (S), the second gears (G). One bike is S = 1.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, fields
from functools import cached_property
from typing import Any

import numpy as np
from numpy.typing import NDArray

from ridesim.components.chassis import combined_place_m
from ridesim.mechanics.drivetrain import effective_mass_kg
from ridesim.mechanics.lift import pitch_moment_kg_m

Array = NDArray[np.float64]


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
    """Arrays of shape (S,), ratios of shape (S, G); SI. torque_factor scales the curve (air of the day, curve error)."""

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
    def _column_names(self) -> tuple[str, ...]:
        return tuple(f.name for f in fields(self) if f.name != "cycle")

    def column(self, name: str) -> Array:
        """A (S,) field as (S, 1), to stand beside the gears."""
        return np.asarray(getattr(self, name))[:, None]

    def by_gear(self, name: str) -> Array:
        """A (S,) field in every gear, (S, G) in memory and kept: for many sums quicker than a column spread over the few gears each
        time. Not to be written to."""
        spread = self._in_every_gear
        if name not in spread:
            spread[name] = np.repeat(getattr(self, name), self.ratios.shape[1]).reshape(self.ratios.shape)
        return spread[name]

    @cached_property
    def _in_every_gear(self) -> dict[str, Array]:
        return {}

    @cached_property
    def effective_mass(self) -> Array:
        """m_k with the clutch closed, (S, G). [kg]"""
        c = self.by_gear
        return np.asarray(
            effective_mass_kg(
                c("mass_kg"),
                c("front_inertia_kg_m2"),
                c("front_radius_m"),
                c("rear_inertia_kg_m2"),
                c("rear_radius_m"),
                c("crank_inertia_kg_m2"),
                self.ratios,
                c("efficiency"),
            )
        )

    @cached_property
    def pitch_moment(self) -> Array:
        """H with the clutch closed, (S, G). [kg m]"""
        c = self.by_gear
        return np.asarray(
            pitch_moment_kg_m(
                c("mass_kg"),
                c("height_m"),
                c("front_inertia_kg_m2"),
                c("front_radius_m"),
                c("rear_inertia_kg_m2"),
                c("rear_radius_m"),
                c("crank_inertia_kg_m2"),
                self.ratios,
                c("crank_sense"),
            )
        )

    @cached_property
    def load_arm_m(self) -> Array:
        """b', what is left of b when rolling resistance has moved the wheel loads ahead, (S,). [m]"""
        return np.asarray(self.ahead_m - self.rolling_offset_m)

    @cached_property
    def lift_mass(self) -> Array:
        """m_k at the moment the front lifts: the ground spins it no more, (S, G). [kg]"""
        return np.asarray(self.effective_mass - self._front_wheel(2))

    @cached_property
    def lift_moment(self) -> Array:
        """H at the moment the front lifts, (S, G). [kg m]"""
        return np.asarray(self.pitch_moment - self._front_wheel(1))

    def _front_wheel(self, power: int) -> Array:
        return np.asarray(self.column("front_inertia_kg_m2") / self.column("front_radius_m") ** power)

    @cached_property
    def metres_per_radian(self) -> Array:
        """Road travelled for each radian of the crank, r/i, (S, G). [m/rad]"""
        return np.asarray(self.by_gear("rear_radius_m") / self.ratios)

    def take(self, which: Any) -> SetUps:
        """Some of the set-ups, by index, mask or slice."""
        return SetUps(cycle=self.cycle, **{name: getattr(self, name)[which] for name in self._column_names})

    def replaced(self, **arrays: Any) -> SetUps:
        """The same set-ups with some fields exchanged; single values are spread over all set-ups."""
        values = {name: getattr(self, name) for name in self._column_names} | arrays
        return broadcast(values, cycle=self.cycle)


def broadcast(values: Mapping[str, Any], *, cycle: int = 4) -> SetUps:
    """Set-ups from scalars and arrays: every field is spread to the longest S; `ratios` is (G,) or (S, G)."""
    ratios = np.atleast_2d(np.asarray(values["ratios"], dtype=float))
    scalars = {
        name: np.atleast_1d(np.asarray(value, dtype=float)) for name, value in values.items() if name != "ratios"
    }
    size = np.broadcast_shapes(*(a.shape for a in scalars.values()), (ratios.shape[0],))[0]
    spread = {name: np.ascontiguousarray(np.broadcast_to(a, (size,))) for name, a in scalars.items()}
    return SetUps(ratios=np.ascontiguousarray(np.broadcast_to(ratios, (size, ratios.shape[1]))), cycle=cycle, **spread)


def joined(parts: list[SetUps]) -> SetUps:
    """Several groups of set-ups one after the other."""
    first = parts[0]
    return SetUps(cycle=first.cycle, **{n: np.concatenate([getattr(p, n) for p in parts]) for n in first._column_names})


def combined_masses(raw: Mapping[str, Any]) -> dict[str, Any]:
    """All-up mass and its place from those of bike, rider and luggage (scalars or arrays)."""
    masses = (raw["bike_kg"], raw["rider_kg"], raw["luggage_kg"])
    return {
        "mass_kg": sum(np.asarray(m, dtype=float) for m in masses),
        "ahead_m": combined_place_m(masses, (raw["bike_ahead_m"], raw["rider_ahead_m"], raw["luggage_ahead_m"])),
        "height_m": combined_place_m(masses, (raw["bike_height_m"], raw["rider_height_m"], raw["luggage_height_m"])),
    }
