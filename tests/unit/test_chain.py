"""Chain fits as a rider meets them: what to order, and what the notes say."""

from __future__ import annotations

import math

import numpy as np
import pytest

from ridesim.components import chain_geometry
from ridesim.components.chain import (
    CAUTIONS,
    CHAINS,
)
from ridesim.components.chain_fit import fit_chain, fit_chains
from ridesim.reference import read_table
from ridesim.units import either

NOW = float(chain_geometry.center_distance_m(104, 0.015875, 14, 42))


def bike(**changes):
    """A 520 chain of 104 links on 14/42, axle where that chain puts it, 9 mm forward and 28 mm back to go."""
    own = {"front_teeth": 14, "rear_teeth": 42, "pitch_m": 0.015875, "center_distance_m": NOW,
           "travel_rearward_m": (-0.009, 0.028), "fitted_links": 104, "wear": 0.0}  # fmt: skip
    return own | changes


def test_the_bikes_own_sprockets_keep_chain_and_axle_and_say_so_plainly():
    fit = fit_chain(**bike(), own_teeth=(14, 42))
    assert fit.fitted_chain_will_do and fit.links_to_order == 104
    assert type(fit.links_to_order) is int and type(fit.axle_shift_m) is float
    assert fit.notes == () and fit.reason == "" and len(fit.steps) >= 6 and fit.assumptions
    assert all(any(word in caution for caution in CAUTIONS) for word in ("maker's manual", "qualified mechanic"))


def test_a_successor_that_goes_where_the_axle_is_now_lets_it_stay_there():
    """A new chain of 102 links goes there, and the fitted one of 100 is as long by 3 % of wear on a long travel."""
    now = float(chain_geometry.center_distance_m(102, 0.015875, 14, 42))
    fit = fit_chain(**bike(center_distance_m=now, fitted_links=100, wear=0.03, travel_rearward_m=(-0.03, 0.03)))
    assert fit.fitted_chain_will_do and fit.new_links == 102
    assert "to replace it order 102 links: the axle stays where it is" in fit.notes[0]


@pytest.mark.parametrize(
    ("front", "rear", "will_do"), [(15, 42, True), (16, 42, True), (17, 42, False), (12, 42, True), (14, 47, False)]
)
def test_whether_the_fitted_chain_will_do(front, rear, will_do):
    """One front tooth takes half a link, about 3.6 mm of axle: three of them pass the 9 mm there are."""
    fit = fit_chain(**bike(front_teeth=front, rear_teeth=rear))
    assert fit.fitted_chain_will_do is will_do
    assert (fit.links_to_order == 104) is will_do
    if not will_do:
        assert fit.links_to_order == 106 and fit.fitted_links_over < 0
        assert any("links too short" in note for note in fit.notes)


def test_a_chain_that_is_too_long():
    fit = fit_chain(**bike(fitted_links=112))
    assert fit.fitted_chain_will_do is False and fit.links_to_order == 104
    most = chain_geometry.links_exact(NOW + 0.028, 0.015875, 14, 42)
    assert fit.fitted_links_over == pytest.approx(112 - most)
    assert any("links too long" in note for note in fit.notes)


@pytest.mark.parametrize(("travel", "end", "sign"), [((-0.001, 0.002), "rear", 1), ((-0.002, 0.001), "front", -1)])
def test_no_chain_fits_and_the_nearest_miss_is_told(travel, end, sign):
    """Half a link off an even count: the axle would have to move some millimeters that are not there."""
    links = 104.9 if sign < 0 else 103.1
    now = float(chain_geometry.center_distance_m(links, 0.015875, 14, 42))
    fit = fit_chain(**bike(center_distance_m=now, travel_rearward_m=travel, fitted_links=None))
    assert {fit.links_to_order, fit.center_distance_m, fit.axle_shift_m, fit.take_up_m} == {None}
    assert fit.nearest_links == 104 and math.copysign(1, fit.nearest_miss_m) == sign
    assert f"beyond the {end} end" in fit.notes[0] and fit.reason in fit.notes[0]


