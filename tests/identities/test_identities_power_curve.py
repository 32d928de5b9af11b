"""The torque curve against scipy's PCHIP, and what a curve may never do."""

from __future__ import annotations

import tracemalloc

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy.interpolate import PchipInterpolator

from ridesim.components.power_curve import PowerCurve, curve_from_points, monotone_cubic
from ridesim.errors import InputError
from ridesim.mechanics.torque import cells_of

pytestmark = pytest.mark.identities
steps = st.lists(st.tuples(st.floats(20.0, 300.0), st.floats(1.0, 120.0)), min_size=2, max_size=12)


def curve_of(pairs) -> PowerCurve:
    speed = 150.0 + np.cumsum([h for h, _ in pairs])
    return PowerCurve(engine_speed_rad_s=speed, torque_n_m=np.array([t for _, t in pairs]))


@given(pairs=steps.filter(lambda p: len(p) > 2))
def test_it_is_scipys_pchip(pairs):
    curve = curve_of(pairs)
    reference = PchipInterpolator(curve.engine_speed_rad_s, curve.torque_n_m)
    np.testing.assert_allclose(curve.coefficients, reference.c, rtol=1e-9, atol=1e-12)
    inside = np.linspace(curve.first_rad_s, curve.last_rad_s, 301)
    np.testing.assert_allclose(curve.torque_at(inside), reference(inside), rtol=1e-9)
    np.testing.assert_allclose(cells_of(curve).torque(inside), reference(inside), rtol=1e-9)


def test_two_points_a_hair_apart_cost_no_memory():
    """A table of equal slots as narrow as they are would take megabytes, or all there is."""
    curve = curve_of([(100.0, 30.0), (300.0, 40.0), (1e-3, 40.001), (300.0, 20.0)])
    inside = np.linspace(curve.first_rad_s, curve.last_rad_s, 301)
    cells = cells_of(curve)
    tracemalloc.start()
    torque = cells.torque(inside)
    _, most = tracemalloc.get_traced_memory()
    tracemalloc.stop()
    np.testing.assert_allclose(torque, PchipInterpolator(curve.engine_speed_rad_s, curve.torque_n_m)(inside), rtol=1e-9)
    assert most < 1_000_000


@given(pairs=steps, share=st.floats(0.05, 0.999))
def test_ending_it_at_a_rev_limit_changes_nothing_below(pairs, share):
    curve = curve_of(pairs)
    limit = curve.first_rad_s + share * (curve.last_rad_s - curve.first_rad_s)
    shorter = curve.upto(limit)
    assert shorter.last_rad_s == limit
    inside = np.linspace(curve.first_rad_s, limit, 50)
    np.testing.assert_allclose(shorter.torque_at(inside), curve.torque_at(inside), rtol=1e-9)
    assert shorter.torque_at(limit) == pytest.approx(shorter.torque_n_m[-1], rel=1e-9)


@given(outside=st.floats(1.001, 50.0))
def test_outside_its_points_it_refuses(outside):
    curve = curve_of([(100.0, 30.0), (100.0, 40.0), (100.0, 20.0)])
    for place in (curve.last_rad_s * outside, curve.first_rad_s / outside):
        with pytest.raises(InputError, match="outside the curve"):
            curve.torque_at(place)
        assert np.isnan(curve.torque_at(place, outside="nan"))


def test_power_and_torque_points_give_one_curve():
    torque = curve_from_points(
        [(300.0, 30.0), (500.0, 35.0)], kind="torque", measured_at="crank", efficiency=0.9, name="a"
    )
    power = curve_from_points(
        [(300.0, 9000.0), (500.0, 17500.0)], kind="power", measured_at="crank", efficiency=0.9, name="a"
    )
    wheel = curve_from_points(
        [(300.0, 27.0), (500.0, 31.5)], kind="torque", measured_at="wheel", efficiency=0.9, name="a"
    )
    np.testing.assert_allclose(power.torque_n_m, torque.torque_n_m)
    np.testing.assert_allclose(wheel.torque_n_m, torque.torque_n_m)


def test_two_points_make_a_straight_line():
    assert monotone_cubic(np.array([1.0, 3.0]), np.array([2.0, 6.0]))[:, 0].tolist() == [0.0, 0.0, 2.0, 2.0]
