"""Tires under their rider, speedometer and steering: defaults are said, impossible figures refused, limits compared."""

from __future__ import annotations

import math

import numpy as np
import pytest

from ridesim.components.speedometer import (
    SpeedometerDrive,
    indicated_limits_un_r39,
    indicated_over_true,
    odometer_over_true,
    outside_un_r39_m_s,
)
from ridesim.components.steering import mechanical_trail_m, rigid_frame, trail_m
from ridesim.components.tire import load_allowed, rolling_tire, speed_allowed
from ridesim.components.tire_dimensions import (
    chord_rolling_circumference_m,
    equivalent_rear_teeth,
    gearing_change,
    loaded_radius_m,
    roll_out_circumference_m,
    worn_diameter_m,
)
from ridesim.components.tire_marking import parse_marking
from ridesim.errors import InputError
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


@pytest.mark.parametrize(
    "bad, where",
    [({"deflection_m": -0.001}, "tires.rear.deflection"), ({"deflection_m": 0.108}, "tires.rear.deflection"),
     ({"deflection_m": float("nan")}, "tires.rear.deflection"),
     ({"deflection_m": float("inf")}, "tires.rear.deflection"), ({"worn_m": -0.001}, "tires.rear.worn"),
     ({"worn_m": 0.108}, "tires.rear.worn"), ({"worn_m": float("nan")}, "tires.rear.worn"),
     ({"worn_m": 0.060, "deflection_m": 0.050}, "tires.rear.deflection"), ({"rollout_m": 0.0}, "tires.rear.rollout"),
     ({"rollout_m": -2.0}, "tires.rear.rollout"), ({"rollout_m": 4.15}, "tires.rear.rollout"),
     ({"rollout_m": float("nan")}, "tires.rear.rollout"), ({"position": "middle"}, "position")],
)  # fmt: skip
def test_impossible_figures_are_refused_where_they_stand(bad, where):
    with pytest.raises(InputError) as refusal:
        rolling_tire(REAR, **bad)
    assert refusal.value.where == where and refusal.value.fix


def test_the_place_in_the_file_can_be_named():
    with pytest.raises(InputError) as refusal:
        rolling_tire(REAR, worn_m=-1.0, where="choose.rear_tires")
    assert refusal.value.where == "choose.rear_tires.worn"


@pytest.mark.parametrize(
    "call",
    [lambda: chord_rolling_circumference_m(0.3, 0.3), lambda: chord_rolling_circumference_m(0.3, [0.01, -0.01]),
     lambda: loaded_radius_m(0.3, float("nan")), lambda: worn_diameter_m(0.6, 0.3),
     lambda: worn_diameter_m(0.6, -0.001), lambda: roll_out_circumference_m(0.0, 5),
     lambda: roll_out_circumference_m(10.0, 0), lambda: roll_out_circumference_m(float("inf"), 5),
     lambda: gearing_change(0.0, 2.0), lambda: gearing_change(2.0, float("nan")),
     lambda: equivalent_rear_teeth(0, 2.0, 2.0)],
)  # fmt: skip
def test_equations_refuse_what_they_do_not_cover(call):
    with pytest.raises(InputError):
        call()


def test_load_index_and_speed_symbol_allow_up_to_themselves():
    assert load_allowed(REAR, 290.0) is True and load_allowed(REAR, 290.1) is False
    assert speed_allowed(REAR, 50.0) is True and speed_allowed(REAR, 50.1) is False
    unmarked = parse_marking("3.00-21")
    assert load_allowed(unmarked, 100.0) is None and speed_allowed(unmarked, 30.0) is None


def test_a_floor_vouches_up_to_itself_and_leaves_the_rest_open():
    open_end = parse_marking("180/55ZR17")
    assert speed_allowed(open_end, 60.0) is True and speed_allowed(open_end, 80.0) is None


