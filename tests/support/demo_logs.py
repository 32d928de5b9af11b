"""Writes the invented logs of data/demo/logs anew from the demo "coast-single": coast-downs, pulls, and a ride through the gears.

    PYTHONPATH=.:tests python -m support.demo_logs

ride.gpx knows of no bike and is not made here.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass

import numpy as np
from support.simulated_pulls import PullDay, Rider, whole_day
from support.synthetic_log import STEP_S, Array, Bike, Day, Receiver, coast, logged, phone

from ridesim import reference
from ridesim.bike import make_bike
from ridesim.buildfile.io import read
from ridesim.units import TWO_PI, rpm

FOLDER = reference.DATA / "demo" / "logs"
RECORD = read(reference.DATA / "demo" / "coast-single.toml")
BUILD = make_bike(RECORD)
DEGREE_M = 111_195.0
DAY = Day(wind_m_s=1.2, gust_m_s=0.5, grade=0.002)


def silencer_gain(engine_rad_s: Array) -> Array:
    """What the freer silencer with its jet adds to the torque, as a share: a little less low down, more at the top."""
    return np.interp(rpm(engine_rad_s), [2000.0, 3500.0, 5000.0, 7000.0], [-0.015, -0.005, 0.03, 0.09])


@dataclass(frozen=True, kw_only=True)
class CoastSingle(Bike):
    """The demo build on the day of its own air, with or without the freer silencer."""

    silencer: bool = False

    def torque_n_m(self, engine_rad_s: Array) -> Array:
        inside = np.clip(engine_rad_s, BUILD.curve.first_rad_s, BUILD.curve.last_rad_s)
        gain = silencer_gain(inside) if self.silencer else 0.0
        return np.asarray(BUILD.curve.torque_at(inside)) * BUILD.setups.torque_factor[0] * (1 + gain)


def single(*, silencer: bool = False) -> CoastSingle:
    """The build's figures in the words of the maker of logs."""
    s = BUILD.setups
    names = (
        "mass_kg",
        "front_inertia_kg_m2",
        "front_radius_m",
        "rear_inertia_kg_m2",
        "crank_inertia_kg_m2",
        "efficiency",
    )
    return CoastSingle(
        **{name: float(getattr(s, name)[0]) for name in names},
        radius_m=float(s.rear_radius_m[0]),
        drag_area_m2=float(RECORD.record.road_load.drag_area),
        rolling_resistance=float(RECORD.record.road_load.rolling_resistance),
        air_density_kg_m3=BUILD.air.density_kg_m3,
        ratios=tuple(map(float, s.ratios[0])),
        silencer=silencer,
    )  # fmt: skip


def out_and_back(runs: Iterable[tuple[float, float, Array]]) -> tuple[Array, Array]:
    """Speed and way along the road: for each run (start, steady time before it, speeds), with standing, running up and braking."""
    pieces, signs = [np.zeros(round(6 / STEP_S))], [1]
    for k, (start, steady_s, speeds) in enumerate(runs):
        up, down = np.arange(0.0, start, 1.8 * STEP_S), np.arange(speeds[-1], 0.0, -3.2 * STEP_S)
        rest = np.zeros(round(9 / STEP_S))
        pieces += [np.concatenate([up, np.full(round(steady_s / STEP_S), start), speeds, down, rest])]
        signs += [1 if k % 2 == 0 else -1]
    speed = np.concatenate(pieces)
    ways = np.concatenate([np.full(len(piece), sign) for piece, sign in zip(pieces, signs, strict=True)])
    return speed, STEP_S * np.cumsum(speed * ways)


def write(name: str, says: str, speed: Array, way_m: Array, receiver: Receiver, rng: np.random.Generator) -> None:
    """The log of a phone: its clock, its speed, and where it is on a road that runs a little east of north."""
    time = STEP_S * np.arange(speed.size)
    at, seen = logged(time, speed, receiver, rng)
    north, east = (np.interp(at, time, way_m) * share / DEGREE_M + 0.02 for share in (np.cos(0.5), np.sin(0.5)))
    rows = [f"{t:.2f},{v * 3.6:.2f},{n:.6f},{e:.6f}" for t, v, n, e in zip(at - at[0], seen, north, east, strict=True)]
    head = f"# INVENTED: {says}; no such ride took place\ntime [s],speed [km/h],latitude,longitude\n"
    (FOLDER / name).write_text(head + "\n".join(rows) + "\n", encoding="utf-8")


