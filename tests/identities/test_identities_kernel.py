"""The kernel against itself, closed forms and the motion stepped through time, also where a look at a few places would miss things."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import fields as fields_of
from dataclasses import replace
from itertools import pairwise

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from support.bikes import Stepped, one, random_fields, single, single_curve

from ridesim import reference
from ridesim.answers import solve, standing_run
from ridesim.bike import make_bike
from ridesim.buildfile.io import read
from ridesim.components.power_curve import PowerCurve
from ridesim.mechanics.kernel import perform
from ridesim.mechanics.passage import _SERIES, NEVER_S, parabola_passage
from ridesim.mechanics.setups import Ride, broadcast
from ridesim.mechanics.torque import cells_of
from ridesim.mechanics.traction import GearRows
from ridesim.units import rad_s

pytestmark = pytest.mark.identities


def humps(low: float, hollow: float, high: float) -> PowerCurve:
    """Two humps with a hollow between; their tops lie between the places the kernel looks at."""
    points = np.array(
        [[2000, 24], [2930, low], [3870, hollow], [5210, hollow * 0.97], [6170, high], [6330, high], [7500, 24]]
    )
    return PowerCurve(engine_speed_rad_s=rad_s(points[:, 0]), torque_n_m=points[:, 1])


LATE = PowerCurve(  # comes on late: in a tall gear the acceleration sags and rises again
    engine_speed_rad_s=rad_s(np.array([1900.0, 2850, 3800, 4750, 5700, 6650, 7550])),
    torque_n_m=np.array([13.8, 14.4, 16.2, 23.7, 36.6, 38.5, 26.2]),
)


def rows_of(fields: dict, curve: PowerCurve | None = None, ride: Ride | None = None) -> GearRows:
    return GearRows(broadcast(fields), cells_of(curve or single_curve()), ride or Ride())


def finely(rows: GearRows, count: int = 40_001) -> tuple[np.ndarray, np.ndarray]:
    """Engine speeds and the accelerations of every gear of one set-up there, by the kernel's formulas but not its looks."""
    w = np.linspace(rows.cells.first, rows.cells.last, count)
    return w, rows.at(w[:, None]).engine.T


def turns(holds: Callable[[float], bool], low: float, high: float) -> float:
    """Where something begins to hold, by halving, from just above."""
    for _ in range(50):
        middle = 0.5 * (low + high)
        low, high = (low, middle) if holds(middle) else (middle, high)
    return high


@pytest.mark.parametrize("spare", [-1e-6, 1e-6, 2e-3])
def test_a_hump_that_barely_holds_a_speed_is_not_overlooked(spare):
    """The torque is set so that the upper hump of one gear misses holding a speed, or holds it, by next to nothing."""
    curve, k = humps(40.0, 26.0, 41.0), 3
    ride = Ride(slope_rad=0.05)

    def rows(factor: float) -> GearRows:
        return rows_of(single(torque_factor=factor), curve, ride)

    def upper(factor: float) -> float:
        w, a = finely(rows(factor))
        return float(a[k][w > float(rad_s(4500.0))].max())

    one = rows(turns(lambda factor: upper(factor) > 0, 0.1, 3.0) * (1 + spare))
    w, a = finely(one)
    holds = np.nonzero(a[k] >= 0)[0]
    top = perform(one.setups, curve, ride).gears.top_speed_m_s[0, k]
    expected = w[holds.max()] * one.setups.meters_per_radian[0, k]
    assert top == pytest.approx(expected, rel=1e-4)
    assert (w[holds.max()] > float(rad_s(5000.0))) == (spare > 0)


def highest_of(fields: dict, curve: PowerCurve, ride: Ride, count: int) -> tuple[tuple, tuple]:
    """Lift ratio and steepest slope of every gear, as the kernel has them and as the highest of so many places."""
    rows = rows_of(fields, curve, ride)
    g = perform(rows.setups, curve, ride, trace=False).gears
    forces = rows.at(np.linspace(curve.first_rad_s, curve.last_rad_s, count)[:, None])
    slopes = forces.slopes.min(axis=0).max(axis=0)
    return (g.lift_ratio[0], forces.lift_ratio.max(axis=0)), (g.steepest_slope_rad[0], slopes)


