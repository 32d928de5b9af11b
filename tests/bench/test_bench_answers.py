"""How long an answer takes: reported, and judged as ratios within one run. Not part of the ordinary test run.

python -m pytest tests/bench -q -s
"""

from __future__ import annotations

import subprocess
import sys
import time
from collections.abc import Callable
from pathlib import Path

import numpy as np
import pytest
from scipy.integrate import solve_ivp
from support.bikes import random_fields, ride_by_stepping, single, single_curve

from ridesim import tables
from ridesim.answers import contract, solve
from ridesim.bands import bands
from ridesim.bike import make_bike
from ridesim.build import read
from ridesim.choose import choose, held_to
from ridesim.mechanics.kernel import perform
from ridesim.mechanics.pieces import pieces_of
from ridesim.mechanics.run import roll_on_times_s, standing_start
from ridesim.mechanics.setups import Ride, broadcast
from ridesim.mechanics.thrust import Forces, gears

REPORT = Path(__file__).parents[2] / "build" / "bench.txt"
PATH = tables.DATA / "demo" / "trail-single-regeared.toml"
TIRES = ["120/90-18", "130/80-18", "140/80-18", "4.60-18", "110/100-18", "120/100-18"]


def fastest(work: Callable[[], object], runs: int = 5, clock: Callable[[], float] = time.process_time) -> float:
    """The least time of several runs, by default of the processor: what the machine needs when it is left alone. [s]"""
    times = []
    for _ in range(runs):
        start = clock()
        work()
        times.append(clock() - start)
    return min(times)


@pytest.fixture(scope="module")
def tell():
    """Write a line of the report, on the terminal and in build/bench.txt."""
    lines: list[str] = []

    def line(text: str) -> None:
        lines.append(text)
        print("\n" + text)

    yield line
    REPORT.parent.mkdir(exist_ok=True)
    REPORT.write_text("\n".join(lines) + "\n", encoding="utf-8")


def many(count: int):
    """Set-ups of one made-up bike with ratios spread over a range of sprocket pairs."""
    fields = single()
    spread = np.linspace(0.75, 1.35, count)
    return broadcast({**fields, "ratios": np.asarray(fields["ratios"]) * spread[:, None]})


def test_one_complete_answer(tell):
    build = read(PATH)
    bike = make_bike(build)
    tell(
        f"one complete answer with bands, after import: {1e3 * fastest(lambda: contract(solve(make_bike(build))), 15):.1f} ms (goal 20)"
    )
    tell(f"   of which the kernel alone, one set-up: {1e3 * fastest(lambda: solve(bike, bands=False), 15):.1f} ms")


def test_start_up(tell):
    def process(*arguments: str) -> float:
        return fastest(
            lambda: subprocess.run([sys.executable, *arguments], check=True, capture_output=True), 5, time.perf_counter
        )

    bare = process("-c", "pass")
    tell(
        f"import ridesim: {process('-c', 'import ridesim') - bare:.3f} s more than a bare start of {bare:.3f} s (goal 0.3)"
    )
    tell(f"ridesim answers, whole process: {process('-m', 'ridesim', 'answers', 'trail-single'):.2f} s (goal 1.2)")


def test_every_pair_at_once(tell):
    build = read(PATH)
    limits = held_to(build.record.limits, cruise_engine_speed_most="", first_gear_climb_least="", top_speed_least="")
    whole = fastest(
        lambda: choose(
            build,
            fronts=range(13, 20),
            rears=range(38, 53),
            rear_tires=TIRES,
            tunes=["stock", "rejetted"],
            limits=limits,
        ),
        3,
    )
    tell(f"1,260 set-ups, all answers as rows: {1e3 * whole:.0f} ms")


