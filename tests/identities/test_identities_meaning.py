"""What a figure means, asked of whole answers: which wheel carries what, what speeds a mass up, which way a goal is better."""

from __future__ import annotations

import numpy as np
import pytest
from support.evidence import SINGLE as BUILD
from support.from_scratch import FromScratch
from support.log_texts import made_up
from support.small_build import small

from ridesim import reference
from ridesim.answers import (
    compare,
    front_lift,
    solve,
    tune_gain,
)
from ridesim.answers.front_wheel.held_back import FRONT, REAR, roll_on_notes
from ridesim.answers.solved import ORDINALS
from ridesim.bike import make_bike
from ridesim.buildfile.io import read
from ridesim.buildfile.schema import LimitsSection
from ridesim.environment.road_forces import coast_down_time_s
from ridesim.errors import InputError
from ridesim.logs.fits.demand import demand
from ridesim.selection import GOALS, choose, indistinguishable
from ridesim.selection.own_rides import at_ends
from ridesim.uncertainty.tolerances import quadrature

pytestmark = pytest.mark.identities


def test_what_speeds_up_is_the_mass_and_the_wheels_and_what_weighs_is_the_mass_alone():
    """F = (m + J/r^2) a + f0 cos(slope) + m g sin(slope) + f2 v^2 on a ride that speeds up evenly up an even slope."""
    time, rate, rise = np.arange(0.0, 121.0), 0.25, 0.04
    speed, way = 5.0 + rate * time, 5.0 * time + rate * time**2 / 2
    log = made_up(time, speed, distance_m=way, elevation_m=rise * way)
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
        next(c for pair in compare(now, planned).pairs for c in pair.changes if c.now.key == "first_force").certain
        for planned in (shorter, another)
    ]
    assert certain == [True, False]


@pytest.mark.parametrize("friction", np.linspace(0.15, 1.2, 8).round(2))
def test_a_roll_on_is_held_back_in_the_gears_in_which_the_engine_asks_for_more(friction):
    """Engine, lift and spin by plain sums: a gear is named where the engine's acceleration passes a limit on the way."""
    build = read(reference.DATA / "demo" / "road-twin.toml").changed({"surface.friction": float(friction)})
    scratch, solved = FromScratch(build.text), solve(make_bike(build), bands=False)
    v1, v2 = solved.ride.roll_on_m_s
    notes = " ".join(roll_on_notes(solved))
    for k in np.nonzero(np.isfinite(solved.performance.roll_on_s[0]))[0]:
        over = [
            scratch.engine(k, v) - np.array([scratch.lifts(k, v), scratch.spins(k, v)])
            for v in np.linspace(v1, v2, 200)
        ]
        for margin, what in zip(np.max(over, axis=0), (FRONT, REAR), strict=True):
            if abs(margin) > 0.01:
                named = [part.partition(what)[0] for part in notes.split("roll-on times") if what in part]
                assert any(ORDINALS[k] in gears for gears in named) == (margin > 0), (k, what, margin)


def test_one_coast_down_of_several_that_ends_faster_than_it_began_is_refused():
    with pytest.raises(InputError, match="Swap the two speeds"):
        coast_down_time_s([30.0, 10.0], [20.0, 20.0], 40.0, 0.4, 250.0)


def test_a_pair_that_no_chain_fits_says_why_and_no_other_does():
    build = BUILD.changed({"final_drive.axle_travel": ["-3 mm", "3 mm"]})
    pairs = choose(build, fronts=[11, 14, 17], rears=range(38, 45)).candidates
    unfit = [c for c in pairs if (c.chain or {}).get("links_to_order") is None]
    assert unfit and len(unfit) < len(pairs)
    assert all(bool(c.no_chain) == (c in unfit) for c in pairs)


