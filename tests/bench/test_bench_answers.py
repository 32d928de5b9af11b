"""How long an answer takes: reported, and judged as ratios within one run. Not part of the ordinary test run.

python -m pytest tests/bench -q -s
"""

from __future__ import annotations

import subprocess
import sys
import time
import tracemalloc
from bisect import bisect_right
from collections.abc import Callable

import numpy as np
from scipy.integrate import solve_ivp
from support.bikes import random_fields, ride_by_stepping, single, single_curve
from support.stages import STAGES, operations_by_stage, times_by_stage

from ridesim import reference
from ridesim.answers import contract, solve
from ridesim.bike import make_bike
from ridesim.buildfile.io import read
from ridesim.mechanics.kernel import perform
from ridesim.mechanics.setups import Ride, broadcast
from ridesim.mechanics.torque import cells_of
from ridesim.mechanics.traction import GearRows
from ridesim.selection import choose, held_to

PATH = reference.DATA / "demo" / "plateau-single.toml"
TIRES = ["120/90-17", "130/90-17", "140/80-17", "4.60-17", "110/90-17", "120/80-17"]


def fastest(work: Callable[[], object], runs: int = 5, clock: Callable[[], float] = time.process_time) -> float:
    """The least time of several runs, by default of the processor: what the machine needs when it is left alone. [s]"""
    times = []
    for _ in range(runs):
        start = clock()
        work()
        times.append(clock() - start)
    return min(times)


def many(count: int):
    """Set-ups of one made-up bike with ratios spread over a range of sprocket pairs."""
    fields = single()
    spread = np.linspace(0.75, 1.35, count)
    return broadcast({**fields, "ratios": np.asarray(fields["ratios"]) * spread[:, None]})


def anew(setups, curve, ride):
    """Every figure with nothing kept from a call before: neither what set-ups remember nor the cells of the curve."""
    cells_of.cache_clear()
    return perform(setups.take(slice(None)), curve, ride, trace=False)


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
    tell(f"ridesim answers, whole process: {process('-m', 'ridesim', 'answers', 'coast-single'):.2f} s (goal 1.2)")


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
    cells = cells_of(curve)
    everything = fastest(lambda: anew(setups, curve, ride), 40)
    some = range(0, 1260, 90)
    plain = fastest(lambda: [stepped_to_100(setups.ratios[n], curve) for n in some], 2) / len(some) * 1260
    tell(
        f"1,260 set-ups, everything: {1e3 * everything:.1f} ms; looping solve_ivp (RK45, rtol 1e-6) for 0-100 km/h alone, scaled from "
        f"{len(some)} of them: {plain:.1f} s; ratio {plain / everything:.0f} (goal 1000)"
    )
    nodes = np.broadcast_to(cells.nodes, (*setups.ratios.shape, cells.nodes.size)).copy()
    interpolation = fastest(lambda: np.interp(nodes, curve.engine_speed_rad_s, curve.torque_n_m), 30)
    grid = f"{nodes.shape[0]} x {nodes.shape[1]} x {nodes.shape[2]} torques, the engine speeds the kernel looks at in each gear"
    cost = fastest(lambda: GearRows(setups.take(slice(None)), cells, ride).seen.held_back, 30)
    tell(f"one np.interp pass over {grid}: {1e3 * interpolation:.2f} ms")
    tell(f"   the least of engine, lift and tire there: {1e3 * cost:.2f} ms, ratio {cost / interpolation:.2f}")
    tell(f"   everything: ratio {everything / interpolation:.1f}")


