"""The front wheel at the moment it lifts: moments and momentum written down by themselves."""

from __future__ import annotations

import pytest
import tomlkit
from support.bikes import single, single_curve

from ridesim import reference
from ridesim.bike import make_bike
from ridesim.buildfile.io import parse
from ridesim.mechanics.kernel import perform
from ridesim.mechanics.setups import Ride, broadcast
from ridesim.units import G

pytestmark = pytest.mark.identities
DEMO = reference.DATA / "demo" / "coast-single.toml"


def highest(**changes) -> float:
    return float(perform(broadcast(single(**changes)), single_curve(), Ride()).gears.lift_ratio[0, 0])


def test_the_front_wheels_own_inertia_does_not_matter_when_it_lifts():
    """The ground turns a wheel only as far as it carries load: at none, a heavy wheel lifts as a light one of the same mass."""
    assert highest(front_inertia_kg_m2=0.9) == pytest.approx(highest(front_inertia_kg_m2=0.0), rel=1e-12)
    assert highest(rear_inertia_kg_m2=0.9) != pytest.approx(highest(rear_inertia_kg_m2=0.0), rel=1e-3)


def test_it_goes_on_holding_the_bike_back_in_the_runs():
    def roll_on(inertia: float) -> float:
        setups = broadcast(single(front_inertia_kg_m2=inertia))
        return float(perform(setups, single_curve(), Ride()).roll_on_s[0, 2])

    mass = broadcast(single(front_inertia_kg_m2=0.0)).effective_mass[0, 2]
    assert roll_on(0.9) / roll_on(0.0) == pytest.approx(1.0 + 0.9 / 0.34**2 / mass, rel=1e-6)


def test_wheel_loads_that_stand_ahead_lift_as_a_centre_of_mass_farther_back():
    assert highest(ahead_m=0.64, rolling_offset_m=0.01) == pytest.approx(
        highest(ahead_m=0.63, rolling_offset_m=0.0), rel=1e-9
    )


def test_every_moment_about_the_rear_contact_at_the_moment_of_lift():
    """The weight and the drag on one side, the rates of change of every momentum on the other."""
    s = broadcast(single(crank_sense=-1.0))
    g = perform(s, single_curve(), Ride()).gears
    w = g.lift_speed_rad_s[0, 0]
    i, r, m = s.ratios[0, 0], s.rear_radius_m[0], s.mass_kg[0]
    v = w * r / i
    drag = s.f2_n_s2_m2[0] * v**2
    thrust = single_curve().torque_at(w) * i * s.efficiency[0] / r
    a = (thrust - s.f0_n[0] - drag) / (
        m + s.rear_inertia_kg_m2[0] / r**2 + s.efficiency[0] * s.crank_inertia_kg_m2[0] * (i / r) ** 2
    )
    spin = s.rear_inertia_kg_m2[0] / r - s.crank_inertia_kg_m2[0] * i / r
    down = m * G * (s.ahead_m[0] - s.rolling_offset_m[0]) - drag * s.drag_height_m[0]
    assert g.lift_ratio[0, 0] == pytest.approx(a * (m * s.height_m[0] + spin) / down, rel=1e-9)


@pytest.mark.parametrize(
    ("road_load", "force_n"),
    [
        ({"drag_area": 0.6, "rolling_resistance": 0.02}, None),
        ({"coast_down": ["60 N", "0 N/(m/s)", "0.4 N/(m/s)^2"]}, 60.0),
        ({"standard": "40 CFR 86.529-98"}, 0.0),
    ],
)
def test_how_far_ahead_the_loads_stand(road_load, force_n):
    """e = Crr r, or F0 r / (m g) by the rider's own coast-down; the table's constant term is no rolling resistance."""
    document = tomlkit.parse(DEMO.read_text(encoding="utf-8"))
    document["road_load"] = road_load
    s = make_bike(parse(tomlkit.dumps(document))).setups
    expected = 0.02 if force_n is None else force_n / (s.mass_kg[0] * G)
    assert s.rolling_offset_m[0] == pytest.approx(expected * s.rear_radius_m[0], rel=1e-12)
