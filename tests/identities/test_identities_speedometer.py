"""Properties of the speedometer equations that hold whatever the figures."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from ridesim.components.speedometer import (
    SENSORS,
    SpeedometerDrive,
    indicated_limits_un_r39,
    indicated_over_true,
    odometer_over_true,
    outside_un_r39_m_s,
)

pytestmark = pytest.mark.identities

drives = st.builds(
    SpeedometerDrive,
    front_circumference_m=st.floats(1.0, 3.0),
    rear_circumference_m=st.floats(1.0, 3.0),
    final_ratio=st.floats(1.5, 5.0),
)
sensors = st.sampled_from(SENSORS)
speeds = st.floats(0.0, 90.0)


@given(sensors, drives, drives, drives)
def test_changes_chain_and_reverse(sensor, first, second, third):
    one = odometer_over_true(sensor, calibrated=first, now=second)
    two = odometer_over_true(sensor, calibrated=second, now=third)
    assert odometer_over_true(sensor, calibrated=first, now=third) == pytest.approx(one * two, rel=1e-12)
    assert odometer_over_true(sensor, calibrated=second, now=first) == pytest.approx(1.0 / one, rel=1e-12)
    assert odometer_over_true(sensor, calibrated=first, now=first) == pytest.approx(1.0, rel=1e-12)


@given(drives, drives, st.floats(0.5, 2.0))
def test_each_sensor_sees_only_what_turns_it(calibrated, now, factor):
    def changed(**parts):
        values = {
            name: getattr(now, name) * factor if name in parts else getattr(now, name)
            for name in ("front_circumference_m", "rear_circumference_m", "final_ratio")
        }
        return SpeedometerDrive(**values)

    def gain(sensor, part):
        after = odometer_over_true(sensor, calibrated=calibrated, now=changed(**{part: True}))
        return after / odometer_over_true(sensor, calibrated=calibrated, now=now)

    seen = {
        ("front wheel", "front_circumference_m"): 1 / factor,
        ("rear wheel", "rear_circumference_m"): 1 / factor,
        ("countershaft", "rear_circumference_m"): 1 / factor,
        ("countershaft", "final_ratio"): factor,
    }
    for sensor in SENSORS:
        for part in ("front_circumference_m", "rear_circumference_m", "final_ratio"):
            assert gain(sensor, part) == pytest.approx(seen.get((sensor, part), 1.0), rel=1e-12)


@given(sensors, drives, drives, st.floats(-0.2, 0.2))
def test_a_speedometer_that_reads_high_keeps_doing_so(sensor, calibrated, now, high):
    plain = odometer_over_true(sensor, calibrated=calibrated, now=now)
    assert indicated_over_true(sensor, calibrated=calibrated, now=now, reads_high=high) == pytest.approx(
        (1 + high) * plain, rel=1e-12
    )


@given(speeds, st.floats(0.0, 1.0), st.floats(0.01, 5.0))
def test_the_verdict_agrees_with_the_limits(true, share, beyond):
    least, most = indicated_limits_un_r39(true)
    assert outside_un_r39_m_s(true, least + share * (most - least)) == 0.0
    assert outside_un_r39_m_s(true, most + beyond) == pytest.approx(beyond)
    if true > beyond:
        assert outside_un_r39_m_s(true, true - beyond) == pytest.approx(-beyond)


def test_equations_broadcast():
    now = SpeedometerDrive(
        front_circumference_m=2.1, rear_circumference_m=np.array([[2.0], [2.1]]), final_ratio=np.array([2.6, 2.8, 3.0])
    )
    stock = SpeedometerDrive(front_circumference_m=2.1, rear_circumference_m=2.0, final_ratio=2.8)
    assert odometer_over_true("countershaft", calibrated=stock, now=now).shape == (2, 3)
    outside = outside_un_r39_m_s(np.array([10.0, 20.0, 30.0]), 22.0)
    assert list(outside == 0.0) == [False, True, False]
