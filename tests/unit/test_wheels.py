"""Tires under their rider: defaults are said, and limits compared."""

from __future__ import annotations

import pytest

from ridesim.components.tire import load_allowed, rolling_tire, speed_allowed
from ridesim.components.tire_marking import parse_marking
from ridesim.units import Measured

REAR = parse_marking("120/90-18 M/C 65S")
FRONT = parse_marking("90/90-21 M/C 54S")


def test_defaults_differ_by_position_and_are_said():
    rear, front = rolling_tire(REAR), rolling_tire(FRONT, position="front")
    assert (rear.deflection_m, front.deflection_m) == (0.008, 0.006)
    assert "Static deflection of the rear tire assumed 8.0 mm." in rear.assumptions
    assert any("-2 % to +0.7 %" in line and "belted" in line for line in rear.assumptions)
    assert not any("deflection" in line for line in rolling_tire(REAR, deflection_m=0.008).assumptions)


def test_bands_by_source_of_the_figure():
    def ends(tire):
        return tire.low_m / tire.circumference_m - 1, tire.high_m / tire.circumference_m - 1

    assert ends(rolling_tire(REAR)) == pytest.approx((-0.02, 0.007))
    assert ends(rolling_tire(parse_marking("4.60-18"))) == pytest.approx((-0.04, 0.027))
    assert ends(rolling_tire(REAR, rollout_m=2.075)) == pytest.approx((-0.003, 0.003))
    stated = rolling_tire(REAR, rollout_m=Measured(2.075, 0.004))
    assert (stated.low_m, stated.high_m) == pytest.approx((2.071, 2.079))


def test_steps_hold_the_numbers():
    steps = "\n".join(rolling_tire(REAR, rollout_m=2.075).steps)
    for figure in ("0.457 m + 2 x 0.108 m", "0.673 m", "0.3365", "2.075 m", "0.33025"):
        assert figure in steps


def test_wear_is_not_taken_off_a_measured_roll_out_again():
    new, worn = (rolling_tire(REAR, rollout_m=2.075, worn_m=worn) for worn in (0.0, 0.005))
    assert worn.circumference_m == new.circumference_m and worn.free_radius_m == new.free_radius_m
    assert any("not taken off again" in line for line in worn.assumptions)


def test_notes_warn():
    assert not rolling_tire(REAR, worn_m=0.0).notes[1:]
    assert any("least tread depth" in note for note in rolling_tire(REAR, worn_m=0.004).notes)
    assert any("measure again" in note for note in rolling_tire(REAR, worn_m=0.014).notes)
    assert any("pressure" in note for note in rolling_tire(REAR, deflection_m=0.030).notes)
    assert any("measure again" in note for note in rolling_tire(REAR, rollout_m=1.95).notes)


def test_load_index_and_speed_symbol_allow_up_to_themselves():
    assert load_allowed(REAR, 290.0) is True and load_allowed(REAR, 290.1) is False
    assert speed_allowed(REAR, 50.0) is True and speed_allowed(REAR, 50.1) is False
    unmarked = parse_marking("3.00-21")
    assert load_allowed(unmarked, 100.0) is None and speed_allowed(unmarked, 30.0) is None


def test_a_floor_vouches_up_to_itself_and_leaves_the_rest_open():
    open_end = parse_marking("180/55ZR17")
    assert speed_allowed(open_end, 60.0) is True and speed_allowed(open_end, 80.0) is None
