"""Bands: first order held to bikes drawn through the kernel, figure by figure, and shares that name the right culprit."""

from __future__ import annotations

import numpy as np
import pytest
from support.draws import band, normal_errors, performed, shares

from ridesim import reference
from ridesim.bike import make_bike
from ridesim.buildfile.io import parse, read
from ridesim.buildfile.schema import LimitsSection
from ridesim.evidence.next_reading import FIGURES, figure_slopes
from ridesim.selection import GOALS, choose, indistinguishable
from ridesim.selection.certainty import _differs
from ridesim.selection.crossing import figures_of

pytestmark = pytest.mark.identities
PATH = reference.DATA / "demo" / "coast-single.toml"
BUILD = read(PATH)


@pytest.mark.parametrize("key", FIGURES)
def test_the_band_of_every_figure_is_that_of_bikes_drawn_through_the_kernel(key):
    bike = make_bike(BUILD)
    asked, _ = figure_slopes(bike, key)
    low, high = band(bike, FIGURES[key][2])
    assert 2 * asked.plus_minus == pytest.approx(high - low, rel=0.06)
    assert asked.value == pytest.approx((low + high) / 2, abs=0.25 * asked.plus_minus)


def test_engine_speed_at_cruise_follows_the_tires_tolerance_alone():
    """n = v i/r: all of its band is the tire's, and its ends are those of r."""
    bike = make_bike(BUILD)
    asked, gradient = figure_slopes(bike, "cruise_speed")
    tire = next(one for one in bike.tolerances if one.path == "tires.rear.rollout")
    share = tire.moves["rear_radius_m"][0] / bike.rear_tire.rolling_radius_m
    assert asked.plus_minus / asked.value == pytest.approx(share, rel=1e-3)
    assert gradient[bike.tolerances.index(tire)] ** 2 == pytest.approx(gradient @ gradient)


@pytest.mark.parametrize("key", ["top_speed", "power_in_hand", "time_0_100"])
def test_the_shares_of_a_figure_are_its_first_order_sobol_indices(key):
    """g_n^2 / sum g^2 against the indices of Saltelli et al. (2010), by scipy; their own spread at 512 draws is about 0.05."""
    bike = make_bike(BUILD)
    _, gradient = figure_slopes(bike, key)
    np.testing.assert_allclose(gradient**2 / (gradient @ gradient), shares(bike, FIGURES[key][2]), atol=0.06)


def test_what_is_called_indistinguishable_is_so_in_bikes_drawn_alike():
    """Every two pairs of a small choice: drawn with the same errors, their difference in a goal does or does not leave out zero."""
    choice = choose(BUILD, fronts=[13, 14, 15], rears=[39, 42, 45], limits=LimitsSection())
    assert len(choice.unbeaten) == 9
    close = {(a.n, b.n) for a, b in indistinguishable(choice)}
    bike = make_bike(BUILD)
    errors = normal_errors(len(bike.tolerances), 1024)
    drawn = {}
    for one in choice.unbeaten:
        own = make_bike(BUILD, front=one.front, rear=one.rear)
        drawn[one.n] = figures_of(performed(own, errors), choice.crossing.ride)
    for a in choice.unbeaten:
        for b in choice.unbeaten:
            if a.n < b.n:
                ends = [np.quantile(drawn[a.n][g.key] - drawn[b.n][g.key], [0.05, 0.95]) for g in choice.goals]
                apart = any(low > 1e-9 or high < -1e-9 for low, high in ends)
                assert apart is not ({(a.n, b.n), (b.n, a.n)} & close != set()), (a.front, a.rear, b.front, b.rear)
    assert len(close) >= 3 and set(GOALS) >= {
        goal.key for goal in choice.goals
    }  # 13/39, 14/42 and 15/45 have one ratio


@pytest.mark.parametrize(("difference", "apart"), [(6.0, True), (4.0, False)])
def test_two_differ_by_more_than_the_root_of_the_squares_of_what_only_one_has(difference, apart):
    """3 and 4 of each alone make 5; an error that both share cancels however large, and the order of the two says nothing."""
    shared = {"air": np.array([90.0, -90.0])}
    one, other = (shared | {name: np.array([by, -by])} for name, by in (("tire", 3.0), ("tune", 4.0)))
    assert _differs(difference, one, other) is apart and _differs(-difference, other, one) is apart


def test_a_tire_tried_in_place_of_one_that_is_not_measured_keeps_its_share():
    """The fitted tire's tolerance stays in the consumption figure: it must not stand in the place of the tried one's."""
    text = PATH.read_text(encoding="utf-8").replace('rollout = "1.996 +- 0.006 m"', "")
    bike = make_bike(parse(text), rear_tire="130/90-17")
    places = [n for n, one in enumerate(bike.tolerances) if one.path == "tires.rear.size"]
    assert len(places) == 2
    _, gradient = figure_slopes(bike, "cruise_speed")
    assert gradient[places] @ gradient[places] == pytest.approx(gradient @ gradient)
