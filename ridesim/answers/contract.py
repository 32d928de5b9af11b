"""The answers as one JSON object; keys end in their unit, null means that it does not happen and the notes say why."""

from __future__ import annotations

from typing import Any

import numpy as np

from ridesim.answers.answer import plain
from ridesim.answers.chain import ChainAnswer, chain_fit, no_chain_note
from ridesim.answers.compare import Comparison
from ridesim.answers.front_wheel import comes_up, comes_up_keys
from ridesim.answers.front_wheel.held_back import cruise_notes, roll_on_notes
from ridesim.answers.front_wheel.lift import (
    comes_first,
    first_notes,
    light_notes,
    out_of_reach_notes,
    turning_frictions,
)
from ridesim.answers.solved import Solved, ended_by
from ridesim.answers.standing_run import standing_run
from ridesim.answers.text import verdict
from ridesim.answers.tires import tire_notes
from ridesim.answers.tires.motion import cruise_share
from ridesim.answers.tires.speedometer import speedometer
from ridesim.mechanics.cruise import Cruise
from ridesim.mechanics.drivetrain import mean_piston_speed_m_s
from ridesim.mechanics.kernel import Performance
from ridesim.mechanics.limits import CLIMB_LIMITS, Gears
from ridesim.mechanics.setups import Ride, SetUps
from ridesim.units import in_both, kmh, kw, percent, rad_s, rpm


def contract(solved: Solved) -> dict[str, Any]:
    """Every answer of one bike on one ride as one JSON object.

    Keys end in their unit: km/h, rev/min, percent and liters are those a rider reads, lengths and masses are SI.
    Powers are at the rear wheel, forces at its contact, speeds true. Top speeds and cruise are for the stated grade
    and head wind; so are the lift figures and the run. null is what does not happen, and a note says why.

    >>> import ridesim as rs
    >>> from ridesim.answers.solved import solved
    >>> told = contract(solved(rs.demo("coast-single")))
    >>> told["front"], told["rear"], round(told["top_speed_kmh"], 1), told["chain"]["links_to_order"]
    (14, 41, 125.3, 102)
    """
    bike, perf, ride = solved.bike, solved.performance, solved.ride
    s = bike.setups
    run = standing_run(solved)
    notes = list(
        dict.fromkeys(
            (
                *bike.notes,
                *run.notes,
                *tire_notes(solved),
                *light_notes(solved),
                *first_notes(solved),
                *out_of_reach_notes(solved),
            )
        )
    )
    fit, up = chain_fit(solved) if bike.has_chain else None, comes_up(solved)
    assumptions = list(dict.fromkeys((*bike.assumptions, *run.assumptions, *(fit.assumptions if fit else ()))))
    to_last = f"0_{kmh(ride.targets_m_s[-1]):.0f}_kmh_s"
    moved = ((to_last, "moving_time", plain), ("top_speed_kmh", "moving_top_speed", kmh))
    answer = {
        "name": bike.name,
        "tune": bike.tune,
        "front": None if bike.teeth is None else bike.teeth[0],
        "rear": None if bike.teeth is None else bike.teeth[1],
        "mass_kg": plain(s.mass_kg[0]),
        "cg_ahead_of_rear_axle_m": plain(s.ahead_m[0]),
        "cg_height_m": plain(s.height_m[0]),
        "air_density_kg_m3": plain(bike.air.density_kg_m3),
        "power_factor": plain(bike.ride_day.factor),
        "rolling_circumference_m": plain(bike.rear_tire.circumference_m),
        "gears": [
            {**_gear(solved, k, turn, notes), **comes_up_keys(up, k)}
            for k, turn in enumerate(turning_frictions(solved))
        ],
        **top_speed_keys(perf, 0),
        "cruise": _cruise(solved, notes),
        "acceleration": acceleration_keys(perf, ride, 0),
        "in_motion": {key: [scale(f.low), scale(f.high)] for key, name, scale in moved if (f := run.figures.get(name))},
        "roll_on": roll_on_keys(perf, ride, 0),
        "chain": _chain(fit),
        "speedometer": {"indicated_at_100_kmh": 100.0 * speedometer(bike).indicated_over_true},
    }
    notes += [] if bike.teeth else ["a shaft has no sprockets: front and rear are null"]
    notes += [f"roll-on in gear {k + 1}: {why}" for k, why in enumerate(_roll_on_why(solved)) if why]
    notes += [*roll_on_notes(solved), *cruise_notes(solved)]
    notes += [note for note in ((no_chain_note(bike),) if fit is None else fit.notes) if note not in notes]
    return {**answer, "assumptions": assumptions, "notes": notes}