def coast_downs(rng: np.random.Generator) -> tuple[Array, Array]:
    runs = []
    for way in (1, -1, 1, -1):
        start = 31.0 + rng.uniform(-1.0, 1.0)
        _, speed = coast(np.array([start]), single(), [DAY], np.array([way]), 70.0, rng)
        runs.append((start, 0.0, speed[speed[:, 0] > 7.0 + rng.uniform(0.0, 1.0), 0]))
    return out_and_back(runs)


def pulls(silencer: bool, rng: np.random.Generator) -> tuple[Array, Array]:
    rider = Rider(from_rpm=2300.0, to_rpm=0.98 * float(rpm(BUILD.rev_limit_rad_s)))
    return whole_day(PullDay(bike=single(silencer=silencer), day=DAY, rider=rider), rng)


def mixed_ride(bike: Bike, receiver: Receiver, rng: np.random.Generator) -> tuple[Array, Array, Array]:
    """Ten minutes through all gears with stops, shifts and a slipping clutch, as logged: time, speed, engine speed.

    The rider makes for one speed after another, shifts up near 5600 and down near 2900 rev/min, and pulls the clutch for
    0.4 s at each shift.
    """
    lasts_s, idle_rpm = 600.0, 1350.0
    time = np.arange(0.0, lasts_s, STEP_S)
    speed, engine = np.zeros(time.size), np.full(time.size, idle_rpm)
    v, g, free_until, target, until, pace = 0.0, 1, 0.0, 15.0, 10.0, 2.0
    for k, now in enumerate(time):
        if now >= until:
            target, until = float(rng.choice([0.0, 9.0, 14.0, 20.0, 25.0, 31.0])), now + float(rng.uniform(8.0, 25.0))
            pace = float(rng.uniform(0.8, 2.6))
        v = max(
            0.0,
            v + STEP_S * (np.clip(0.5 * (target - v), -pace, pace) + 0.15 * np.sin(now / 3.0)) * (v > 0 or target > 0),
        )
        locked = v * bike.ratios[g - 1] / bike.radius_m * 60 / TWO_PI
        if now > free_until:
            if locked > 5600 and g < len(bike.ratios):
                g, free_until = g + 1, now + 0.4
            elif locked < 2900 and g > 1:
                g, free_until = g - 1, now + 0.4
        locked = v * bike.ratios[g - 1] / bike.radius_m * 60 / TWO_PI
        slipping = now < free_until or locked < idle_rpm + 200
        aim = max(locked, idle_rpm) if now >= free_until else 0.6 * locked + 0.4 * idle_rpm
        engine[k] = (engine[k - 1] + (aim - engine[k - 1]) * STEP_S / 0.12 if k else idle_rpm) if slipping else locked
        speed[k] = v
    at, seen = logged(time, speed, receiver, rng)
    rev = np.interp(at - 0.05, time, engine) + 12.0 * rng.standard_normal(at.size)  # a tachometer pick-up is quick
    return at - at[0], seen, np.maximum(rev, 0.0) * TWO_PI / 60


def main() -> None:
    slow, quick = phone(), phone(rate_hz=5.0)
    rng = np.random.default_rng(20250308)
    write("coast-down.csv", "four coast-downs of the demo single on the coast (out and back by turns) as a phone might log them once a second",
          *coast_downs(rng), slow, rng)  # fmt: skip
    for name, silencer, state in (
        ("before", False, "as bought"),
        ("after", True, "with the freer silencer and its jet"),
    ):
        says = f"six full-throttle pulls in third of the demo single on the coast, {state} (out and back by turns) from a receiver of five samples a second"
        write(f"pulls-{name}.csv", says, *pulls(silencer, rng), quick, rng)
    logged_ride = zip(*mixed_ride(single(), slow, rng), strict=True)
    rows = [f"{t:.2f},{v * 3.6:.2f},{rpm(n):.0f}" for t, v, n in logged_ride]
    head = "# INVENTED: ten minutes through all gears of the demo single with a tachometer pick-up; no such ride took place\n"
    (FOLDER / "gears.csv").write_text(
        head + "time [s],speed [km/h],engine speed [rev/min]\n" + "\n".join(rows) + "\n", encoding="utf-8"
    )


if __name__ == "__main__":
    main()
