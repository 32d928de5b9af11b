"""The standing start through the gears: times, shift points, top speed."""

from __future__ import annotations

from math import isclose

import numpy as np

from ridesim.answers.answer import Answer, Sentence, Step, ValueOf, table_of
from ridesim.answers.front_wheel.held_back import top_speed_notes
from ridesim.answers.solved import ORDINALS, Solved, ended_by
from ridesim.answers.tires.motion import IN_MOTION, moving_run
from ridesim.mechanics.kernel import perform
from ridesim.mechanics.setups import Array
from ridesim.units import MPH_M_S, QUARTER_MILE_M, either, kmh, rad_s, rpm

DRAWN_RAD_S = float(rad_s(80.0))


def standing_run(solved: Solved) -> Answer:
    """Times to the targets and the distance, top speed and its gear, best upshifts.

    At every speed the bike speeds up by the least of what the engine gives, what lifts the front and what the rear
    tire holds, in each gear up to its best upshift; the clutch slips until first turns at the engine speed of peak
    torque (at most 60 % of the limit), and each shift coasts for the time it takes. Range with the tire's growth
    and slip: "moving_time", "moving_top_speed".

    series: "time_s", "distance_m", "speed_m_s", "gear" (Q,) along the run, starting at rest.

    >>> import ridesim as rs
    >>> from ridesim.answers.solved import solved
    >>> found = standing_run(solved(rs.demo("coast-single")))
    >>> print(found)
    From rest to 100 km/h in 10.30 s; 400 m in 17.27 s; top speed 125.3 km/h in fifth.
    >>> [round(found.figures[key].value, 2) for key in ("time_0", "time_1", "distance_time", "moving_time")]  # [s]
    [3.59, 10.3, 17.27, 10.63]
    """
    perf, ride = solved.performance, solved.ride
    run, gears = perf.run, perf.gears
    size = len(run.distance_time_s)
    figures = []
    for n, target in enumerate(ride.targets_m_s):
        figures.append(solved.figure(f"to_{n}", "Speed to reach", "speed", np.full(size, target)))
        figures.append(
            solved.figure(f"time_{n}", f"Standstill to {round_speed(target)}", "time", run.times_s[:, n], -1)
        )
    quarter = isclose(ride.distance_m, QUARTER_MILE_M, rel_tol=1e-9)
    length = "quarter mile" if quarter else f"{ride.distance_m:.0f} m"
    figures += [
        solved.figure("distance", "Distance", "distance", np.full(size, ride.distance_m)),
        solved.figure("distance_time", f"Standing {length}", "time", run.distance_time_s, -1),
        solved.figure("distance_speed", f"Speed at {'the ' * quarter}{length}", "speed", run.distance_speed_m_s, 1),
        solved.figure("top", "Top speed", "speed", perf.top_speed_m_s, 1),
    ]
    top_gear = int(perf.top_speed_gear[0])
    last = len(ride.targets_m_s) - 1
    reached = run.times_s[0, last] == run.times_s[0, last]
    say: Sentence = ("From rest it never reaches ", ValueOf(f"to_{last}"))
    if reached:
        say = ("From rest to ", ValueOf(f"to_{last}"), " in ", ValueOf(f"time_{last}"))
    if figures[-1].value is None:
        say = ("No gear holds any speed on this road: the bike does not get away",)
    else:
        if np.isfinite(run.distance_time_s[0]):
            over = "the quarter mile" if quarter else ValueOf("distance")
            say += ("; ", over, " in ", ValueOf("distance_time"))
        say += ("; top speed ", ValueOf("top"), f" in {ORDINALS[top_gear - 1]}")
    launch = (
        f"standing start with the clutch slipping at {rpm(run.launch_rad_s):.0f} rev/min (engine speed of peak torque, "
        "at most 60 % of the rev limit)"
    )
    trace = _trace(solved)
    moving = moving_run(
        solved, trace["time_s"], trace["speed_m_s"], f"Standstill to {round_speed(ride.targets_m_s[-1])}"
    )
    up = gears.upshift_rad_s[0]
    return solved.answer(
        "How quickly does it get going?",
        (*say, "."),
        [*figures, *moving],
        tables=(
            table_of(
                "Shift points and top speed by gear",
                ("gear", "Gear", "gear", range(1, solved.gear_count + 1)),
                ("top_speed", "Top speed", "speed", gears.top_speed_m_s[0]),
                ("ends_by", "Ended by", "text", ended_by(solved)),
                ("upshift", "Best upshift at", "engine speed", up),
                ("upshift_speed", "Best upshift at", "speed", up * solved.bike.setups.meters_per_radian[0]),
            ),
        ),
        series=trace,
        assumptions=(launch, *([IN_MOTION] if moving else [])),
        steps=_steps(solved),
        notes=(*_why_not(solved), *top_speed_notes(solved)),
        cautions=(
            "Flat-out runs belong on a closed stretch; tires, chain and brakes must be sound, and the law heeded.",
            "Near top speed a single can weave, most of all with luggage or block-pattern tires.",
        ),
    )


