"""The tires as fitted: what they roll, carry and may be ridden at."""

from __future__ import annotations

import numpy as np

from ridesim.answers.answer import Answer, Figure, Step, ValueOf, table_of
from ridesim.answers.solved import Solved
from ridesim.answers.tires.speedometer import limit_notes, speedometer, speedometer_figures
from ridesim.components.tire import RollingTire, load_allowed, speed_allowed
from ridesim.components.tire_fit import new_size_words
from ridesim.units import either

CAUTIONS = (
    "Another size must fit the rim width, the swingarm, the fork and the fenders through full travel, and be allowed by the maker and by local law.",
    "Load index, speed symbol and pressures are the tire maker's and the bike maker's to state; ask a tire fitter when in doubt.",
    "Steering geometry decides stability at speed: after a change ride gently first.",
)
SIDE_WALL = (
    "The load a tire may carry holds at the pressure on the sidewall, up to the speed symbol's limit; where the marking has no load "
    "index or speed symbol, look there.",
    "Mud and snow tires, repairs and low pressure lower the speed limit; the manual decides.",
)


def tires(solved: Solved) -> Answer:
    """Dimensions, roll-out with its band, load and speed the tires may carry beside what the bike asks of them.

    The rear carries  m (1 - a / L)  of the mass m with its center a ahead of the rear axle; the speedometer is
    asked at the last speed that the run is timed to.

    series: "rear" and "front": diameter, loaded radius, section width, rim diameter, for a drawing to scale;
    "wheelbase_m".

    >>> import ridesim as rs
    >>> from ridesim.answers.solved import solved
    >>> found = tires(solved(rs.demo("coast-single")))
    >>> print(found)
    The rear tire 120/90-17 M/C 64S rolls 1.996 m in one turn (measured by roll-out) and carries 149 kg.
    >>> found.to_frame()[["Load on it [kg]", "May carry [kg]", "Top speed of the bike [km/h]"]].round(0).values.tolist()
    [[149.0, 280.0, 125.0], [108.0, 200.0, 125.0]]
    """
    bike, every = solved.bike, solved.setups
    s = bike.setups
    rear_share = float(1.0 - s.ahead_m[0] / s.wheelbase_m[0])
    top = float(solved.performance.top_speed_m_s[0])
    mass = float(s.mass_kg[0])
    rear, front = both = bike.rear_tire, bike.front_tire
    meter = speedometer(bike, solved.ride.targets_m_s[-1])
    figures = (
        solved.figure("rollout", "Rolling circumference, rear", "length", solved.setups.rear_radius_m * 2 * np.pi),
        Figure(
            "rollout_front",
            "Rolling circumference, front",
            front.circumference_m,
            "length",
            low=front.low_m,
            high=front.high_m,
        ),
        Figure("diameter", "Overall diameter, rear", 2 * rear.free_radius_m, "small length"),
        solved.figure(
            "load", "Load on the rear tire", "mass", every.mass_kg * (1.0 - every.ahead_m / every.wheelbase_m)
        ),
        *speedometer_figures(meter),
    )
    how = "measured by roll-out" if rear.measured else "from its marking"
    say = (
        *(f"The rear tire {rear.marking.written} rolls ", ValueOf("rollout")),
        *(f" in one turn ({how}) and carries ", ValueOf("load"), "."),
    )
    steps = tuple(Step(what, how, "") for what, _, how in (text.partition(" = ") for text in rear.steps))
    return solved.answer(
        "What do the tires give and carry?",
        say,
        figures,
        tables=(
            table_of(
                "Tires",
                ("position", "Tire", "text", [one.position for one in both]),
                ("marking", "Marking", "text", [one.marking.written for one in both]),
                ("diameter", "Overall diameter", "small length", [2 * one.free_radius_m for one in both]),
                ("width", "Section width", "small length", [one.section_width_m for one in both]),
                ("rollout", "Rolling circumference", "length", [one.circumference_m for one in both]),
                ("low", "At least", "length", [one.low_m for one in both]),
                ("high", "At most", "length", [one.high_m for one in both]),
                ("load", "Load on it", "mass", [mass * rear_share, mass * (1.0 - rear_share)]),
                ("capacity", "May carry", "mass", [one.marking.load_capacity_kg for one in both]),
                ("top", "Top speed of the bike", "speed", [top, top]),
                ("limit", "Speed symbol allows", "speed", [one.marking.speed_limit_m_s for one in both]),
            ),
        ),
        series={"rear": drawing(rear), "front": drawing(front), "wheelbase_m": float(s.wheelbase_m[0])},
        steps=steps,
        notes=(*tire_notes(solved), *SIDE_WALL, *limit_notes(meter)),
        cautions=CAUTIONS,
    )


def tire_notes(solved: Solved) -> tuple[str, ...]:
    """How large a new tire may be, and where one is asked to carry more, or to go faster, than its marking allows.

    >>> import ridesim as rs
    >>> from ridesim.answers.solved import solved
    >>> loaded = rs.demo("coast-single").with_changes(rear_tire="120/90-17 M/C 40S")
    >>> [note for note in tire_notes(solved(loaded)) if "load index" in note]
    ['rear tire 120/90-17 M/C 40S: 149 kg rests on it, more than the 140 kg of its load index']
    """
    bike, s = solved.bike, solved.bike.setups
    top = float(solved.performance.top_speed_m_s[0])
    front = float(s.ahead_m[0] / s.wheelbase_m[0])
    notes = []
    for tire, share in ((bike.rear_tire, 1.0 - front), (bike.front_tire, front)):
        name, load, marking = f"{tire.position} tire {tire.marking.written}", float(s.mass_kg[0]) * share, tire.marking
        if text := new_size_words(marking):
            notes.append(f"{name}: " + text)
        if marking.load_capacity_kg is not None and not load_allowed(marking, load):
            rests, carries = either("mass", load), either("mass", marking.load_capacity_kg)
            notes.append(f"{name}: " + rests + " rests on it, more than the " + carries + " of its load index")
        limit = marking.speed_limit_m_s
        if limit is not None and np.isfinite(top) and not speed_allowed(marking, top):
            vouched = " its marking vouches for" if marking.speed_limit_is_floor else " its speed symbol allows"
            goes, allowed = either("speed", top), either("speed", limit)
            notes.append(f"{name}: the top speed of " + goes + " is above the " + allowed + vouched)
    return tuple(notes)


def drawing(tire: RollingTire) -> dict[str, float]:
    """What a side view to scale needs, SI: radius free and loaded, section width, radius of the rim.

    A rim of code 17 is nominally 432 mm across, ISO 4000-1:

    >>> import ridesim as rs
    >>> {key: round(value, 4) for key, value in drawing(rs.demo("coast-single").rear_tire).items()}
    {'free_radius_m': 0.3203, 'loaded_radius_m': 0.3123, 'section_width_m': 0.12, 'rim_radius_m': 0.216}
    """
    return {
        "free_radius_m": tire.free_radius_m,
        "loaded_radius_m": tire.loaded_radius_m,
        "section_width_m": tire.section_width_m,
        "rim_radius_m": tire.marking.rim_diameter_m / 2,
    }
