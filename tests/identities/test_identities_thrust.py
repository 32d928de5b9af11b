"""Lift, climb, top speed and shift points against the equations they solve."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.optimize import brentq
from support.bikes import one, random_fields, single, single_curve

from ridesim.mechanics.equations import front_load_n
from ridesim.mechanics.kernel import perform
from ridesim.mechanics.setups import Ride, broadcast
from ridesim.mechanics.torque import cells_of
from ridesim.mechanics.traction import GearRows
from ridesim.units import G

pytestmark = pytest.mark.identities
seeds = st.integers(0, 100_000)


def rows_of(fields, ride=None) -> GearRows:
    return GearRows(broadcast(fields), cells_of(single_curve()), ride or Ride())


@settings(max_examples=60, deadline=None)
@given(seed=seeds)
def test_the_front_carries_nothing_at_the_lift_acceleration(seed):
    rng = np.random.default_rng(seed)
    ride = Ride(slope_rad=float(rng.uniform(-0.2, 0.3)), headwind_m_s=float(rng.uniform(-10, 15)))
    rows = rows_of(random_fields(rng), ride)
    forces = rows.at(rng.uniform(rows.cells.first, rows.cells.last, len(rows)))
    places = (rows[name] for name in ("mass_kg", "load_arm_m", "height_m", "wheelbase_m"))
    load = front_load_n(forces.lift, *places, ride.slope_rad, forces.drag, rows["drag_height_m"], rows["lift_moment"])
    np.testing.assert_allclose(load, 0.0, atol=1e-9 * rows["mass_kg"][0] * G)


@settings(max_examples=40, deadline=None)
@given(seed=seeds)
def test_the_lift_window_ends_where_the_ratio_is_one(seed):
    fields = random_fields(np.random.default_rng(seed)) | {"torque_factor": 2.2, "height_m": 0.95}
    rows = rows_of(fields)
    g = perform(rows.setups, single_curve(), rows.ride).gears
    for edge in (g.lift_from_rad_s[0], g.lift_to_rad_s[0]):
        known = np.isfinite(edge)
        inside = known & (edge > rows.cells.first * (1 + 1e-9)) & (edge < rows.cells.last * (1 - 1e-9))
        forces = rows.at(np.where(known, edge, rows.cells.first))
        # both may be below zero where the air alone makes the front light: then there is no ratio, but the window ends all the same
        a = (forces.net / rows["lift_mass"])[inside]  # the front wheel is not spun as it lifts
        np.testing.assert_allclose(a, forces.lift[inside], rtol=1e-8, atol=1e-8)
    assert (np.isfinite(g.lift_from_rad_s) == (g.lift_ratio >= 1.0)).all()


@settings(max_examples=40, deadline=None)
@given(seed=seeds)
def test_moving_the_rider_back_by_the_answer_just_lifts_the_front(seed):
    fields = random_fields(np.random.default_rng(seed))
    setups = broadcast(fields)
    g = perform(setups, single_curve(), Ride()).gears
    shift = g.rider_shift_m[0, 0]
    moved = broadcast(fields | {"ahead_m": setups.ahead_m - shift * setups.rider_kg / setups.mass_kg})
    lifted = perform(moved, single_curve(), Ride()).gears.lift_ratio[0, 0]
    assert lifted == pytest.approx(1.0, rel=2e-5) if shift > 0 else lifted >= 1.0


@settings(max_examples=40, deadline=None)
@given(seed=seeds, wind=st.floats(-15, 20))
def test_at_top_speed_the_thrust_is_used_up(seed, wind):
    rows = rows_of(random_fields(np.random.default_rng(seed)), Ride(headwind_m_s=wind))
    g = perform(rows.setups, single_curve(), rows.ride).gears
    w = g.top_speed_m_s[0] / rows["meters_per_radian"]
    by_power = np.isfinite(w) & ~g.limited_by_revs[0]
    net = rows.at(np.where(np.isfinite(w), w, rows.cells.first)).net
    np.testing.assert_allclose(net[by_power], 0.0, atol=1e-6)
    assert (net[g.limited_by_revs[0]] >= 0).all()


@settings(max_examples=30, deadline=None)
@given(seed=seeds)
def test_the_upshift_is_where_the_two_gears_pull_alike(seed):
    """Found again by scipy's brentq on the two accelerations against road speed."""
    rows = rows_of(random_fields(np.random.default_rng(seed)))
    up = perform(rows.setups, single_curve(), rows.ride).gears.upshift_rad_s[0]
    meters, first, last = rows["meters_per_radian"], rows.cells.first, rows.cells.last

    def lead(v, k):
        a = rows.at(np.clip(v / meters, first, last)).engine
        return a[k] - a[k + 1]

    for k in range(len(meters) - 1):
        v = up[k] * meters[k]
        if up[k] == pytest.approx(last, rel=1e-12):
            assert lead(last * meters[k], k) >= -1e-9
        elif v > first * meters[k + 1] * (1 + 1e-6):
            assert brentq(lead, v * 0.999, v * 1.001, args=(k,)) == pytest.approx(v, rel=1e-8)
    assert np.isnan(up[-1])


