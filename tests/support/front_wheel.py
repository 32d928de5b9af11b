"""Made-up lanes for the front wheel in motion."""

from __future__ import annotations

from dataclasses import fields
from typing import Any

import numpy as np
from support.bikes import single, single_curve

from ridesim.answers.front_wheel import body as fw
from ridesim.mechanics.setups import Ride, broadcast
from ridesim.mechanics.torque import cells_of
from ridesim.mechanics.traction import GearRows


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
    s = single(rolling_offset_m=0.0) | {k: own.pop(k) for k in list(own) if k in single() and k != "friction"}
    s["torque_factor"] *= torque
    mass = s["mass_kg"]
    front = mass * s["ahead_m"] / s["wheelbase_m"]
    values: dict[str, Any] = {
        "pitch_inertia_kg_m2": mass * (0.34 * s["wheelbase_m"]) ** 2,
        "friction": s["friction"],
        "front_rate_n_m": own.pop("front_rate", fw.spring_rate_n_m(front, front_hz)),
        "front_damping_n_s_m": own.pop("front_damping", fw.damping_n_s_m(front, front_hz, zeta)),
        "front_preload_n": own.pop("front_preload", 0.0),
        "rear_rate_n_m": own.pop("rear_rate", fw.spring_rate_n_m(mass - front, rear_hz)),
        "rear_damping_n_s_m": own.pop("rear_damping", fw.damping_n_s_m(mass - front, rear_hz, zeta)),
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
    arrays = {name: np.broadcast_to(value, (count,)) for name, value in (values | own).items()}
    rows = GearRows(broadcast(s), cells_of(single_curve()), Ride())
    return fw.Lanes(rows=rows.take(np.full(count, gear)), **arrays)


def still(one: fw.Lanes, time: Any = (0.0, 0.01)) -> fw.DriveInput:
    """Nothing that drives, brakes or throws."""
    none = {f.name: np.zeros((len(time), len(one.rows))) for f in fields(fw.DriveInput) if f.name != "time_s"}
    return fw.DriveInput(time_s=np.asarray(time), **none)


def made_up(drawn: dict[str, Any]) -> fw.Motion:
    """A random bike's first gear by every technique."""
    own = {name: value for name, value in drawn.items() if name in single()}
    ways = np.arange(len(fw.TECHNIQUES))
    one = lanes(ways.size, technique=ways, **own)
    return fw.motion(one, fw.drive(one))
