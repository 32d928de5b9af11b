"""Properties of rake, trail and clearance, and the rigid frame beside the short forms."""

from __future__ import annotations

import math

import pytest
from hypothesis import given
from hypothesis import strategies as st

from ridesim.components.steering import rigid_frame

pytestmark = pytest.mark.identities

radii = st.floats(0.25, 0.36)
rakes = st.floats(0.3, 0.6)
offsets = st.floats(-0.02, 0.09)
frames = st.fixed_dictionaries(
    {
        "front_radius_m": radii,
        "rear_radius_m": radii,
        "wheelbase_m": st.floats(1.2, 1.7),
        "rake_rad": rakes,
        "fork_offset_m": offsets,
    }
)
BASE = {
    "front_radius_m": 0.3475,
    "rear_radius_m": 0.320,
    "wheelbase_m": 1.450,
    "rake_rad": math.radians(27),
    "fork_offset_m": 0.045,
    "point_ahead_m": 0.725,
    "point_height_m": 0.300,
}

# Worked out apart from this code, from the rigid frame, for 90/90-21 and 130/80-17 at 1450 mm:
# new front radius, new rear radius, rake [deg], rake change [deg], trail [mm], wheelbase [mm], height of the point [mm]
WORKED = [
    (0.3475, 0.3405, 26.1900, -0.8100, 120.768, 1450.24, 310.25),
    (0.3000, 0.3200, 25.1233, -1.8767, 90.977, 1450.12, 276.27),
    (0.3575, 0.3300, 27.0000, 0.0000, 131.651, 1450.00, 310.00),
]


@pytest.mark.parametrize("front, rear, rake, d_rake, trail, wheelbase, height", WORKED)
def test_rigid_frame_agrees_with_figures_worked_out_apart(front, rear, rake, d_rake, trail, wheelbase, height):
    change = rigid_frame(**BASE, new_front_radius_m=front, new_rear_radius_m=rear)
    assert math.degrees(change.rake_rad) == pytest.approx(rake, abs=5e-5)
    assert math.degrees(change.rake_change_rad) == pytest.approx(d_rake, abs=5e-5)
    assert 1000 * change.trail_m == pytest.approx(trail, abs=5e-4)
    assert 1000 * change.wheelbase_m == pytest.approx(wheelbase, abs=5e-3)
    assert 300 + 1000 * change.clearance_change_m == pytest.approx(height, abs=5e-3)


@given(frames, radii, radii)
def test_the_axles_rise_by_their_own_tires(frame, new_front, new_rear):
    parts, front = frame | {"new_front_radius_m": new_front, "new_rear_radius_m": new_rear}, frame["front_radius_m"]
    at_rear = rigid_frame(**parts)
    at_front = rigid_frame(**parts, point_ahead_m=frame["wheelbase_m"], point_height_m=front)
    assert at_rear.clearance_change_m == pytest.approx(new_rear - frame["rear_radius_m"], abs=1e-12)
    assert at_front.clearance_change_m == pytest.approx(new_front - front, abs=1e-12)
