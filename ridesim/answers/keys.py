"""The keys that one bike's answers and each row of a choice have in common, read off the kernel's arrays at one row."""

from __future__ import annotations

from typing import Any

import numpy as np

from ridesim.answers.answer import plain
from ridesim.mechanics.cruise import Cruise
from ridesim.mechanics.kernel import Performance
from ridesim.mechanics.limits import Gears
from ridesim.mechanics.setups import Ride, SetUps
from ridesim.units import kmh, kw, percent, rpm


def gear(setups: SetUps, g: Gears, n: int, k: int) -> dict[str, Any]:
    """Gear k, counted from 0."""
    return {
        "gear": k + 1,
        "overall_ratio": plain(setups.ratios[n, k]),
        "top_speed_kmh": plain(kmh(g.top_speed_m_s[n, k])),
        "peak_wheel_force_n": plain(g.peak_force_n[n, k]),
        "steepest_grade_percent": plain(percent(np.tan(g.steepest_slope_rad[n, k]))),
        "lift_ratio": plain(g.lift_ratio[n, k]),
        "best_upshift_rpm": None if k + 1 == setups.ratios.shape[1] else plain(rpm(g.upshift_rad_s[n, k])),
    }


def cruise(c: Cruise, ride: Ride, rev_limit_rad_s: float, n: int, k: int) -> dict[str, Any]:
    """The cruise in gear k, counted from 0."""
    return {
        "gear": k + 1,
        "speed_kmh": plain(kmh(ride.cruise_m_s)),
        "engine_rpm": plain(rpm(c.engine_speed_rad_s[n, k])),
        "share_of_rev_limit": plain(c.engine_speed_rad_s[n, k] / rev_limit_rad_s),
        "power_needed_kw": plain(kw(c.needed_w[n, k])),
        "power_available_kw": plain(kw(c.available_w[n, k])),
        "grade_held_percent": plain(percent(np.tan(c.slope_held_rad[n, k]))),
        "fuel_l_per_100km": plain(c.fuel_m3_per_m[n, k] * 1e8),
    }


def top_speed(p: Performance, n: int) -> dict[str, Any]:
    """The highest speed over the gears, and its gear."""
    top = p.gears.top_speed_m_s[n]
    holds = bool(np.isfinite(top).any())
    return {
        "top_speed_kmh": plain(kmh(np.fmax.reduce(top))),
        "top_speed_gear": int(np.argmax(np.nan_to_num(top, nan=-1.0))) + 1 if holds else None,
    }


def acceleration(p: Performance, ride: Ride, n: int) -> dict[str, Any]:
    """The times from standstill."""
    return {
        **{f"0_{kmh(v):.0f}_kmh_s": plain(p.run.times_s[n, i]) for i, v in enumerate(ride.targets_m_s)},
        f"{ride.distance_m:.0f}_m_s": plain(p.run.distance_time_s[n]),
    }


def roll_on(p: Performance, ride: Ride, n: int) -> list[dict[str, Any]]:
    """The roll-on in every gear."""
    low, high = (kmh(v) for v in ride.roll_on_m_s)
    return [{"gear": k + 1, f"{low:.0f}_{high:.0f}_kmh_s": plain(t)} for k, t in enumerate(p.roll_on_s[n])]
