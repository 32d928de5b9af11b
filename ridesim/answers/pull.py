"""What the rear wheel pushes with, gear by gear, beside what road and air take."""

from __future__ import annotations

import numpy as np

from ridesim.answers.answer import Answer, Figure, Sentence, Step, ValueOf, table_of
from ridesim.answers.front_wheel.held_back import roll_on_notes
from ridesim.answers.solved import ORDINALS, Solved, ended_by
from ridesim.bike.figures_to_setups import crank_factor
from ridesim.components.power_curve import power_w
from ridesim.mechanics.limits import CLIMB_LIMITS
from ridesim.mechanics.setups import Ride
from ridesim.mechanics.traction import GearRows
from ridesim.units import kw, percent, rpm

GRADES = (0.0, 0.05, 0.10, 0.20)  # resistance curves drawn beside the thrust


def pull(solved: Solved) -> Answer:
    """Highest wheel force and acceleration in each gear, and the roll-on times.

    The wheel pushes with  F = T i eta / r; it speeds up  m_k = m + Jf/rf^2 + Jr/r^2 + eta Je i^2/r^2  by  a = (F -
    R) / m_k, and a roll-on takes the integral of  dv / a. Front wheel and rear tire are left out; a note names the
    gears in which they hold back.

    series: "engine_speed_rad_s" (N,), "speed_m_s" (G, N), "force_n" (G, N), "acceleration_m_s2" (G, N),
    "wheel_power_w" (G, N); "road_speed_m_s" (M,), "resistance_n" {grade: (M,)}.

    >>> import ridesim as rs
    >>> from ridesim.answers.solved import solved
    >>> found = pull(solved(rs.demo("coast-single")))
    >>> print(found)
    First pushes with up to 1,889 N; from 60 km/h to 100 km/h in fifth takes 8.21 s.
    >>> found.to_frame()["Highest wheel force [N]"].round(0).tolist()
    [1889.0, 1247.0, 950.0, 764.0, 636.0]
    >>> found.steps[-1].result
    '8.21 s in fifth'
    """
    bike, perf = solved.bike, solved.performance
    count = solved.gear_count
    w = np.linspace(solved.cells.first, solved.cells.last, 120)
    forces = solved.rows.at(w[:, None])
    force, speed, acceleration = forces.thrust.T, forces.speed.T, forces.engine.T
    v1, v2 = solved.ride.roll_on_m_s
    name, peaks = ORDINALS[count - 1], perf.gears.peak_force_n
    figures = [solved.figure("first_force", "Highest wheel force in first", "force", peaks[:, 0], 1)]
    if count > 1:
        figures.append(solved.figure("top_force", f"Highest wheel force in {name}", "force", peaks[:, -1], 1))
    figures += [
        solved.figure("roll_from", "Roll-on from", "speed", np.full(len(perf.roll_on_s), v1)),
        solved.figure("roll_to", "Roll-on to", "speed", np.full(len(perf.roll_on_s), v2)),
        solved.figure("roll_on", f"Roll-on in {name}", "time", perf.roll_on_s[:, -1], -1),
    ]
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
            "T on the day = T of the sheet x factor",
            f"{peak_t:.2f} x {bike.ride_day.factor:.4f}",
            f"{peak_t * bike.ride_day.factor:.2f} N m",
        ),
        Step(
            "F = T i eta / r",
            f"{peak_t * bike.ride_day.factor:.2f} x {s.ratios[0, 0]:.4f} x {s.efficiency[0]:.3f} / {s.rear_radius_m[0]:.4f}",
            f"{perf.gears.peak_force_n[0, 0]:.0f} N in first",
        ),
        Step(
            "m_k = m + Jf/rf^2 + Jr/r^2 + eta Je i^2/r^2",
            f"{s.mass_kg[0]:.1f} + {s.front_inertia_kg_m2[0] / s.front_radius_m[0] ** 2:.2f} + {s.rear_inertia_kg_m2[0] / s.rear_radius_m[0] ** 2:.2f} + "
            f"{s.efficiency[0] * s.crank_inertia_kg_m2[0] * (s.ratios[0, 0] / s.rear_radius_m[0]) ** 2:.2f}",
            f"{s.effective_mass[0, 0]:.1f} kg in first",
            "Khurmi & Gupta, Theory of Machines, ex. 3.15",
        ),
        Step(
            "roll-on time = integral of m_k / (F - R) dv",
            f"{v1:.2f} to {v2:.2f} m/s",
            f"{perf.roll_on_s[0, -1]:.2f} s in {name}" if np.isfinite(perf.roll_on_s[0, -1]) else "never",
        ),
    )
    road, wind = np.linspace(0.0, float(np.nanmax(speed)), 80), solved.ride.headwind_m_s
    rides = ((grade, Ride(slope_rad=float(np.arctan(grade)), headwind_m_s=wind)) for grade in GRADES)
    on_grades = ((grade, GearRows(bike.setups, solved.cells, ride)) for grade, ride in rides)
    return solved.answer(
        "How hard does it pull?",
        say,
        figures,
        tables=(
            table_of(
                "Pull by gear",
                ("gear", "Gear", "gear", range(1, count + 1)),
                ("peak_force", "Highest wheel force", "force", peaks[0]),
                ("best_acceleration", "Best acceleration", "acceleration", acceleration.max(axis=1)),
                ("top_speed", "Top speed", "speed", perf.gears.top_speed_m_s[0]),
                ("ends_by", "Ended by", "text", ended_by(solved)),
                ("roll_on", "Roll-on", "time", perf.roll_on_s[0]),
            ),
        ),
        series={
            "engine_speed_rad_s": w,
            "speed_m_s": speed,
            "force_n": force,
            "acceleration_m_s2": acceleration,
            "wheel_power_w": force * speed,
            "road_speed_m_s": road,
            "resistance_n": {g: rows.resistance_n(road[:, None])[:, 0] for g, rows in on_grades},
        },
        steps=steps,
        notes=roll_on_notes(solved),
        cautions=("Full-throttle pulls belong on a closed or empty stretch, within the law.",),
    )


