"""Whether another tire fits, and what it does to gearing, speedometer, ground clearance and steering."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace

import numpy as np

from ridesim.answers.answer import Answer, Figure, Figures, Sentence, Step, Table, ValueOf, table_of
from ridesim.answers.solved import Solved
from ridesim.answers.tires import CAUTIONS, drawing
from ridesim.answers.tires.checks import FitCheck, fit_checks
from ridesim.answers.tires.speedometer import (
    R39_NOTE,
    Speedometer,
    limit_words,
    reads,
    speedometer,
    speedometer_figures,
    within_limit,
)
from ridesim.bike import Bike
from ridesim.components.speedometer import indicated_limits_un_r39
from ridesim.components.steering import SteeringChange, rigid_frame, trail_m
from ridesim.components.tire_dimensions import equivalent_rear_teeth, gearing_change
from ridesim.components.tire_fit import FIT, Fit, sprockets_back
from ridesim.statements import Assumption
from ridesim.units import MPH_M_S, percent

TEST_SPEEDS = np.array([40.0, 50.0, 80.0, 100.0, 120.0]) / 3.6
TEST_SPEEDS_US = np.array([25.0, 30.0, 50.0, 60.0, 75.0]) * MPH_M_S
APPROVAL = (
    "The bike maker's manual and the tire maker's approval of the tire for this bike and rim decide; this is arithmetic on a marking.",
)
UNFELT = 5e-4  # a change of the gearing that no one reads off anything
RAKE, OFFSET = np.radians(27.0), 0.04  # where the file has neither: the change of rake hangs on neither of them


def tire_swap(now: Solved, planned: Solved) -> Answer:
    """Whether the planned tires fit, and what going to them does: gearing, speedometer, clearance, rake and trail.

    The gearing changes by  U_new / U_old - 1, as if the rear sprocket had  z2 U_old / U_new  teeth; the frame is
    turned rigidly by what the loaded radii change. It fits where everything of `fit_checks` does, and has to be
    measured where something is not known.

    Parameters
    ----------
    now, planned : Solved
        Of the planned one its tires count, what they carry, and its top speed.

    Returns
    -------
    Answer
        The first table holds what decides, a row each. The figure "verdict" is one of `tire_fit.FIT`. series: "now"
        and "planned" drawings of both wheels; "wheelbase_m"; "fill_in", the keys of the build file that would
        settle what is open.

    Examples
    --------
    >>> import ridesim as rs
    >>> from ridesim.answers.solved import solved
    >>> bike = rs.demo("coast-single")
    >>> found = tire_swap(solved(bike), solved(bike.with_changes(rear_tire="130/80-17 M/C 65S")))
    >>> found.figures["verdict"].value, round(found.figures["teeth"].value, 2), found.series["fill_in"]
    ('measure first', 41.04, ('tires.rear.rim_width', 'tires.rear.room_beside'))
    >>> found.steps[-1].numbers
    'dr front 0.0 mm, dr rear -0.3 mm'
    """
    a, b = now.bike, planned.bike
    checks = tuple(fit_checks(now, planned))
    worst = FIT[max((FIT.index(one.fit) for one in checks), default=0)]
    meter = speedometer(replace(b, teeth=a.teeth, final_ratio=a.final_ratio), now.ride.targets_m_s[-1])
    steering = _steering(a, b)
    missing = _missing(a, checks)
    return Answer(
        question="Does the other tire fit, and what does it do?",
        say=(*_verdict_said(a, b, checks, worst), *_gearing_said(a, b), *_speedometer_said(meter)),
        figures=Figures(
            Figure("verdict", "Verdict", worst, "text"),
            *_gearing_figures(a, b),
            *speedometer_figures(meter),
            Figure("speedometer_limit", "The speedometer", reads(meter), "text"),
            *_steering_figures(a, b, steering),
        ),
        tables=(_checks_table(checks), _limits_table(meter)),
        series={
            "now": {"rear": drawing(a.rear_tire), "front": drawing(a.front_tire)},
            "planned": {"rear": drawing(b.rear_tire), "front": drawing(b.front_tire)},
            "wheelbase_m": float(a.setups.wheelbase_m[0]),
            "fill_in": tuple(one.path for one in missing),
        },
        assumptions=(*b.assumptions, *missing, *steering.assumptions),
        steps=_steps(a, b, meter, steering),
        notes=(*a.notes, *b.notes, *_mixed(b), R39_NOTE),
        cautions=(*APPROVAL, *CAUTIONS),
    )


def _missing(a: Bike, checks: tuple[FitCheck, ...]) -> tuple[Assumption, ...]:
    """The keys of the build file that would settle what is open, each with what it is for."""
    chassis = a.record.chassis
    others = (
        ("rake", "trail before and after", chassis.rake),
        ("fork_offset", "trail before and after", chassis.fork_offset),
        ("ground_clearance", "the ground clearance that is left", chassis.ground_clearance),
        ("lowest_point_ahead_of_rear_axle", "where the clearance is; taken half-way", chassis.lowest_point_ahead_of_rear_axle),
    )  # fmt: skip
    return (
        *(
            Assumption(one.path, f"the {one.what} of the {one.tire} tire is not given ({one.path})")
            for one in checks
            if one.path
        ),
        *(
            Assumption(f"chassis.{key}", f"chassis.{key} is not given, for {what}")
            for key, what, given in others
            if given is None
        ),
    )


def _mixed(b: Bike) -> tuple[str, ...]:
    kinds = (b.front_tire.marking.construction, b.rear_tire.marking.construction)
    if (kinds[0] == "radial") == (kinds[1] == "radial"):
        return ()
    return (
        f"the front tire would be {kinds[0]} and the rear {kinds[1]}: only where the bike's maker approves both together",
    )


def _verdict_said(a: Bike, b: Bike, checks: tuple[FitCheck, ...], worst: Fit) -> Sentence:
    pairs = ((a.rear_tire, b.rear_tire), (a.front_tire, b.front_tire))
    new = " and ".join(
        f"{tire.marking.written} ({tire.position})" for old, tire in pairs if old.marking != tire.marking
    )
    if not new:
        return ("The tires are those that are fitted. ",)
    if worst == "fits":
        return (f"{new} fits by wheel, rim, room, load and speed. ",)
    because = [one for one in checks if one.fit == worst]
    if worst == "does not fit":
        return (f"{new} does not fit: ", "; ".join(one.why for one in because), ". ")
    asked = "; ".join(f"{one.what} ({one.path or one.why})" for one in because)
    return (f"Measure this first, before ordering {new}: {asked}. ",)


def _gearing_said(a: Bike, b: Bike) -> Sentence:
    change = float(gearing_change(a.rear_tire.circumference_m, b.rear_tire.circumference_m))
    if a.rear_tire.marking == b.rear_tire.marking:
        return ()
    if abs(change) < UNFELT:
        return ("The gearing stays as it is. ",)
    say: Sentence = ("It gears the bike ", ValueOf("gearing", size=True), " taller" if change >= 0 else " lower")
    if a.teeth is None:
        return (*say, ". ")
    say += (", as if the rear sprocket had ", ValueOf("teeth"), " teeth; ")
    front, rear, _ = _back(a, b)
    if (front, rear) == a.teeth:
        return (*say, "your fitted sprockets already come nearest to the old gearing. ")
    which = ("rear", rear) if front == a.front_teeth else ("front", front)
    return (*say, f"a {which[1]}-tooth {which[0]} sprocket puts it back within ", ValueOf("back_off", size=True), ". ")


def _back(a: Bike, b: Bike) -> tuple[int, int, float]:
    return sprockets_back(a.front_teeth, a.rear_teeth, a.rear_tire.circumference_m, b.rear_tire.circumference_m)


def _speedometer_said(meter: Speedometer) -> Sentence:
    say: Sentence = ("The speedometer shows ", ValueOf("indicated"), " at a true ", ValueOf("true"))
    return (*say, "." if meter.within else f": it {limit_words(meter)}.")


def _gearing_figures(a: Bike, b: Bike) -> Iterator[Figure]:
    old, new = a.rear_tire, b.rear_tire
    label = "Gearing change by the rear tire (taller is +)"
    if a.build.bike == b.build.bike and old == new:  # one tire, and one error of how far it rolls
        yield Figure("gearing", label, 0.0, "percent")
        return
    change = float(gearing_change(old.circumference_m, new.circumference_m))
    ends = ((old.low_m, new.high_m), (old.high_m, new.low_m))
    above, below = (
        float(np.hypot(one / old.circumference_m - 1, other / new.circumference_m - 1)) for one, other in ends
    )
    yield Figure("gearing", label, change, "percent", low=change - below, high=change + above)
    if a.teeth is None:
        return
    teeth = float(equivalent_rear_teeth(a.rear_teeth, old.circumference_m, new.circumference_m))
    yield Figure(
        "teeth",
        "The old rear tire with this rear sprocket would gear the same",
        teeth,
        "number",
        low=teeth * (1 - above),
        high=teeth * (1 + below),
    )
    front, rear, off = _back(a, b)
    if (front, rear) == a.teeth:  # they are on the bike
        return
    yield Figure("back_front", "Sprockets that put the gearing back, front", front, "teeth")
    yield Figure("back_rear", "Rear", rear, "teeth")
    yield Figure("back_off", "Gearing then off by", off, "percent")


def _steering_figures(a: Bike, b: Bike, steering: SteeringChange) -> Iterator[Figure]:
    chassis = a.record.chassis
    rises = (
        ("rear_radius", "Rear axle height changes by", b.rear_tire.loaded_radius_m - a.rear_tire.loaded_radius_m),
        ("front_radius", "Front axle height changes by", b.front_tire.loaded_radius_m - a.front_tire.loaded_radius_m),
        ("clearance", "Ground clearance between the axles changes by", float(steering.clearance_change_m)),
    )
    for key, label, value in rises:
        yield Figure(key, label, value, "small length")
    if chassis.ground_clearance is not None:
        left = float(chassis.ground_clearance) + float(steering.clearance_change_m)
        yield Figure("clearance_left", "Ground clearance then", left, "small length")
    yield Figure("rake", "Rake changes by", float(steering.rake_change_rad), "angle")
    if chassis.rake is not None and chassis.fork_offset is not None:
        before = float(trail_m(a.front_tire.loaded_radius_m, float(chassis.rake), float(chassis.fork_offset)))
        yield Figure("trail_before", "Trail before", before, "small length")
        yield Figure("trail", "Trail after", float(steering.trail_m), "small length")


def _steering(a: Bike, b: Bike) -> SteeringChange:
    chassis, base = a.record.chassis, float(a.setups.wheelbase_m[0])
    place = chassis.lowest_point_ahead_of_rear_axle
    return rigid_frame(
        front_radius_m=a.front_tire.loaded_radius_m,
        rear_radius_m=a.rear_tire.loaded_radius_m,
        new_front_radius_m=b.front_tire.loaded_radius_m,
        new_rear_radius_m=b.rear_tire.loaded_radius_m,
        wheelbase_m=base,
        rake_rad=RAKE if chassis.rake is None else float(chassis.rake),
        fork_offset_m=OFFSET if chassis.fork_offset is None else float(chassis.fork_offset),
        point_ahead_m=base / 2 if place is None else float(place),
    )


def _checks_table(checks: tuple[FitCheck, ...]) -> Table:
    return table_of(
        "What decides",
        ("what", "What", "text", [f"{one.tire} {one.what}" for one in checks]),
        ("fit", "Verdict", "text", [one.fit for one in checks]),
        ("why", "Why", "text", [one.why for one in checks]),
    )


def _limits_table(meter: Speedometer) -> Table:
    true = TEST_SPEEDS if meter.true_m_s in TEST_SPEEDS else TEST_SPEEDS_US
    shown = true * meter.indicated_over_true
    least, most = indicated_limits_un_r39(true)
    return table_of(
        "Speedometer against UN R39's limit for type approval",
        ("true", "True speed", "speed", true),
        ("indicated", "Indicated", "speed", shown),
        ("least", "Approved from", "speed", least),
        ("most", "Up to", "speed", most),
        ("within", "Within", "yes or no", [within_limit(float(v), meter.low, meter.high) for v in true]),
    )


def _steps(a: Bike, b: Bike, meter: Speedometer, steering: SteeringChange) -> tuple[Step, ...]:
    old, new = a.rear_tire.circumference_m, b.rear_tire.circumference_m
    d_rear = b.rear_tire.loaded_radius_m - a.rear_tire.loaded_radius_m
    d_front = b.front_tire.loaded_radius_m - a.front_tire.loaded_radius_m
    teeth: tuple[Step, ...] = ()
    if a.teeth is not None:
        teeth = (
            Step(
                "equivalent teeth = z2 U_old / U_new",
                f"{a.rear_teeth} x {old:.4f} / {new:.4f}",
                f"{float(equivalent_rear_teeth(a.rear_teeth, old, new)):.2f}",
            ),
        )
    return (
        Step(
            "gearing change = U_new / U_old - 1",
            f"{new:.4f} / {old:.4f} - 1",
            f"{percent(float(gearing_change(old, new))):.2f} %",
        ),
        *teeth,
        Step(
            "indicated / true = (U_cal ratio_now) / (U_now ratio_cal)",
            f"sensor: {b.record.speedometer.sensor}",
            f"{meter.indicated_over_true:.4f}",
        ),
        Step(
            "trail = (R sin l - f) / cos l, rigid frame turned by the radius changes",
            f"dr front {1e3 * d_front:.1f} mm, dr rear {1e3 * d_rear:.1f} mm",
            f"rake {np.degrees(float(steering.rake_change_rad)):+.2f} deg",
        ),
    )
