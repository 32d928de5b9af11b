"""How easily the front wheel comes up, gear by gear, and whether the rear spins first."""

from __future__ import annotations

from collections.abc import Iterable

import numpy as np

from ridesim.answers.answer import Answer, Sentence, Step, Table, ValueOf, table_of
from ridesim.answers.solved import ORDINALS, Solved
from ridesim.bike import Bike
from ridesim.components.steering import MOVES_BACK_M
from ridesim.environment.road import surfaces
from ridesim.mechanics.setups import Array
from ridesim.units import either, rpm

CAUTIONS = (
    "An estimate for a rigid bike: no suspension, no clutch snap, no pull of the rider on the bars.",
    "Wheelies injure riders and others: not on public roads; rear brake covered, full riding gear, room to fall, better with an instructor.",
)


def front_lift(solved: Solved, *, moved_back_m: float = 0.0) -> Answer:
    """The lift ratio of every gear, its engine-speed window, how far back the rider must move, and what comes first on
    each surface.

    a_lift = (m g (b' cos th - h sin th) - F_D h_D) / H  is the acceleration at which the front wheel carries
    nothing, with H = m h + Jr/r + s Je i/r of the rotors; the ratio is the highest of  a / a_lift  over the engine
    speeds, and from 1 up the front comes up on the throttle alone, of a rigid bike.

    Parameters
    ----------
    solved : Solved
    moved_back_m : float
        How far the rider of this bike has moved back already, which leaves so much less of the reach. [m]

    Returns
    -------
    Answer
        series: "engine_speed_rad_s" (N,), "lift_ratio" (G, N), "speed_m_s" (G, N); "geometry": wheelbase_m,
        ahead_m, height_m, rear_radius_m, front_radius_m, bike/rider/luggage places and masses, for a drawing to
        scale.

    Examples
    --------
    >>> import ridesim as rs
    >>> from ridesim.answers.solved import solved
    >>> print(front_lift(solved(rs.demo("plateau-single"))))
    In first the throttle alone does not lift the front (lift ratio 0.544), and no rider can move far enough back to change that; with your friction of 0.95 on dry asphalt the front lifts before the rear spins.
    """
    bike, g = solved.bike, solved.performance.gears
    count, reach = solved.gear_count, _reach_m(bike, moved_back_m)
    shift = _in_reach(g.rider_shift_m[:, 0], reach)
    meters = bike.setups.meters_per_radian[0]
    turn = "Friction from which the front lifts before the rear spins in first"
    best = "Engine speed of the highest lift ratio in first"
    figures = (
        solved.figure("ratio", "Lift ratio in first", "ratio", g.lift_ratio[:, 0]),
        solved.figure("at", best, "engine speed", g.lift_speed_rad_s[:, 0]),
        solved.figure("shift", "How far back the rider must move in first", "small length", shift),
        solved.figure("from_rpm", "Front lifts from", "engine speed", g.lift_from_rad_s[:, 0]),
        solved.figure("to_rpm", "Front lifts up to", "engine speed", g.lift_to_rad_s[:, 0]),
        solved.figure("turn", turn, "ratio", g.lift_friction[:, 0]),
    )
    said: Sentence = (" (lift ratio ", ValueOf("ratio"), ")") if np.isfinite(g.lift_ratio[0, 0]) else ()
    alone = ("In first the throttle alone does not lift the front", *said)
    if float(g.lift_ratio[0, 0]) >= 1.0:
        between = (ValueOf("from_rpm"), " and ", ValueOf("to_rpm"))
        say: Sentence = ("In first the front comes up on the throttle alone between ", *between, *said)
    elif np.isfinite(shift[0]):
        say = (*alone, "; the rider's center of mass would have to move back ", ValueOf("shift"))
    else:
        say = (*alone, ", and no rider can move far enough back to change that")
    turns = turning_frictions(solved)
    say += (f"; {_ground(bike)} {_said_first(bike, turns[0])}.",)
    w = np.linspace(solved.cells.first, solved.cells.last, 120)
    forces = solved.rows.at(w[:, None])
    return solved.answer(
        "How easily does the front come up?",
        say,
        figures,
        tables=(
            table_of(
                "Lift by gear",
                ("gear", "Gear", "gear", range(1, count + 1)),
                ("ratio", "Highest lift ratio", "ratio", g.lift_ratio[0]),
                ("at", "At", "engine speed", g.lift_speed_rad_s[0]),
                ("from_rpm", "Lifts from", "engine speed", g.lift_from_rad_s[0]),
                ("to_rpm", "Lifts up to", "engine speed", g.lift_to_rad_s[0]),
                ("from_speed", "From", "speed", g.lift_from_rad_s[0] * meters),
                ("to_speed", "Up to", "speed", g.lift_to_rad_s[0] * meters),
                ("shift", "Rider back by", "small length", _in_reach(g.rider_shift_m, reach)[0]),
                ("first", "Comes first", "text", [_first(bike.friction_range, at) for at in turns]),
            ),
            _surfaces(solved, turns),
        ),
        series={
            "engine_speed_rad_s": w,
            "lift_ratio": forces.lift_ratio.T,
            "speed_m_s": forces.speed.T,
            "geometry": geometry(bike),
        },
        steps=_steps(solved),
        notes=(*light_notes(solved), *first_notes(solved), *out_of_reach_notes(solved, moved_back_m)),
        cautions=CAUTIONS,
    )


