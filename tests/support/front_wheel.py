"""Made-up lanes for the front wheel in motion."""

from __future__ import annotations

from dataclasses import fields
from typing import Any

import numpy as np
from support.bikes import single, single_curve

from ridesim.mechanics import front_wheel as fw
from ridesim.mechanics.drivetrain import effective_mass_kg
from ridesim.mechanics.torque import cells_of


def lanes(
    count: int,
    *,
    gear: int = 0,
    front_hz: Any = 2.0,
    rear_hz: Any = 2.0,
    zeta: Any = 0.3,
    torque: float = 1.0,
    **own: Any,
) -> fw.Lanes:
    """Lanes of the made-up single in a gear; own are fields of it or of Lanes, "front_rate" and the like without their unit."""
    s = single(**{k: own.pop(k) for k in list(own) if k in single()})
    mass, wheelbase, radius, ratio = s["mass_kg"], s["wheelbase_m"], s["rear_radius_m"], s["ratios"][gear]
    front = mass * s["ahead_m"] / wheelbase
    rear = s["rear_inertia_kg_m2"], radius
    factor = torque * s["torque_factor"]
    values: dict[str, Any] = {name: s[name] for name in s if name in fw.Lanes.__dataclass_fields__}
    values |= {
        "pitch_inertia_kg_m2": mass * (0.34 * wheelbase) ** 2,
        "axle_height_m": radius,
        "front_rate_n_m": own.pop("front_rate", fw.spring_rate_n_m(front, front_hz)),
        "front_damping_n_s_m": own.pop("front_damping", fw.damping_n_s_m(front, front_hz, zeta)),
        "front_preload_n": own.pop("front_preload", 0.0),
        "rear_rate_n_m": own.pop("rear_rate", fw.spring_rate_n_m(mass - front, rear_hz)),
        "rear_damping_n_s_m": own.pop("rear_damping", fw.damping_n_s_m(mass - front, rear_hz, zeta)),
        "meters_per_radian": radius / ratio,
        "force_per_torque": factor * ratio * s["efficiency"] / radius,
        "torque_factor": factor,
        "locked_mass_kg": effective_mass_kg(mass, 0.0, 1.0, *rear, s["crank_inertia_kg_m2"], ratio, s["efficiency"]),
        "slipping_mass_kg": effective_mass_kg(mass, 0.0, 1.0, *rear, 0.0, 1.0, 1.0),
        "rear_spin_kg_m": rear[0] / radius,
        "technique": np.zeros(count, dtype=int),
        "start_rad_s": 400.0,
        "opening_s": 0.15,
        "dive_s": 0.25,
        "braking_n_m": 8.0,
        "thrown_kg": 0.5 * s["rider_kg"],
        "thrown_height_m": s["height_m"] + 0.4,
        "thrown_m": 0.25,
        "tug_s": 0.35,
        "clutch_holds_n_m": 72.0,
        "clutch_from_rad_s": 640.0,
    }
    values |= own
    arrays = {name: np.broadcast_to(value, (count,)) for name, value in values.items()}
    return fw.Lanes(slope_rad=0.0, headwind_m_s=0.0, **arrays)


def still(one: fw.Lanes, time: Any = (0.0, 0.01)) -> fw.DriveInput:
    """Nothing that drives, brakes or throws."""
    none = {f.name: np.zeros((len(time), one.mass_kg.size)) for f in fields(fw.DriveInput) if f.name != "time_s"}
    return fw.DriveInput(time_s=np.asarray(time), **none)


def made_up(drawn: dict[str, Any]) -> fw.Motion:
    """A random bike's first gear by every technique."""
    own = {name: value for name, value in drawn.items() if name in single()}
    ways = np.arange(len(fw.TECHNIQUES))
    one = lanes(ways.size, technique=ways, **own)
    return fw.motion(one, fw.drive(one, cells_of(single_curve())))
