"""Whole days of full-throttle pulls with a known truth: rider, gusts with memory, slope, and a receiver that smooths and drops out."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, field, replace

import numpy as np
from numpy.typing import NDArray
from support.log_texts import made_up
from support.synthetic_log import STEP_S, Bike, Day, Receiver, logged, phone

from ridesim.logs.fits.pull import FittedPulls, fitted_pulls
from ridesim.logs.fits.pull_ride import PulledBike
from ridesim.logs.log import Log, RoadRun
from ridesim.logs.pull import PULL_FROM, PULL_TO
from ridesim.logs.runs import runs_of
from ridesim.units import TWO_PI, G

Array = NDArray[np.float64]
GEAR = 2
LIMIT_RPM = 7700.0
MASS_KG, AREA, ROLLS = 3.0, 0.06, 0.10  # tolerances of what is declared (the last two as shares): half of 90 % ranges


@dataclass(frozen=True, kw_only=True)
class Rider:
    """How pulls are ridden: from and to which engine speed, and how fast the throttle is moved."""

    from_rpm: float = 2400.0
    to_rpm: float = 7300.0
    opens_s: float = 0.25
    shuts_s: float = 0.10
    runs_each_way: int = 3


def draw_rider(rng: np.random.Generator) -> Rider:
    """A rider whose hand is not known."""
    return Rider(
        from_rpm=float(rng.uniform(2100, 2700)),
        to_rpm=float(rng.uniform(7150, 7450)),
        opens_s=float(rng.uniform(0.1, 0.45)),
        shuts_s=float(rng.uniform(0.05, 0.25)),
    )


def draw_day(rng: np.random.Generator) -> Day:
    """Wind, gusts and slope of a day fit for measuring."""
    return Day(
        wind_m_s=float(rng.normal(0, 1.2)),
        gust_m_s=float(rng.uniform(0.2, 0.7)),
        gust_lasts_s=float(rng.uniform(3, 12)),
        grade=float(rng.normal(0, 0.003)),
    )


def draw_receiver(rng: np.random.Generator, **fixed: float) -> Receiver:
    """A phone's receiver: lag 0.3 to 1.5 s unless it is fixed, and everything else as phones have it."""
    drawn = {
        "smoothing_s": float(rng.uniform(0.3, 1.5)),
        "noise_m_s": float(rng.uniform(0.04, 0.12)),
        "noise_lasts_s": float(rng.uniform(0.3, 3.0)),
        "latency_s": float(rng.uniform(0.1, 1.2)),
        "rate_hz": float(rng.choice([1.0, 5.0, 10.0])),
        "jitter_s": 0.01,
        "rounding_m_s": float(rng.choice([0.01, 0.03, 0.1])),
        "dropouts_per_min": float(rng.choice([0.0, 1.0])),
    }
    return phone(**drawn | fixed)


@dataclass(frozen=True, kw_only=True)
class PullDay:
    """One day: the bike as it was, how it was ridden and logged."""

    bike: Bike = field(default_factory=Bike)
    day: Day = field(default_factory=Day)
    rider: Rider = field(default_factory=Rider)
    receiver: Receiver = field(default_factory=phone)


def hidden_bike(rng: np.random.Generator, declared: Bike) -> Bike:
    """The bike as it is: off what was declared by its tolerances, and with a torque curve of its own."""
    off = rng.standard_normal(3) / 1.645
    return replace(
        declared,
        mass_kg=declared.mass_kg + MASS_KG * float(off[0]),
        drag_area_m2=declared.drag_area_m2 * (1 + AREA * float(off[1])),
        rolling_resistance=declared.rolling_resistance * (1 + ROLLS * float(off[2])),
        falls=float(rng.uniform(0.012, 0.032)),
        dip=float(rng.normal(0.0, 0.03)),
        dip_at=float(rng.uniform(2.5, 7.0)),
    )


