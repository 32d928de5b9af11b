"""What a figure means, asked of whole answers: which wheel carries what, what speeds a mass up, which way a goal is better."""

from __future__ import annotations

import numpy as np
import pytest
from support.small_build import small

from ridesim import reference
from ridesim.answers import compare, solve, tires
from ridesim.bike import make_bike
from ridesim.buildfile.io import read
from ridesim.logs.fits.ride import demand
from ridesim.logs.log import Log, frozen
from ridesim.selection import GOALS, choose

pytestmark = pytest.mark.identities
BUILD = read(reference.DATA / "demo" / "coast-single.toml")


def test_each_wheel_carries_its_share_of_the_moments():
    """Moments about the rear contact: the front wheel carries the sum of m x over the wheelbase, the rear one the rest."""
    masses, chassis = BUILD.record.masses, BUILD.record.chassis
    parts = [
        (float(getattr(masses, part)), float(getattr(chassis, f"{part}_cg_ahead_of_rear_axle")))
        for part in ("bike", "rider", "luggage")
    ]
    front = sum(mass * ahead for mass, ahead in parts) / float(chassis.wheelbase)
    rear = sum(mass for mass, _ in parts) - front
    answer = tires(solve(make_bike(BUILD), bands=False))
    carried = {row["position"]: row["load"] for row in answer.tables[0].rows}
    assert carried == pytest.approx({"front": front, "rear": rear})
    assert answer.figures["load"].value == pytest.approx(rear)


def test_luggage_behind_the_rear_axle_overloads_the_rear_tire_and_no_other():
    heavy = BUILD.changed({"masses.luggage": "150 kg", "chassis.luggage_cg_ahead_of_rear_axle": "-0.3 m"})
    notes = [n for n in tires(solve(make_bike(heavy), bands=False)).notes if "of its load index" in n]
    assert len(notes) == 1 and notes[0].startswith("rear tire")


def test_what_speeds_up_is_the_mass_and_the_wheels_and_what_weighs_is_the_mass_alone():
    """F = (m + J/r^2) a + f0 cos(slope) + m g sin(slope) + f2 v^2 on a ride that speeds up evenly up an even slope."""
    time, rate, rise = np.arange(0.0, 121.0), 0.25, 0.04
    speed, way = 5.0 + rate * time, 5.0 * time + rate * time**2 / 2
    log = Log(
        name="x",
        time_s=frozen(time),
        speed_m_s=frozen(speed),
        distance_m=frozen(way),
        elevation_m=frozen(rise * way),
    )
    got = demand(log, mass_kg=240.0, coasting_mass_kg=270.0, f0_n=40.0, f2_n_s2_m2=0.4)
    slope = np.arctan(rise)
    middle = slice(40, 80)
    force = 270 * rate + 40 * np.cos(slope) + 240 * 9.80665 * np.sin(slope) + 0.4 * got.speed_m_s[middle] ** 2
    np.testing.assert_allclose(got.force_n[middle], force, rtol=2e-3)


LEAST = {"cruise_speed", "walking", "time_0_100", "roll_on", "fuel"}  # the others are better the more there is of them


@pytest.mark.parametrize("key", GOALS)
def test_a_single_goal_picks_the_pair_that_has_most_or_least_of_it(key):
    """A rider wants fewer revs on the highway, a slower walk, shorter times, less fuel; and more of everything else."""
    choice = choose(BUILD, fronts=[13, 14, 15], rears=[38, 41, 45], goals=[key])
    among = choice.meeting or choice.candidates
    values = [value for c in among if (value := c.figures[key]) is not None]
    assert min(values) < max(values)
    assert {c.figures[key] for c in choice.unbeaten} == {(min if key in LEAST else max)(values)}


def test_one_tire_rolls_alike_with_any_sprocket():
    """A roll-out known to 3 % does not hide a sprocket that gears 2.3 % shorter: it is the same tire, with the same error."""
    build = small({"tires.rear.rollout": "1.9 +- 0.06 m", "tune.first.curve_error": "0 %"})
    now, shorter = (solve(make_bike(build, rear=rear)) for rear in (44, 45))
    another = solve(make_bike(small({"tires.rear.rollout": "1.86 +- 0.06 m", "tune.first.curve_error": "0 %"})))
    certain = [
        next(c for pair in compare(now, might).pairs for c in pair.changes if c.now.key == "first_force").certain
        for might in (shorter, another)
    ]
    assert certain == [True, False]
