"""The speedometer refuses what it cannot place, and ends of the range count as inside."""

from __future__ import annotations

import numpy as np
import pytest

from ridesim.components.speedometer import (
    SpeedometerDrive,
    indicated_limits_un_r39,
    indicated_over_true,
    odometer_over_true,
    outside_un_r39_m_s,
)
from ridesim.errors import InputError

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