def test_the_run_against_stepping_and_the_acceleration_part_against_interpolation(tell):
    curve, ride = single_curve(), Ride()
    setups = many(1260)
    pieces = pieces_of(curve)

    def acceleration_part() -> None:
        for start in range(0, len(setups), 256):
            forces = Forces(setups=setups.take(slice(start, start + 256)), pieces=pieces, ride=ride)
            figures = gears(forces)
            standing_start(forces, figures)
            roll_on_times_s(forces)

    everything = fastest(lambda: perform(setups, curve, ride), 5)
    accelerate = fastest(acceleration_part, 5)

    def one_run(n: int) -> None:
        """0-100 km/h of one set-up by RK45 at rtol 1e-6, shifting at the kernel's own points."""
        fields = {**single(), "ratios": setups.ratios[n]}
        stepped_to_100(fields, curve)

    loop = fastest(lambda: [one_run(n) for n in (0, 600, 1259)], 2) / 3 * 1260
    nodes = np.broadcast_to(pieces.grid, (1260, setups.ratios.shape[1], pieces.grid.size))
    interpolation = fastest(lambda: np.interp(nodes, curve.engine_speed_rad_s, curve.torque_n_m), 5)
    tell(
        f"1,260 set-ups, everything: {1e3 * everything:.0f} ms; solve_ivp loop for 0-100 km/h alone: {loop:.1f} s; ratio {loop / everything:.0f} (goal 1000)"
    )
    tell(
        f"acceleration part {1e3 * accelerate:.0f} ms over one interpolation pass of the same {nodes.size} torques {1e3 * interpolation:.1f} ms: "
        f"ratio {accelerate / interpolation:.1f} (goal 1.5)"
    )


def stepped_to_100(fields, curve) -> float:
    """The plain loop a rider's engineer would write: dv/dt with the best gear at every step, no shift time."""
    ratios, r = np.asarray(fields["ratios"]), float(fields["rear_radius_m"])
    mass = (
        fields["mass_kg"]
        + fields["front_inertia_kg_m2"] / fields["front_radius_m"] ** 2
        + fields["rear_inertia_kg_m2"] / r**2
    )
    knots, torque = curve.engine_speed_rad_s, curve.torque_n_m

    def change(_, y):
        v = y[0]
        w = np.clip(v * ratios / r, 418.0, knots[-1])
        usable = v * ratios / r <= knots[-1]
        force = np.interp(w, knots, torque) * ratios * fields["efficiency"] / r
        a = (force - fields["f0_n"] - fields["f2_n_s2_m2"] * v * v) / (
            mass + fields["efficiency"] * fields["crank_inertia_kg_m2"] * (ratios / r) ** 2
        )
        return [max(np.where(usable, a, -1.0).max(), 1e-3)]

    def there(_, y):
        return y[0] - 100 / 3.6

    there.terminal = True
    return float(solve_ivp(change, (0.0, 120.0), [0.0], method="RK45", rtol=1e-6, events=there).t[-1])


def test_errors_of_the_times(tell):
    worst = 0.0
    for seed in range(8):
        rng = np.random.default_rng(seed)
        fields, curve, ride = random_fields(rng), single_curve(), Ride()
        result = perform(broadcast(fields), curve, ride)
        stepped = ride_by_stepping(fields, curve, ride, result.gears.upshift_rad_s[0], result.run.launch_rad_s)
        mine = {
            "v0": result.run.times_s[0, 0],
            "v1": result.run.times_s[0, 1],
            "distance": result.run.distance_time_s[0],
        }
        worst = max(worst, *(abs(mine[k] / t - 1) for k, t in stepped.items()))
    tell(f"worst error of a time against solve_ivp at rtol 1e-10: {100 * worst:.2g} % (goal 0.1)")


def test_cost_grows_in_proportion(tell):
    curve, ride = single_curve(), Ride()
    costs = {
        count: fastest(lambda count=count: perform(many(count), curve, ride), 1 if count > 5000 else 3)
        for count in (100, 1000, 10_000)
    }
    tell("cost of a set-up: " + ", ".join(f"{1e6 * cost / count:.0f} us of {count}" for count, cost in costs.items()))


def test_bands_of_one_bike(tell):
    bike = make_bike(read(PATH))
    tell(
        f"4,096 Sobol draws, every band: {fastest(lambda: bands(bike, shares=False), 3):.2f} s; with the shares of doubt {fastest(lambda: bands(bike), 2):.2f} s (goal 1)"
    )