@pytest.mark.parametrize("seed", range(12))
def test_of_two_humps_the_higher_one_counts(seed):
    """Within a millionth of 40,001 places, however nearly the humps tie: a cubic over a cell stands for the ratio, which is only nearly one."""
    rng = np.random.default_rng(seed)
    fields = random_fields(rng) | {"friction": float(rng.uniform(0.5, 1.2))}
    ride = Ride(slope_rad=float(rng.uniform(-0.03, 0.1)), headwind_m_s=float(rng.uniform(0, 8)))
    # the upper hump is raised until both pull alike in one gear
    k = int(rng.integers(0, len(fields["ratios"])))

    def upper_pulls_more(torque):
        a = finely(rows_of(fields, humps(38.0, 27.0, torque), ride), 4001)[1][k]
        return a[2000:].max() > a[:2000].max()

    curve = humps(38.0, 27.0, turns(upper_pulls_more, 20.0, 60.0))
    (found, ratio), (steepest, slopes) = highest_of(fields, curve, ride, 40_001)
    assert (found >= ratio - 1e-6 * np.abs(ratio)).all()
    assert (steepest >= slopes - 1e-6).all() and (steepest <= slopes + 1e-5).all()


@pytest.mark.parametrize("spare", [3e-4, 3e-3, 1e-2, 1.4e-2, 3e-2])
@pytest.mark.parametrize("curve", [humps(40.0, 32.0, 41.0), LATE], ids=["hollow", "late"])
def test_a_roll_on_that_barely_gets_there_is_timed_to_two_millionths(curve, spare):
    """A hill that leaves next to no acceleration in the hollow of the curve, where all the time is spent."""
    roll_on, gear = (12.0, 20.0), 2
    nodes, weights = np.polynomial.legendre.leggauss(200)  # far more than a cubic of any bend needs

    def rows(slope: float) -> GearRows:
        return rows_of(single(), curve, Ride(slope_rad=slope, roll_on_m_s=roll_on)).take(np.array([gear]))

    def pulls(one: GearRows, v: np.ndarray) -> np.ndarray:
        return one.at(v[:, None] / one["meters_per_radian"]).engine[:, 0]

    speeds = np.linspace(*roll_on, 2_001)
    one = rows(turns(lambda slope: pulls(rows(slope), speeds).min() <= spare, 0.0, 0.6))
    knots = one.cells.edges * one["meters_per_radian"][0]
    ends = [roll_on[0], *knots[(knots > roll_on[0]) & (knots < roll_on[1])], roll_on[1]]
    expected = 0.0
    for a, b in pairwise(ends):
        expected += 0.5 * (b - a) * float(weights @ (1 / pulls(one, 0.5 * (a + b + (b - a) * nodes))))
    time = perform(one.setups, curve, one.ride).roll_on_s[0, gear]
    assert time == pytest.approx(expected, rel=2e-6)


def test_a_distance_that_ends_in_a_shift_is_timed_in_it():
    """Against the motion stepped through time; a slow shift on a hill, so that the speed falls in it."""
    fields, curve = single(shift_time_s=0.9), single_curve()
    whole = perform(broadcast(fields), curve, Ride(slope_rad=0.08)).run
    in_first = whole.trace_distance_m[0][whole.trace_gear[0] == 1]
    begins = float(in_first[np.isfinite(in_first)].max())
    ends = begins + 0.9 * float(np.nanmax(whole.trace_speed_m_s[0][whole.trace_gear[0] == 1]))
    for distance in np.linspace(begins - 1.0, ends + 1.0, 4):
        ride = Ride(slope_rad=0.08, distance_m=float(distance), targets_m_s=(5.0,))
        result = perform(broadcast(fields), curve, ride)
        assert result.run.distance_time_s[0] == pytest.approx(Stepped(fields, curve, ride).times[-1], rel=1e-6)


@pytest.mark.parametrize("seed", [17, 33, 363])
def test_two_humps_of_the_acceleration_need_no_hollow_in_the_torque(seed):
    """An engine that comes on late: the highest lift and climb against 20,001 places."""
    rng = np.random.default_rng(seed)
    fields = random_fields(rng)
    *_, slope, wind = (float(rng.uniform(*ends)) for ends in ((0, 1), (0, 1), (0, 1), (-0.15, 0), (-15, 10)))
    ride = Ride(slope_rad=slope, headwind_m_s=wind)
    lift, slope = highest_of(fields, LATE, ride, 20_001)
    np.testing.assert_allclose(*lift, rtol=1e-5, atol=1e-7)
    np.testing.assert_allclose(*slope, rtol=2e-4, atol=2e-6)


