"""Invented rides with a known truth: the equation of motion solved finely, seen through a phone's receiver.

The receiver's figures are those of data/reference/phone_receiver.csv; gusts, slope and the bike are our own.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import cache

import numpy as np
from numpy.typing import NDArray

from ridesim.logs.log import RoadRun, frozen
from ridesim.reference import read_table
from ridesim.units import TWO_PI, G

Array = NDArray[np.float64]
STEP_S = 0.02


@cache
def receiver_figure(quantity: str) -> float:
    """One published figure of a phone's receiver, by name."""
    return next(float(row["value"]) for row in read_table("phone_receiver") if row["quantity"] == quantity)


@dataclass(frozen=True, kw_only=True)
class Bike:
    """An invented single."""

    mass_kg: float = 246.0
    front_inertia_kg_m2: float = 0.47
    front_radius_m: float = 0.325
    rear_inertia_kg_m2: float = 0.62
    radius_m: float = 0.330
    crank_inertia_kg_m2: float = 0.028
    efficiency: float = 0.93
    drag_area_m2: float = 0.64
    rolling_resistance: float = 0.019
    air_density_kg_m3: float = 1.20
    ratios: tuple[float, ...] = (15.42, 11.04, 8.55, 7.02, 5.94)
    peak_n_m: float = 40.0
    falls: float = 0.022  # of the torque for each (1000 rev/min)^2 from its peak
    dip: float = 0.05
    dip_at: float = 3.3  # [1000 rev/min]

    @property
    def f0_n(self) -> float:
        return self.rolling_resistance * self.mass_kg * G

    @property
    def f2_n_s2_m2(self) -> float:
        return 0.5 * self.air_density_kg_m3 * self.drag_area_m2

    @property
    def coasting_mass_kg(self) -> float:
        wheels = self.front_inertia_kg_m2 / self.front_radius_m**2 + self.rear_inertia_kg_m2 / self.radius_m**2
        return self.mass_kg + wheels

    @property
    def weighed(self) -> dict[str, float]:
        """What is known of it before a coast-down."""
        wheels = self.coasting_mass_kg - self.mass_kg
        return {"mass_kg": self.mass_kg, "wheels_kg": wheels, "air_density_kg_m3": self.air_density_kg_m3}

    def driven_mass_kg(self, gear: int) -> float:
        return (
            self.coasting_mass_kg
            + self.efficiency * self.crank_inertia_kg_m2 * (self.ratios[gear] / self.radius_m) ** 2
        )

    def torque_n_m(self, engine_rad_s: Array) -> Array:
        """A plump single: a hump near 4300 rev/min with a small dip before it, falling off to 7700."""
        thousand = np.asarray(engine_rad_s) * 60 / TWO_PI / 1000
        return self.peak_n_m * (
            1 - self.falls * (thousand - 4.3) ** 2 - self.dip * np.exp(-(((thousand - self.dip_at) / 0.5) ** 2))
        )

    def wheel_power_w(self, engine_rad_s: Array) -> Array:
        """Power at the tire at steady speed."""
        return self.efficiency * self.torque_n_m(engine_rad_s) * engine_rad_s


@dataclass(frozen=True, kw_only=True)
class Day:
    """Mean wind along the road, gusts about it (standard deviation and time they last), and slope; all as met going out."""

    wind_m_s: float = 0.0
    gust_m_s: float = 0.0
    gust_lasts_s: float = 8.0
    grade: float = 0.0


def windy(rng: np.random.Generator, count: int, wind_m_s: float, gust_m_s: float, grade: float) -> list[Day]:
    """Days drawn about no wind and no slope."""
    return [
        Day(wind_m_s=float(rng.normal(0, wind_m_s)), gust_m_s=gust_m_s, grade=float(rng.normal(0, grade)))
        for _ in range(count)
    ]


@dataclass(frozen=True, kw_only=True)
class Receiver:
    """A phone's receiver: noise of its speed, how long an error lasts, its own smoothing, delay, rate and rounding."""

    noise_m_s: float
    noise_lasts_s: float = 0.4
    smoothing_s: float = 0.3
    latency_s: float = 0.5
    rate_hz: float = 1.0
    jitter_s: float = 0.004
    rounding_m_s: float = 0.01
    mean_s: float = 0.0  # a moving mean before the lag
    dropouts_per_min: float = 0.0  # of 1 to 2.5 s each


def phone(**changes: float) -> Receiver:
    """A receiver whose noise is the published figure."""
    return Receiver(**{"noise_m_s": receiver_figure("speed error, one standard deviation"), **changes})


