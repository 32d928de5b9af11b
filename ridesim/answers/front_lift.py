"""How easily the front wheel comes up, gear by gear, and whether the rear spins first."""

from __future__ import annotations

import numpy as np

from ridesim.answers.base import Answer, Column, Step, Table, rows_of
from ridesim.answers.solved import ORDINALS, Solved
from ridesim.bike import Bike
from ridesim.mechanics.thrust import Forces
from ridesim.surroundings.road import surfaces
from ridesim.units import rpm

CAUTIONS = (
    "An estimate for a rigid bike: no suspension, no clutch snap, no pull of the rider on the bars.",
    "Wheelies injure riders and others: not on public roads; rear brake covered, full riding gear, room to fall, better with an instructor.",
)


def front_lift(solved: Solved) -> Answer:
    """The lift ratio of every gear, its engine-speed window, how far back the rider must move, and what comes first on each surface.

    series: "engine_speed_rad_s" (N,), "lift_ratio" (G, N), "speed_m_s" (G, N); "geometry": wheelbase_m, ahead_m, height_m,
    rear_radius_m, front_radius_m, bike/rider/luggage places and masses, for a drawing to scale; "surfaces": rows.
    """
    bike, g = solved.bike, solved.performance.gears
    count = solved.gear_count
    metres = bike.setups.metres_per_radian[0]
    rows = rows_of(
        {
            "gear": list(range(1, count + 1)),
            "ratio": list(g.lift_ratio[0]),
            "at": list(g.lift_speed_rad_s[0]),
            "from_rpm": list(g.lift_from_rad_s[0]),
            "to_rpm": list(g.lift_to_rad_s[0]),
            "from_speed": list(g.lift_from_rad_s[0] * metres),
            "to_speed": list(g.lift_to_rad_s[0] * metres),
            "shift": list(g.rider_shift_m[0]),
            "first": [_first(b) for b in g.lifts_before_spin[0]],
        }
    )
    figures = (
        solved.figure("ratio", "Lift ratio in first", "ratio", g.lift_ratio[:, 0]),
        solved.figure(
            "at", "Engine speed of the highest lift ratio in first", "engine speed", g.lift_speed_rad_s[:, 0]
        ),
        solved.figure("shift", "How far back the rider must move in first", "small length", g.rider_shift_m[:, 0]),
        solved.figure("from_rpm", "Front lifts from", "engine speed", g.lift_from_rad_s[:, 0]),
        solved.figure("to_rpm", "Front lifts up to", "engine speed", g.lift_to_rad_s[:, 0]),
    )
    lifts = float(g.lift_ratio[0, 0]) >= 1.0
    before = bool(g.lifts_before_spin[0, 0])
    said = " (lift ratio {ratio})" if np.isfinite(g.lift_ratio[0, 0]) else ""
    say = (
        f"In first the front comes up on the throttle alone between {{from_rpm}} and {{to_rpm}}{said}"
        if lifts
        else f"In first the throttle alone does not lift the front{said}; the rider's centre of mass would have to move back {{shift}}"
    )
    say += f"; on {bike.surface} " + (
        "the front lifts before the rear spins." if before else "the rear spins before the front lifts."
    )
    w = np.linspace(solved.pieces.first, solved.pieces.last, 120)
    wide = np.broadcast_to(w, (1, count, w.size))
    return Answer(
        question="How easily does the front come up?",
        say=say,
        figures=figures,
        tables=(_table(rows), _surfaces(solved)),
        series={
            "engine_speed_rad_s": w,
            "lift_ratio": solved.forces.lift_ratio(wide)[0],
            "speed_m_s": solved.forces.speed(wide)[0],
            "geometry": geometry(bike),
        },
        assumptions=bike.assumptions,
        steps=_steps(solved),
        notes=(*bike.notes, *light_notes(solved), *_behind(solved)),
        cautions=CAUTIONS,
    )


def light_notes(solved: Solved) -> tuple[str, ...]:
    """In which gears there is no lift ratio."""
    return tuple(
        f"gear {k + 1}: at some speed the front wheel is light without any acceleration, by slope and air, so there is no lift ratio"
        for k in np.nonzero(~np.isfinite(solved.performance.gears.lift_ratio[0]))[0]
    )


def _behind(solved: Solved) -> tuple[str, ...]:
    """Where the rider would end up in first, if that is behind the rear axle."""
    place = float(solved.bike.raw["rider_ahead_m"]) - float(solved.performance.gears.rider_shift_m[0, 0])
    if place >= 0.0:
        return ()
    return (
        "in first the rider's centre of mass would have to be behind the rear axle, farther back than a rider can sit",
    )


