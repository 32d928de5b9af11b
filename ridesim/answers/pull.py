"""What the rear wheel pushes with, gear by gear, beside what road and air take."""

from __future__ import annotations

import numpy as np

from ridesim.answers.answer import Answer, Column, Figures, Sentence, Step, Table, ValueOf, rows_of
from ridesim.answers.held_back import roll_on_notes
from ridesim.answers.solved import ORDINALS, Solved, ended_by
from ridesim.mechanics.setups import Ride
from ridesim.mechanics.traction import GearRows

GRADES = (0.0, 0.05, 0.10, 0.20)  # resistance curves drawn beside the thrust


def pull(solved: Solved) -> Answer:
    """Highest wheel force and acceleration in each gear, and the roll-on times.

    series: "engine_speed_rad_s" (N,), "speed_m_s" (G, N), "force_n" (G, N), "acceleration_m_s2" (G, N), "wheel_power_w" (G, N);
    "road_speed_m_s" (M,), "resistance_n" {grade: (M,)}.
    """
    bike, perf = solved.bike, solved.performance
    count = solved.gear_count
    w = np.linspace(solved.cells.first, solved.cells.last, 120)
    forces = solved.rows.at(w[:, None])
    force, speed, acceleration = forces.thrust.T, forces.speed.T, forces.engine.T
    rows = rows_of(
        {
            "gear": list(range(1, count + 1)),
            "peak_force": list(perf.gears.peak_force_n[0]),
            "best_acceleration": list(acceleration.max(axis=1)),
            "top_speed": list(perf.gears.top_speed_m_s[0]),
            "ends_by": ended_by(solved),
            "roll_on": list(perf.roll_on_s[0]),
        }
    )
    v1, v2 = solved.ride.roll_on_m_s
    figures = [solved.figure("first_force", "Highest wheel force in first", "force", perf.gears.peak_force_n[:, 0], 1)]
    if count > 1:
        figures.append(
            solved.figure(
                "top_force", f"Highest wheel force in {ORDINALS[count - 1]}", "force", perf.gears.peak_force_n[:, -1], 1
            )
        )
    figures += [
        solved.figure("roll_from", "Roll-on from", "speed", np.full(len(perf.roll_on_s), v1)),
        solved.figure("roll_to", "Roll-on to", "speed", np.full(len(perf.roll_on_s), v2)),
        solved.figure("roll_on", f"Roll-on in {ORDINALS[count - 1]}", "time", perf.roll_on_s[:, -1], -1),
    ]
    name = ORDINALS[count - 1]
    between = (ValueOf("roll_from"), " to ", ValueOf("roll_to"))
    say: Sentence = ("First pushes with up to ", ValueOf("first_force"), "; ")
    if figures[-1].value is None:
        say += (f"{name} does not get from ", *between, ".")
    else:
        say += ("from ", *between, f" in {name} takes ", ValueOf("roll_on"), ".")
    _, peak_t = bike.curve.peak_torque()
    s = bike.setups
    steps = (
        Step(
            formula="T on the day = T of the sheet x factor",
            numbers=f"{peak_t:.2f} x {bike.ride_day.factor:.4f}",
            result=f"{peak_t * bike.ride_day.factor:.2f} N m",
        ),
        Step(
            formula="F = T i eta / r",
            numbers=f"{peak_t * bike.ride_day.factor:.2f} x {s.ratios[0, 0]:.4f} x {s.efficiency[0]:.3f} / {s.rear_radius_m[0]:.4f}",
            result=f"{perf.gears.peak_force_n[0, 0]:.0f} N in first",
        ),
        Step(
            formula="m_k = m + Jf/rf^2 + Jr/r^2 + eta Je i^2/r^2",
            numbers=f"{s.mass_kg[0]:.1f} + {s.front_inertia_kg_m2[0] / s.front_radius_m[0] ** 2:.2f} + {s.rear_inertia_kg_m2[0] / s.rear_radius_m[0] ** 2:.2f} + "
            f"{s.efficiency[0] * s.crank_inertia_kg_m2[0] * (s.ratios[0, 0] / s.rear_radius_m[0]) ** 2:.2f}",
            result=f"{s.effective_mass[0, 0]:.1f} kg in first",
            source="Khurmi & Gupta, Theory of Machines, ex. 3.15",
        ),
        Step(
            formula="roll-on time = integral of m_k / (F - R) dv",
            numbers=f"{v1:.2f} to {v2:.2f} m/s",
            result=f"{perf.roll_on_s[0, -1]:.2f} s in {name}" if np.isfinite(perf.roll_on_s[0, -1]) else "never",
        ),
    )
    road = np.linspace(0.0, float(np.nanmax(speed)), 80)
    return Answer(
        question="How hard does it pull?",
        say=say,
        figures=Figures(*figures),
        tables=(
            Table(
                title="Pull by gear",
                columns=(
                    Column(key="gear", label="Gear", reading="gear"),
                    Column(key="peak_force", label="Highest wheel force", reading="force"),
                    Column(key="best_acceleration", label="Best acceleration", reading="acceleration"),
                    Column(key="top_speed", label="Top speed", reading="speed"),
                    Column(key="ends_by", label="Ended by", reading="text"),
                    Column(key="roll_on", label="Roll-on", reading="time"),
                ),
                rows=rows,
            ),
        ),
        series={
            "engine_speed_rad_s": w,
            "speed_m_s": speed,
            "force_n": force,
            "acceleration_m_s2": acceleration,
            "wheel_power_w": force * speed,
            "road_speed_m_s": road,
            "resistance_n": {g: _resistance(solved, road, g) for g in GRADES},
        },
        assumptions=bike.assumptions,
        steps=steps,
        notes=(*bike.notes, *roll_on_notes(solved)),
        cautions=("Full-throttle pulls belong on a closed or empty stretch, within the law.",),
    )


def _resistance(solved: Solved, speed: np.ndarray, grade: float) -> np.ndarray:
    ride = Ride(slope_rad=float(np.arctan(grade)), headwind_m_s=solved.ride.headwind_m_s)
    return GearRows(solved.bike.setups, solved.cells, ride).resistance_n(speed[:, None])[:, 0]
