"""What is said of the front wheel: what comes first over the range of a surface's friction, and what no rider can do."""

from __future__ import annotations

import pytest
from support.small_build import small

from ridesim.answers import contract, front_lift, solve
from ridesim.answers.answer import ValueOf
from ridesim.answers.front_wheel.lift import turning_frictions
from ridesim.answers.text import sentence
from ridesim.bike import make_bike
from ridesim.components.steering import MOVES_BACK_M
from ridesim.environment.road import surfaces

STRONG = [[2500, 28], [5000, 36.4], [7500, 30.8], [8500, 25.2]]  # lifts with the rider 0.13 m farther back


def solved(**changes):
    return solve(make_bike(small({key.replace("__", "."): value for key, value in changes.items()})))


@pytest.mark.parametrize(
    ("friction", "says"),
    [("0.4 +- 0.1", False), ("2.0 +- 0.3", True), ("1.0 +- 0.5", None), ("0.4", False), ("2.0", True)],
)
def test_what_comes_first_is_asked_of_both_ends_of_the_friction(friction, says):
    one = solved(surface__name="the yard", surface__friction=friction)
    told = contract(one)
    assert [gear["front_lifts_before_rear_spins"] for gear in told["gears"]] == [says] * 4
    turns = [end for ends in turning_frictions(one) for end in ends]
    assert min(turns) > 0.5 and max(turns) < 1.5
    notes = [note for note in told["notes"] if "either may come first" in note]
    ends = " to ".join(dict.fromkeys(f"{end:.2f}" for end in (min(turns), max(turns))))
    told = f"gear 1, 2, 3, 4: with your friction of 0.5 to 1.5 on the yard either may come first, depending on the grip: from a friction of {ends} up"
    assert [note.startswith(told) for note in notes] == [True] * (says is None)


@pytest.mark.parametrize(
    ("place", "says", "words"),
    [
        (-0.1, False, "the rear spins before the front lifts."),
        (0.1, None, "either comes first, depending on the grip: the front from a friction of "),
        (0.9, None, "either comes first, depending on the grip: the front from a friction of "),
        (1.1, True, "the front lifts before the rear spins."),
    ],
)
def test_a_bare_friction_decides_only_outside_the_band_of_the_one_at_which_it_turns(place, says, words):
    """The friction stands at a place in the band of the turning friction, 0 its lower end and 1 its upper one."""
    turn = front_lift(solved(chassis__bike_cg_height="0.555 +- 0.03 m")).figures["turn"]
    friction = f"{turn.low + place * (turn.high - turn.low):.4f}"
    one = solved(chassis__bike_cg_height="0.555 +- 0.03 m", surface__friction=friction)
    told, answer = contract(one), front_lift(one)
    assert told["gears"][0]["front_lifts_before_rear_spins"] is says
    assert any("gear 1" in note and "either may come first" in note for note in told["notes"]) is (says is None)
    assert f"; with your friction of {float(friction):g} on dry asphalt {words}" in str(answer)
    assert answer.tables[0].rows[0]["first"].startswith({True: "front", False: "rear", None: "either"}[says])


@pytest.mark.parametrize("name", surfaces())
def test_a_known_surface_is_a_range(name):
    """Dry asphalt from 0.6 to 1.2: Baker's table of 1975; a tire's grip on any surface has no single figure."""
    known = surfaces()[name]
    assert known.friction_low <= known.friction < known.friction_high
    one = solved(surface__name=name)
    assert one.bike.friction_range == (known.friction_low, known.friction_high)
    least, most = turning_frictions(one)[0]
    expected = None if known.friction_low < most and least <= known.friction_high else most <= known.friction_low
    assert contract(one)["gears"][0]["front_lifts_before_rear_spins"] is expected
    turn = " to ".join(dict.fromkeys(f"{end:.2f}" for end in (least, most)))
    words = {True: "front lifts", False: "rear spins", None: f"either, front from {turn}"}[expected]
    (table,) = (table for table in front_lift(one).tables if table.title == "What comes first on each surface")
    assert {row["surface"]: row["gear_1"] for row in table.rows}[name] == words


def test_a_shift_that_no_rider_can_make_is_not_offered():
    far, near = solved(), solved(tune__first__points=STRONG)
    for one, reaches in ((far, False), (near, True)):
        told, answer = contract(one), front_lift(one)
        number = told["gears"][0]["rider_shift_to_lift_m"]
        assert (0.0 < number <= MOVES_BACK_M) is reaches  # the figure itself stays what it is
        assert (answer.figures["shift"].value is not None) is reaches
        assert (ValueOf("shift") in answer.say) is reaches
        assert ("no rider can move far enough" in sentence(answer)) is not reaches
        said = [note for note in told["notes"] if "farther than a rider can move" in note and "gear 1" in note]
        assert bool(said) is not reaches


def test_a_rider_who_has_moved_back_has_less_way_left():
    one = solved(tune__first__points=STRONG)
    assert front_lift(one).figures["shift"].value is not None
    assert front_lift(one, moved_back_m=MOVES_BACK_M).figures["shift"].value is None


def test_nobody_rides_behind_the_rear_axle():
    one = solved(
        tune__first__points=STRONG,
        chassis__rider_cg_ahead_of_rear_axle="0.05 m",
        chassis__bike_cg_ahead_of_rear_axle="0.98 m",
    )
    assert 0.05 < contract(one)["gears"][0]["rider_shift_to_lift_m"] < MOVES_BACK_M
    assert front_lift(one).figures["shift"].value is None


def test_how_far_a_rider_moves_is_what_long_arms_straighten_and_little_more():
    """Shoulder to elbow 394 mm and forearm with hand 519 mm are the 95th percentiles of the men of ANSUR II; to the grip it is three
    quarters of the latter (from memory)."""
    upper, fore = 0.394, 0.75 * 0.519
    straightened = upper + fore - (upper**2 + fore**2) ** 0.5
    assert straightened < MOVES_BACK_M < 1.15 * straightened