def test_a_run_that_ends_in_a_hollow_is_ridden_on_at_the_speed_there():
    """The pull falls to nothing between two humps: from there on the distance is covered at that speed."""
    curve, slope, launch = humps(40.0, 10.5, 44.0), 0.2, float(rad_s(4800.0))  # the clutch bites below the hollow
    runs = [
        perform(broadcast(single()), curve, Ride(slope_rad=slope, distance_m=d, rev_limit_rad_s=launch)).run
        for d in (500.0, 501.0)
    ]
    near, far = (float(run.distance_time_s[0]) for run in runs)
    speed = float(runs[0].distance_speed_m_s[0])
    rows = rows_of(single(), curve, Ride(slope_rad=slope)).take(np.array([0]))
    assert rows.at(speed / rows["meters_per_radian"]).engine[0] == pytest.approx(0.0, abs=1e-3)
    assert far - near == pytest.approx(1.0 / speed, rel=1e-4)


seeds = st.integers(0, 100_000)
DEMO = read(reference.DATA / "demo" / "coast-single.toml")
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
def test_neither_chunks_nor_the_trace_change_a_figure_and_the_trace_meets_the_times(ride):
    setups, curve = many(20), single_curve()
    whole = perform(setups, curve, ride)
    same(whole, perform(setups, curve, ride, chunk=7, trace=False))
    order = np.random.default_rng(0).permutation(20)
    mixed = perform(setups.take(order), curve, ride, trace=False)
    np.testing.assert_allclose(mixed.run.times_s, whole.run.times_s[order], rtol=1e-9)
    assert mixed.run.trace_time_s.shape == (20, 0)
    run = whole.run
    for n in range(20):
        there = np.isfinite(run.trace_time_s[n])
        time, distance, speed = (a[n][there] for a in (run.trace_time_s, run.trace_distance_m, run.trace_speed_m_s))
        assert (np.diff(time) >= 0).all() and (np.diff(distance) >= -1e-12).all()
        for target, at in zip(ride.targets_m_s, run.times_s[n], strict=True):
            before, after = (speed[time < at * (1 - 1e-9)], speed[time >= at * (1 - 1e-9)])
            assert before.max(initial=0.0) <= target * (1 + 1e-9) or np.isnan(at)
            assert after.max(initial=0.0) >= target * (1 - 1e-9) or after.size == 0


@pytest.mark.parametrize("seed", range(20))
def test_the_run_agrees_with_stepping_through_time(seed):
    """Within 0.01 % of solve_ivp at rtol 1e-10, with limits, shifts, slopes and winds: the wind falls calm on the way, a target
    may be passed in a shift."""
    rng = np.random.default_rng(1000 + seed)
    fields, curve = random_fields(rng), single_curve()
    ride = Ride(slope_rad=float(rng.uniform(-0.2, 0.06)), headwind_m_s=float(rng.uniform(-20, 8)))
    run = perform(broadcast(fields), curve, ride, trace=False).run
    stepped = np.array(Stepped(fields, curve, ride).times, dtype=float)
    np.testing.assert_allclose([*run.times_s[0], *run.distance_time_s], stepped, rtol=1e-4)


def passed(low: float, high: float, pulls) -> tuple[float, float, float]:
    """Time, distance and bend by one parabola from one road speed to another."""
    values = [np.array([pulls(v)]) for v in (low, 0.5 * (low + high), high)]
    return tuple(float(one[0]) for one in parabola_passage(np.array([low]), np.array([high - low]), *values))


@given(seed=seeds, share=st.floats(1e-9, 0.9), rising=st.booleans())
def test_to_within_a_hair_of_top_speed_by_partial_fractions(seed, share, rising):
    """a = k (v - top)(v - other), the end next to the top or the beginning next to a stall: time and distance by logarithms."""
    rng = np.random.default_rng(seed)
    top, other, k = 30.0, rng.choice([rng.uniform(40, 300), -rng.uniform(20, 300)]), rng.uniform(1e-5, 1e-3)
    k *= np.sign(other - top) * (-1.0 if rising else 1.0)
    near = top * (1.0 + share if rising else 1.0 - share)
    low, high = (near, 1.25 * near) if rising else (0.8 * near, near)
    pulls = lambda v: k * (v - top) * (v - other)  # noqa: E731
    if not high - low > 0.0 or (rising and low < other < high) or min(map(pulls, (low, (low + high) / 2, high))) <= 0.0:
        return
    time, distance, bend = passed(low, high, pulls)
    logs = np.log((high - top) / (low - top)), np.log((high - other) / (low - other))
    assert time == pytest.approx((logs[0] - logs[1]) / (k * (top - other)), rel=3e-6)
    if bend < 0.02:  # the distance is to the first order in it, and what bends by more is cut
        assert distance == pytest.approx((top * logs[0] - other * logs[1]) / (k * (top - other)), rel=1e-4)


