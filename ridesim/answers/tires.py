"""The tires as fitted: what they roll, carry and may be ridden at."""

from __future__ import annotations

from typing import Any

import numpy as np

from ridesim.answers.answer import Answer, Column, Figure, Figures, Step, Table, ValueOf
from ridesim.answers.solved import Solved
from ridesim.answers.speedometer import R39_NOTE, speedometer_figures
from ridesim.components.tire import RollingTire, load_allowed, speed_allowed
from ridesim.units import in_both

CAUTIONS = (
    "Another size must fit the rim width, the swingarm, the fork and the mudguards under full travel, and be allowed by the maker's papers and local law.",
    "Load index, speed symbol and pressures are the tire maker's and the bike maker's to state; ask a tire fitter when in doubt.",
    "Steering geometry decides stability at speed: after a change ride gently first.",
)
SIDE_WALL = (
    "The load a tire may carry holds at the pressure on the side wall, up to the speed symbol's limit; where the marking has no load "
    "index or speed symbol, look there.",
    "Mud and snow tires, repairs and low pressure lower the speed limit; the manual decides.",
)


def tires(solved: Solved) -> Answer:
    """Dimensions, roll-out with its band, load and speed the tires may carry beside what the bike asks of them.

    series: "rear" and "front": diameter, loaded radius, section width, rim diameter, for a drawing to scale.
    """
    bike, every = solved.bike, solved.setups
    s = bike.setups
    rear_share = float(1.0 - s.ahead_m[0] / s.wheelbase_m[0])
    top = float(solved.performance.top_speed_m_s[0])
    mass = float(s.mass_kg[0])
    rows = (_row(bike.rear_tire, mass * rear_share, top), _row(bike.front_tire, mass * (1.0 - rear_share), top))
    notes = (*bike.notes, *tire_notes(solved), *SIDE_WALL, R39_NOTE)
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
        tables=(Table(title="Tires", columns=columns, rows=rows),),
        series={
            "rear": drawing(bike.rear_tire),
            "front": drawing(bike.front_tire),
            "wheelbase_m": float(s.wheelbase_m[0]),
        },
        assumptions=bike.assumptions,
        steps=steps,
        notes=notes,
        cautions=CAUTIONS,
    )


def tire_notes(solved: Solved) -> tuple[str, ...]:
    """Where a tire is asked to carry more, or to go faster, than its marking allows."""
    bike, s = solved.bike, solved.bike.setups
    top = float(solved.performance.top_speed_m_s[0])
    front = float(s.ahead_m[0] / s.wheelbase_m[0])
    notes = []
    for tire, share in ((bike.rear_tire, 1.0 - front), (bike.front_tire, front)):
        name, load, marking = f"{tire.position} tire {tire.marking.written}", float(s.mass_kg[0]) * share, tire.marking
        if marking.load_capacity_kg is not None and not load_allowed(marking, load):
            notes.append(
                f"{name}: {in_both('mass', load)} rest on it, more than the {in_both('mass', marking.load_capacity_kg)} of its load index"
            )
        limit = marking.speed_limit_m_s
        if limit is not None and np.isfinite(top) and not speed_allowed(marking, top):
            vouched = "its marking vouches for" if marking.speed_limit_is_floor else "its speed symbol allows"
            notes.append(
                f"{name}: the top speed of {in_both('speed', top)} is above the {in_both('speed', limit)} {vouched}"
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


def _row(tire: RollingTire, load_kg: float, top: float) -> dict[str, Any]:
    return {
        "position": tire.position,
        "marking": tire.marking.written,
        "diameter": 2 * tire.free_radius_m,
        "width": tire.section_width_m,
        "rollout": tire.circumference_m,
        "low": tire.low_m,
        "high": tire.high_m,
        "load": load_kg,
        "capacity": tire.marking.load_capacity_kg,
        "top": top if np.isfinite(top) else None,
        "limit": tire.marking.speed_limit_m_s,
    }
