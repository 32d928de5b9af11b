"""Every pair at once against one at a time; the unbeaten against their plain definition; limits at equality."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from ridesim import reference
from ridesim.answers import contract, solve
from ridesim.bike import make_bike
from ridesim.buildfile.io import read
from ridesim.errors import InputError
from ridesim.selection import choose, held_to, unbeaten

pytestmark = pytest.mark.identities
BUILD = read(reference.DATA / "demo" / "plateau-single.toml")
NONE = held_to(BUILD.record.limits, cruise_engine_speed_most="", first_gear_climb_least="", top_speed_least="")


def everything():
    return choose(
        BUILD,
        fronts=range(13, 20),
        rears=range(38, 53),
        rear_tires=["120/90-17", "130/90-17", "140/80-17", "4.60-17", "110/90-17", "120/80-17"],
        tunes=["stock", "rejetted"],
        limits=NONE,
    )


def test_some_of_1260_set_ups_are_each_what_they_are_alone():
    choice = everything()
    assert len(choice.candidates) == 1260
    for n in np.random.default_rng(4).choice(1260, 15, replace=False):
        c = choice.candidates[n]
        alone = contract(
            solve(make_bike(BUILD, front=c.front, rear=c.rear, rear_tire=c.rear_tire, tune=c.tune), bands=False)
        )
        assert c.answer["top_speed_kmh"] == pytest.approx(alone["top_speed_kmh"], rel=1e-9)
        assert c.answer["acceleration"] == {
            key: None if value is None else pytest.approx(value, rel=1e-9)
            for key, value in alone["acceleration"].items()
        }
        assert [row["60_100_kmh_s"] for row in c.answer["roll_on"]] == [
            None if r["60_100_kmh_s"] is None else pytest.approx(r["60_100_kmh_s"], rel=1e-9) for r in alone["roll_on"]
        ]
        for mine, theirs in zip(c.answer["gears"], alone["gears"], strict=True):
            for key in ("lift_ratio", "peak_wheel_force_n", "steepest_grade_percent", "overall_ratio"):
                assert mine[key] == pytest.approx(theirs[key], rel=1e-9)
        for key in ("links_exact", "links_to_order", "centre_distance_m", "axle_shift_m", "fitted_chain_will_do"):
            assert c.answer["chain"][key] == (
                pytest.approx(alone["chain"][key], rel=1e-9, abs=1e-12) if alone["chain"][key] is not None else None
            )


def plainly_unbeaten(values):
    """By the words of the definition, every row against every other."""
    return [not any((b <= a).all() and (b < a).any() for b in values) for a in values]


@given(rows=st.lists(st.tuples(*[st.integers(0, 6)] * 3), min_size=1, max_size=40), seed=st.integers(0, 99))
def test_the_unbeaten_are_those_of_the_definition_in_any_order(rows, seed):
    values = np.array(rows, dtype=float)
    found = unbeaten(values)
    assert found.tolist() == plainly_unbeaten(values)
    order = np.random.default_rng(seed).permutation(len(values))
    assert unbeaten(values[order]).tolist() == found[order].tolist()


def test_a_figure_that_never_happens_beats_nothing():
    assert unbeaten(np.array([[1.0, np.nan], [1.0, 2.0]])).tolist() == [False, True]


def test_a_limit_met_exactly_is_met_and_a_hair_more_is_not():
    free = choose(BUILD, fronts=[15], rears=[45], limits=NONE)
    value = free.candidates[0].figures["cruise_speed"]
    exact = NONE.model_copy(update={"cruise_engine_speed_most": value})
    tight = NONE.model_copy(update={"cruise_engine_speed_most": value * (1 - 1e-6)})
    assert choose(BUILD, fronts=[15], rears=[45], limits=exact).candidates[0].meets_limits
    fallen = choose(BUILD, fronts=[15], rears=[45], limits=tight).candidates[0]
    assert [fall.limit for fall in fallen.falls] == ["cruise_engine_speed_most"] and fallen.miss == pytest.approx(
        1e-6, rel=1e-3
    )


def test_a_chain_that_does_not_fit_is_told_in_links():
    limits = held_to(NONE, keep_chain=True)
    choice = choose(BUILD, fronts=[13, 16], rears=[34, 52], limits=limits)
    says = [fall.says for c in choice.candidates for fall in c.falls]
    assert any("links too long" in text for text in says) and any("links too short" in text for text in says)


@pytest.mark.parametrize(
    "wrong",
    [
        {"goals": ["beauty"]},
        {"fronts": [0]},
        {"rears": [900]},
        {"tunes": ["none"]},
        {"rear_tires": ["banana"]},
        {"fronts": range(6, 41), "rears": range(12, 101), "rear_tires": [f"{w}/80-17" for w in range(90, 190, 2)]},
    ],
    ids=str,
)
def test_what_cannot_be_had_is_refused(wrong):
    with pytest.raises(InputError):
        choose(BUILD, **wrong)
