"""Made-up set-ups for tests, and the same bikes from scratch."""

from __future__ import annotations

from typing import Any

import numpy as np
from support.from_scratch import FromScratch, cubic

from ridesim.components.power_curve import PowerCurve
from ridesim.mechanics.setups import Ride, SetUps, broadcast
from ridesim.units import rad_s

POINTS_RPM = np.array([1900.0, 2800.0, 3900.0, 4900.0, 5900.0, 6800.0, 7700.0])
POINTS_N_M = np.array([31.2, 35.6, 39.4, 39.8, 36.9, 31.7, 24.8])


def single_curve() -> PowerCurve:
    return PowerCurve(engine_speed_rad_s=rad_s(POINTS_RPM), torque_n_m=POINTS_N_M)


def single(**changes: Any) -> dict[str, Any]:
    """Fields of SetUps for an invented single."""
    gears = np.array([33 / 14, 28 / 16, 26 / 18, 24 / 21, 22 / 23])
    fields: dict[str, Any] = {
        "ratios": 71 / 29 * gears * 41 / 15,
        "mass_kg": 238.0,
        "rider_kg": 74.0,
        "ahead_m": 0.6294,
        "height_m": 0.7412,
        "wheelbase_m": 1.407,
        "drag_height_m": 0.92,
        "front_inertia_kg_m2": 0.46,
        "rear_inertia_kg_m2": 0.61,
        "crank_inertia_kg_m2": 0.027,
        "crank_sense": 1.0,
        "rolling_offset_m": 0.006,
        "front_radius_m": 0.332,
        "rear_radius_m": 2.02 / (2 * np.pi),
        "efficiency": 0.92,
        "torque_factor": 1.0,
        "f0_n": 42.0,
        "f1_n_s_m": 0.0,
        "f2_n_s2_m2": 0.388,
        "friction": 0.94,
        "shift_time_s": 0.23,
        "displacement_m3": 497e-6,
        "indicated_efficiency": 0.36,
        "fuel_density_kg_m3": 745.0,
        "tank_m3": 0.0115,
    }
    return fields | changes


def one(**changes: Any) -> SetUps:
    return broadcast(single(**changes))


def random_fields(rng: np.random.Generator) -> dict[str, Any]:
    """A made-up bike drawn at random, from a light single to a strong twin, on roads from gravel to asphalt."""
    first = rng.uniform(2.2, 3.2)
    count = int(rng.integers(4, 7))
    ratios = first * np.geomspace(1.0, rng.uniform(0.3, 0.42), count) * rng.uniform(1.7, 2.5) * rng.uniform(2.2, 3.4)
    return single(
        ratios=ratios,
        mass_kg=rng.uniform(180, 340),
        ahead_m=rng.uniform(0.5, 0.75),
        height_m=rng.uniform(0.55, 0.95),
        wheelbase_m=rng.uniform(1.35, 1.6),
        crank_inertia_kg_m2=rng.uniform(0.0, 0.06),
        crank_sense=float(rng.choice([-1.0, 1.0])),
        efficiency=rng.uniform(0.85, 0.98),
        torque_factor=rng.uniform(0.5, 2.2),
        f0_n=rng.uniform(10, 90),
        f1_n_s_m=rng.uniform(0, 2),
        f2_n_s2_m2=rng.uniform(0.2, 0.6),
        friction=rng.uniform(0.3, 1.2),
        shift_time_s=rng.uniform(0.0, 0.5),
        rolling_offset_m=rng.uniform(0.0, 0.012),
    )


class Stepped(FromScratch):
    """A bike from its fields instead of from a file, on a ride: the equation of motion stepped through time (DOP853, rtol 1e-10)."""

    def __init__(self, fields: dict[str, Any], curve: PowerCurve, ride: Ride) -> None:
        names = {"m": "mass_kg", "b": "ahead_m", "h": "height_m", "base": "wheelbase_m", "high": "drag_height_m",
                 "jf": "front_inertia_kg_m2", "jr": "rear_inertia_kg_m2", "je": "crank_inertia_kg_m2", "sense": "crank_sense",
                 "rf": "front_radius_m", "r": "rear_radius_m", "ahead": "rolling_offset_m", "eta": "efficiency",
                 "factor": "torque_factor", "f0": "f0_n", "f1": "f1_n_s_m", "f2": "f2_n_s2_m2", "mu": "friction",
                 "shift_time": "shift_time_s"}  # fmt: skip
        for name, field in names.items():
            setattr(self, name, float(fields[field]))
        self.i, self.th, self.wind, self.knots = (
            fields["ratios"],
            ride.slope_rad,
            ride.headwind_m_s,
            curve.engine_speed_rad_s,
        )
        self.curve, self.w0, self.w1 = cubic(self.knots, curve.torque_n_m), curve.first_rad_s, curve.last_rad_s
        self.limit, self.wheels = self.w1, self.m + self.jf / self.rf**2 + self.jr / self.r**2
        self.times = self.run(ride.targets_m_s, ride.distance_m)