def test_the_fitted_chain_is_kept_as_worn_as_it_is_but_its_successor_is_named():
    """2 % of wear on a short travel: the old chain reaches, a new one of the same count is too short."""
    worn = float(chain_geometry.center_distance_m(104, chain_geometry.worn_pitch_m(0.015875, 0.02), 14, 42))
    fit = fit_chain(**bike(center_distance_m=worn, wear=0.02))
    assert fit.fitted_chain_will_do and fit.links_to_order == 104 and fit.new_links == 106
    assert f"order 106 links: the axle moves {either('small length', fit.new_axle_shift_m)} back" in fit.notes[0]
    assert any("worn by 2.0 %" in note and "never beyond 3.0 %" in note for note in fit.notes)
    stuck = fit_chain(**bike(center_distance_m=worn, wear=0.02, travel_rearward_m=(-0.002, 0.001)))
    assert stuck.fitted_chain_will_do and stuck.new_links is None
    assert any("no new one of even count would" in note for note in stuck.notes)


@pytest.mark.parametrize(
    ("changes", "words"),
    [
        ({"travel_rearward_m": (-0.009, 0.004)}, "the adjuster ends before the chain is worn out"),
        ({"front_teeth": 6, "rear_teeth": 100, "center_distance_m": 0.29}, "of the small sprocket; handbooks ask for 120 degrees"),
        ({"center_distance_m": NOW + 0.02, "own_teeth": (14, 42)}, "measure the center distance again"),
        ({"center_distance_m": NOW + 0.02, "own_teeth": (14, 42)}, "106.5 links"),
        ({"front_teeth": 10, "rear_teeth": 30, "center_distance_m": 0.2, "own_teeth": (40, 99)}, "lets the sprockets touch"),
    ],
)  # fmt: skip
def test_what_asks_for_another_look_is_a_note_never_an_error(changes, words):
    assert any(words in note for note in fit_chain(**bike(**changes)).notes)


def test_pairs_whose_sprockets_touch_are_gaps_in_an_array():
    near = {"center_distance_m": 0.3, "travel_rearward_m": (-0.01, 0.01)}
    fits = fit_chains(**bike(front_teeth=[15, 40], rear_teeth=[45, 100], **near))
    assert np.isfinite(fits.links_to_order).tolist() == [True, False]
    assert fits.reason[0] == "" and "touch" in fits.reason[1] and np.isnan(fits.center_distance_m[1])


def test_a_gap_is_given_only_when_asked_for():
    assert np.isnan(chain_geometry.links_exact([0.6, 0.1, math.nan], 0.0127, 14, 42, outside="nan")).tolist() == [
        False,
        True,
        True,
    ]
    distances = chain_geometry.center_distance_m([40, 104, math.nan], 0.0127, 14, 42, outside="nan")
    assert np.isnan(distances).tolist() == [True, False, True]
    assert np.isnan(chain_geometry.wrap_angle_rad([0.6, 0.1], 0.0127, 14, 42, outside="nan")).tolist() == [False, True]


def test_every_size_has_its_sourced_figures_and_says_what_is_from_memory():
    assert set(CHAINS) == {"415", "420", "428", "520", "525", "530", "532", "630"}
    rows = {(row["designation"], row["quantity"]): float(row["value"]) for row in read_table("chain_sizes")}
    for name, size in CHAINS.items():
        assert rows[name, "roller_diameter"] < size.pitch_m and rows[name, "inner_width"] < size.pitch_m
        assert bool(size.assumptions) == (size.minimum_tensile_n is not None)
        assert all("from memory" in text for text in size.assumptions)
    standings = {row["standing"] for row in read_table("chain_sizes") if row["quantity"] == "minimum_tensile"}
    assert standings == {"RECALLED"}
    with pytest.raises(TypeError):
        CHAINS["999"] = CHAINS["520"]
