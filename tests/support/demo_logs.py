"""Writes the invented logs of data/demo/logs anew from the demo "coast-single": coast-downs, pulls, and a ride through the gears.

    PYTHONPATH=.:tests python -m support.demo_logs

ride.gpx knows of no bike and is not made here.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass

import numpy as np
from support.simulated_pulls import PullDay, Rider, whole_day
from support.synthetic_log import STEP_S, Array, Bike, Day, Receiver, logged, mixed_ride, phone, ride

from ridesim import reference
from ridesim.bike import make_bike
from ridesim.buildfile.io import read
from ridesim.units import rpm

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
        bike = single()
        _, speed = ride(
            np.zeros_like, np.array([start]), bike.coasting_mass_kg, bike, [DAY], np.array([way]), 70.0, rng
        )
        runs.append((start, 0.0, speed[speed[:, 0] > 7.0 + rng.uniform(0.0, 1.0), 0]))
    return out_and_back(runs)


def pulls(silencer: bool, rng: np.random.Generator) -> tuple[Array, Array]:
    rider = Rider(from_rpm=2300.0, to_rpm=0.98 * float(rpm(BUILD.rev_limit_rad_s)))
    return whole_day(PullDay(bike=single(silencer=silencer), day=DAY, rider=rider), rng)


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
    seen = mixed_ride(single(), rng, lasts_s=600.0, receiver=slow, idle_rpm=1350.0)
    rows = [f"{t:.2f},{v * 3.6:.2f},{n:.0f}" for t, v, n in
            zip(seen["time_s"], seen["speed_m_s"], rpm(seen["engine_rad_s"]), strict=True)]  # fmt: skip
    head = "# INVENTED: ten minutes through all gears of the demo single with a tachometer pick-up; no such ride took place\n"
    (FOLDER / "gears.csv").write_text(
        head + "time [s],speed [km/h],engine speed [rev/min]\n" + "\n".join(rows) + "\n", encoding="utf-8"
    )


if __name__ == "__main__":
    main()
