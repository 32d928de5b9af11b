"""Cruising for hours: engine speed, power in hand, the hill and the head wind each gear holds, fuel and range."""

from __future__ import annotations

from typing import Any

import numpy as np

from ridesim.answers.answer import Answer, Sentence, Step, ValueOf, table_of
from ridesim.answers.front_wheel.held_back import cruise_notes
from ridesim.answers.solved import ORDINALS, Solved
from ridesim.answers.tires.motion import IN_MOTION, moving_engine_speed
from ridesim.mechanics.drivetrain import mean_piston_speed_m_s
from ridesim.units import kmh, kw, percent, rpm


def cruising(solved: Solved) -> Answer:
    """Every gear that holds the cruising speed, and what the highest of them has left.

    Needed is  P = R v  with  R = F0 cos th + F1 v + F2 (v + w)|v + w| + m g sin th, available  T omega eta; a gear
    holds the speed where its revs lie on the curve and it has no less than is needed. Grade and head wind held are
    those at which nothing is left; fuel is that of the power needed and the engine's losses, range that of the
    whole tank.

    series: "needed_w", "available_w", "holds" (G,); "speed_m_s" (N,), "needed_by_speed_w" (N,),
    "available_by_speed_w" (G, N), nan where the gear cannot turn at that speed.

    >>> import ridesim as rs
    >>> from ridesim.answers.solved import solved
    >>> found = cruising(solved(rs.demo("coast-single")))
    >>> print(found)
    At 95 km/h in fifth the engine turns 4,876 rev/min (67.7 % of its limit) and has 8.1 kW in hand: a grade of 12.3 % or a head wind of 43.7 km/h.
    >>> found.to_frame()[["Gear", "Engine speed [rev/min]", "Power in hand [kW]"]].round(1).values.tolist()
    [[4.0, 5862.4, 9.8], [5.0, 4876.1, 8.1]]
    >>> [key for key, one in found.figures.items() if one.better < 0]
    ['engine_speed', 'share_of_rev_limit', 'piston_speed', 'power_needed', 'fuel']
    >>> [key for key, one in found.figures.items() if one.better > 0]
    ['power_in_hand', 'grade_held', 'headwind_held', 'range']
    """
    bike, c = solved.bike, solved.performance.cruise
    holds = np.nonzero(c.holds[0])[0]
    stroke = bike.record.engine.stroke
    w, in_hand, grade = c.engine_speed_rad_s, c.available_w - c.needed_w, np.tan(c.slope_held_rad)
    share = w / bike.rev_limit_rad_s
    piston = np.full(w.shape, np.nan) if stroke is None else mean_piston_speed_m_s(stroke, w)
    table = table_of(
        "Gears that hold the speed",
        ("gear", "Gear", "gear", holds + 1),
        ("engine_speed", "Engine speed", "engine speed", w[0, holds]),
        ("share", "Of the rev limit", "percent", share[0, holds]),
        ("piston", "Mean piston speed", "piston speed", piston[0, holds]),
        ("needed", "Power needed", "power", c.needed_w[0, holds]),
        ("available", "Power available", "power", c.available_w[0, holds]),
        ("in_hand", "Power in hand", "power", in_hand[0, holds]),
        ("grade", "Grade held", "percent", grade[0, holds]),
        ("wind", "Head wind held", "speed", c.headwind_held_m_s[0, holds]),
        ("fuel", "Fuel", "consumption", c.fuel_m3_per_m[0, holds]),
        ("range", "Range", "journey", c.range_m[0, holds]),
    )
    series = {"holds": c.holds[0], "needed_w": c.needed_w[0], "available_w": c.available_w[0], **_by_speed(solved)}
    shared: dict[str, Any] = {"tables": (table,), "series": series, "cautions": _CAUTIONS}
    question = "What does cruising take?"
    speed = solved.figure("speed", "Cruising speed", "speed", np.full(len(c.holds), solved.ride.cruise_m_s))
    if not holds.size:
        say: Sentence = ("No gear holds ", ValueOf("speed"), " on this road: slow down, or gear it otherwise.")
        return solved.answer(question, say, [speed], **shared)
    k = int(holds[-1])
    pistons = solved.figure("piston_speed", "Mean piston speed", "piston speed", piston[:, k], -1)
    moving = moving_engine_speed(solved)
    figures = (
        speed,
        solved.figure("engine_speed", f"Engine speed in {ORDINALS[k]}", "engine speed", w[:, k], -1),
        solved.figure("share_of_rev_limit", "Share of the rev limit", "percent", share[:, k], -1),
        *([] if moving is None else [moving]),
        *([] if stroke is None else [pistons]),
        solved.figure("power_needed", "Power needed at the wheel", "power", c.needed_w[:, k], -1),
        solved.figure("power_in_hand", "Power in hand", "power", in_hand[:, k], 1),
        solved.figure("grade_held", "Grade held without shifting down", "percent", grade[:, k], 1),
        solved.figure("headwind_held", "Head wind held without shifting down", "speed", c.headwind_held_m_s[:, k], 1),
        solved.figure("fuel", "Fuel", "consumption", c.fuel_m3_per_m[:, k], -1),
        solved.figure("range", "Range on a full tank", "journey", c.range_m[:, k], 1),
    )
    say = (
        *("At ", ValueOf("speed"), f" in {ORDINALS[k]} the engine turns ", ValueOf("engine_speed")),
        *(" (", ValueOf("share_of_rev_limit"), " of its limit) and has ", ValueOf("power_in_hand"), " in hand"),
    )
    before = ": "
    for key, held, more, less in (
        ("grade_held", grade[0, k], "a grade of ", "a descent of "),
        ("headwind_held", c.headwind_held_m_s[0, k], "a head wind of ", "a tail wind of "),
    ):
        if np.isfinite(held):
            say += (before, more if held >= 0.0 else less, ValueOf(key, size=True))
            before = " or "
    return solved.answer(
        question,
        (*say, "."),
        figures,
        assumptions=() if moving is None else (IN_MOTION,),
        notes=(*(() if bike.has_displacement else ("fuel and range need engine.displacement",)), *cruise_notes(solved)),
        steps=_steps(solved, k),
        **shared,
    )


