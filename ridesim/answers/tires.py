"""The tires as fitted, and what another tire does to gearing, speedometer, clearance and steering."""

from __future__ import annotations

from dataclasses import replace
from typing import Any

import numpy as np

from ridesim.answers.answer import Answer, Column, Figure, Figures, Step, Table, ValueOf
from ridesim.answers.solved import Solved
from ridesim.answers.speedometer import R39_LABEL, R39_NOTE, Speedometer, speedometer, speedometer_figures
from ridesim.bike import Bike
from ridesim.components.speedometer import indicated_limits_un_r39, reading_verdict
from ridesim.components.steering import SteeringChange, rigid_frame, trail_m
from ridesim.components.tire import (
    RollingTire,
    equivalent_rear_teeth,
    gearing_change,
    load_check,
    speed_check,
)
from ridesim.units import in_both, percent

CAUTIONS = (
    "Another size must fit the rim width, the swingarm, the fork and the mudguards under full travel, and be allowed by the maker's papers and local law.",
    "Load index, speed symbol and pressures are the tire maker's and the bike maker's to state; ask a tire fitter when in doubt.",
    "Steering geometry decides stability at speed: after a change ride gently first.",
)


def tires(solved: Solved) -> Answer:
    """Dimensions, roll-out with its band, load and speed the tires may carry beside what the bike asks of them.

    series: "rear" and "front": diameter, loaded radius, section width, rim diameter, for a drawing to scale.
    """
    bike, every = solved.bike, solved.setups
    s = bike.setups
    rear_share = 1.0 - s.ahead_m[0] / s.wheelbase_m[0]
    top = float(solved.performance.top_speed_m_s[0])
    rows, notes = [], [*bike.notes, *tire_notes(solved)]
    for tire, share in ((bike.rear_tire, rear_share), (bike.front_tire, 1.0 - rear_share)):
        row, more = _row(tire, float(s.mass_kg[0] * share), top)
        rows.append(row)
        notes += more
    notes.append(R39_NOTE)
    figures = (
        solved.figure("rollout", "Rolling circumference, rear", "length", solved.setups.rear_radius_m * 2 * np.pi),
        Figure(
            key="rollout_front",
            label="Rolling circumference, front",
            value=bike.front_tire.circumference_m,
            low=bike.front_tire.low_m,
            high=bike.front_tire.high_m,
            reading="length",
        ),
        Figure(
            key="diameter",
            label="Overall diameter, rear",
            value=2 * bike.rear_tire.free_radius_m,
            reading="small length",
        ),
        solved.figure(
            "load", "Load on the rear tire", "mass", every.mass_kg * (1.0 - every.ahead_m / every.wheelbase_m)
        ),
        *speedometer_figures(bike),
    )
    how = "measured by roll-out" if bike.rear_tire.measured else "from its marking"
    say = (
        *(f"The rear tire {bike.rear_tire.marking.written} rolls ", ValueOf("rollout")),
        *(f" in one turn ({how}) and carries ", ValueOf("load"), "."),
    )
    steps = tuple(Step(formula="rear tire", numbers=text, result="") for text in bike.rear_tire.steps)
    columns = (
        Column(key="position", label="Tire", reading="text"),
        Column(key="marking", label="Marking", reading="text"),
        Column(key="diameter", label="Overall diameter", reading="small length"),
        Column(key="width", label="Section width", reading="small length"),
        Column(key="rollout", label="Rolling circumference", reading="length"),
        Column(key="low", label="At least", reading="length"),
        Column(key="high", label="At most", reading="length"),
        Column(key="load", label="Load on it", reading="mass"),
        Column(key="capacity", label="May carry", reading="mass"),
        Column(key="top", label="Top speed of the bike", reading="speed"),
        Column(key="limit", label="Speed symbol allows", reading="speed"),
    )
    return Answer(
        question="What do the tires give and carry?",
        say=say,
        figures=Figures(*figures),
        tables=(Table(title="Tires", columns=columns, rows=tuple(rows)),),
        series={
            "rear": drawing(bike.rear_tire),
            "front": drawing(bike.front_tire),
            "wheelbase_m": float(s.wheelbase_m[0]),
        },
        assumptions=bike.assumptions,
        steps=steps,
        notes=tuple(notes),
        cautions=CAUTIONS,
    )