def test_where_the_time_goes_and_what_the_least_would_be(tell):
    """Why NumPy alone gets no further: what every stage costs, and what one pass and one call cost here."""
    setups, curve, ride = many(1260), single_curve(), Ride()
    times = times_by_stage(lambda: anew(setups, curve, ride), 40)
    counted = operations_by_stage(setups, curve, ride)
    whole = sum(times.values())
    rows = ["stage                            ms   share  operations  elements each"]
    for stage in dict.fromkeys([*STAGES.values(), "rest"]):
        count, elements = counted.operations[stage], counted.elements[stage]
        spent = times.get(stage, 0.0)
        rows.append(
            f"{stage:30s} {1e3 * spent:5.2f}  {100 * spent / whole:4.1f} %  {count:10d}  {elements / max(count, 1):13.0f}"
        )
    count, elements = sum(counted.operations.values()), sum(counted.elements.values())
    rows.append(f"{'all':30s} {1e3 * whole:5.2f}   100 %  {count:10d}  {elements / count:13.0f}")
    tell("where the time of 1,260 set-ups goes\n" + "\n".join("   " + row for row in rows))

    cells = cells_of(curve)
    shape = (setups.ratios.size, cells.nodes.size)
    nodes = np.broadcast_to(cells.nodes, shape).copy()
    out, row, one = np.empty_like(nodes), np.ones(setups.ratios.size), np.ones(1)
    product = fastest(lambda: np.multiply(nodes, 1.5, out=out), 40)
    interpolation = fastest(lambda: np.interp(nodes, curve.engine_speed_rad_s, curve.torque_n_m), 40)
    by_gear = fastest(lambda: [row * row for _ in range(50)], 400) / 50
    call = fastest(lambda: [one * one for _ in range(50)], 400) / 50
    tell(
        f"floor: over {shape[0]} gears x {shape[1]} nodes one multiply is {1e3 * product:.2f} ms, one np.interp {1e3 * interpolation:.2f} ms; "
        f"one multiply over the gears alone {1e6 * by_gear:.1f} us, over one element {1e6 * call:.1f} us\n"
        f"   so {count} operations cost {1e3 * count * call:.1f} ms if they had nothing to work on, "
        f"and {1e3 * (count * call + elements * (by_gear - call) / row.size):.1f} ms if each were a multiply"
    )


def stepped_to_100(ratios, curve) -> float:
    """The plain loop an engineer would write: dv/dt with the best gear at every step, no shift time, numbers and lists only where
    they are quicker than arrays."""
    f = {key: float(value) for key, value in single().items() if key != "ratios"}
    r, knots, torques = f["rear_radius_m"], curve.engine_speed_rad_s.tolist(), curve.torque_n_m.tolist()
    slopes = [(b - a) / (y - x) for a, b, x, y in zip(torques, torques[1:], knots, knots[1:], strict=False)]
    mass = f["mass_kg"] + f["front_inertia_kg_m2"] / f["front_radius_m"] ** 2 + f["rear_inertia_kg_m2"] / r**2
    gears = [
        (i / r, i * f["efficiency"] / r, mass + f["efficiency"] * f["crank_inertia_kg_m2"] * (i / r) ** 2)
        for i in ratios.tolist()
    ]

    def change(_, y):
        v = float(y[0])
        resistance = f["f0_n"] + f["f2_n_s2_m2"] * v * v
        best = 1e-3
        for per_speed, per_torque, inertia in gears:
            w = max(v * per_speed, 418.0)
            if w <= knots[-1]:
                k = max(bisect_right(knots, w) - 1, 0)
                torque = torques[-1] if k >= len(slopes) else torques[k] + slopes[k] * (w - knots[k])
                best = max(best, (torque * per_torque - resistance) / inertia)
        return [best]

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


def test_cost_grows_in_proportion_and_memory_is_bounded(tell):
    curve, ride = single_curve(), Ride()
    costs = {
        count: fastest(lambda count=count: perform(many(count), curve, ride, trace=False), 2 if count > 5000 else 9)
        for count in (100, 1000, 10_000, 100_000)
    }
    tell("cost of a set-up: " + ", ".join(f"{1e6 * cost / count:.1f} us of {count}" for count, cost in costs.items()))
    tracemalloc.start()
    perform(many(100_000), curve, ride, trace=False)
    peak = tracemalloc.get_traced_memory()[1]
    tracemalloc.stop()
    tell(f"memory at 100,000 set-ups, at most: {peak / 1e6:.0f} MB (goal 500)")
