"""What a choice says, and which of its pairs what is known cannot tell apart."""

from __future__ import annotations

import numpy as np
import pytest

from ridesim import tables
from ridesim.bands import all_told_apart, told_apart
from ridesim.bike import make_bike
from ridesim.build import read
from ridesim.choose import choose, held_to

BUILD = read(tables.DATA / "demo" / "trail-single.toml")


def pairs(choice):
    return [(c.front, c.rear) for c in choice.candidates if c.meets_limits]


def test_a_limit_that_is_tightened_never_lets_a_pair_in():
    loose, tight = (
        choose(BUILD, limits=held_to(BUILD.record.limits, cruise_engine_speed_most=f"{n} rev/min")) for n in (5200, 4800)
    )
    assert set(pairs(tight)) < set(pairs(loose))
    for c in tight.candidates:
        speed = c.figures["cruise_speed"]
        over = any(fall.limit == "cruise_engine_speed_most" for fall in c.falls)
        assert over == (speed is None or speed > 4800 * 2 * np.pi / 60 * (1 + 1e-9))


def test_every_fall_names_its_figure_its_limit_and_how_near_it_was():
    choice = choose(BUILD, limits=held_to(BUILD.record.limits, cruise_engine_speed_most="4500 rev/min"))
    falls = [f for c in choice.candidates for f in c.falls if f.limit == "cruise_engine_speed_most"]
    assert falls and all("rev/min" in f.says and "4,500 rev/min" in f.says and f.miss > 0 for f in falls)


def test_the_unbeaten_meet_the_limits_and_fall_in_both_goals_together():
    best = choose(BUILD).unbeaten
    assert best and all(c.meets_limits for c in best)
    speed, force = (np.array([c.figures[key] for c in best]) for key in ("cruise_speed", "first_force"))
    assert (np.diff(speed) >= 0).all() and (np.diff(force) >= 0).all()  # more force is bought with more engine speed


def test_pairs_that_nearly_share_a_ratio_are_not_told_apart_where_it_matters():
    """14/42 and 15/45 have one ratio; 16/45 is another; what each does not share with the others decides."""
    bikes = [make_bike(BUILD, front=z1, rear=z2) for z1, z2 in ((14, 42), (15, 45), (16, 45))]
    apart = all_told_apart(bikes, "cruise_speed", samples=256)
    assert apart.tolist() == [[False, False, True], [False, False, True], [True, True, False]]
    assert told_apart(bikes[0], bikes[2], "cruise_speed") and not told_apart(bikes[0], bikes[1], "cruise_speed")


@pytest.mark.parametrize("key", ["top_speed", "time_0_100", "fuel"])
def test_a_set_up_is_never_told_apart_from_itself(key):
    bike = make_bike(BUILD)
    assert not told_apart(bike, bike, key, samples=64)
