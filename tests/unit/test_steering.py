"""Steering equations refuse geometry that cannot be."""

from __future__ import annotations

import math

import pytest

from ridesim.components.steering import mechanical_trail_m, rigid_frame, trail_m
from ridesim.errors import InputError

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