def tire_notes(solved: Solved) -> tuple[str, ...]:
    """Where a tire is asked to carry more, or to go faster, than its marking allows."""
    bike, s = solved.bike, solved.bike.setups
    top = float(solved.performance.top_speed_m_s[0])
    front = float(s.ahead_m[0] / s.wheelbase_m[0])
    notes = []
    for tire, share in ((bike.rear_tire, 1.0 - front), (bike.front_tire, front)):
        name, load = (
            f"{tire.position} tire {tire.marking.written}",
            load_check(tire.marking, float(s.mass_kg[0]) * share),
        )
        if load.within is False and load.capacity_kg is not None:
            notes.append(
                f"{name}: {in_both('mass', load.load_kg)} rest on it, more than the {in_both('mass', load.capacity_kg)} of its load index"
            )
        speed = speed_check(tire.marking, top) if np.isfinite(top) else None
        if speed is not None and speed.limit_m_s is not None and speed.within is not True:
            vouched = "its marking vouches for" if speed.limit_is_floor else "its speed symbol allows"
            notes.append(
                f"{name}: the top speed of {in_both('speed', top)} is above the {in_both('speed', speed.limit_m_s)} {vouched}"
            )
    return tuple(notes)


def drawing(tire: RollingTire) -> dict[str, float]:
    """What a side view to scale needs, SI."""
    return {
        "free_radius_m": tire.free_radius_m,
        "loaded_radius_m": tire.loaded_radius_m,
        "section_width_m": tire.section_width_m,
        "rim_radius_m": tire.marking.rim_diameter_m / 2,
    }


def _row(tire: RollingTire, load_kg: float, top: float) -> tuple[dict[str, Any], tuple[str, ...]]:
    load = load_check(tire.marking, load_kg)
    notes = load.notes
    limit = tire.marking.speed_limit_m_s
    if np.isfinite(top):
        speed = speed_check(tire.marking, top)
        limit, notes = speed.limit_m_s, (*notes, *speed.notes)
    row = {
        "position": tire.position,
        "marking": tire.marking.written,
        "diameter": 2 * tire.free_radius_m,
        "width": tire.section_width_m,
        "rollout": tire.circumference_m,
        "low": tire.low_m,
        "high": tire.high_m,
        "load": load_kg,
        "capacity": load.capacity_kg,
        "top": top if np.isfinite(top) else None,
        "limit": limit,
    }
    return row, notes


def tire_swap(now: Solved, might: Solved) -> Answer:
    """What going from one bike's tires to another's does: gearing, equivalent teeth, speedometer, clearance, rake and trail.

    series: "now" and "might" drawings of both wheels; "wheelbase_m".
    """
    a, b = now.bike, might.bike
    change = float(gearing_change(a.rear_tire.circumference_m, b.rear_tire.circumference_m))
    teeth = float(equivalent_rear_teeth(a.rear_teeth, a.rear_tire.circumference_m, b.rear_tire.circumference_m))
    steering = _steering(a, b)
    meter = speedometer(_with_teeth_of(b, a))
    d_rear = b.rear_tire.loaded_radius_m - a.rear_tire.loaded_radius_m
    d_front = b.front_tire.loaded_radius_m - a.front_tire.loaded_radius_m
    ends = ((a.rear_tire.low_m, b.rear_tire.high_m), (a.rear_tire.high_m, b.rear_tire.low_m))
    above, below = (
        float(np.hypot(old / a.rear_tire.circumference_m - 1, new / b.rear_tire.circumference_m - 1))
        for old, new in ends
    )
    figures = [
        Figure(
            key="gearing",
            label="Gearing change by the rear tire (taller is +)",
            value=change,
            low=change - below,
            high=change + above,
            reading="percent",
        ),
        Figure(
            key="teeth",
            label="The old rear tire with this rear sprocket would gear the same",
            value=teeth,
            low=teeth * (1 - above),
            high=teeth * (1 + below),
            reading="number",
        ),
        Figure(key="rear_radius", label="Rear axle height changes by", value=d_rear, reading="small length"),
        Figure(key="front_radius", label="Front axle height changes by", value=d_front, reading="small length"),
        Figure(key="true", label="True speed", value=100 / 3.6, reading="speed"),
        Figure(
            key="indicated",
            label="Speedometer at that true speed",
            value=meter.indicated_at_100_kmh / 3.6,
            low=meter.low * 100 / 3.6,
            high=meter.high * 100 / 3.6,
            reading="speed",
        ),
        Figure(
            key="speedometer_error", label="Speedometer error", value=meter.indicated_over_true - 1, reading="percent"
        ),
        Figure(key="odometer_error", label="Odometer error", value=meter.odometer_over_true - 1, reading="percent"),
        Figure(key="speedometer_within", label=R39_LABEL, value=meter.within, reading="yes or no"),
        Figure(
            key="clearance",
            label="Ground clearance between the axles changes by",
            value=float(steering.clearance_change_m),
            reading="small length",
        ),
        Figure(key="rake", label="Rake changes by", value=float(steering.rake_change_rad), reading="angle"),
    ]
    if a.record.chassis.rake is not None and a.record.chassis.fork_offset is not None:
        before = float(
            trail_m(a.front_tire.loaded_radius_m, float(a.record.chassis.rake), float(a.record.chassis.fork_offset))
        )
        figures += [
            Figure(key="trail_before", label="Trail before", value=before, reading="small length"),
            Figure(key="trail", label="Trail after", value=float(steering.trail_m), reading="small length"),
        ]
    notes: list[str] = [*a.notes, *b.notes]
    if not meter.within:
        notes.append(
            "the speedometer would read outside UN R39's limit for type approval: it reads low, or far too high"
        )
    notes.append(R39_NOTE)
    word = "taller" if change >= 0 else "lower"
    say = (
        f"{b.rear_tire.marking.written} instead of {a.rear_tire.marking.written} changes the gearing by ",
        *(ValueOf("gearing"), f" ({word}), as if the rear sprocket had ", ValueOf("teeth")),
        *(" teeth; the speedometer shows ", ValueOf("indicated"), " at a true ", ValueOf("true"), "."),
    )
    steps = (
        Step(
            formula="gearing change = U_new / U_old - 1",
            numbers=f"{b.rear_tire.circumference_m:.4f} / {a.rear_tire.circumference_m:.4f} - 1",
            result=f"{percent(change):.2f} %",
        ),
        Step(
            formula="equivalent teeth = z2 U_old / U_new",
            numbers=f"{a.rear_teeth} x {a.rear_tire.circumference_m:.4f} / {b.rear_tire.circumference_m:.4f}",
            result=f"{teeth:.2f}",
        ),
        Step(
            formula="indicated / true = (U_cal ratio_now) / (U_now ratio_cal)",
            numbers=f"sensor: {b.record.speedometer.sensor}",
            result=f"{meter.indicated_over_true:.4f}",
        ),
        Step(
            formula="trail = (R sin l - f) / cos l, rigid frame turned by the radius changes",
            numbers=f"dr front {1e3 * d_front:.1f} mm, dr rear {1e3 * d_rear:.1f} mm",
            result=f"rake {np.degrees(float(steering.rake_change_rad)):+.2f} deg",
        ),
    )
    return Answer(
        question="What does the tire swap do?",
        say=say,
        figures=Figures(*figures),
        tables=(_limits_table(meter),),
        series={
            "now": {"rear": drawing(a.rear_tire), "front": drawing(a.front_tire)},
            "might": {"rear": drawing(b.rear_tire), "front": drawing(b.front_tire)},
            "wheelbase_m": float(a.setups.wheelbase_m[0]),
        },
        assumptions=(*b.assumptions, *steering.assumptions),
        steps=steps,
        notes=tuple(notes),
        cautions=CAUTIONS,
    )


