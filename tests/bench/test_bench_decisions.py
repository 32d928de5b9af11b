"""What the verdict on sprockets is worth to 500 invented riders whose true bikes are drawn from the tolerances they state: reported.

python -m pytest tests/bench/test_bench_decisions.py -q -s
A rider's build is drawn about one of three; its limits are drawn about what the fitted pair does. The verdict sees the build
only. The truth is the same build with every tolerance at a normal error of its own, taken through the kernel pair by pair.
"""

from __future__ import annotations

import time
from collections import defaultdict
from collections.abc import Callable

import numpy as np
from support.hidden_bikes import BUILDS

from ridesim.bike import make_bike
from ridesim.bike.figures_to_setups import setups_of
from ridesim.buildfile.io import Build
from ridesim.errors import InputError
from ridesim.mechanics.kernel import perform
from ridesim.selection import GOALS, WISHES, choose, held_to, verdict
from ridesim.selection.choice import Choice
from ridesim.selection.crossing import figures_of
from ridesim.selection.goals import LIMITED
from ridesim.selection.verdict import EQUAL
from ridesim.uncertainty.tolerances import PER_SD, perturbed

RIDERS = 500
EVERY_PAIR = (7, 15)  # 105 pairs


def rider(rng: np.random.Generator) -> Build:
    """A build about one of the three, with its tolerances."""
    build = BUILDS[int(rng.integers(len(BUILDS)))]
    record = build.record
    front, rear = (
        record.final_drive.front + int(rng.integers(-1, 2)),
        record.final_drive.rear + int(rng.integers(-3, 4)),
    )
    return build.changed(
        {
            "final_drive.front": front,
            "final_drive.rear": rear,
            "masses.rider": f"{rng.uniform(60, 110):.0f} +- 2 kg",
            "road_load.drag_area": f"{rng.uniform(0.5, 0.75):.2f} +- {rng.uniform(0.02, 0.08):.2f} m^2",
            "road_load.rolling_resistance": f"{rng.uniform(0.013, 0.022):.3f} +- 0.003",
        }
    )


def limits(rng: np.random.Generator, build: Build, fitted: dict[str, float]) -> dict[str, str]:
    """Limits about what the fitted pair does: engine speed at the cruising speed always, climb and top speed more often than not."""
    drawn = {"cruise_engine_speed_most": f"{fitted['cruise_speed'] * 30 / np.pi * rng.uniform(0.82, 1.1):.0f} rev/min"}
    if rng.random() < 0.6:
        drawn["first_gear_climb_least"] = f"{100 * fitted['first_climb'] * rng.uniform(0.6, 1.08):.1f} %"
    if rng.random() < 0.6:
        drawn["top_speed_least"] = f"{3.6 * fitted['top_speed'] * rng.uniform(0.85, 1.05):.1f} km/h"
    return {name: drawn.get(name, "") for name in LIMITED}


def truth(choice: Choice, rng: np.random.Generator) -> dict[str, np.ndarray]:
    """The true figures of every pair: one error for each tolerance, shared by all pairs."""
    bike = choice.crossing.bikes.own
    errors = rng.standard_normal((1, len(bike.tolerances))) / PER_SD
    raw = {
        k: np.ravel(v)[0] if np.ndim(v) and k != "ratios" else v
        for k, v in perturbed(bike.raw, bike.tolerances, errors).items()
    }
    final = choice.crossing.rears / choice.crossing.fronts
    ratios = bike.primary * np.array(bike.gears) * final[:, None]
    ride = choice.crossing.ride
    return figures_of(perform(setups_of({**raw, "ratios": ratios}, bike.cycle), bike.curve, ride, trace=False), ride)


def meets(choice: Choice, figures: dict[str, np.ndarray]) -> np.ndarray:
    """Which pairs truly meet every limit, that of the axle's travel included."""
    good = (
        np.isfinite(choice.crossing.chains.links_to_order)
        if choice.crossing.chains is not None
        else np.ones(len(choice.crossing), bool)
    )
    for name, key in LIMITED.items():
        limit = getattr(choice.limits, name)
        if limit is not None:
            with np.errstate(invalid="ignore"):
                good = good & (GOALS[key].better * (figures[key] - float(limit)) >= 0)
    return good


def one_rider(rng: np.random.Generator, told: dict[str, list[float]]) -> None:
    build = rider(rng)
    own = build.record.final_drive
    teeth = (range(own.front - 3, own.front + 4), range(own.rear - 7, own.rear + 8))
    try:
        make_bike(build)
        fitted = choose(build, fronts=[own.front], rears=[own.rear]).candidates[0].figures
        choice = choose(
            build, fronts=teeth[0], rears=teeth[1], limits=held_to(build.record.limits, **limits(rng, build, fitted))
        )
    except InputError:
        told["refused"].append(1)
        return
    wish = str(rng.choice([*WISHES]))
    start = time.process_time()
    decided = verdict(choice, wish=wish)
    told["processor time [ms]"].append(1e3 * (time.process_time() - start))
    true = truth(choice, rng)
    good = meets(choice, true)
    goal = GOALS[WISHES[wish]]
    worth = goal.better * np.nan_to_num(true[goal.key], nan=-goal.better * np.inf)
    told[decided.action].append(1)
    if decided.action == "none":
        if decided.probable is None:
            told["none said where a pair truly holds"].append(bool(good.any()))
        else:
            told["none said but probably: it meets every limit"].append(bool(good[decided.probable.n]))
    else:
        told["meets every limit"].append(bool(good[decided.candidate.n]))
        if good.any():
            best = worth[good].max()
            lost = (best - worth[decided.candidate.n]) / abs(best)
            for which, teeth in (("front", own.front), ("rear", own.rear)):
                told[f"within one {which} tooth of the best"].append(lost <= 1 / teeth + EQUAL)
    if decided.action == "keep":
        holding = decided.certainty.rows[decided.certainty.overall >= decided.sure]
        told["kept, not worse than ordering"].append(
            worth[decided.candidate.n] >= worth[holding].max() - 1.01 * EQUAL * abs(worth[holding].max())
        )
    if not good.any():
        told["nothing holds, and said so"].append(decided.action == "none")


def test_what_the_verdict_is_worth(tell: Callable[[str], None]) -> None:
    rng = np.random.default_rng(2027)
    told: dict[str, list[float]] = defaultdict(list)
    for _ in range(RIDERS):
        one_rider(rng, told)
    counts = ", ".join(f"{key} {len(told[key])}" for key in ("keep", "order", "none", "refused"))
    tell(f"{RIDERS} riders, {EVERY_PAIR[0] * EVERY_PAIR[1]} pairs each: {counts}")
    for key, goal in (
        ("meets every limit", "goal 90 %"),
        ("within one front tooth of the best", "goal 95 %"),
        ("within one rear tooth of the best", "no goal"),
        ("kept, not worse than ordering", "goal 100 %"),
        ("nothing holds, and said so", "goal 90 %"),
        ("none said where a pair truly holds", "no goal"),
        ("none said but probably: it meets every limit", "no goal"),
    ):
        if told[key]:
            tell(f"{key}: {np.mean(told[key]):.1%} of {len(told[key])} ({goal})")
    tell(f"processor time of a verdict: {np.median(told['processor time [ms]']):.0f} ms (median)")
