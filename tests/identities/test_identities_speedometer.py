"""Properties of the speedometer equations that hold whatever the figures."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from ridesim.components.speedometer import (
    SENSORS,
    SpeedometerDrive,
    indicated_limits_un_r39,
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


@given(speeds, st.floats(0.0, 1.0), st.floats(0.01, 5.0))
def test_the_verdict_agrees_with_the_limits(true, share, beyond):
    least, most = indicated_limits_un_r39(true)
    assert outside_un_r39_m_s(true, least + share * (most - least)) == 0.0
    assert outside_un_r39_m_s(true, most + beyond) == pytest.approx(beyond)
    if true > beyond:
        assert outside_un_r39_m_s(true, true - beyond) == pytest.approx(-beyond)
