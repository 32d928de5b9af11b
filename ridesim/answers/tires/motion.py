"""What the driven tire's growth and slip at speed do to engine speed, run and top speed: ranges beside the plain figures."""

from __future__ import annotations

from dataclasses import dataclass
from itertools import product
from typing import Any

import numpy as np

from ridesim.answers.answer import Figure
from ridesim.answers.solved import Solved, in_highest_gear
from ridesim.bike import Bike
from ridesim.bike.figures_to_setups import setups_of
from ridesim.components.tire_motion import (
    GROWTH_AT_100_KMH,
    growth_share,
    slip_share,
    slip_stiffness,
    turns_over_plain,
)
from ridesim.environment.road_forces import resistance_n
from ridesim.mechanics.kernel import perform
from ridesim.mechanics.setups import Array, Ride, SetUps
from ridesim.statements import Assumption, Note
from ridesim.units import G

IN_MOTION = Assumption(
    "tires.rear.size",
    f"growth of the rear tire {100 * GROWTH_AT_100_KMH[0]:g} to {100 * GROWTH_AT_100_KMH[1]:g} % at highway speed, from memory; "
    "slip stiffness 11 to 28 times the load (two published models), slip counted as lost power where the sheet is the crank's (one of "
    "the wheel has it in it); both stand beside the plain figures, which leave them out",
)
AT_SPEED = "speed at engine speed"


@dataclass(frozen=True, kw_only=True)
class Span:
    """A figure at both ends of the ranges of growth and slip; `figure` has the middle as its value and the ends as its
    band.
    """

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


def _resistance_n(bike: Bike, ride: Ride, speed_m_s: Any) -> Any:
    s, slope, wind = bike.setups, ride.slope_rad, ride.headwind_m_s
    return resistance_n(speed_m_s, s.f0_n[0], s.f1_n_s_m[0], s.f2_n_s2_m2[0], s.mass_kg[0], slope, wind)


def cruise_share(bike: Bike, ride: Ride) -> Span | None:
    """Engine speed at the cruising speed over the plain one,  (1 + s) / (1 + g), at both ends; None where it was
    measured at speed.

    >>> import ridesim as rs
    >>> bike = rs.demo("coast-single")
    >>> span = cruise_share(bike, bike.ride())
    >>> round(span.low, 4), round(span.high, 4)
    (1.0033, 1.0196)
    """
    if measured_at_speed(bike):
        return None
    force = float(_resistance_n(bike, ride, ride.cruise_m_s))
    shares = [float(turns_over_plain(*corner)) for corner in _corners(bike, ride.cruise_m_s, force)]
    return Span(low=min(shares), high=max(shares))


def moved_setups(bike: Bike, growth: Array, slip: Array) -> SetUps:
    """The bike with its rear tire grown and slipping: one turn of the wheel goes U (1 + g)/(1 + s) far, and the push
    on the road is that of the radius r (1 + g), so that drive slip is lost as efficiency:  eta / (1 + s).

    A sheet that was measured at the wheel has the drum's slip in it already: its power reaches the road whole.

    Parameters
    ----------
    bike : Bike
    growth, slip : array, shape (S,)
        Shares. [-]

    Returns
    -------
    SetUps
        One for each share.

    Examples
    --------
    >>> import ridesim as rs
    >>> bike = rs.demo("coast-single")
    >>> moved = moved_setups(bike, np.array([0.01]), np.array([0.02]))
    >>> (moved.rear_radius_m / bike.rear_tire.rolling_radius_m).round(5).item(), moved.efficiency.round(4).item()
    (0.9902, 0.902)
    """
    lost = 1.0 if "sheet_efficiency" in bike.raw else 1.0 + slip
    moved = {
        "rear_radius_m": bike.raw["rear_radius_m"] * (1.0 + growth) / (1.0 + slip),
        "efficiency": bike.raw["efficiency"] / lost,
    }
    return setups_of({**bike.raw, **moved}, bike.cycle)