def _gear(solved: Solved, k: int, turns: tuple[float, float], notes: list[str]) -> dict[str, Any]:
    bike, g = solved.bike, solved.performance.gears
    meters = bike.setups.meters_per_radian[0, k]
    ratio = float(g.lift_ratio[0, k])
    if np.isfinite(ratio) and ratio < 1:
        notes.append(f"gear {k + 1}: the front does not come up on the throttle alone (lift ratio {ratio:.2f})")
    if not np.isfinite(g.top_speed_m_s[0, k]):
        notes.append(f"gear {k + 1}: the wheel force never reaches the resistance, so it holds no speed")
    last = k + 1 == solved.gear_count
    if last:
        notes.append(f"gear {k + 1} is the last: there is no upshift from it")
    return {
        **gear_keys(bike.setups, g, 0, k),
        "speed_per_1000_rpm_kmh": plain(kmh(meters * rad_s(1000.0))),
        "speed_at_rev_limit_kmh": plain(kmh(meters * bike.rev_limit_rad_s)),
        "top_speed_limited_by": ended_by(solved)[k],
        "steepest_grade_limited_by": CLIMB_LIMITS[int(g.steepest_limited_by[0, k])],
        "lift_from_rpm": plain(rpm(g.lift_from_rad_s[0, k])),
        "lift_to_rpm": plain(rpm(g.lift_to_rad_s[0, k])),
        "rider_shift_to_lift_m": plain(g.rider_shift_m[0, k]),
        "front_lifts_before_rear_spins": comes_first(bike.friction_range, turns),
    }


def _cruise(solved: Solved, notes: list[str]) -> list[dict[str, Any]]:
    bike, c = solved.bike, solved.performance.cruise
    stroke = bike.record.engine.stroke
    span = cruise_share(bike, solved.ride)
    moving = None if span is None else (span.low, span.high)
    rows = []
    for k in np.nonzero(c.holds[0])[0]:
        w = c.engine_speed_rad_s[0, k]
        rows.append(
            {
                **cruise_keys(c, solved.ride, bike.rev_limit_rad_s, 0, int(k)),
                "mean_piston_speed_m_s": None if stroke is None else plain(mean_piston_speed_m_s(float(stroke), w)),
                "headwind_held_kmh": plain(kmh(c.headwind_held_m_s[0, k])),
                "range_km": plain(c.range_m[0, k] / 1e3),
                "engine_rpm_in_motion": None if moving is None else [plain(rpm(w * end)) for end in moving],
            }
        )
    if not rows:
        notes.append(f"no gear holds {in_both('speed', solved.ride.cruise_m_s)} on this road")
    if stroke is None:
        notes.append("mean piston speed needs engine.stroke")
    if not bike.has_displacement:
        notes.append("fuel and range need engine.displacement")
    elif not bike.has_tank:
        notes.append("range needs fuel.tank")
    return rows


def _roll_on_why(solved: Solved) -> list[str]:
    low, high = solved.ride.roll_on_m_s
    meters = solved.bike.setups.meters_per_radian[0]
    first, last = solved.cells.first, solved.cells.last
    reasons = []
    for k, time in enumerate(solved.performance.roll_on_s[0]):
        w1, w2 = rpm(low / meters[k]), rpm(high / meters[k])
        reasons.append(
            ""
            if np.isfinite(time)
            else f"{in_both('speed', low)} is {w1:.0f} rev/min, below the curve's first point"
            if w1 < rpm(first) - 1e-6
            else f"{in_both('speed', high)} is {w2:.0f} rev/min, above the limit"
            if w2 > rpm(last) + 1e-6
            else "never, the wheel force falls to the resistance"
        )
    return reasons


def _chain(fitted: ChainAnswer | None) -> dict[str, Any]:
    fit = None if fitted is None else fitted.fit
    keys = ("links_exact", "links_to_order", "center_distance_m", "axle_shift_m", "fitted_chain_will_do")
    figures = {key.replace("center", "centre"): getattr(fit, key, None) for key in keys}
    return {**figures, "chain_pull_max_n": None if fitted is None else fitted.pull_n}


def gear_keys(setups: SetUps, g: Gears, n: int, k: int) -> dict[str, Any]:
    """Gear k, counted from 0, of set-up n."""
    return {
        "gear": k + 1,
        "overall_ratio": plain(setups.ratios[n, k]),
        "top_speed_kmh": plain(kmh(g.top_speed_m_s[n, k])),
        "peak_wheel_force_n": plain(g.peak_force_n[n, k]),
        "steepest_grade_percent": plain(percent(np.tan(g.steepest_slope_rad[n, k]))),
        "lift_ratio": plain(g.lift_ratio[n, k]),
        "best_upshift_rpm": None if k + 1 == setups.ratios.shape[1] else plain(rpm(g.upshift_rad_s[n, k])),
    }


