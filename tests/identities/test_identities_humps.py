"""Curves with a hollow in them, gears that barely pull, and runs that end in a shift: where a look at a few places would miss things."""

from __future__ import annotations

from itertools import pairwise

import numpy as np
import pytest
from support.bikes import Stepped, random_fields, single, single_curve

from ridesim.components.power_curve import PowerCurve
from ridesim.mechanics.kernel import perform
from ridesim.mechanics.setups import Ride, broadcast
from ridesim.mechanics.torque import cells_of
from ridesim.mechanics.traction import GearRows
from ridesim.units import rad_s

pytestmark = pytest.mark.identities


def humps(low: float, hollow: float, high: float) -> PowerCurve:
    """Two humps with a hollow between; their tops lie between the places the kernel looks at."""
    points = np.array(
        [[2000, 24], [2930, low], [3870, hollow], [5210, hollow * 0.97], [6170, high], [6330, high], [7600, 24]]
    )
    return PowerCurve(engine_speed_rad_s=rad_s(points[:, 0]), torque_n_m=points[:, 1])


LATE = PowerCurve(  # comes on late: in a tall gear the acceleration sags and rises again
    engine_speed_rad_s=rad_s(np.array([1900.0, 2850, 3800, 4750, 5700, 6650, 7600])),
    torque_n_m=np.array([13.8, 14.4, 16.2, 23.7, 36.6, 38.5, 26.2]),
)


def rows_of(fields: dict, curve: PowerCurve, ride: Ride) -> GearRows:
    return GearRows(broadcast(fields), cells_of(curve), ride)


def finely(rows: GearRows, count: int = 40_001) -> tuple[np.ndarray, np.ndarray]:
    """Engine speeds and the accelerations of every gear of one set-up there, by the kernel's formulas but not its looks."""
    w = np.linspace(rows.cells.first, rows.cells.last, count)
    return w, rows.at(w[:, None]).engine.T


@pytest.mark.parametrize("spare", [-2e-4, -1e-6, 1e-6, 2e-4, 2e-3])
def test_a_hump_that_barely_holds_a_speed_is_not_overlooked(spare):
    """The torque is set so that the upper hump of one gear misses holding a speed, or holds it, by next to nothing."""
    curve, k = humps(40.0, 26.0, 41.0), 3
    ride = Ride(slope_rad=0.05)

    def rows(factor: float) -> GearRows:
        return rows_of(single(torque_factor=factor), curve, ride)

    def upper(factor: float) -> float:
        w, a = finely(rows(factor))
        return float(a[k][w > float(rad_s(4500.0))].max())

    low, high = 0.1, 3.0
    for _ in range(60):
        middle = 0.5 * (low + high)
        low, high = (low, middle) if upper(middle) > 0 else (middle, high)
    one = rows(high * (1 + spare))
    w, a = finely(one)
    holds = np.nonzero(a[k] >= 0)[0]
    top = perform(one.setups, curve, ride).gears.top_speed_m_s[0, k]
    expected = w[holds.max()] * one.setups.meters_per_radian[0, k]
    assert top == pytest.approx(expected, rel=1e-4)
    assert (w[holds.max()] > float(rad_s(5000.0))) == (spare > 0)


@pytest.mark.parametrize("seed", range(12))
def test_of_two_humps_the_higher_one_counts(seed):
    """Within a millionth of 40,001 places, however nearly the humps tie: a cubic over a cell stands for the ratio, which is only nearly one."""
    rng = np.random.default_rng(seed)
    fields = random_fields(rng) | {"friction": float(rng.uniform(0.5, 1.2))}
    ride = Ride(slope_rad=float(rng.uniform(-0.03, 0.1)), headwind_m_s=float(rng.uniform(0, 8)))
    w = np.linspace(rad_s(2000.0), rad_s(7600.0), 40_001)
    # the upper hump is raised until both pull alike in one gear
    k, low, high = int(rng.integers(0, len(fields["ratios"]))), 20.0, 60.0
    for _ in range(40):
        middle = 0.5 * (low + high)
        a = finely(rows_of(fields, humps(38.0, 27.0, middle), ride), 4001)[1][k]
        low, high = (low, middle) if a[2000:].max() > a[:2000].max() else (middle, high)
    curve = humps(38.0, 27.0, 0.5 * (low + high))
    rows = rows_of(fields, curve, ride)
    g, forces = perform(rows.setups, curve, ride).gears, rows.at(w[:, None])
    slopes, ratio = forces.slopes.min(axis=0).max(axis=0), forces.lift_ratio.max(axis=0)
    assert (g.lift_ratio >= ratio - 1e-6 * np.abs(ratio)).all()
    assert (g.steepest_slope_rad >= slopes - 1e-6).all() and (g.steepest_slope_rad <= slopes + 1e-5).all()


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

    speeds, low, high = np.linspace(*roll_on, 2_001), 0.0, 0.6
    for _ in range(40):
        middle = 0.5 * (low + high)
        low, high = (middle, high) if pulls(rows(middle), speeds).min() > spare else (low, middle)
    one = rows(low)
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
    for distance in np.linspace(begins - 1.0, ends + 1.0, 6):
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
    rows = rows_of(fields, LATE, ride)
    g = perform(rows.setups, LATE, ride, trace=False).gears
    forces = rows.at(np.linspace(LATE.first_rad_s, LATE.last_rad_s, 20_001)[:, None])
    np.testing.assert_allclose(g.lift_ratio[0], forces.lift_ratio.max(axis=0), rtol=1e-5, atol=1e-7)
    np.testing.assert_allclose(g.steepest_slope_rad[0], forces.slopes.min(axis=0).max(axis=0), rtol=2e-4, atol=2e-6)


def test_a_run_that_ends_in_a_hollow_is_ridden_on_at_the_speed_there():
    """The pull falls to nothing between two humps: from there on the distance is covered at that speed."""
    curve, slope, launch = humps(40.0, 12.0, 44.0), 0.2, float(rad_s(4800.0))  # the clutch bites below the hollow
    runs = [
        perform(broadcast(single()), curve, Ride(slope_rad=slope, distance_m=d, rev_limit_rad_s=launch)).run
        for d in (500.0, 501.0)
    ]
    near, far = (float(run.distance_time_s[0]) for run in runs)
    speed = float(runs[0].distance_speed_m_s[0])
    rows = rows_of(single(), curve, Ride(slope_rad=slope)).take(np.array([0]))
    assert rows.at(speed / rows["meters_per_radian"]).engine[0] == pytest.approx(0.0, abs=1e-3)
    assert far - near == pytest.approx(1.0 / speed, rel=1e-4)