def ride_out(one: PullDay, rng: np.random.Generator) -> tuple[Array, Array]:
    """True speeds of the runs of a day (time, runs) from well before the throttle opens to well after it shuts, and the ways."""
    bike, rider, count = one.bike, one.rider, 2 * one.rider.runs_each_way
    per = bike.ratios[GEAR] / bike.radius_m
    ways = np.array([1.0, -1.0] * one.rider.runs_each_way)
    low, high = rider.from_rpm * TWO_PI / 60 / per, rider.to_rpm * TWO_PI / 60 / per
    mass, hold = bike.driven_mass_kg(GEAR), bike.f0_n + bike.mass_kg * G * one.day.grade * ways
    v = low + rng.normal(0, 0.4, count)
    opens = rng.uniform(4.0, 6.0, count)
    shut_at = np.full(count, np.inf)
    high = high + rng.normal(0, 0.25, count)
    keep, sway = np.exp(-STEP_S / one.day.gust_lasts_s), np.exp(-STEP_S / 1.5)
    gust = one.day.gust_m_s * rng.standard_normal(count)
    hand = 0.1 * rng.standard_normal(count)
    brakes = rng.uniform(0.9, 2.2, count)  # engine braking or a pulled clutch [m/s2]
    speeds = [v]
    for k in range(int(40 / STEP_S)):
        now = k * STEP_S
        air = v + one.day.wind_m_s * ways + gust
        thrust = bike.efficiency * bike.torque_n_m(np.clip(v, 0.5 * low, None) * per) * per
        full = (thrust - hold - bike.f2_n_s2_m2 * air * np.abs(air)) / mass
        ramp = np.clip((now - opens) / rider.opens_s, 0, 1)
        shut = np.clip((now - shut_at) / rider.shuts_s, 0, 1)
        steady = np.where(now < opens, hand + 0.2 * (low - v), 0.0)
        closed = -brakes * (0.6 + 0.4 * v / v.max())
        rate = np.where(shut > 0, (1 - shut) * full + shut * closed, ramp * full + (1 - ramp) * steady)
        v = np.maximum(v + STEP_S * rate, 1.0)
        shut_at = np.where((v >= high) & np.isinf(shut_at), now, shut_at)
        gust = keep * gust + one.day.gust_m_s * np.sqrt(1 - keep**2) * rng.standard_normal(count)
        hand = sway * hand + 0.1 * np.sqrt(1 - sway**2) * rng.standard_normal(count)
        speeds.append(v)
        if np.all(now > shut_at + 6.0):
            break
    out = np.array(speeds)
    for r in range(count):  # what comes 6 s after the throttle shuts is another matter
        out[int((shut_at[r] + 6.0) / STEP_S) :, r] = np.nan
    return out, ways


def whole_day(one: PullDay, rng: np.random.Generator) -> tuple[Array, Array]:
    """Speed and way along the road of a whole day: standing, gathering speed, pull, braking to a stop, and back again."""
    speeds, ways = ride_out(one, rng)
    pieces, signs = [np.zeros(round(4 / STEP_S))], [1.0]
    for run, way in zip(speeds.T, ways, strict=True):
        own = run[np.isfinite(run)]
        up, down = np.arange(0.0, own[0], 1.8 * STEP_S), np.arange(own[-1], 0.0, -3.2 * STEP_S)
        pieces.append(np.concatenate([up, own, down, np.zeros(round(6 / STEP_S))]))
        signs.append(way)
    speed = np.concatenate(pieces)
    sign = np.concatenate([np.full(len(piece), way) for piece, way in zip(pieces, signs, strict=True)])
    return speed, np.cumsum(speed * sign) * STEP_S


def log_of_day(one: PullDay, rng: np.random.Generator) -> Log:
    """The log of a whole day."""
    speed, way = whole_day(one, rng)
    time = STEP_S * np.arange(speed.size)
    at, seen = logged(time, speed, one.receiver, rng)
    return made_up(at - at[0], seen, east_m=np.interp(at, time, way), north_m=0 * at)


def runs_of_day(one: PullDay, rng: np.random.Generator) -> tuple[RoadRun, ...]:
    """Its pulls, found as a rider's are."""
    per = one.bike.ratios[GEAR] / one.bike.radius_m
    low, high = (share * LIMIT_RPM * TWO_PI / 60 / per for share in (PULL_FROM, PULL_TO))
    return runs_of([log_of_day(one, rng)], "pull", from_m_s=low, to_m_s=high)


def fitted(one: PullDay, declared: Bike, rng: np.random.Generator) -> FittedPulls:
    """The fit of a day with the bike as it was declared."""
    return fit_runs(runs_of_day(one, rng), declared)


def fit_runs(runs: Sequence[RoadRun], declared: Bike, progress: Callable[[float], None] | None = None) -> FittedPulls:
    """The fit of some pulls with the bike as it was declared, within the tolerances of `hidden_bike`."""
    told = PulledBike(
        mass_kg=declared.mass_kg,
        mass_error_kg=MASS_KG / 1.645,
        rotating_kg=declared.driven_mass_kg(GEAR) - declared.mass_kg,
        f0_n=declared.f0_n,
        f2_n_s2_m2=declared.f2_n_s2_m2,
        against_root=np.diag([declared.f0_n * ROLLS, declared.f2_n_s2_m2 * AREA]) / 1.645,
    )
    per = declared.ratios[GEAR] / declared.radius_m
    return fitted_pulls(runs, told, per_rad_m=per, standard="as measured", progress=progress)