def power(solved: Solved) -> Answer:
    """Peak torque and power of the active tune: at the crank in the standard air of its sheet, and at the wheel on the
    day.

    P = T omega; the day's factor and the efficiency from crank to tire scale all of the curve. Peaks are those up
    to the rev limit, where points above it are drawn and a note says so.

    series: "engine_speed_rad_s" (N,), "torque_n_m", "power_w" crank, standard air; "wheel_power_w" on the day.

    >>> import ridesim as rs
    >>> from ridesim.answers.solved import solved
    >>> found = power(solved(rs.demo("coast-single")))
    >>> print(found)
    Tune stock: 19.7 kW at 6,090 rev/min and 35.4 N·m at 4,500 rev/min at the crank; 18.3 kW at the wheel on this day.
    >>> (found.series["wheel_power_w"] / found.series["power_w"])[[0, -1]].round(4).tolist()  # 0.92, and the air of the day
    [0.9281, 0.9281]
    """
    bike = solved.bike
    curve, whole = bike.curve, bike.whole_curve  # up to the rev limit, and as given
    torque_at, torque = curve.peak_torque()
    power_at, peak = curve.peak_power()
    efficiency, factor = float(bike.raw["efficiency"]), float(bike.ride_day.factor)
    w = np.linspace(whole.first_rad_s, whole.last_rad_s, 200)
    crank = whole.torque_at(w)
    sheet = np.broadcast_to(crank_factor(solved.raw), len(solved.setups))  # what the sheet itself leaves open
    day = np.broadcast_to(solved.raw["torque_factor"], len(solved.setups))
    reaches = solved.setups.torque_factor * solved.setups.efficiency
    figures = (
        solved.figure("torque", "Peak torque at the crank", "torque", torque * sheet, 1),
        Figure("torque_at", "Peak torque at", torque_at, "engine speed"),
        solved.figure("power", "Peak power at the crank", "power", peak * sheet, 1),
        Figure("power_at", "Peak power at", power_at, "engine speed"),
        solved.figure("wheel_power", "Peak power at the wheel on the day", "power", peak * reaches, 1),
        solved.figure("factor", "Power on the day over standard", "ratio", day, 1),
    )
    points = whole.engine_speed_rad_s, whole.torque_n_m
    above = f"the tune has points above the rev limit of {rpm(bike.rev_limit_rad_s):.0f} rev/min: they are drawn, and peaks are those up to the limit"
    steps = (
        Step(
            "P = T omega",
            f"{curve.torque_at(power_at):.2f} N m x {power_at:.1f} rad/s ({rpm(power_at):.0f} rev/min)",
            f"{kw(peak):.2f} kW",
        ),
        *(Step("power on the day", text, f"factor {factor:.4f}") for text in bike.ride_day.steps),
    )
    return solved.answer(
        "What does the engine give?",
        (
            *(f"Tune {bike.tune}: ", ValueOf("power"), " at ", ValueOf("power_at"), " and ", ValueOf("torque")),
            *(" at ", ValueOf("torque_at"), " at the crank; ", ValueOf("wheel_power"), " at the wheel on this day."),
        ),
        figures,
        tables=(
            table_of(
                f"Points of tune {bike.tune}",
                ("engine_speed", "Engine speed", "engine speed", points[0]),
                ("torque", "Torque", "torque", points[1]),
                ("power", "Power", "power", power_w(*points)),
            ),
        ),
        series={
            "engine_speed_rad_s": w,
            "torque_n_m": crank,
            "power_w": power_w(w, crank),
            "wheel_power_w": power_w(w, crank) * efficiency * factor,
        },
        steps=steps,
        notes=() if whole.last_rad_s <= curve.last_rad_s else (above,),
        cautions=(
            "Fuel, hot parts and emission rules: see the maker's manual and local law before changing the tune.",
        ),
    )