def _limits_table(meter: Speedometer) -> Table:
    rows = tuple(
        {
            "true": v,
            "indicated": v * meter.indicated_over_true,
            "least": float(limits.low_m_s),
            "most": float(limits.high_m_s),
            "within": bool(reading_verdict(v, v * meter.indicated_over_true).within),
        }
        for v in (kmh_value / 3.6 for kmh_value in (40.0, 50.0, 80.0, 100.0, 120.0))
        for limits in (indicated_limits_un_r39(v),)
    )
    return Table(
        title="Speedometer against UN R39's limit for type approval",
        columns=(
            Column(key="true", label="True speed", reading="speed"),
            Column(key="indicated", label="Indicated", reading="speed"),
            Column(key="least", label="Approved from", reading="speed"),
            Column(key="most", label="Up to", reading="speed"),
            Column(key="within", label="Within", reading="yes or no"),
        ),
        rows=rows,
    )


def _steering(a: Bike, b: Bike) -> SteeringChange:
    chassis = a.record.chassis
    rake = np.radians(27.0) if chassis.rake is None else float(chassis.rake)
    offset = 0.04 if chassis.fork_offset is None else float(chassis.fork_offset)
    place = (
        a.setups.wheelbase_m[0] / 2
        if chassis.lowest_point_ahead_of_rear_axle is None
        else float(chassis.lowest_point_ahead_of_rear_axle)
    )
    return rigid_frame(
        front_radius_m=a.front_tire.loaded_radius_m,
        rear_radius_m=a.rear_tire.loaded_radius_m,
        new_front_radius_m=b.front_tire.loaded_radius_m,
        new_rear_radius_m=b.rear_tire.loaded_radius_m,
        wheelbase_m=float(a.setups.wheelbase_m[0]),
        rake_rad=rake,
        fork_offset_m=offset,
        point_ahead_m=float(place),
    )


def _with_teeth_of(bike: Bike, other: Bike) -> Bike:
    return replace(bike, front_teeth=other.front_teeth, rear_teeth=other.rear_teeth)
