"""The steepest hill each gear climbs steadily, and what ends it: the engine, the front wheel or the rear tire."""

from __future__ import annotations

import numpy as np

from ridesim.answers.answer import Answer, Column, Figures, Sentence, Step, Table, ValueOf, rows_of
from ridesim.answers.solved import ORDINALS, Solved
from ridesim.mechanics.limits import CLIMB_LIMITS
from ridesim.units import percent


def climbing(solved: Solved) -> Answer:
    """Steepest grade by gear.

    series: "speed_m_s" (G, N), "grade_by_engine" (G, N), "grade_by_front" (G, N), "grade_by_tire" (G, N) as tangents.
    """
    bike, g = solved.bike, solved.performance.gears
    count = solved.gear_count
    grade = np.tan(g.steepest_slope_rad)
    limits = [CLIMB_LIMITS[int(k)] for k in g.steepest_limited_by[0]]
    rows = rows_of({"gear": list(range(1, count + 1)), "grade": list(grade[0]), "limit": limits})
    figures = tuple(
        solved.figure(f"grade_{k + 1}", f"Steepest grade in {ORDINALS[k]}", "percent", grade[:, k], 1)
        for k in range(count)
    )
    w = np.linspace(solved.cells.first, solved.cells.last, 80)
    forces = solved.rows.at(w[:, None])
    engine, front, tire = np.tan(np.minimum(forces.slopes, 1.5)).transpose(0, 2, 1)
    why = {
        "engine": "the engine gives no more",
        "front lift": "the front wheel goes light",
        "rear tire": "the rear tire lets go",
    }
    say: Sentence = (
        ("First climbs ", ValueOf("grade_1"), f" steadily; beyond it {why[limits[0]]}.")
        if grade[0, 0] >= 0.0
        else ("First holds no speed on the level: it takes a descent of ", ValueOf("grade_1", size=True), ".")
    )
    if count > 1:
        climbs = bool(grade[0, -1] >= 0.0)
        does = "holds" if climbs else "takes a descent of"
        say += (f" {ORDINALS[count - 1].capitalize()} {does} ", ValueOf(f"grade_{count}", size=not climbs), ".")
    s = bike.setups
    rolling = s.f0_n[0] / (s.mass_kg[0] * 9.80665)
    steps = (
        Step(
            formula="th = asin(S / sqrt(1 + C^2)) - atan C, S = (F - F_D)/(m g)",
            numbers=f"highest wheel force {g.peak_force_n[0, 0]:.0f} N, m g {s.mass_kg[0] * 9.80665:.0f} N, C {rolling:.4f}",
            result=f"{percent(grade[0, 0]):.1f} % in first, limit: {limits[0]}",
        ),
    )
    return Answer(
        question="How steep a hill does it climb?",
        say=say,
        figures=Figures(*figures),
        tables=(
            Table(
                title="Steepest grade by gear",
                columns=(
                    Column(key="gear", label="Gear", reading="gear"),
                    Column(key="grade", label="Steepest grade", reading="percent"),
                    Column(key="limit", label="Ended by", reading="text"),
                ),
                rows=rows,
            ),
        ),
        series={
            "speed_m_s": forces.speed.T,
            "grade_by_engine": engine,
            "grade_by_front": front,
            "grade_by_tire": tire,
        },
        assumptions=bike.assumptions,
        steps=steps,
        notes=bike.notes,
        cautions=("A steady climb on even ground: ruts, stones and starts on the slope ask for more in hand.",),
    )
