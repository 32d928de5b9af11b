"""Cruising for hours: engine speed, power in hand, the hill and the head wind each gear holds, fuel and range."""

from __future__ import annotations

import numpy as np

from ridesim.answers.answer import Answer, Column, Figures, Sentence, Step, Table, ValueOf, rows_of
from ridesim.answers.held_back import cruise_notes
from ridesim.answers.solved import ORDINALS, Solved
from ridesim.answers.tire_motion import IN_MOTION, moving_engine_speed
from ridesim.mechanics.drivetrain import mean_piston_speed_m_s
from ridesim.units import kmh, kw, percent, rpm


def cruising(solved: Solved) -> Answer:
    """Every gear that holds the cruising speed.

    series: "gear" (G,), "needed_w", "available_w", "holds"; "speed_m_s" (N,), "needed_by_speed_w" (N,),
    "available_by_speed_w" (G, N), nan where the gear cannot turn at that speed.
    """
    bike, c = solved.bike, solved.performance.cruise
    holds = c.holds[0]
    stroke = bike.record.engine.stroke
    piston = np.full(len(holds), np.nan) if stroke is None else mean_piston_speed_m_s(stroke, c.engine_speed_rad_s[0])
    every = rows_of(
        {
            "gear": list(range(1, len(holds) + 1)),
            "engine_speed": list(c.engine_speed_rad_s[0]),
            "share": list(c.engine_speed_rad_s[0] / bike.rev_limit_rad_s),
            "piston": list(piston),
            "needed": list(c.needed_w[0]),
            "available": list(c.available_w[0]),
            "in_hand": list(c.available_w[0] - c.needed_w[0]),
            "grade": list(np.tan(c.slope_held_rad[0])),
            "wind": list(c.headwind_held_m_s[0]),
            "fuel": list(c.fuel_m3_per_m[0]),
            "range": list(c.range_m[0]),
        }
    )
    rows = tuple(row for row, held in zip(every, holds, strict=True) if held)
    series = {"holds": holds, "needed_w": c.needed_w[0], "available_w": c.available_w[0], **_by_speed(solved)}
    columns = (
        Column("gear", "Gear", "gear"),
        Column("engine_speed", "Engine speed", "engine speed"),
        Column("share", "Of the rev limit", "percent"),
        Column("piston", "Mean piston speed", "piston speed"),
        Column("needed", "Power needed", "power"),
        Column("available", "Power available", "power"),
        Column("in_hand", "Power in hand", "power"),
        Column("grade", "Grade held", "percent"),
        Column("wind", "Head wind held", "speed"),
        Column("fuel", "Fuel", "consumption"),
        Column("range", "Range", "journey"),
    )
    table = Table(title="Gears that hold the speed", columns=columns, rows=rows)
    speed = solved.figure("speed", "Cruising speed", "speed", np.full(len(c.holds), solved.ride.cruise_m_s))
    if not rows:
        return Answer(
            question="What does cruising take?",
            say=("No gear holds ", ValueOf("speed"), " on this road: slow down, or gear it otherwise."),
            figures=Figures(speed),
            tables=(table,),
            series=series,
            assumptions=bike.assumptions,
            steps=(),
            notes=bike.notes,
            cautions=_CAUTIONS,
        )
    k = int(np.nonzero(holds)[0].max())
    pistons = (
        ()
        if stroke is None
        else (
            solved.figure(
                "piston_speed",
                "Mean piston speed",
                "piston speed",
                mean_piston_speed_m_s(stroke, c.engine_speed_rad_s[:, k]),
                -1,
            ),
        )
    )
    moving = moving_engine_speed(solved)
    figures = (
        speed,
        solved.figure("engine_speed", f"Engine speed in {ORDINALS[k]}", "engine speed", c.engine_speed_rad_s[:, k], -1),
        solved.figure(
            "share_of_rev_limit",
            "Share of the rev limit",
            "percent",
            c.engine_speed_rad_s[:, k] / bike.rev_limit_rad_s,
            -1,
        ),
        *([] if moving is None else [moving]),
        *pistons,
        solved.figure("power_needed", "Power needed at the wheel", "power", c.needed_w[:, k], -1),
        solved.figure("power_in_hand", "Power in hand", "power", c.available_w[:, k] - c.needed_w[:, k], 1),
        solved.figure("grade_held", "Grade held without shifting down", "percent", np.tan(c.slope_held_rad[:, k]), 1),
        solved.figure("headwind_held", "Head wind held without shifting down", "speed", c.headwind_held_m_s[:, k], 1),
        solved.figure("fuel", "Fuel", "consumption", c.fuel_m3_per_m[:, k], -1),
        solved.figure("range", "Range on a full tank", "journey", c.range_m[:, k], 1),
    )
    say: Sentence = (
        *("At ", ValueOf("speed"), f" in {ORDINALS[k]} the engine turns ", ValueOf("engine_speed")),
        *(" (", ValueOf("share_of_rev_limit"), " of its limit) and has ", ValueOf("power_in_hand"), " in hand"),
    )
    grade, wind = np.tan(c.slope_held_rad[0, k]), c.headwind_held_m_s[0, k]
    spent: list[Sentence] = []
    if np.isfinite(grade):
        hill = ("a ", ValueOf("grade_held"), " hill"), ("a descent of ", ValueOf("grade_held", size=True))
        spent.append(hill[0] if grade >= 0.0 else hill[1])
    if np.isfinite(wind):
        air = ("a ", ValueOf("headwind_held"), " head wind"), ("a tail wind of ", ValueOf("headwind_held", size=True))
        spent.append(air[0] if wind >= 0.0 else air[1])
    for before, one in zip((": ", " or "), spent, strict=False):
        say += (before, *one)
    say += (".",)
    notes = bike.notes if bike.has_displacement else (*bike.notes, "fuel and range need engine.displacement")
    return Answer(
        question="What does cruising take?",
        say=say,
        figures=Figures(*figures),
        tables=(table,),
        series=series,
        assumptions=bike.assumptions if moving is None else (*bike.assumptions, IN_MOTION),
        steps=_steps(solved, k),
        notes=(*notes, *cruise_notes(solved)),
        cautions=_CAUTIONS,
    )


_CAUTIONS = (
    "Hours near the limit wear an engine: heed the maker's running-in and sustained-speed advice.",
    "Keep to local speed limits; tires, load and pressures must suit the speed.",
)


def _by_speed(solved: Solved) -> dict[str, object]:
    cells = solved.cells
    fastest = float(np.nanmax(solved.performance.gears.speed_at_top_m_s[0]))
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