@pytest.mark.parametrize(("bend", "middle"), [(0.4, 0.0), (-0.3, 0.0), (0.4, 0.5), (0.15, -0.7)])
def test_time_over_a_hump_or_a_hollow_is_the_arc_tangent_s(bend, middle):
    """a = 1 + c (v - m)^2 over 4..6, m about the middle, varies by little and bends much: t = atan(sqrt c (v - m)) / sqrt c, or its
    hyperbolic kin."""
    time, _, _ = passed(4.0, 6.0, lambda v: 1 + bend * (v - 5 - middle) ** 2)
    root = np.sqrt(abs(bend))
    turn = np.arctan if bend > 0 else np.arctanh
    assert time == pytest.approx((turn(root * (1 - middle)) - turn(root * (-1 - middle))) / root, rel=2e-6)


def test_the_series_for_an_even_pull_is_off_by_the_term_that_follows_its_last():
    """a = 1 + z u over -1..1: t = artanh(z)/z = 1 + z^2/3 + z^4/5 + z^6/7 + z^8/9 + z^10/11 + ..."""
    z = 0.999 * np.sqrt(_SERIES)
    time, _, _ = passed(4.0, 5.0, lambda v: 1 + z * (2 * v - 9))
    assert np.arctanh(z) / z - time == pytest.approx(z**10 / 11, rel=0.15)


def test_beyond_top_speed_and_up_too_steep_a_hill_there_is_no_time():
    assert passed(0.0, 40.0, lambda v: (400.0 - 0.36 * v**2) / 250.0)[0] > NEVER_S
    result = perform(one(), single_curve(), Ride(slope_rad=1.2))
    assert np.isnan(result.run.times_s).all() and np.isnan(result.top_speed_m_s[0])


def test_every_drawn_point_of_a_run_is_when_its_speed_is_first_reached():
    solved = solve(make_bike(DEMO), bands=False)
    drawn = standing_run(solved).series
    # a shift coasts, and passes speeds again
    climbing = np.maximum.accumulate(drawn["speed_m_s"]) <= drawn["speed_m_s"]
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
    stepped = Stepped(single(shift_time_s=0.8), single_curve(), replace(ride, targets_m_s=targets)).times[:-1]
    np.testing.assert_allclose(together, stepped, rtol=1e-5)
    assert np.all(np.diff(together) > 0)


def test_a_roll_on_may_begin_and_end_where_the_curve_does():
    curve, meters = single_curve(), one().meters_per_radian[0, 0]
    ride = Ride(roll_on_m_s=(curve.first_rad_s * meters, curve.last_rad_s * meters))
    assert np.isfinite(perform(one(), curve, ride, trace=False).roll_on_s[0, 0])


@given(seed=seeds)
def test_the_lift_window_ends_where_the_ratio_is_one(seed):
    fields = random_fields(np.random.default_rng(seed)) | {"torque_factor": 2.2, "height_m": 0.95}
    rows = rows_of(fields)
    g = perform(rows.setups, single_curve(), rows.ride, trace=False).gears
    for edge in (g.lift_from_rad_s[0], g.lift_to_rad_s[0]):
        known = np.isfinite(edge)
        inside = known & (edge > rows.cells.first * (1 + 1e-9)) & (edge < rows.cells.last * (1 - 1e-9))
        forces = rows.at(np.where(known, edge, rows.cells.first))
        # both may be below zero where the air alone makes the front light: then there is no ratio, but the window ends all the same
        a = (forces.net / rows["lift_mass"])[inside]  # the front wheel is not spun as it lifts
        np.testing.assert_allclose(a, forces.lift[inside], rtol=1e-8, atol=1e-8)
    assert (np.isfinite(g.lift_from_rad_s) == (g.lift_ratio >= 1.0)).all()


@pytest.mark.parametrize("share", [0.98, 1.02])
def test_a_push_of_more_than_the_weight_holds_no_slope(share):
    v, s = 8.0, one()
    thrust = perform(s, single_curve(), Ride(cruise_m_s=v)).cruise.available_w[0, 0] / v
    factor = (share * s.mass_kg[0] * 9.80665 + s.f2_n_s2_m2[0] * v**2) / thrust
    slope = perform(one(torque_factor=factor), single_curve(), Ride(cruise_m_s=v)).cruise.slope_held_rad[0, 0]
    assert np.isnan(slope) == (share > 1.0)


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


def test_the_constant_term_of_the_road_load_table_is_no_rolling_resistance():
    """Nothing is told there of how far ahead the wheel loads stand."""
    table = {"drag_area": None, "rolling_resistance": None, "standard": "40 CFR 86.529-98"}
    bike = make_bike(DEMO.changed({f"road_load.{key}": value for key, value in table.items()}))
    assert bike.setups.f0_n[0] > 0.0 and bike.setups.rolling_offset_m[0] == 0.0