def geometry(bike: Bike) -> dict[str, float]:
    """Places and masses for a side view to scale, SI."""
    keys = (
        "bike_kg",
        "rider_kg",
        "luggage_kg",
        "bike_ahead_m",
        "bike_height_m",
        "rider_ahead_m",
        "rider_height_m",
        "luggage_ahead_m",
        "luggage_height_m",
        "wheelbase_m",
        "drag_height_m",
    )
    s = bike.setups
    return {key: float(bike.raw[key]) for key in keys} | {
        "ahead_m": float(s.ahead_m[0]),
        "height_m": float(s.height_m[0]),
        "rear_radius_m": bike.rear_tire.loaded_radius_m,
        "front_radius_m": bike.front_tire.loaded_radius_m,
    }


def _first(lifts: bool) -> str:
    return "front lifts" if lifts else "rear spins"


def _table(rows: tuple[dict[str, object], ...]) -> Table:
    return Table(
        title="Lift by gear",
        columns=(
            Column(key="gear", label="Gear", reading="gear"),
            Column(key="ratio", label="Highest lift ratio", reading="ratio"),
            Column(key="at", label="At", reading="engine speed"),
            Column(key="from_rpm", label="Lifts from", reading="engine speed"),
            Column(key="to_rpm", label="Lifts up to", reading="engine speed"),
            Column(key="from_speed", label="From", reading="speed"),
            Column(key="to_speed", label="Up to", reading="speed"),
            Column(key="shift", label="Rider back by", reading="small length"),
            Column(key="first", label="Comes first", reading="text"),
        ),
        rows=rows,
    )


def _surfaces(solved: Solved) -> Table:
    """What comes first in each gear on every known surface: the tire's grip is all that differs."""
    rows = []
    setups = solved.bike.setups
    for name, known in surfaces().items():
        forces = Forces(setups=setups.replaced(friction=known.friction), pieces=solved.pieces, ride=solved.ride)
        holds = forces.rear_holds_at_lift(solved.performance.gears.lift_speed_rad_s[:1, :, None])[0, :, 0]
        row: dict[str, object] = {"surface": name, "friction": float(known.friction)}
        row |= {f"gear_{k + 1}": _first(bool(h)) for k, h in enumerate(holds)}
        rows.append(row)
    columns = (
        Column(key="surface", label="Surface", reading="text"),
        Column(key="friction", label="Friction", reading="ratio"),
        *(
            Column(key=f"gear_{k + 1}", label=ORDINALS[k].capitalize(), reading="text")
            for k in range(solved.gear_count)
        ),
    )
    return Table(title="What comes first on each surface", columns=columns, rows=tuple(rows))


def _steps(solved: Solved) -> tuple[Step, ...]:
    s, g = solved.bike.setups, solved.performance.gears
    w = g.lift_speed_rad_s[:1, :]
    a, lift = solved.forces.net(w)[0, 0] / s.lift_mass[0, 0], solved.forces.lift_acceleration(w)[0, 0]
    drag = solved.forces.drag(solved.forces.speed(w))[0, 0]
    m, b, h, th = s.mass_kg[0], s.load_arm_m[0], s.height_m[0], solved.ride.slope_rad
    return (
        Step(
            formula="combined centre of mass",
            numbers="masses of bike, rider and luggage with their places",
            result=f"b = {s.ahead_m[0]:.4f} m, h = {h:.4f} m",
        ),
        Step(
            formula="b' = b - e, e = Crr r: rolling resistance moves the wheel loads ahead",
            numbers=f"{s.ahead_m[0]:.4f} - {s.rolling_offset_m[0]:.4f}",
            result=f"{b:.4f} m",
        ),
        Step(
            formula="H = m h + Jr/r + s Je i/r: as it lifts, the ground spins the front wheel no more",
            numbers=f"{m:.1f} x {h:.4f} + {s.rear_inertia_kg_m2[0] / s.rear_radius_m[0]:.3f} + "
            f"{s.crank_sense[0] * s.crank_inertia_kg_m2[0] * s.ratios[0, 0] / s.rear_radius_m[0]:.3f}",
            result=f"{s.lift_moment[0, 0]:.2f} kg m in first",
        ),
        Step(
            formula="a_lift = (m g (b' cos th - h sin th) - F_D h_D) / H",
            numbers=f"({m:.1f} x 9.80665 x ({b:.4f} cos {th:.4f} - {h:.4f} sin {th:.4f}) - {drag:.1f} x {s.drag_height_m[0]:.3f}) / {s.lift_moment[0, 0]:.2f}",
            result=f"{lift:.3f} m/s2",
        ),
        Step(
            formula="a = (F - R) / m_k without Jf/rf^2",
            numbers=f"at {rpm(w[0, 0]):.0f} rev/min in first",
            result=f"{a:.3f} m/s2",
        ),
        Step(
            formula="lift ratio = a / a_lift",
            numbers=f"{a:.3f} / {lift:.3f}",
            result=f"{g.lift_ratio[0, 0]:.3f}"
            if np.isfinite(g.lift_ratio[0, 0])
            else "none, the front is light by itself",
        ),
    )