_CAUTIONS = (
    "Hours near the limit wear an engine: heed the maker's running-in and sustained-speed advice.",
    "Keep to local speed limits; tires, load and pressures must suit the speed.",
)


def _by_speed(solved: Solved) -> dict[str, object]:
    cells = solved.cells
    fastest = float(solved.rows["meters_per_radian"].max() * solved.cells.last)
    v = np.linspace(1.0, fastest, 120)
    w = v[:, None] / solved.rows["meters_per_radian"]
    thrust = solved.rows.at(np.clip(w, cells.first, cells.last)).thrust.T
    inside = ((w >= cells.first) & (w <= cells.last)).T
    return {
        "speed_m_s": v,
        "needed_by_speed_w": solved.rows.resistance_n(v[:, None])[:, 0] * v,
        "available_by_speed_w": np.where(inside, thrust * v, np.nan),
    }


def _steps(solved: Solved, k: int) -> tuple[Step, ...]:
    bike, c, ride = solved.bike, solved.performance.cruise, solved.ride
    s = bike.setups
    against = ride.cruise_m_s + ride.headwind_m_s
    resistance = c.needed_w[0, k] / ride.cruise_m_s
    rolling = f"{s.f0_n[0]:.1f} cos th + {s.f1_n_s_m[0]:.3f} x {ride.cruise_m_s:.2f}"
    return (
        Step(
            "n = v i / r x 60 / 2 pi",
            f"{ride.cruise_m_s:.3f} x {s.ratios[0, k]:.4f} / {s.rear_radius_m[0]:.4f} x 9.5493",
            f"{rpm(c.engine_speed_rad_s[0, k]):.0f} rev/min",
        ),
        Step(
            "R = F0 cos th + F1 v + F2 (v + w)|v + w| + m g sin th",
            f"{rolling} + {s.f2_n_s2_m2[0]:.4f} x {against:.2f}^2 + {s.mass_kg[0]:.1f} x 9.80665 x {np.sin(ride.slope_rad):.4f}",
            f"{resistance:.1f} N",
        ),
        Step("P = R v", f"{resistance:.1f} x {ride.cruise_m_s:.3f}", f"{kw(c.needed_w[0, k]):.2f} kW"),
        Step(
            "P_available = T omega eta",
            f"{c.available_w[0, k] / c.engine_speed_rad_s[0, k] / s.efficiency[0]:.2f} N m x "
            f"{c.engine_speed_rad_s[0, k]:.1f} x {s.efficiency[0]:.3f}",
            f"{kw(c.available_w[0, k]):.2f} kW",
        ),
        Step(
            "grade held: th = asin(S/sqrt(1 + C^2)) - atan C, S = (F - F_D)/(m g)",
            f"F {c.available_w[0, k] / ride.cruise_m_s:.1f} N, m g {s.mass_kg[0] * 9.80665:.0f} N",
            f"{percent(np.tan(c.slope_held_rad[0, k])):.1f} %" if np.isfinite(c.slope_held_rad[0, k]) else "any",
        ),
        Step(
            "head wind held: F2 (v + w)^2 = F - R_steady",
            f"F2 {s.f2_n_s2_m2[0]:.4f} N/(m/s)^2",
            f"{kmh(c.headwind_held_m_s[0, k]):.1f} km/h" if np.isfinite(c.headwind_held_m_s[0, k]) else "any",
        ),
    )
