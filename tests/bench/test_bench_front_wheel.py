"""The front wheel in motion: a thousand random bikes without a nan, and what a gear and technique cost, as a ratio to one kernel call."""

from __future__ import annotations

import time
from dataclasses import fields

import numpy as np
from support.bikes import random_fields
from support.clock import least_s
from support.front_wheel import made_up
from support.small_build import small

from ridesim.answers import solve
from ridesim.answers.front_wheel import comes_up
from ridesim.answers.front_wheel.body import TECHNIQUES
from ridesim.bike import make_bike


def test_a_thousand_random_bikes(tell):
    rng = np.random.default_rng(715)
    start = time.process_time()
    for _ in range(1000):
        moved = made_up(random_fields(rng))
        assert all(np.isfinite(getattr(moved, f.name)).all() for f in fields(moved))
    spent = time.process_time() - start
    tell(f"front wheel: 1,000 random bikes, {spent / 1000 / len(TECHNIQUES) * 1e3:.2f} ms a technique ridden once")


def test_what_it_costs_beside_the_kernel(tell):
    bike = make_bike(small())

    solved = solve(bike, bands=False)
    wheel, kernel = least_s(lambda: comes_up(solved), 5), least_s(lambda: solve(bike, bands=False), 5)
    each = wheel / solved.gear_count / len(TECHNIQUES)
    tell(
        f"front wheel: {1e3 * each:.2f} ms a gear and technique over all cases; {wheel / kernel:.1f} kernel calls in all"
    )