def cruise_keys(c: Cruise, ride: Ride, rev_limit_rad_s: float, n: int, k: int) -> dict[str, Any]:
    """The cruise in gear k, counted from 0, of set-up n; only where that gear holds the speed."""
    return {
        "gear": k + 1,
        "speed_kmh": plain(kmh(ride.cruise_m_s)),
        "engine_rpm": plain(rpm(c.engine_speed_rad_s[n, k])),
        "share_of_rev_limit": plain(c.engine_speed_rad_s[n, k] / rev_limit_rad_s),
        "power_needed_kw": plain(kw(c.needed_w[n, k])),
        "power_available_kw": plain(kw(c.available_w[n, k])),
        "grade_held_percent": plain(percent(np.tan(c.slope_held_rad[n, k]))),
        "fuel_l_per_100km": plain(c.fuel_m3_per_m[n, k] * 1e8),
    }


def top_speed_keys(p: Performance, n: int) -> dict[str, Any]:
    """The highest speed over the gears, and its gear counted from 1, of set-up n; both None where no gear holds a
    speed.

    >>> import ridesim as rs
    >>> from ridesim.answers.solved import solved
    >>> top_speed_keys(solved(rs.demo("coast-single")).performance, 0)["top_speed_gear"]
    5
    """
    top = p.gears.top_speed_m_s[n]
    holds = bool(np.isfinite(top).any())
    return {
        "top_speed_kmh": plain(kmh(np.fmax.reduce(top))),
        "top_speed_gear": int(np.argmax(np.nan_to_num(top, nan=-1.0))) + 1 if holds else None,
    }


def acceleration_keys(p: Performance, ride: Ride, n: int) -> dict[str, Any]:
    """The times from standstill of set-up n, under keys that name the ride's own targets and distance.

    >>> import ridesim as rs
    >>> from ridesim.answers.solved import solved
    >>> one = solved(rs.demo("coast-single"))
    >>> {key: round(time, 2) for key, time in acceleration_keys(one.performance, one.ride, 0).items()}
    {'0_60_kmh_s': 3.59, '0_100_kmh_s': 10.3, '400_m_s': 17.27}
    """
    return {
        **{f"0_{kmh(v):.0f}_kmh_s": plain(p.run.times_s[n, i]) for i, v in enumerate(ride.targets_m_s)},
        f"{ride.distance_m:.0f}_m_s": plain(p.run.distance_time_s[n]),
    }


def roll_on_keys(p: Performance, ride: Ride, n: int) -> list[dict[str, Any]]:
    """The roll-on in every gear of set-up n, under a key that names the ride's own speeds; None where a gear does not
    turn both.

    >>> import ridesim as rs
    >>> from ridesim.answers.solved import solved
    >>> one = solved(rs.demo("coast-single"))
    >>> first, *_, fifth = roll_on_keys(one.performance, one.ride, 0)
    >>> first, round(fifth["60_100_kmh_s"], 2)
    ({'gear': 1, '60_100_kmh_s': None}, 8.21)
    """
    low, high = (kmh(v) for v in ride.roll_on_m_s)
    return [{"gear": k + 1, f"{low:.0f}_{high:.0f}_kmh_s": plain(t)} for k, t in enumerate(p.roll_on_s[n])]


def comparison_object(both: Comparison, now: dict[str, Any], planned: dict[str, Any]) -> dict[str, Any]:
    """A comparison as one JSON object: both answers whole, what tires and tune do, and every figure with its change, in SI."""
    return {
        "now": now,
        "might_be": planned,
        "differs": list(both.differs),
        "tires": None if both.tires is None else both.tires.as_object(),
        "tune_gain": None if both.tune is None else both.tune.as_object(),
        "assumptions": list(both.assumptions),
        "changes": [
            {
                "question": pair.question,
                "key": c.now.key,
                "label": c.now.label,
                "reading": c.now.reading,
                "now_si": plain(c.now.value),
                "might_be_si": plain(c.planned.value),
                "change_si": plain(c.change),
                "change_low_si": plain(c.low),
                "change_high_si": plain(c.high),
                "certain": c.certain,
                "better": c.better,
                "verdict": verdict(c),
            }
            for pair in both.pairs
            for c in pair.changes
        ],
    }