@settings(max_examples=40, deadline=None)
@given(seed=seeds)
def test_the_hill_and_the_wind_said_to_be_held_are_just_held(seed):
    fields = random_fields(np.random.default_rng(seed))
    ride = Ride(cruise_m_s=22.0)
    result = perform(broadcast(fields), single_curve(), ride).cruise
    for k in np.nonzero(result.holds[0])[0]:
        w = result.engine_speed_rad_s[0]
        inside = np.where(np.isfinite(w), w, single_curve().first_rad_s)
        uphill = rows_of(fields, Ride(cruise_m_s=22.0, slope_rad=float(result.slope_held_rad[0, k])))
        windy = rows_of(fields, Ride(cruise_m_s=22.0, headwind_m_s=float(result.headwind_held_m_s[0, k])))
        if np.isfinite(uphill.ride.slope_rad):  # nan where the wheel force is above the weight
            assert uphill.at(inside).net[k] == pytest.approx(0.0, abs=1e-6)
        assert windy.at(inside).net[k] == pytest.approx(0.0, abs=1e-6)


def test_grip_decides_what_comes_first():
    """At the friction where it turns the rear tire lets go at the very acceleration that lifts; with less of it before."""
    turns = perform(one(), single_curve(), Ride()).gears
    w = turns.lift_speed_rad_s
    for k, friction in enumerate(turns.lift_friction[0]):
        assert 0.3 < friction < 1.2
        for factor in (0.99, 1.0, 1.01):
            # no wheel spun up front at that moment: its inertia is left out of the force that the contact must bear
            forces = rows_of(single(friction=friction * factor, front_inertia_kg_m2=0.0)).at(w[0])
            lead = forces.spin[k] / forces.lift[k] - 1.0
            assert np.sign(round(lead, 9)) == np.sign(factor - 1.0)


def test_a_crank_that_turns_backward_keeps_the_front_down():
    forward = perform(one(crank_sense=1.0), single_curve(), Ride()).gears.lift_ratio[0, 0]
    backward = perform(one(crank_sense=-1.0), single_curve(), Ride()).gears.lift_ratio[0, 0]
    assert backward < forward


@settings(max_examples=25, deadline=None)
@given(scale=st.floats(0.3, 3.0), seed=seeds)
def test_scaling_every_force_and_mass_leaves_the_motion_alone(scale, seed):
    """Masses, inertias, torque and resistance all times one number: every acceleration, time and speed stays."""
    fields = random_fields(np.random.default_rng(seed))
    heavy = dict(fields)
    for name in fields:
        if name == "torque_factor" or name.endswith(("_kg", "_kg_m2", "_n", "_n_s_m", "_n_s2_m2")):
            heavy[name] = np.asarray(fields[name]) * scale
    a, b = (perform(broadcast(f), single_curve(), Ride()) for f in (fields, heavy))
    np.testing.assert_allclose(a.run.times_s, b.run.times_s, rtol=1e-7)
    np.testing.assert_allclose(a.gears.lift_ratio, b.gears.lift_ratio, rtol=1e-9)
    np.testing.assert_allclose(a.gears.top_speed_m_s, b.gears.top_speed_m_s, rtol=1e-9)