def coast(
    start_m_s: Array, bike: Bike, days: list[Day], directions: Array, lasts_s: float, rng: np.random.Generator
) -> tuple[Array, Array]:
    """Speeds of many runs coasting at once by the classical Runge-Kutta rule.

    Gusts are held over each step. The speed never falls below a crawl, where the run is cut anyway.
    """
    steps = int(lasts_s / STEP_S)
    wind = np.array([day.wind_m_s for day in days]) * directions
    grade = np.array([day.grade for day in days]) * directions
    gusty, held = (np.array([getattr(day, name) for day in days]) for name in ("gust_m_s", "gust_lasts_s"))
    keep = np.exp(-STEP_S / held)
    gust = gusty * rng.standard_normal(len(days))
    speed = np.empty((steps + 1, len(days)))
    speed[0] = start_m_s
    hold = bike.f0_n * np.cos(np.arctan(grade)) + bike.mass_kg * G * np.sin(np.arctan(grade))

    def rate(v: Array) -> Array:
        air = v + wind + gust
        return (-hold - bike.f2_n_s2_m2 * air * np.abs(air)) / bike.coasting_mass_kg

    for k in range(steps):
        v = speed[k]
        a = rate(v)
        b = rate(v + STEP_S / 2 * a)
        c = rate(v + STEP_S / 2 * b)
        d = rate(v + STEP_S * c)
        speed[k + 1] = np.maximum(v + STEP_S / 6 * (a + 2 * b + 2 * c + d), 0.05)
        gust = keep * gust + gusty * np.sqrt(1 - keep**2) * rng.standard_normal(len(days))
    return STEP_S * np.arange(steps + 1), speed


def logged(time_s: Array, speed_m_s: Array, receiver: Receiver, rng: np.random.Generator) -> tuple[Array, Array]:
    """What the receiver writes down of one run: its times, and speeds late, smoothed, noisy and rounded."""
    seen = speed_m_s
    if receiver.mean_s > 0:
        width = round(receiver.mean_s / STEP_S)
        way = np.cumsum(np.concatenate([np.full(width, speed_m_s[0]), speed_m_s]))
        seen = (way[width:] - way[:-width]) / width
    if receiver.smoothing_s > 0:
        from scipy.signal import lfilter

        keep = np.exp(-STEP_S / receiver.smoothing_s)
        seen, _ = lfilter([1 - keep], [1, -keep], seen, zi=[keep * speed_m_s[0]])
    at = np.arange(time_s[0] + rng.uniform(0, 1 / receiver.rate_hz), time_s[-1], 1 / receiver.rate_hz)
    at = at + np.clip(receiver.jitter_s * rng.standard_normal(at.size), -0.3 / receiver.rate_hz, 0.3 / receiver.rate_hz)
    lost = rng.uniform(0, time_s[-1], rng.poisson(receiver.dropouts_per_min * time_s[-1] / 60))
    for start, lasts in zip(lost, rng.uniform(1.0, 2.5, lost.size), strict=True):
        at = at[(at < start) | (at > start + lasts)]
    error = rng.standard_normal(1)[: at.size].tolist()
    keep = np.exp(-np.diff(at) / receiver.noise_lasts_s)
    kicks = rng.standard_normal(at.size) * np.sqrt(1 - np.concatenate([[0.0], keep]) ** 2)
    for stays, kick in zip(keep.tolist(), kicks[1:].tolist(), strict=True):
        error.append(stays * error[-1] + kick)
    value = np.interp(at - receiver.latency_s, time_s, seen) + receiver.noise_m_s * np.array(error)
    return at, np.maximum(np.round(value / receiver.rounding_m_s) * receiver.rounding_m_s, 0.0)


def coast_downs(
    bikes_day: list[tuple[Bike, Day]],
    runs_each_way: int,
    receiver: Receiver,
    rng: np.random.Generator,
    *,
    from_m_s: float = 32.0,
    to_m_s: float = 8.0,
) -> list[list[RoadRun]]:
    """Coast-downs of many days at once: for each, runs out and back by turns. All bikes must be the same but for the day."""
    bike = bikes_day[0][0]
    days = [day for _, day in bikes_day for _ in range(2 * runs_each_way)]
    directions = np.array([1, -1] * (runs_each_way * len(bikes_day)))
    start = from_m_s + rng.uniform(-1.0, 1.0, len(days))
    time, speed = coast(start, bike, days, directions, 75.0, rng)
    found = []
    for k in range(len(days)):
        at, value = logged(time, speed[:, k], receiver, rng)
        # the rider closes the throttle before the first sample that counts and brakes after the last one
        inside = (value > to_m_s) & (at > receiver.latency_s + 3 * receiver.smoothing_s + 0.2)
        inside[np.argmax(~inside & (at > 5.0)) :] = False
        own = frozen(at[inside] - at[inside][0]), frozen(value[inside])
        name = f"run {k % (2 * runs_each_way) + 1}"
        found.append(RoadRun(time_s=own[0], speed_m_s=own[1], direction=int(directions[k]), name=name))
    return [found[k : k + 2 * runs_each_way] for k in range(0, len(found), 2 * runs_each_way)]