def _mean_use(solved: Solved, time_s: Array, speed_m_s: Array) -> float:
    """Drive force over the load on the rear tire, averaged over the time of a run: what slip goes with."""
    s, m, a = solved.bike.setups, solved.bike.setups.mass_kg[0], np.gradient(speed_m_s, time_s)
    force = m * a + _resistance_n(solved.bike, solved.ride, speed_m_s)
    load = m * G * (1.0 - s.ahead_m[0] / s.wheelbase_m[0]) + m * a * s.height_m[0] / s.wheelbase_m[0]
    return float(np.trapezoid(np.maximum(force, 0.0) / load, time_s) / (time_s[-1] - time_s[0]))


def moving_run(solved: Solved, time_s: Array, speed_m_s: Array, label: str) -> tuple[Figure, ...]:
    """What growth and slip leave of the run to its last target, and of the top speed; nothing where the rider measured at speed.

    Parameters
    ----------
    solved : Solved
    time_s, speed_m_s : array, shape (Q,)
        The run without them, from rest. [s], [m/s]
    label : str
        What the run is called.
    """
    bike, last = solved.bike, solved.performance.run.times_s[0, -1]
    top = float(solved.performance.top_speed_m_s[0])
    keep = np.append(True, np.diff(time_s) > 0.0) & (time_s <= (last if np.isfinite(last) else np.inf))
    if measured_at_speed(bike) or not np.isfinite(top) or np.count_nonzero(keep) < 2:  # or it does not get going
        return ()
    use = _mean_use(solved, time_s[keep], speed_m_s[keep])
    grows = [float(np.mean(growth_share(speed_m_s[keep], at))) for at in GROWTH_AT_100_KMH]
    running = product(grows, (use / stiffness for stiffness in slip_stiffness()))
    against = float(_resistance_n(bike, solved.ride, top))
    growth, slip = np.array([*running, *_corners(bike, top, against)]).T
    moved = perform(moved_setups(bike, growth, slip), bike.curve, solved.ride, trace=False)
    spans = (
        ("moving_time", f"{label} with the tire's growth and slip", "time", moved.run.times_s[:4, -1]),
        ("moving_top_speed", "Top speed with the tire's growth and slip", "speed", moved.top_speed_m_s[4:]),
    )
    return tuple(
        Span(low=float(ends.min()), high=float(ends.max())).figure(key, name, reading)
        for key, name, reading, ends in spans
        if np.isfinite(ends).all()
    )


def moving_engine_speed(solved: Solved) -> Figure | None:
    """Engine speed at the cruising speed with growth and slip, in the highest gear that holds it; None where none
    does, or where it was measured at speed.

    >>> import ridesim as rs
    >>> from ridesim.answers.solved import solved
    >>> turns = moving_engine_speed(solved(rs.demo("coast-single")))
    >>> round(turns.low * 60 / (2 * np.pi)), round(turns.high * 60 / (2 * np.pi))  # [rev/min]; 4,876 without
    (4892, 4972)
    """
    span, c = cruise_share(solved.bike, solved.ride), solved.performance.cruise
    w = float(in_highest_gear(c, c.engine_speed_rad_s)[0])
    if span is None or np.isnan(w):
        return None
    span = Span(low=w * span.low, high=w * span.high)
    return span.figure("moving_engine_speed", "Engine speed with the tire's growth and slip", "engine speed")


def faster_note(bike: Bike, ride: Ride) -> tuple[Note, ...]:
    """By how much the plain engine speed at the cruising speed is off; nothing where it was measured at speed.

    >>> import ridesim as rs
    >>> bike = rs.demo("coast-single")
    >>> faster_note(bike, bike.ride())[0].text
    'at the cruising speed growth and slip turn the engine 0.3 to 2.0 % faster than the roll-out says; a reading of speed beside engine speed settles it'
    """
    span = cruise_share(bike, ride)
    if span is None:
        return ()
    low, high = (f"{100 * (end - 1.0):.1f}" for end in (span.low, span.high))
    text = f"at the cruising speed growth and slip turn the engine {low} to {high} % faster than the roll-out says"
    return (Note("rear tire", f"{text}; a reading of speed beside engine speed settles it"),)