def light_notes(solved: Solved) -> tuple[str, ...]:
    """In which gears there is no lift ratio: at some speed slope and air alone take all load off the front.

    >>> import ridesim as rs
    >>> from ridesim.answers.solved import Conditions, solved
    >>> bike = rs.demo("coast-single")
    >>> [len(light_notes(solved(bike, Conditions(grade=grade)))) for grade in (0.0, 0.9)]
    [0, 5]
    """
    return tuple(
        f"gear {k + 1}: at some speed the front wheel is light without any acceleration, by slope and air, so there is no lift ratio"
        for k in np.nonzero(~np.isfinite(solved.performance.gears.lift_ratio[0]))[0]
    )


def comes_first(friction: tuple[float, float], turns: tuple[float, float]) -> bool | None:
    """Whether the front lifts before the rear spins, of a friction and of the one at which that turns, each known between
    two ends; None where they overlap.

    >>> [comes_first((0.6, 1.2), turns) for turns in ((0.5, 0.6), (0.8, 0.9), (1.3, 1.4))]
    [True, None, False]
    >>> [comes_first((friction, friction), (0.8, 0.9)) for friction in (0.75, 0.85, 0.95)]
    [False, None, True]
    """
    (low, high), (least, most) = friction, turns
    return True if most <= low else False if least > high else None


def turning_frictions(solved: Solved) -> list[tuple[float, float]]:
    """Gear by gear the friction from which the front lifts before the rear spins: its band, or twice its value where it
    has none.

    >>> import ridesim as rs
    >>> from ridesim.answers.solved import solved
    >>> [round(end, 2) for end in turning_frictions(solved(rs.demo("coast-single")))[0]]
    [0.81, 0.87]
    """
    lift = solved.performance.gears.lift_friction
    bands = (solved.figure("turn", "", "ratio", of_gear) for of_gear in lift.T)
    return [
        (float(turn), float(turn)) if band.low is None or band.high is None else (band.low, band.high)
        for turn, band in zip(lift[0], bands, strict=True)
    ]


def first_notes(solved: Solved) -> tuple[str, ...]:
    """In which gears either may come first, the front or the rear's grip, and the friction at which it turns."""
    bike, turns = solved.bike, turning_frictions(solved)
    found = {k: turn for k, turn in enumerate(turns, 1) if comes_first(bike.friction_range, turn) is None}
    if not found:
        return ()
    ends = [end for turn in found.values() for end in turn]
    turn = _span((min(ends), max(ends)))
    return (
        f"gear {', '.join(map(str, found))}: {_ground(bike)} either may come first, "
        f"depending on the grip: from a friction of {turn} up the front lifts, below it the rear spins",
    )


def _ground(bike: Bike) -> str:
    """The ground with its friction; one that the build gives is said to be the rider's own: the surface's range is wider."""
    friction = _span(bike.friction_range, "g")
    if bike.record.surface.friction is None:
        return f"on {bike.surface} (friction {friction})"
    return f"with your friction of {friction} on {bike.surface}"


def _span(ends: Iterable[float], digits: str = ".2f") -> str:
    return " to ".join(dict.fromkeys(f"{end:{digits}}" for end in ends))


def _reach_m(bike: Bike, moved_back_m: float) -> float:
    """How much farther back a rider can move, the hands on the bars and no farther than over the rear axle."""
    return max(min(MOVES_BACK_M - moved_back_m, float(bike.raw["rider_ahead_m"])), 0.0)


def _in_reach(shift: Array, reach: float) -> Array:
    """Shifts that a rider can make; nan where that of the bike as given is farther."""
    return np.where(shift[:1] <= reach, shift, np.nan)


def out_of_reach_notes(solved: Solved, moved_back_m: float = 0.0) -> tuple[str, ...]:
    """In which gears the shift that lifts is farther than a rider can move, with how far that is."""
    reach = _reach_m(solved.bike, moved_back_m)
    gears = [f"{k + 1}" for k in np.nonzero(solved.performance.gears.rider_shift_m[0] > reach)[0]]
    if not gears:
        return ()
    return (
        f"gear {', '.join(gears)}: the shift that would lift the front is farther than a rider can move back: "
        + either("small length", reach)
        + ", by how far bent arms straighten and not behind the rear axle (assumption)",
    )


