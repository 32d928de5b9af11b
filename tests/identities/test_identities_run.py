"""The run by quadrature against closed forms, and against the equation of motion stepped through time."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from support.bikes import one, random_fields, ride_by_stepping, single, single_curve

from ridesim import reference
from ridesim.answers import solve, standing_run
from ridesim.bike import make_bike
from ridesim.buildfile.io import read
from ridesim.components.power_curve import PowerCurve
from ridesim.mechanics.kernel import perform
from ridesim.mechanics.passage import NEVER_S, parabola_passage
from ridesim.mechanics.setups import Ride, broadcast

pytestmark = pytest.mark.identities


def crossed(low: float, high: float, pulls) -> tuple[float, float]:
    """Time and distance by one parabola from one road speed to another."""
    values = [np.array([pulls(v)]) for v in (low, 0.5 * (low + high), high)]
    time, distance, _ = parabola_passage(np.array([low]), np.array([high - low]), *values)
    return float(time[0]), float(distance[0])


def test_constant_thrust_with_quadratic_drag_is_the_hyperbolic_tangent():
    """m dv/dt = F - R - k v^2 from rest to 100 km/h: t = tau artanh(v/vt), x = m/2k ln(vt^2/(vt^2 - v^2))."""
    m, force, rolling, k, v = 250.0, 1500.0, 36.7749, 0.36, 100 / 3.6
    time, distance = crossed(0.0, v, lambda v: (force - rolling - k * v**2) / m)
    vt = np.sqrt((force - rolling) / k)
    assert time == pytest.approx(m / (k * vt) * np.arctanh(v / vt), rel=1e-6)
    assert distance == pytest.approx(m / (2 * k) * np.log(vt**2 / (vt**2 - v**2)), rel=1e-6)


def test_beyond_top_speed_there_is_no_time():
    assert crossed(0.0, 40.0, lambda v: (400.0 - 0.36 * v**2) / 250.0)[0] > NEVER_S


def test_constant_power_without_drag():
    """Full power held through the roll-on: t = m (v2^2 - v1^2) / 2P. A curve of constant power at many points is nearly that."""
    speeds = np.linspace(200.0, 800.0, 400)
    power = 30e3
    curve = PowerCurve(engine_speed_rad_s=speeds, torque_n_m=power / speeds)
    fields = single(
        ratios=np.array([8.0]),
        front_inertia_kg_m2=0.0,
        rear_inertia_kg_m2=0.0,
        crank_inertia_kg_m2=0.0,
        f0_n=0.0,
        f2_n_s2_m2=0.0,
        efficiency=1.0,
    )
    r = float(fields["rear_radius_m"])
    v1, v2 = 250.0 * r / 8.0, 750.0 * r / 8.0
    roll_on = perform(broadcast(fields), curve, Ride(roll_on_m_s=(v1, v2))).roll_on_s[0, 0]
    assert roll_on == pytest.approx(249.0 * (v2**2 - v1**2) / (2 * power), rel=1e-6)


@pytest.mark.parametrize("seed", range(50))
def test_the_run_agrees_with_stepping_through_time(seed):
    """Within 0.05 % of solve_ivp at rtol 1e-10, on 50 made-up bikes with limits, shifts, slopes and winds."""
    rng = np.random.default_rng(seed)
    fields = random_fields(rng)
    ride = Ride(slope_rad=float(rng.uniform(-0.03, 0.06)), headwind_m_s=float(rng.uniform(-12, 8)))
    curve = single_curve()
    result = perform(broadcast(fields), curve, ride)
    stepped = ride_by_stepping(fields, curve, ride, result.gears.upshift_rad_s[0], result.run.launch_rad_s)
    for n in range(2):
        mine = result.run.times_s[0, n]
        assert (mine == pytest.approx(stepped[f"v{n}"], rel=5e-4)) if f"v{n}" in stepped else np.isnan(mine)
    assert result.run.distance_time_s[0] == pytest.approx(stepped["distance"], rel=5e-4)


def test_a_hill_that_is_too_steep_gives_no_time_and_no_warning():
    result = perform(one(), single_curve(), Ride(slope_rad=1.2))
    assert np.isnan(result.run.times_s).all()
    assert np.isnan(result.top_speed_m_s[0])


def test_every_drawn_point_of_a_run_is_when_its_speed_is_first_reached():
    solved = solve(make_bike(read(reference.DATA / "demo" / "coast-single.toml")), bands=False)
    drawn = standing_run(solved).series
    climbing = (
        np.maximum.accumulate(drawn["speed_m_s"]) <= drawn["speed_m_s"]
    )  # a shift coasts, and passes speeds again
    some = np.nonzero(climbing & (drawn["speed_m_s"] > 0.0))[0][::7]
    assert len(some) > 12
    ride = replace(solved.ride, targets_m_s=tuple(drawn["speed_m_s"][some]))
    reached = solve(solved.bike, ride, bands=False).performance.run.times_s[0]
    # pieces of another length: near top speed the quadratures differ by 1e-7
    np.testing.assert_allclose(drawn["time_s"][some], reached, rtol=1e-6)
    assert np.max(np.diff(drawn["speed_m_s"][1:])) < 1.5  # no corner of the line is seen


def test_targets_asked_together_are_timed_as_each_alone_also_inside_a_shift_downhill():
    """Down a steep hill the bike gains speed while it shifts: some targets fall inside a shift, most do not."""
    setups, targets = one(shift_time_s=0.8), tuple(np.linspace(4.0, 34.0, 31))
    ride = Ride(slope_rad=-0.3, rev_limit_rad_s=single_curve().last_rad_s)
    together = perform(setups, single_curve(), replace(ride, targets_m_s=targets)).run.times_s[0]
    alone = [perform(setups, single_curve(), replace(ride, targets_m_s=(v,))).run.times_s[0, 0] for v in targets]
    np.testing.assert_allclose(together, alone, rtol=1e-12)
    assert np.all(np.diff(together) > 0)