@pytest.mark.parametrize("value", [0.0, -1.0, float("nan"), float("inf")])
def test_checks_refuse_what_is_no_load_or_speed(value):
    with pytest.raises(InputError):
        load_allowed(REAR, value)
    with pytest.raises(InputError):
        speed_allowed(REAR, value)


STOCK = SpeedometerDrive(front_circumference_m=2.15, rear_circumference_m=2.07, final_ratio=45 / 16)


def test_one_tooth_in_front_moves_only_the_countershaft_reading():
    shorter = SpeedometerDrive(front_circumference_m=2.15, rear_circumference_m=2.07, final_ratio=45 / 15)
    assert odometer_over_true("front wheel", calibrated=STOCK, now=shorter) == 1.0
    assert odometer_over_true("rear wheel", calibrated=STOCK, now=shorter) == 1.0
    assert odometer_over_true("countershaft", calibrated=STOCK, now=shorter) == pytest.approx(16 / 15)


def test_an_unknown_sensor_gets_the_known_ones():
    with pytest.raises(InputError) as refusal:
        odometer_over_true("rear whel", calibrated=STOCK, now=STOCK)
    assert refusal.value.where == "speedometer.sensor" and "rear wheel" in refusal.value.fix


@pytest.mark.parametrize("part", ["front_circumference_m", "rear_circumference_m", "final_ratio"])
@pytest.mark.parametrize("value", [0.0, -1.0, float("nan"), float("inf"), [2.0, 0.0]])
def test_a_drive_needs_positive_figures(part, value):
    parts = {"front_circumference_m": 2.0, "rear_circumference_m": 2.0, "final_ratio": 2.8, part: value}
    with pytest.raises(InputError) as refusal:
        SpeedometerDrive(**parts)
    assert refusal.value.where == f"speedometer.{part}"


@pytest.mark.parametrize("high", [-1.0, float("nan"), float("inf")])
def test_reads_high_must_be_a_share(high):
    with pytest.raises(InputError):
        indicated_over_true("rear wheel", calibrated=STOCK, now=STOCK, reads_high=high)


@pytest.mark.parametrize("speed", [-0.1, float("nan"), float("inf")])
def test_limits_and_verdicts_refuse_what_is_no_speed(speed):
    with pytest.raises(InputError):
        indicated_limits_un_r39(speed)
    with pytest.raises(InputError):
        outside_un_r39_m_s(20.0, speed)


def test_true_speed_itself_passes_and_less_does_not():
    assert outside_un_r39_m_s(27.3, 27.3) == 0.0 > outside_un_r39_m_s(27.3, 27.2)
    np.testing.assert_allclose(outside_un_r39_m_s([20.0, 20.0], [20.0, 30.0]), [0.0, 30.0 - 22.0 - 4 / 3.6])


PARTS = {
    "front_radius_m": 0.3475,
    "rear_radius_m": 0.320,
    "new_front_radius_m": 0.3475,
    "new_rear_radius_m": 0.320,
    "wheelbase_m": 1.450,
    "rake_rad": 0.47,
    "fork_offset_m": 0.045,
}


@pytest.mark.parametrize(
    "call",
    [lambda: trail_m(0.0, 0.4, 0.04), lambda: trail_m(0.3, math.pi / 2, 0.04),
     lambda: mechanical_trail_m(0.3, -0.1, 0.04), lambda: rigid_frame(**PARTS | {"wheelbase_m": 0.0}),
     lambda: rigid_frame(**PARTS | {"new_front_radius_m": -0.3}),
     lambda: rigid_frame(**PARTS | {"new_front_radius_m": 3.0})],
)  # fmt: skip
def test_impossible_geometry_is_refused(call):
    with pytest.raises(InputError):
        call()


def test_no_change_is_no_change():
    change = rigid_frame(**PARTS)
    assert change.rake_change_rad == 0.0 and change.trail_m == trail_m(0.3475, 0.47, 0.045)
    assert change.wheelbase_m == pytest.approx(1.450, abs=1e-15)
