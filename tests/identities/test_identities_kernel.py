"""The kernel against itself and against closed forms: chunks, traces, tail winds, what is found in closed form."""

from __future__ import annotations

from dataclasses import fields as fields_of
from itertools import pairwise

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.integrate import quad
from support.bikes import random_fields, ride_by_stepping, single, single_curve

from ridesim.mechanics.kernel import perform
from ridesim.mechanics.passage import parabola_passage
from ridesim.mechanics.setups import Ride, broadcast
from ridesim.mechanics.torque import cells_of
from ridesim.mechanics.traction import GearRows

pytestmark = pytest.mark.identities
seeds = st.integers(0, 100_000)
RIDES = [
    Ride(),
    Ride(headwind_m_s=-9.0),
    Ride(slope_rad=0.35),
    Ride(slope_rad=-0.15, headwind_m_s=6.0),
    Ride(targets_m_s=(2.0, 20.0, 33.0), distance_m=8.0, roll_on_m_s=(10.0, 15.0)),
]


def many(count, seed=3):
    """Set-ups of bikes that differ in everything, five gears each."""
    rng = np.random.default_rng(seed)
    some = [{**random_fields(rng), "ratios": single()["ratios"] * rng.uniform(0.6, 1.6)} for _ in range(count)]
    return broadcast({name: np.array([one[name] for one in some]) for name in some[0]})


def same(a, b):
    """Every figure of two performances, the trace aside, to a billionth."""
    for part in ("gears", "cruise", "run"):
        for field in fields_of(getattr(a, part)):
            if not field.name.startswith("trace"):
                one, other = (np.asarray(getattr(getattr(p, part), field.name), dtype=float) for p in (a, b))
                np.testing.assert_allclose(one, other, rtol=1e-9, atol=1e-12, err_msg=f"{part}.{field.name}")
    np.testing.assert_allclose(a.roll_on_s, b.roll_on_s, rtol=1e-9)


@pytest.mark.parametrize("ride", RIDES, ids=range(len(RIDES)))
def test_neither_chunks_nor_the_trace_change_a_figure(ride):
    setups, curve = many(40), single_curve()
    whole = perform(setups, curve, ride)
    same(whole, perform(setups, curve, ride, chunk=7, trace=False))
    order = np.random.default_rng(0).permutation(40)
    mixed = perform(setups.take(order), curve, ride, trace=False)
    np.testing.assert_allclose(mixed.run.times_s, whole.run.times_s[order], rtol=1e-9)
    assert mixed.run.trace_time_s.shape == (40, 0)


@pytest.mark.parametrize("ride", RIDES, ids=range(len(RIDES)))
def test_the_trace_rises_and_meets_the_times(ride):
    run = perform(many(20, 8), single_curve(), ride).run
    for n in range(20):
        there = np.isfinite(run.trace_time_s[n])
        time, distance, speed = (a[n][there] for a in (run.trace_time_s, run.trace_distance_m, run.trace_speed_m_s))
        assert (np.diff(time) >= 0).all() and (np.diff(distance) >= -1e-12).all()
        for target, at in zip(ride.targets_m_s, run.times_s[n], strict=True):
            if np.isfinite(at):
                assert speed[time >= at * (1 - 1e-9)].size == 0 or speed[time >= at * (1 - 1e-9)].max() >= target * (
                    1 - 1e-9
                )
                before = speed[time < at * (1 - 1e-9)]
                assert before.size == 0 or before.max() <= target * (1 + 1e-9)


@pytest.mark.parametrize("seed", range(24))
def test_tail_winds_and_descents_agree_with_stepping_through_time(seed):
    """The wind falls calm on the way, and a target may be passed in a shift: within 0.01 % of solve_ivp at rtol 1e-10."""
    rng = np.random.default_rng(1000 + seed)
    fields, curve = random_fields(rng), single_curve()
    ride = Ride(slope_rad=float(rng.uniform(-0.2, 0.03)), headwind_m_s=float(rng.uniform(-20, -3)))
    result = perform(broadcast(fields), curve, ride, trace=False)
    stepped = ride_by_stepping(fields, curve, ride, result.gears.upshift_rad_s[0], result.run.launch_rad_s)
    for n in range(2):
        mine = result.run.times_s[0, n]
        assert (mine == pytest.approx(stepped[f"v{n}"], rel=1e-4)) if f"v{n}" in stepped else np.isnan(mine)
    assert result.run.distance_time_s[0] == pytest.approx(stepped["distance"], rel=1e-4)


@settings(max_examples=25, deadline=None)
@given(seed=seeds)
def test_a_roll_on_is_the_integral_it_stands_for(seed):
    """Metres for each radian over the engine's acceleration, by scipy's quad between the pieces of the curve."""
    fields = random_fields(np.random.default_rng(seed))
    rows = GearRows(broadcast(fields), cells_of(single_curve()), Ride())
    times = perform(rows.setups, single_curve(), Ride(), trace=False).roll_on_s[0]
    for k in np.nonzero(np.isfinite(times))[0]:
        meters, gear = rows["meters_per_radian"][k], rows.take(np.array([k]))
        ends = [v / meters for v in Ride().roll_on_m_s]
        cuts = [ends[0], *(e for e in rows.cells.edges if ends[0] < e < ends[1]), ends[1]]
        parts = [
            quad(lambda w: meters / gear.at(w).engine[0], a, b, epsabs=0, epsrel=1e-11)[0]  # noqa: B023
            for a, b in pairwise(cuts)
        ]
        assert times[k] == pytest.approx(sum(parts), rel=2e-5)


@settings(max_examples=60, deadline=None)
@given(seed=seeds, share=st.floats(1e-9, 0.9), rising=st.booleans())
def test_to_within_a_hair_of_top_speed_by_partial_fractions(seed, share, rising):
    """a = k (v - top)(v - other), the end next to the top or the beginning next to a stall: time and distance by logarithms."""
    rng = np.random.default_rng(seed)
    top, other, k = 30.0, rng.choice([rng.uniform(40, 300), -rng.uniform(20, 300)]), rng.uniform(1e-5, 1e-3)
    k *= np.sign(other - top) * (-1.0 if rising else 1.0)
    near = top * (1.0 + share if rising else 1.0 - share)
    low, high = (near, 1.25 * near) if rising else (0.8 * near, near)
    if not high - low > 0.0 or (rising and low < other < high):
        return
    values = [np.array([k * (v - top) * (v - other)]) for v in (low, 0.5 * (low + high), high)]
    if min(values) <= 0.0:
        return
    time, distance, bend = parabola_passage(np.array([low]), np.array([high - low]), *values)
    logs = np.log((high - top) / (low - top)), np.log((high - other) / (low - other))
    assert time[0] == pytest.approx((logs[0] - logs[1]) / (k * (top - other)), rel=3e-6)
    if bend[0] < 0.02:  # the distance is to the first order in it, and what bends by more is cut
        assert distance[0] == pytest.approx((top * logs[0] - other * logs[1]) / (k * (top - other)), rel=1e-4)