def test_pairs_that_surely_differ_in_one_of_two_goals_are_told_apart():
    """Near its top the top speed hardly moves by a tooth; the engine speed does, whatever the inputs leave open."""
    choice = choose(BUILD, fronts=[14], rears=[38, 39], goals=["top_speed", "cruise_speed"], limits=LimitsSection())
    now, planned = (solve(make_bike(BUILD, rear=rear)) for rear in (38, 39))
    certain = {c.now.key: c.certain for pair in compare(now, planned).pairs for c in pair.changes}
    assert (certain["top"], certain["engine_speed"]) == (False, True)
    assert len(choice.unbeaten) == 2 and not indistinguishable(choice)


def test_an_error_that_two_pairs_share_does_not_hide_that_they_differ():
    """However badly the tire is known, a tooth more turns the engine faster: two teeth of 41 are 4.9 %, a shared 10 % or not."""
    loose = BUILD.changed({"tires.rear.rollout": "1.996 +- 0.2 m"})
    choice = choose(loose, fronts=[15], rears=[41, 43], limits=LimitsSection())
    assert len(choice.unbeaten) == 2 and not indistinguishable(choice)


def test_a_combination_is_found_by_its_parts_whatever_the_tires_and_tunes():
    build, sizes = read(reference.DATA / "demo" / "plateau-single.toml"), ["120/90-17", "130/80-17"]
    tunes = list(build.record.tune)
    choice = choose(build, fronts=[14, 15], rears=[41, 43], rear_tires=sizes, tunes=tunes, limits=LimitsSection())
    assert len(tunes) > 1
    for one in choice.candidates:
        parts = {"front": one.front, "rear": one.rear, "rear_tire": one.rear_tire, "tune": one.tune}
        assert choice.find(**parts).n == one.n


def test_the_speeds_between_which_the_front_lifts_are_those_of_its_gear():
    """v = 2 pi r n / i."""
    strong = small({"tune.first.points": [[2500, 60], [5000, 80], [7500, 70], [8500, 50]]})
    one = solve(make_bike(strong), bands=False)
    tire, ratios = one.bike.rear_tire.circumference_m, one.bike.setups.ratios[0]
    lifting = [row for row in front_lift(one).tables[0].rows if row["to_rpm"] is not None]
    assert lifting
    for row in lifting:
        meters = tire / (2 * np.pi * ratios[row["gear"] - 1])
        assert (row["from_speed"], row["to_speed"]) == pytest.approx((row["from_rpm"] * meters, row["to_rpm"] * meters))


def test_the_top_speed_is_in_the_gear_that_has_it_where_others_hold_none():
    found = solve(make_bike(BUILD.changed({"ride.grade": "25 %"})), bands=False).performance
    by_gear = found.gears.top_speed_m_s[0]
    assert np.isnan(by_gear).any() and by_gear[found.top_speed_gear[0] - 1] == found.top_speed_m_s[0]


def test_the_band_of_a_gain_is_made_of_its_own_moves():
    """Each tolerance's two moves add in quadrature to the band that is told, the lower and the upper for itself."""
    build = read(reference.DATA / "demo" / "plateau-single.toml")
    now, planned = (solve(make_bike(build, tune=tune)) for tune in list(build.record.tune)[:2])
    moved = [figure for figure in tune_gain(now, planned).figures.values() if figure.moves]
    assert moved
    for figure in moved:
        down, up = quadrature(figure.moves)
        assert (figure.low, figure.high) == pytest.approx((figure.value + down, figure.value + up))


def test_the_range_of_a_ride_goes_with_the_tank_at_both_ends_of_its_tolerance():
    bike = make_bike(BUILD.changed({"fuel.tank": "12 +- 1.2 l"}))
    tank = [one for one in bike.tolerances if one.path == "fuel.tank"]
    log = made_up(np.arange(300.0), 20.0 + 5.0 * np.sin(np.arange(300.0) / 20.0))
    own, most, least = at_ends([log], bike, tank, np.array([15]), np.array([41]), 400.0)["ride_range"][:, 0]
    assert (most / own, least / own) == pytest.approx((1.1, 0.9))
