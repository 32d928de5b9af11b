"""What the driven tire's growth and slip at speed do to engine speed and top speed: ranges beside the plain figures."""

from __future__ import annotations

from dataclasses import dataclass
from itertools import product

import numpy as np

from ridesim.answers.answer import Figure
from ridesim.answers.solved import Solved
from ridesim.bike import Bike
from ridesim.components.tire_motion import (
    GROWTH_AT_100_KMH,
    growth_share,
    slip_share,
    slip_stiffness,
    top_speed_change_m_s,
    turns_over_plain,
)
from ridesim.environment.road_forces import resistance_n
from ridesim.mechanics.setups import Ride
from ridesim.statements import Assumption, Note
from ridesim.units import G

IN_MOTION = Assumption(
    "tires.rear.size",
    f"growth of the rear tire {100 * GROWTH_AT_100_KMH[0]:g} to {100 * GROWTH_AT_100_KMH[1]:g} % at highway speed, from memory; "
    "slip stiffness 11 to 28 times the load (two published models); both stand beside the plain figures, which leave them out",
)
AT_SPEED = "speed at engine speed"


@dataclass(frozen=True, kw_only=True)
class Span:
    """A figure at both ends of the ranges of growth and slip."""

    low: float
    high: float

    def figure(self, key: str, label: str, reading: str) -> Figure:
        return Figure(
            key=key, label=label, value=(self.low + self.high) / 2, low=self.low, high=self.high, reading=reading
        )


def measured_at_speed(bike: Bike) -> bool:
    """Whether the rider measured road speed beside engine speed: then growth and slip are in the fitted figures already."""
    return bike.stated is not None and any(one.kind == AT_SPEED for one in bike.record.evidence)


def _corners(bike: Bike, speed_m_s: float, force_n: float) -> list[tuple[float, float]]:
    """Growth and slip at the ends of their ranges."""
    s = bike.setups
    load = float(s.mass_kg[0] * G * (1.0 - s.ahead_m[0] / s.wheelbase_m[0]))
    growths = [float(growth_share(speed_m_s, at)) for at in GROWTH_AT_100_KMH]
    slips = [float(slip_share(max(force_n, 0.0), load, stiffness)) for stiffness in slip_stiffness()]
    return list(product(growths, slips))


def cruise_share(bike: Bike, ride: Ride) -> Span | None:
    """Engine speed at the cruising speed over the plain one; None where it was measured at speed."""
    if measured_at_speed(bike):
        return None
    s, v = bike.setups, ride.cruise_m_s
    force = resistance_n(v, s.f0_n[0], s.f1_n_s_m[0], s.f2_n_s2_m2[0], s.mass_kg[0], ride.slope_rad, ride.headwind_m_s)
    shares = [float(turns_over_plain(*corner)) for corner in _corners(bike, v, float(force))]
    return Span(low=min(shares), high=max(shares))


def top_speed_span(solved: Solved) -> Span | None:
    """Top speed with growth and slip [m/s]; None where it was measured at speed, or there is none."""
    top, gears = float(solved.performance.top_speed_m_s[0]), solved.performance.gears
    if measured_at_speed(solved.bike) or not np.isfinite(top):
        return None
    k = int(solved.performance.top_speed_gear[0]) - 1
    w = top / float(solved.bike.setups.meters_per_radian[0, k])
    around = np.clip(w * np.array([0.998, 1.0, 1.002]), solved.cells.first, solved.cells.last)
    at = solved.rows.at(around[:, None])
    speed, thrust = at.speed[:, k], at.thrust[:, k]
    resistance = solved.rows.resistance_n(at.speed)[:, k]
    run = speed[2] - speed[0]
    slopes = ((thrust[2] - thrust[0]) / run, (resistance[2] - resistance[0]) / run)
    moved = []
    for growth, slip in _corners(solved.bike, top, float(resistance[1])):
        if gears.limited_by_revs[0, k]:
            moved.append(top / float(turns_over_plain(growth, slip)))
        else:
            moved.append(top + float(top_speed_change_m_s(top, thrust[1], *slopes, growth, slip)))
    return Span(low=min(moved), high=max(moved))


def moving_engine_speed(solved: Solved) -> Figure | None:
    """Engine speed at the cruising speed with growth and slip, in the highest gear that holds it."""
    span, c = cruise_share(solved.bike, solved.ride), solved.performance.cruise
    if span is None or not c.holds[0].any():
        return None
    w = float(c.engine_speed_rad_s[0, int(np.nonzero(c.holds[0])[0].max())])
    span = Span(low=w * span.low, high=w * span.high)
    return span.figure("moving_engine_speed", "Engine speed with the tire's growth and slip", "engine speed")


def moving_top_speed(solved: Solved) -> Figure | None:
    """Top speed with growth and slip."""
    span = top_speed_span(solved)
    return (
        None if span is None else span.figure("moving_top_speed", "Top speed with the tire's growth and slip", "speed")
    )


def faster_note(bike: Bike, ride: Ride) -> tuple[Note, ...]:
    """By how much the plain engine speed at the cruising speed is off."""
    span = cruise_share(bike, ride)
    if span is None:
        return ()
    low, high = (f"{100 * (end - 1.0):+.1f}" for end in (span.low, span.high))
    text = f"at the cruising speed growth and slip turn the engine {low} to {high} % faster than the roll-out has it"
    return (Note("rear tire", f"{text}; a reading of speed beside engine speed settles it"),)
