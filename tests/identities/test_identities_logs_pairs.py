"""The fewest runs a rider may bring: one coast-down each way, against the wind and up, down and before it."""

from __future__ import annotations

import numpy as np
import pytest
from support.log_texts import made_up
from support.synthetic_log import Bike, coast_downs, phone, windy

from ridesim.logs.coast_down import coast_down
from ridesim.logs.fits.coast import coasting_speed_m_s, led_astray_m_s
from ridesim.logs.log import RoadRun, frozen
from ridesim.logs.runs import runs_of
from ridesim.units import G

pytestmark = pytest.mark.identities
BIKE = Bike()
PAIRS = 100


def test_the_band_of_a_single_pair_holds_the_truth_in_gusts():
    """Of the gusts of a light wind little is seen in the residuals of two runs: left to them the band would hold half the time."""
    rng = np.random.default_rng(8)
    days = windy(rng, PAIRS, 1.2, 0.4, 0.002)
    found = [
        coast_down(runs, **BIKE.weighed)
        for runs in coast_downs([(BIKE, day) for day in days], 1, phone(latency_s=1.0), rng)
    ]
    for name, truth in (("drag_area_m2", BIKE.drag_area_m2), ("rolling_resistance", BIKE.rolling_resistance)):
        held = np.mean([getattr(one, name).low <= truth <= getattr(one, name).high for one in found])
        assert 0.80 <= held <= 0.97, (name, held)
    assert all("gusts of 1.4 km/h" in " ".join(one.assumptions) for one in found)


def test_gusts_push_a_run_as_the_equation_of_motion_says():
    """A gust that never ends slows the bike to where the air is as fast as without it: dv goes to -g."""
    import ridesim.logs.fits.coast as module

    run = RoadRun(time_s=frozen(np.arange(400.0)), speed_m_s=frozen(np.full(400, 20.0)), direction=1)
    rng = np.random.default_rng(1)
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(module, "GUST_LASTS_S", 1e12)
        left = led_astray_m_s(run, 250.0, 0.4, 0.0, rng)
    gust = module.GUST_M_S * np.random.default_rng(1).standard_normal(module.GUSTY_RIDES)
    np.testing.assert_allclose(left[:, -1], -gust, atol=1e-4)
    np.testing.assert_allclose(left[:, 10], -gust * (1 - np.exp(-10 * 2 * 0.4 * 20 / 250)), atol=1e-4)


def ridden(rng, noise=0.102):
    """Coasting out against 3 m/s and 0.8 % up, back with both behind: at the end but 0.1 m/s2 slows the bike."""
    weight, speeds = BIKE.mass_kg * G, []
    for way in (1, -1, 1, -1):
        f0 = BIKE.f0_n + way * 0.008 * weight
        coast = coasting_speed_m_s(np.arange(0.0, 300.0), 32.0, f0, BIKE.f2_n_s2_m2, BIKE.coasting_mass_kg, way * 3.0)
        coast = coast[coast > 8.0]
        brake = np.arange(coast[-1] - 3.0, 0.0, -3.0)
        speeds += [np.arange(0.0, 32.0, 2.5), np.full(3, 32.0), coast, brake, np.zeros(10)]
    speed = np.concatenate(speeds)
    speed = np.maximum(speed + noise * rng.standard_normal(speed.size), 0.0)
    return made_up(np.arange(speed.size), speed)


def test_every_coast_down_is_found_although_a_tail_wind_and_a_slope_hardly_slow_it():
    for seed in range(20):
        log = ridden(np.random.default_rng(seed))
        runs = runs_of([log], "coast-down", from_m_s=28.8, to_m_s=11.2, directions=[1, -1, 1, -1])
        assert len(runs) == 4
        assert all(run.speed_m_s[0] > 27.0 and run.speed_m_s[-1] < 13.0 for run in runs)


def test_a_pull_that_passes_much_in_a_sample_is_found():
    time = np.arange(0.0, 40.0)
    for begin in np.arange(0.0, 1.0, 0.1):
        speed = np.interp(time + begin, [0, 10, 18, 22, 40], [11, 11, 35, 20, 20])
        (run,) = runs_of([made_up(time, speed)], "pull", from_m_s=15.0, to_m_s=31.0, directions=[1])
        assert run.time_s.size >= 5
