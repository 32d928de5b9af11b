"""Properties of chain and sprockets that hold whatever the figures."""

from __future__ import annotations

import math

import numpy as np
import pytest
from hypothesis import assume, given
from hypothesis import strategies as st
from scipy.optimize import brentq

from ridesim.components import chain_geometry
from ridesim.components.chain_fit import fit_chain, fit_chains

pytestmark = pytest.mark.identities

fronts = st.integers(*chain_geometry.FRONT_TEETH)
rears = st.integers(*chain_geometry.REAR_TEETH)
pitches = st.sampled_from([0.0127, 0.015875, 0.01905])
gaps = st.floats(0.001, 0.8)  # beyond the distance at which the sprockets touch
evens = st.integers(40, 80).map(lambda half: 2 * half)


@given(evens, pitches, fronts, rears)
def test_center_distance_against_a_root_finder_of_its_own(links, pitch, z1, z2):
    """Brent's method on the two-circle length, between touching sprockets and half the chain."""
    touching = float(chain_geometry.touching_distance_m(pitch, z1, z2)) * (1 + 1e-12)
    assume(chain_geometry.links_exact(touching, pitch, z1, z2) < links)
    wanted = brentq(
        lambda c: chain_geometry.links_exact(c, pitch, z1, z2) - links, touching, 0.5 * links * pitch, xtol=1e-14
    )
    assert chain_geometry.center_distance_m(links, pitch, z1, z2) == pytest.approx(wanted, rel=1e-12)


@given(gaps, pitches, fronts, rears)
def test_length_against_a_walk_round_the_path(gap, pitch, z1, z2):
    """Two straights that touch both circles, found by coordinates, and two arcs of z links a turn."""
    r1, r2 = float(chain_geometry.pitch_radius_m(pitch, z1)), float(chain_geometry.pitch_radius_m(pitch, z2))
    c = r1 + r2 + gap
    turn = math.acos((r1 - r2) / c)  # from the line of centers to the points where the straights leave
    front, rear = r1 * np.exp(1j * turn), c + r2 * np.exp(1j * turn)
    straight = abs(rear - front)
    assert straight == pytest.approx(math.sqrt(c**2 - (r2 - r1) ** 2), rel=1e-12)
    arcs = z1 * (2 * math.pi - 2 * turn) / (2 * math.pi) + z2 * 2 * turn / (2 * math.pi)
    assert chain_geometry.links_exact(c, pitch, z1, z2) == pytest.approx(2 * straight / pitch + arcs, rel=1e-12)


@given(gaps, pitches, fronts, rears)
def test_swapping_the_sprockets_changes_nothing(gap, pitch, z1, z2):
    center = chain_geometry.touching_distance_m(pitch, z1, z2) + gap
    for form in (chain_geometry.links_exact, chain_geometry.wrap_angle_rad):
        assert form(center, pitch, z1, z2) == pytest.approx(form(center, pitch, z2, z1), rel=1e-13)


@given(pitches, fronts, rears, st.floats(1.0 + 1e-9, 5.0))
def test_up_to_three_to_one_the_wrap_is_never_under_120_degrees(pitch, z1, z2, apart):
    """A fact of the trade: radii in a ratio of 3 that touch lean by asin(1/2), 30 degrees."""
    small, large = sorted((chain_geometry.pitch_radius_m(pitch, z1), chain_geometry.pitch_radius_m(pitch, z2)))
    assume(large <= 3 * small)
    assert chain_geometry.wrap_angle_rad(apart * (small + large), pitch, z1, z2) >= math.radians(120) * (1 - 1e-12)


@pytest.mark.parametrize("fitted", [None, 108, 116])
def test_all_pairs_at_once_are_the_pairs_one_by_one(fitted):
    z1, z2 = (
        np.array([chain_geometry.FRONT_TEETH[0], 10, 15, 20, chain_geometry.FRONT_TEETH[1]])[:, None],
        np.array([12, 30, 45, 60, 100]),
    )
    given_figures = {"pitch_m": 0.015875, "center_distance_m": 0.61, "travel_rearward_m": (-0.004, 0.009),
                     "fitted_links": fitted, "wear": 0.006}  # fmt: skip
    many = fit_chains(front_teeth=z1, rear_teeth=z2, **given_figures)
    names = ("links_exact", "links_to_order", "center_distance_m", "axle_shift_m", "fitted_links_over", "new_links",
             "nearest_links", "nearest_miss_m", "take_up_m", "take_up_elongation", "wrap_rad")  # fmt: skip
    for i, j in np.ndindex(many.links_exact.shape):
        one = fit_chain(front_teeth=int(z1[i, 0]), rear_teeth=int(z2[j]), **given_figures)
        for name in names:
            wanted = getattr(one, name)
            assert getattr(many, name)[i, j] == pytest.approx(
                np.nan if wanted is None else wanted, abs=0, nan_ok=True
            ), name
        assert bool(many.fitted_chain_will_do[i, j]) == bool(one.fitted_chain_will_do)
        assert many.reason[i, j] == one.reason


@given(fronts, rears, pitches, gaps, st.floats(-0.06, 0.0), st.floats(0.0, 0.08))
def test_the_count_to_order_is_what_a_search_of_all_even_counts_finds(z1, z2, pitch, gap, least, most):
    now = float(chain_geometry.touching_distance_m(pitch, z1, z2)) + gap
    assume(0.1 <= now <= 2.0)
    fit = fit_chain(
        front_teeth=z1, rear_teeth=z2, pitch_m=pitch, center_distance_m=now, travel_rearward_m=(least, most)
    )
    counts = np.arange(10, 700, 2)
    shifts = np.asarray(chain_geometry.center_distance_m(counts, pitch, z1, z2, outside="nan")) - now
    inside = (shifts >= least - 1e-10) & (shifts <= most + 1e-10)
    if not inside.any():
        assert fit.links_to_order is None and fit.reason
        miss = np.nanmin(np.maximum(shifts - most, 0.0) + np.maximum(least - shifts, 0.0))
        assert abs(fit.nearest_miss_m) == pytest.approx(miss, abs=1e-9)
        return
    best = np.where(inside, np.abs(shifts), np.inf)
    assert abs(fit.axle_shift_m) == pytest.approx(best.min(), abs=1e-9)
    assert fit.links_to_order in counts[best <= best.min() + 1e-9]
    assert fit.reason == ""


@given(fronts, rears, pitches, evens, st.floats(0.0, 0.03), st.floats(0.0, 0.03))
def test_the_travel_left_is_used_up_by_the_wear_it_is_said_to_take(z1, z2, pitch, links, wear, most):
    now = float(
        chain_geometry.center_distance_m(links, chain_geometry.worn_pitch_m(pitch, wear), z1, z2, outside="nan")
    )
    assume(np.isfinite(now) and 0.1 <= now <= 2.0)
    assume(now > chain_geometry.touching_distance_m(pitch, z1, z2) * (1 + 1e-6))
    fit = fit_chain(front_teeth=z1, rear_teeth=z2, pitch_m=pitch, center_distance_m=now, fitted_links=links, wear=wear,
                    travel_rearward_m=(-0.005, most))  # fmt: skip
    assert (
        fit.fitted_chain_will_do and fit.links_to_order == links and fit.axle_shift_m == pytest.approx(0.0, abs=1e-12)
    )
    assume(wear + fit.take_up_elongation <= 0.1)
    worn_out = chain_geometry.worn_pitch_m(pitch, wear + fit.take_up_elongation)
    assert chain_geometry.center_distance_m(links, worn_out, z1, z2) == pytest.approx(now + most, rel=1e-12)
