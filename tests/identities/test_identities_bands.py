"""Bands: the triangle, repeatability, closed forms, and shares that name the right culprit."""

from __future__ import annotations

import numpy as np
import pytest

from ridesim import reference
from ridesim.answers.draws import FIGURES, bands, shares_of_doubt, told_apart, triangle
from ridesim.bike import make_bike
from ridesim.buildfile.io import parse, read

pytestmark = pytest.mark.identities
PATH = reference.DATA / "demo" / "coast-single.toml"


@pytest.fixture(scope="module")
def demo():
    return bands(make_bike(read(PATH)))


def test_the_triangle_has_its_mean_and_variance():
    draws = triangle(np.linspace(0, 1, 100_001), 5.0, 3.0)
    assert draws.mean() == pytest.approx(5.0, abs=1e-9) and draws.var() == pytest.approx(9.0 / 6.0, rel=1e-3)
    assert draws.min() == 2.0 and draws.max() == 8.0 and (np.diff(draws) >= 0).all()


def test_every_figure_has_its_band_around_its_median(demo):
    assert {s.key for s in demo.spreads} == set(FIGURES)
    for s in demo.spreads:
        assert s.happens == 1.0 and s.low < s.median < s.high


def test_the_same_build_gives_the_same_band(demo):
    again = bands(make_bike(read(PATH)))
    assert again == demo


def test_engine_speed_at_cruise_follows_the_tires_triangle_alone(demo):
    """n = v i/r: its 5 % and 95 % points are those of the triangle of r, and all its doubt is the tire."""
    bike = make_bike(read(PATH))
    s = demo.spread("cruise_speed")
    r = bike.rear_tire.rolling_radius_m
    half = bike.doubts[0].moves["rear_radius_m"][0]
    ends = triangle(np.array([0.95, 0.05]), r, half)
    constant = bike.ride().cruise_m_s * bike.setups.ratios[0, -1]
    assert [s.low, s.high] == pytest.approx(list(constant / ends), rel=1e-4)
    assert s.total["tires.rear.rollout"] == pytest.approx(1.0, abs=0.05)
    assert "tires.rear.rollout" in s.says and s.says.startswith("nearly all")


def test_a_wider_tolerance_widens_and_takes_a_larger_share(demo):
    text = PATH.read_text(encoding="utf-8").replace('"0.66 +- 0.06 m^2"', '"0.66 +- 0.25 m^2"')
    wide = bands(make_bike(parse(text)))
    a, b = (x.spread("top_speed") for x in (demo, wide))
    assert b.high - b.low > a.high - a.low
    assert b.total["road_load.drag_area"] > a.total["road_load.drag_area"]


def test_two_pairs_a_tooth_apart_are_told_apart_and_a_pair_from_itself_is_not():
    build = read(PATH)
    one, other = make_bike(build), make_bike(build, front=16)
    assert told_apart(one, other, "cruise_speed") and told_apart(one, other, "first_force")
    assert not told_apart(one, one, "cruise_speed")


def test_the_shares_are_those_of_the_ishigami_function():
    """sin x1 + a sin^2 x2 + b x3^4 sin x1 on -pi..pi (Ishigami & Homma 1990), whose indices follow in closed form."""
    a, b = 7.0, 0.1
    v1, v2, v13 = 0.5 * (1 + b * np.pi**4 / 5) ** 2, a**2 / 8, b**2 * np.pi**8 * (1 / 18 - 1 / 50)
    whole = v1 + v2 + v13

    def ishigami(draws):
        x = np.pi * (2 * draws.T - 1)
        return np.atleast_2d(np.sin(x[0]) + a * np.sin(x[1]) ** 2 + b * x[2] ** 4 * np.sin(x[0]))

    first, total = shares_of_doubt(ishigami, 3, n=4096)
    np.testing.assert_allclose(first[0], [v1 / whole, v2 / whole, 0.0], atol=0.02)  # Monte Carlo error of 4,096 draws
    np.testing.assert_allclose(total[0], [(v1 + v13) / whole, v2 / whole, v13 / whole], atol=0.02)
    assert v1 / whole == pytest.approx(0.3139, abs=5e-5) and v13 / whole == pytest.approx(0.2437, abs=5e-5)


def test_a_tire_tried_in_place_of_one_that_is_not_measured_keeps_its_share():
    """The fitted tire's doubt stays in the consumption figure: it must not stand in the place of the tried one's."""
    text = PATH.read_text(encoding="utf-8").replace('rollout = "1.996 +- 0.006 m"', "")
    bike = make_bike(parse(text), rear_tire="130/90-17")
    assert [doubt.path for doubt in bike.doubts].count("tires.rear.size") == 2
    assert bands(bike).spread("cruise_speed").total["tires.rear.size"] == pytest.approx(1.0, abs=0.05)
