"""Engine speed against road speed in every gear: what the ratios and the tire make of the rev range."""

from __future__ import annotations

import numpy as np

from ridesim.answers.answer import Answer, Column, Figures, Step, Table, ValueOf, rows_of
from ridesim.answers.solved import ORDINALS, Solved
from ridesim.mechanics.drivetrain import mean_piston_speed_m_s
from ridesim.units import in_both, kmh, rad_s, rpm


def speeds(solved: Solved) -> Answer:
    """Speed at the rev limit and for each 1,000 rev/min, gear by gear, and what each upshift drops the revs to.

    series: "gear", "engine_speed_rad_s", "speed_m_s" (G, N) lines from standstill to the limit; "cruise_m_s";
    "shift_speed_m_s", "shift_from_rad_s", "shift_to_rad_s" (G-1,).
    """
    bike, gears = solved.bike, solved.performance.gears
    metres = solved.bike.setups.metres_per_radian[0]
    radius = (
        np.atleast_1d(solved.performance.gears.speed_at_top_m_s[:, -1]) / solved.cells.last * bike.setups.ratios[0, -1]
    )
    limit = bike.rev_limit_rad_s
    up = gears.upshift_rad_s[0]
    after = np.append(up[:-1] * metres[:-1] / metres[1:], np.nan)
    cruise_all = solved.ride.cruise_m_s / metres
    rows = rows_of(
        {
            "gear": list(range(1, len(metres) + 1)),
            "gear_ratio": list(bike.gears),
            "overall": list(bike.setups.ratios[0]),
            "per_1000": list(metres * rad_s(1000.0)),
            "at_limit": list(metres * limit),
            "at_cruise": list(np.where(cruise_all <= limit, cruise_all, np.nan)),
            "upshift": list(up),
            "after": list(after),
        }
    )
    top_gear = len(metres)
    cruise_w = solved.ride.cruise_m_s * bike.setups.ratios[0, -1] / radius
    figures = (
        solved.figure(
            "cruise_rpm",
            f"Engine speed at the cruising speed in {ORDINALS[top_gear - 1]}",
            "engine speed",
            cruise_w,
            -1,
        ),
        solved.figure("cruise", "Cruising speed", "speed", np.full(len(radius), solved.ride.cruise_m_s)),
        solved.figure("share", "Share of the rev limit", "percent", cruise_w / limit, -1),
        solved.figure(
            "first_at_limit", "First gear at the rev limit", "speed", radius * limit / bike.setups.ratios[0, 0]
        ),
        solved.figure(
            "top_at_limit",
            f"{ORDINALS[top_gear - 1].capitalize()} gear at the rev limit",
            "speed",
            radius * limit / bike.setups.ratios[0, -1],
        ),
        solved.figure("rollout", "Rolling circumference", "length", radius * 2 * np.pi),
    )
    step_ratio = bike.setups.ratios[0, 0]
    final = f"{bike.final_ratio:.4f}" if bike.teeth is None else f"{bike.teeth[1]}/{bike.teeth[0]}"
    steps = (
        Step(
            formula=f"i = primary x gear x {'final drive' if bike.teeth is None else 'rear / front'}",
            numbers=f"{bike.primary:.4f} x {bike.gears[0]:.4f} x {final}",
            result=f"{step_ratio:.4f} (first gear)",
        ),
        Step(
            formula="rolling circumference U, r = U / 2 pi",
            numbers="; ".join(bike.rear_tire.steps),
            result=f"r = {bike.rear_tire.rolling_radius_m:.4f} m",
        ),
        Step(
            formula="v = omega r / i",
            numbers=f"{rad_s(1000.0):.3f} x {bike.rear_tire.rolling_radius_m:.4f} / {step_ratio:.4f}",
            result=f"{kmh(metres[0] * rad_s(1000.0)):.3f} km/h for each 1,000 rev/min in first",
        ),
        Step(
            formula="n = v i / r x 60 / 2 pi",
            numbers=f"{solved.ride.cruise_m_s:.3f} x {bike.setups.ratios[0, -1]:.4f} / {bike.rear_tire.rolling_radius_m:.4f} x 9.5493",
            result=f"{rpm(cruise_w[0]):.0f} rev/min",
        ),
    )
    w = np.linspace(0.0, limit, 60)
    stroke = bike.record.engine.stroke
    notes: tuple[str, ...] = bike.notes
    if stroke is not None:
        fast = float(mean_piston_speed_m_s(stroke, limit))
        if fast > 20.3:
            notes = (
                *notes,
                f"mean piston speed at the rev limit is {in_both('piston speed', fast)}, above the 20.3 m/s (4,000 ft/min) that trade handbooks "
                "give as a safe sustained limit",
            )
    return Answer(
        question="Speed in each gear",
        say=(
            *("At ", ValueOf("cruise"), " the engine ", "turns " if cruise_w[0] <= limit else "would have to turn "),
            *(
                ValueOf("cruise_rpm"),
                f" in {ORDINALS[top_gear - 1]}, ",
                ValueOf("share"),
                " of its limit; first reaches ",
            ),
            *(ValueOf("first_at_limit"), " at the limit."),
        ),
        figures=Figures(*figures),
        tables=(
            Table(
                title="Gears",
                columns=(
                    Column(key="gear", label="Gear", reading="gear"),
                    Column(key="gear_ratio", label="Gear ratio", reading="ratio"),
                    Column(key="overall", label="Overall ratio", reading="ratio"),
                    Column(key="per_1000", label="Speed for each 1,000 rev/min", reading="speed"),
                    Column(key="at_limit", label="Speed at the rev limit", reading="speed"),
                    Column(key="at_cruise", label="Engine speed at the cruising speed", reading="engine speed"),
                    Column(key="upshift", label="Best upshift at", reading="engine speed"),
                    Column(key="after", label="Engine speed after it", reading="engine speed"),
                ),
                rows=rows,
            ),
        ),
        series={
            "engine_speed_rad_s": w,
            "speed_m_s": metres[:, None] * w,
            "cruise_m_s": solved.ride.cruise_m_s,
            "shift_speed_m_s": up[:-1] * metres[:-1],
            "shift_from_rad_s": up[:-1],
            "shift_to_rad_s": after[:-1],
            "limit_rad_s": limit,
        },
        assumptions=bike.assumptions,
        steps=steps,
        notes=notes,
        cautions=("Over-revving breaks engines: the maker's limit stands above anything computed here.",),
    )