def geometry(bike: Bike) -> dict[str, float]:
    """Places and masses for a side view to scale, SI: of bike, rider and luggage each, and of all together.

    >>> import ridesim as rs
    >>> found = geometry(rs.demo("coast-single"))
    >>> round(found["ahead_m"], 3), round(found["height_m"], 3), found["rider_ahead_m"]
    (0.598, 0.705, 0.49)
    """
    masses = [f"{one}_{what}" for one in ("bike", "rider", "luggage") for what in ("kg", "ahead_m", "height_m")]
    keys, s = (*masses, "wheelbase_m", "drag_height_m"), bike.setups
    return {key: float(bike.raw[key]) for key in keys} | {
        "ahead_m": float(s.ahead_m[0]),
        "height_m": float(s.height_m[0]),
        "rear_radius_m": bike.rear_tire.loaded_radius_m,
        "front_radius_m": bike.front_tire.loaded_radius_m,
    }


def _said_first(bike: Bike, turns: tuple[float, float]) -> str:
    return {
        True: "the front lifts before the rear spins",
        False: "the rear spins before the front lifts",
        None: f"either comes first, depending on the grip: the front from a friction of {_span(turns)} up, below it the rear",
    }[comes_first(bike.friction_range, turns)]


def _first(friction: tuple[float, float], turns: tuple[float, float]) -> str:
    return {True: "front lifts", False: "rear spins", None: f"either, front from {_span(turns)}"}[
        comes_first(friction, turns)
    ]


def _surfaces(solved: Solved, turns: list[tuple[float, float]]) -> Table:
    """What comes first in each gear on every known surface: the tire's grip is all that differs."""
    ranges = {name: (known.friction_low, known.friction_high) for name, known in surfaces().items()}
    return table_of(
        "What comes first on each surface",
        ("surface", "Surface", "text", ranges),
        ("low", "Friction from", "ratio", [low for low, _ in ranges.values()]),
        ("high", "to", "ratio", [high for _, high in ranges.values()]),
        *(
            (
                f"gear_{k + 1}",
                ORDINALS[k].capitalize(),
                "text",
                [_first(friction, turn) for friction in ranges.values()],
            )
            for k, turn in enumerate(turns)
        ),
    )


def _steps(solved: Solved) -> tuple[Step, ...]:
    s, g = solved.bike.setups, solved.performance.gears
    w = g.lift_speed_rad_s[0]
    forces = solved.rows.at(w)
    a, lift, drag = forces.net[0] / s.lift_mass[0, 0], forces.lift[0], forces.drag[0]
    m, b, h, th = s.mass_kg[0], s.load_arm_m[0], s.height_m[0], solved.ride.slope_rad
    return (
        Step(
            "combined center of mass",
            "masses of bike, rider and luggage with their places",
            f"b = {s.ahead_m[0]:.4f} m, h = {h:.4f} m",
        ),
        Step(
            "b' = b - e, e = Crr r: rolling resistance moves the wheel loads ahead",
            f"{s.ahead_m[0]:.4f} - {s.rolling_offset_m[0]:.4f}",
            f"{b:.4f} m",
        ),
        Step(
            "H = m h + Jr/r + s Je i/r: as it lifts, the ground spins the front wheel no more",
            f"{m:.1f} x {h:.4f} + {s.rear_inertia_kg_m2[0] / s.rear_radius_m[0]:.3f} + "
            f"{s.crank_sense[0] * s.crank_inertia_kg_m2[0] * s.ratios[0, 0] / s.rear_radius_m[0]:.3f}",
            f"{s.lift_moment[0, 0]:.2f} kg m in first",
        ),
        Step(
            "a_lift = (m g (b' cos th - h sin th) - F_D h_D) / H",
            f"({m:.1f} x 9.80665 x ({b:.4f} cos {th:.4f} - {h:.4f} sin {th:.4f}) - {drag:.1f} x {s.drag_height_m[0]:.3f}) / {s.lift_moment[0, 0]:.2f}",
            f"{lift:.3f} m/s2",
        ),
        Step("a = (F - R) / m_k without Jf/rf^2", f"at {rpm(w[0]):.0f} rev/min in first", f"{a:.3f} m/s2"),
        Step(
            "lift ratio = a / a_lift",
            f"{a:.3f} / {lift:.3f}",
            f"{g.lift_ratio[0, 0]:.3f}" if np.isfinite(g.lift_ratio[0, 0]) else "none, the front is light by itself",
        ),
    )