def climbing(solved: Solved) -> Answer:
    """Steepest grade by gear, and what ends it: the engine, the front wheel or the rear tire.

    With C = F0 / (m g) and S = (F - F_D) / (m g), what the engine holds is  th = asin(S / sqrt(1 + C^2)) - atan C;
    the least of the three is the answer, over all engine speeds.

    series: "speed_m_s" (G, N), "grade_by_engine" (G, N), "grade_by_front" (G, N), "grade_by_tire" (G, N) as
    tangents.

    >>> import ridesim as rs
    >>> from ridesim.answers.solved import solved
    >>> found = climbing(solved(rs.demo("plateau-single")))
    >>> print(found)
    First climbs 63.1 % steadily; beyond it the engine gives no more. Fifth holds 12.1 %.
    >>> found.to_frame()["Ended by"].tolist()
    ['engine', 'engine', 'engine', 'engine', 'engine']
    """
    bike, g = solved.bike, solved.performance.gears
    count = solved.gear_count
    grade = np.tan(g.steepest_slope_rad)
    limits = [CLIMB_LIMITS[int(k)] for k in g.steepest_limited_by[0]]
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
            "th = asin(S / sqrt(1 + C^2)) - atan C, S = (F - F_D)/(m g)",
            f"highest wheel force {g.peak_force_n[0, 0]:.0f} N, m g {s.mass_kg[0] * 9.80665:.0f} N, C {rolling:.4f}",
            f"{percent(grade[0, 0]):.1f} % in first, limit: {limits[0]}",
        ),
    )
    return solved.answer(
        "How steep a hill does it climb?",
        say,
        figures,
        tables=(
            table_of(
                "Steepest grade by gear",
                ("gear", "Gear", "gear", range(1, count + 1)),
                ("grade", "Steepest grade", "percent", grade[0]),
                ("limit", "Ended by", "text", limits),
            ),
        ),
        series={"speed_m_s": forces.speed.T, "grade_by_engine": engine, "grade_by_front": front, "grade_by_tire": tire},
        steps=steps,
        cautions=("A steady climb on even ground: ruts, stones and starts on the slope ask for more in hand.",),
    )