def round_speed(speed_m_s: float) -> str:
    """A speed that a run is timed to, in the unit in which it is a round figure.

    >>> round_speed(60 * MPH_M_S), round_speed(100 / 3.6)
    ('60 mph', '100 km/h')
    """
    miles = speed_m_s / MPH_M_S
    return f"{miles:.0f} mph" if isclose(miles, round(miles), rel_tol=1e-9) else f"{kmh(speed_m_s):.0f} km/h"


def _trace(solved: Solved) -> dict[str, Array]:
    """The run with the curve in cells short enough to draw: every point is exact, the straight lines between them are not seen."""
    bike = solved.bike
    run = perform(bike.setups, bike.curve, solved.ride, longest_cell_rad_s=DRAWN_RAD_S).run
    keep = np.isfinite(run.trace_time_s[0]) & np.isfinite(run.trace_distance_m[0])
    start = np.zeros(1)
    return {
        "time_s": np.concatenate([start, run.trace_time_s[0][keep]]),
        "distance_m": np.concatenate([start, run.trace_distance_m[0][keep]]),
        "speed_m_s": np.concatenate([start, run.trace_speed_m_s[0][keep]]),
        "gear": np.concatenate([np.ones(1, int), run.trace_gear[0][keep]]),
    }


def _steps(solved: Solved) -> tuple[Step, ...]:
    bike, run, gears = solved.bike, solved.performance.run, solved.performance.gears
    s = bike.setups
    caught = run.launch_rad_s * s.meters_per_radian[0, 0]
    return (
        Step(
            "a = min(engine, lift limit, traction limit), highest over the gears",
            "each gear to its best upshift",
            "see the table",
        ),
        Step(
            "clutch slips until v = omega_launch r / i1",
            f"{run.launch_rad_s:.1f} x {s.rear_radius_m[0]:.4f} / {s.ratios[0, 0]:.3f}",
            f"{kmh(caught):.1f} km/h",
        ),
        Step(
            "t = integral of dv / a, x = integral of v dv / a, with each shift coasting",
            f"shift time {s.shift_time_s[0]:.2f} s",
            "; ".join(
                f"{round_speed(t)} " + (f"in {time:.2f} s" if np.isfinite(time) else "never")
                for t, time in zip(solved.ride.targets_m_s, run.times_s[0], strict=True)
            ),
        ),
        Step(
            "top speed: F_k(v) = R(v), or the revs end it",
            f"gear {int(solved.performance.top_speed_gear[0])}",
            f"{kmh(solved.performance.top_speed_m_s[0]):.1f} km/h"
            if np.isfinite(gears.top_speed_m_s[0]).any()
            else "none",
        ),
    )


def _why_not(solved: Solved) -> tuple[str, ...]:
    run, top = solved.performance.run, solved.performance.top_speed_m_s[0]
    notes = []
    for n, target in enumerate(solved.ride.targets_m_s):
        if not np.isfinite(run.times_s[0, n]):
            why = (
                "no gear holds any speed here"
                if not np.isfinite(top)
                else "top speed is " + either("speed", top)
                if top < target
                else "the run ends before it: front wheel or rear tire hold the bike back, the engine does not pull through to there, "
                "or the next gear turns below the curve's first point"
            )
            notes.append(either("speed", target) + " is not reached from rest: " + why)
    if not np.isfinite(run.distance_time_s[0]):
        notes.append(either("distance", solved.ride.distance_m) + " has no time: the run cannot be computed to its end")
    return tuple(notes)
