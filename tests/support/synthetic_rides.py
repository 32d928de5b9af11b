"""Two hundred rides at once, logged with engine speed by a phone: the equation of motion under a rider's hand, in wind.

The rider gives throttle for one speed after another and gets no more than the engine gives at full throttle; mean wind,
gusts and slope push at the bike; the clutch is pulled for each shift and slips near idle. Two riders: one rides as the
traffic goes, the other keeps to the protocol of ridesim.logs.fits.ratios.PROTOCOL.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from support.log_texts import made_up
from support.synthetic_log import STEP_S, Bike, Day, Receiver, logged

from ridesim.logs.log import Log
from ridesim.units import TWO_PI, G

Array = NDArray[np.float64]
IDLE_RPM, SLIPS_BELOW_RPM = 1400.0, 1600.0
SHIFT_S = 0.4
TACHOMETER_LATE_S = 0.05  # a pick-up at the ignition is quick
TACHOMETER_NOISE_RPM = 12.0


def _spread(parts: list[tuple[float, float, float, int]], lasts_s: float) -> Array:
    """Parts (seconds, speed, pace, gear) laid end to end on the clock of the steps: what a rider means to do, (steps, 3).

    A speed, how hard to make for it, and a gear to be in (0: as the revs say).
    """
    ends = np.cumsum([part[0] for part in parts])
    at = np.minimum(np.searchsorted(ends, STEP_S * np.arange(round(lasts_s / STEP_S)), side="right"), len(parts) - 1)
    return np.array([part[1:] for part in parts])[at]


def as_it_comes(rng: np.random.Generator, lasts_s: float) -> Array:
    """One speed after another, with stops; the gears follow the revs, and some are hardly used."""
    parts = [(3.0, 0.0, 1.0, 0)]
    while sum(part[0] for part in parts) < lasts_s:
        speed = float(rng.choice([0.0, 9.0, 14.0, 20.0, 25.0, 31.0]))
        parts.append((float(rng.uniform(8.0, 25.0)), speed, float(rng.uniform(0.8, 2.6)), 0))
    return _spread(parts, lasts_s)


def by_protocol(bike: Bike, rng: np.random.Generator, seconds: tuple[float, ...]) -> tuple[Array, float]:
    """Each gear held for its seconds at 3800 to 5600 rev/min, up and down a little; then a stop. Also how long it lasts."""
    parts = [(4.0, 0.0, 1.0, 0)]
    for gear, hold in enumerate(seconds, start=1):
        parts.append((6.0, bike.radius_m / bike.ratios[gear - 1] * 4800 * TWO_PI / 60, 2.2, gear))
        left = hold
        while left > 0:
            some = float(min(rng.uniform(6.0, 14.0), left))
            engine = float(rng.uniform(3800.0, 5600.0)) * TWO_PI / 60
            parts.append((some, engine * bike.radius_m / bike.ratios[gear - 1], float(rng.uniform(0.5, 1.5)), gear))
            left -= some
    parts.append((20.0, 0.0, 2.0, 0))
    lasts = sum(part[0] for part in parts)
    return _spread(parts, lasts), lasts


@dataclass(frozen=True, kw_only=True)
class Rides:
    """What really happened: the first axis is time, the second the ride. gear is 0 where the clutch was not closed."""

    time_s: Array
    speed_m_s: Array
    engine_rad_s: Array
    gear: NDArray[np.int8]


def ridden(bike: Bike, scripts: list[Array], days: list[Day], rng: np.random.Generator) -> Rides:
    """All rides step by step at once; a script that is shorter than another goes on as it ends."""
    longest = max(map(len, scripts))
    same = [np.pad(one, ((0, longest - len(one)), (0, 0)), mode="edge") for one in scripts]
    target, pace, forced = np.stack(same, axis=-1).transpose(1, 0, 2)
    steps, count = target.shape
    per = np.array([0.0, *bike.ratios]) / bike.radius_m
    mass = np.array([bike.mass_kg, *(bike.driven_mass_kg(g) for g in range(len(bike.ratios)))])
    wind, gusty, grade = (np.array([getattr(d, n) for d in days]) for n in ("wind_m_s", "gust_m_s", "grade"))
    keep = np.exp(-STEP_S / days[0].gust_lasts_s)
    gust = gusty * rng.standard_normal(count)
    hold = bike.f0_n * np.cos(np.arctan(grade)) + bike.mass_kg * G * np.sin(np.arctan(grade))
    up, down, idle, slips = (n * TWO_PI / 60 for n in (5600.0, 2900.0, IDLE_RPM, SLIPS_BELOW_RPM))
    v, gear, free_at = np.zeros(count), np.ones(count, dtype=np.int64), np.zeros(count)
    engine = np.full(count, idle)
    speeds, engines, gears = np.empty((steps, count)), np.empty((steps, count)), np.empty((steps, count), dtype=np.int8)
    for k in range(steps):
        locked = v * per[gear]
        wish = forced[k]
        rise = np.where(wish > 0, wish > gear, (locked > up) & (gear < len(bike.ratios)))
        fall = np.where(wish > 0, wish < gear, (locked < down) & (gear > 1))
        move = (rise.astype(np.int64) - fall) * (free_at < k)
        gear = gear + move
        free_at = np.where(move != 0, k + round(SHIFT_S / STEP_S), free_at)
        shifting = free_at > k
        locked = v * per[gear]
        slipping = shifting | (locked < slips)
        aim = np.where(shifting, 0.6 * locked + 0.4 * idle, np.maximum(locked, idle))
        engine = np.where(slipping, engine + (aim - engine) * STEP_S / 0.12, locked)
        speeds[k], engines[k], gears[k] = v, engine, np.where(slipping, 0, gear)
        air = v + wind + gust
        drag = bike.f2_n_s2_m2 * air * np.abs(air)
        thrust = bike.efficiency * bike.torque_n_m(np.maximum(locked, 2 * idle)) * per[gear] * ~shifting
        most = (thrust - hold - drag) / mass[gear]
        calm = v + wind
        shove = (
            bike.f2_n_s2_m2 * (calm * np.abs(calm) - air * np.abs(air)) / mass[gear]
        )  # the hand is slower than a gust
        given = np.minimum(np.clip(0.5 * (target[k] - v), -pace[k], pace[k]) + shove, most)
        moves = (v > 0) | (target[k] > 0)
        v = np.maximum(0.0, v + STEP_S * given * moves)
        gust = keep * gust + gusty * np.sqrt(1 - keep**2) * rng.standard_normal(count)
    return Rides(time_s=STEP_S * np.arange(steps), speed_m_s=speeds, engine_rad_s=engines, gear=gears)


def written_down(
    rides: Rides,
    receivers: list[Receiver],
    lasts_s: list[float],
    rng: np.random.Generator,
    *,
    tachometer_noise_rpm: float = TACHOMETER_NOISE_RPM,
) -> list[tuple[Log, NDArray[np.int8]]]:
    """The log of each ride, and the true gear at each of its samples."""
    out = []
    for k, (receiver, lasts) in enumerate(zip(receivers, lasts_s, strict=True)):
        inside = rides.time_s < lasts
        when, speed = logged(rides.time_s[inside], rides.speed_m_s[inside, k], receiver, rng)
        turns = np.interp(when - TACHOMETER_LATE_S, rides.time_s, rides.engine_rad_s[:, k])
        turns = turns + tachometer_noise_rpm * TWO_PI / 60 * rng.standard_normal(when.size)
        place = np.clip(((when - TACHOMETER_LATE_S) / STEP_S).astype(int), 0, rides.time_s.size - 1)
        log = made_up(when - when[0], speed, engine_speed_rad_s=np.maximum(turns, 0.0))
        out.append((log, rides.gear[place, k]))
    return out
