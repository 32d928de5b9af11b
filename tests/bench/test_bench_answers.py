"""How long an answer takes: reported, and judged as ratios within one run. Not part of the ordinary test run.

python -m pytest tests/bench -q -s
"""

from __future__ import annotations

import subprocess
import sys
import time
import tracemalloc
from bisect import bisect_right

import numpy as np
from scipy.integrate import solve_ivp
from support.bikes import single, single_curve
from support.clock import least_s

from ridesim import reference
from ridesim.answers import contract, solve
from ridesim.answers.front_wheel import comes_up
from ridesim.answers.front_wheel.body import TECHNIQUES
from ridesim.bike import make_bike
from ridesim.buildfile.io import read
from ridesim.mechanics.kernel import perform
from ridesim.mechanics.setups import Ride, broadcast
from ridesim.mechanics.torque import cells_of
from ridesim.mechanics.traction import GearRows

PATH = reference.DATA / "demo" / "plateau-single.toml"


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
        f"one complete answer with bands, after import: {1e3 * least_s(lambda: contract(solve(make_bike(build))), 15):.1f} ms (goal 20)"
    )
    tell(f"   of which the kernel alone, one set-up: {1e3 * least_s(lambda: solve(bike, bands=False), 15):.1f} ms")


def test_the_front_wheel_beside_the_kernel(tell):
    solved = solve(make_bike(read(PATH)), bands=False)
    wheel = least_s(lambda: comes_up.__wrapped__(solved), 5)
    kernel = least_s(lambda: solve(solved.bike, bands=False), 5)
    each = 1e3 * wheel / solved.gear_count / len(TECHNIQUES)
    tell(f"front wheel: {each:.2f} ms a gear and technique over all cases; {wheel / kernel:.1f} kernel calls in all")


def test_start_up(tell):
    def process(*arguments: str) -> float:
        return least_s(
            lambda: subprocess.run([sys.executable, *arguments], check=True, capture_output=True), 5, time.perf_counter
        )

    bare = process("-c", "pass")
    tell(
        f"import ridesim: {process('-c', 'import ridesim') - bare:.3f} s more than a bare start of {bare:.3f} s (goal 0.3)"
    )


def test_the_run_against_stepping_and_the_acceleration_part_against_interpolation(tell):
    curve, ride = single_curve(), Ride()
    setups = many(1260)
    cells = cells_of(curve)
    everything = least_s(lambda: anew(setups, curve, ride), 40)
    some = range(0, 1260, 90)
    plain = least_s(lambda: [stepped_to_100(setups.ratios[n], curve) for n in some], 2) / len(some) * 1260
    tell(
        f"1,260 set-ups, everything: {1e3 * everything:.1f} ms; looping solve_ivp (RK45, rtol 1e-6) for 0-100 km/h alone, scaled from "
        f"{len(some)} of them: {plain:.1f} s; ratio {plain / everything:.0f} (goal 1000)"
    )
    nodes = np.broadcast_to(cells.nodes, (*setups.ratios.shape, cells.nodes.size)).copy()
    interpolation = least_s(lambda: np.interp(nodes, curve.engine_speed_rad_s, curve.torque_n_m), 30)
    grid = f"{nodes.shape[0]} x {nodes.shape[1]} x {nodes.shape[2]} torques, the engine speeds the kernel looks at in each gear"
    cost = least_s(lambda: GearRows(setups.take(slice(None)), cells, ride).seen.held_back, 30)
    tell(f"one np.interp pass over {grid}: {1e3 * interpolation:.2f} ms")
    tell(f"   the least of engine, lift and tire there: {1e3 * cost:.2f} ms, ratio {cost / interpolation:.2f}")
    tell(f"   everything: ratio {everything / interpolation:.1f}")


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


def test_cost_grows_in_proportion_and_memory_is_bounded(tell):
    curve, ride = single_curve(), Ride()
    costs = {
        count: least_s(lambda count=count: perform(many(count), curve, ride, trace=False), 2 if count > 5000 else 9)
        for count in (100, 1000, 10_000, 100_000)
    }
    tell("cost of a set-up: " + ", ".join(f"{1e6 * cost / count:.1f} us of {count}" for count, cost in costs.items()))
    tracemalloc.start()
    perform(many(100_000), curve, ride, trace=False)
    peak = tracemalloc.get_traced_memory()[1]
    tracemalloc.stop()
    tell(f"memory at 100,000 set-ups, at most: {peak / 1e6:.0f} MB (goal 500)")
