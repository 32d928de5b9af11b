"""Gear ratios out of thirty invented rides of each kind with a known truth, logged at 1 to 20 Hz, in wind, with latency and noise."""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np
import pytest
from support.bikes import single
from support.log_texts import made_up
from support.synthetic_log import Bike, Day, phone, receiver_figure, windy
from support.synthetic_rides import as_it_comes, by_protocol, ridden, written_down

from ridesim.components.power_curve import PowerCurve
from ridesim.errors import InputError
from ridesim.logs.fits.ratios import HOLD_S, SETTLED_WITHIN, SURE, find_ratios
from ridesim.mechanics.kernel import perform
from ridesim.mechanics.setups import Ride, broadcast
from ridesim.units import TWO_PI

pytestmark = pytest.mark.identities
BIKE = Bike()
TRUTH = np.array(BIKE.ratios)
AROUND_M = TWO_PI * BIKE.radius_m
RIDES = 30
WIND = (2.0, 0.5, 0.003)  # along the road, its gusts, and the slope
AS_IT_COMES_S = 600.0


def by_the_protocol(rng, count, hold=(*HOLD_S, HOLD_S[-1])):
    scripts = [by_protocol(BIKE, rng, hold) for _ in range(count)]
    return [script for script, _ in scripts], [lasts for _, lasts in scripts]


@pytest.fixture(scope="module")
def true_rides():
    """What really happened on thirty rides of each kind, stepped together; every rate of logging looks at the same ones."""
    rng = np.random.default_rng(5)
    scripts, lasts = by_the_protocol(rng, RIDES)
    free = [as_it_comes(rng, AS_IT_COMES_S) for _ in range(RIDES)]
    both = ridden(BIKE, [*scripts, *free], windy(rng, 2 * RIDES, *WIND), rng)
    return {
        "protocol": (part_of(both, slice(RIDES)), lasts),
        "as it comes": (part_of(both, slice(RIDES, None)), [AS_IT_COMES_S] * RIDES),
    }


def part_of(rides, which):
    return replace(rides, **{name: getattr(rides, name)[:, which] for name in ("speed_m_s", "engine_rad_s", "gear")})


def first_of(truth, count):
    rides, lasts = truth
    return part_of(rides, slice(count)), lasts[:count]


@dataclass(frozen=True, kw_only=True)
class Found:
    """All gears found in a set of rides, one row a gear."""

    gear: np.ndarray
    off: np.ndarray
    error: np.ndarray
    held: np.ndarray
    settled: np.ndarray
    longer_s: np.ndarray
    gears_a_ride: np.ndarray
    named_right: np.ndarray
    delay_off_s: np.ndarray


def found_in(rides, lasts, rate_hz, seed, count=None, **receiver_is) -> Found:
    rng = np.random.default_rng(seed)
    longest = receiver_figure("largest latency of receivers that log once a second")
    receivers = [phone(latency_s=float(rng.uniform(0.2, longest)), rate_hz=rate_hz, **receiver_is) for _ in lasts]
    rows, gears, right, late = [], [], [], []
    for (log, true_gear), receiver in list(zip(written_down(rides, receivers, lasts, rng), receivers, strict=True))[
        :count
    ]:
        found = find_ratios(log, rolling_circumference_m=AROUND_M)
        ratios = np.array([g.overall_ratio.value for g in found.gears])
        which = np.argmin(np.abs(np.log(ratios[:, None] / TRUTH)), axis=1)
        for g, k in zip(found.gears, which, strict=True):
            band = g.overall_ratio
            holds = band.low <= TRUTH[k] <= band.high
            rows.append((k, band.value / TRUTH[k] - 1, band.standard_error / band.value, holds, g.settled, g.longer_s))
        gears.append(len(set(which.tolist())) if len(set(which.tolist())) == which.size else 99)
        sure = found.gear_at > 0
        right.append(np.mean(np.append(0, which + 1)[found.gear_at[sure]] == true_gear[sure]))
        late.append(found.latency_s - receiver.latency_s)
    gear, off, error, held, settled, longer = map(np.array, zip(*rows, strict=True))
    return Found(
        gear=gear + 1,
        off=off,
        error=error,
        held=held,
        settled=settled,
        longer_s=longer,
        gears_a_ride=np.array(gears),
        named_right=np.array(right),
        delay_off_s=np.array(late),
    )


@pytest.mark.parametrize("rate_hz", [1.0, 10.0])
def test_rides_by_the_protocol_settle_every_gear_within_half_a_percent(true_rides, rate_hz):
    """All five gears of all 30 rides are found, settled, and within 0.5 % of the truth, and nothing is left out.

    A settled ratio has 3.5 standard errors or more in half a per cent: one in two thousand at the very edge would lie outside.
    The protocol leaves some 5 to 9 of them, so that none of 150 may. That the protocol settles all of them is not
    bound to be (the noise of a single ride is estimated, too): 97 % is asked, and 90 % at 1 Hz, where 95 % are.
    The band is 5 to 95 %: of 150 ratios 90 % are held, give or take 2.4 % by chance, and 82 to 98 % is three of those and more.
    """
    found = found_in(*true_rides["protocol"], rate_hz, seed=int(rate_hz))
    assert found.off.size == 5 * RIDES and np.all(found.gears_a_ride == 5)
    assert np.max(np.abs(found.off)) < SETTLED_WITHIN
    assert np.mean(found.settled) >= (0.97 if rate_hz > 1 else 0.90)
    assert 0.82 <= np.mean(found.held) <= 0.98
    assert abs(np.mean(found.off)) < 0.0003  # a fifth of the widest error: no lean to one side that would matter
    assert found.named_right.min() > 0.95


@pytest.mark.parametrize(("rate_hz", "count", "fewest_settled"), [(1.0, RIDES, 0.60), (20.0, 10, 0.75)])
def test_rides_as_they_come_are_told_honestly(true_rides, rate_hz, count, fewest_settled):
    """Nobody held a gear: first has some 55 s in all at 7 m/s, where noise of 0.1 m/s is worth 1.4 % a sample.

    What is given as settled is within 0.5 % all the same, every one; the bands hold the truth 82 to 98 % of the time for all
    gears together (150 and 50 ratios); those not settled say how much longer. At 1 Hz half as many independent samples are there as at 10 Hz, so
    fewer are settled. Settled shares: found 70 % at 1 Hz and 83 % at 20 Hz, asked somewhat less.
    """
    found = found_in(*true_rides["as it comes"], rate_hz, seed=int(10 + rate_hz), count=count)
    assert np.max(np.abs(found.off[found.settled.astype(bool)])) < SETTLED_WITHIN
    assert 0.82 <= np.mean(found.held) <= 0.98
    assert np.mean(found.settled) > fewest_settled
    assert np.all((found.longer_s > 0) == ~found.settled.astype(bool))
    # gears may be missing where a ride hardly used them; none is there that is not in the gearbox, and no error past 5 of its own
    assert np.all(found.gears_a_ride <= 5)
    assert np.max(np.abs(found.off) / found.error) < 5.0
    assert np.mean(found.named_right) > 0.98


@pytest.mark.parametrize(
    ("kind", "unlike"),
    [
        ("protocol", {"noise_m_s": 0.25}),
        ("protocol", {"noise_m_s": 0.03}),
        ("protocol", {"noise_lasts_s": 3.0}),
        ("as it comes", {"noise_lasts_s": 1.0, "smoothing_s": 0.8}),
        ("protocol", {"noise_lasts_s": 1.0, "smoothing_s": 0.0, "mean_s": 1.5}),
    ],
    ids=str,
)
def test_a_receiver_unlike_the_usual_one_is_seen_for_what_it_is(true_rides, kind, unlike):
    """Two and a half times the noise, a third of it, errors that last for three seconds, a slow lag, a moving mean.

    Nothing of the receiver is told to the fit: it reads noise, its memory and the smoothing off the log. Fifteen rides are 75
    ratios: 90 % give or take 3.5 % by chance, and 79 % is three of those. Without the smoothing in the fit 53 to 70 % of fifth
    gear's bands hold under a lag of 0.8 s (tests/bench/test_bench_logs.py has the whole table).
    """
    found = found_in(*first_of(true_rides[kind], 15), 10.0, seed=21, **unlike)
    assert np.mean(found.held) >= 0.79
    assert np.mean(np.abs(found.off[found.settled.astype(bool)]) < SETTLED_WITHIN) > 0.98
    if kind == "protocol":
        settled = np.mean(found.settled)
        unsettled = unlike.get("noise_lasts_s") == 3.0 or unlike.get("noise_m_s") == 0.25
        assert settled < 0.6 if unsettled else settled > 0.85


def test_the_delay_is_found_with_the_ratios(true_rides):
    """Receiver's latency and smoothing of 0.3 s less the tachometer's 0.05 s: to a few hundredths, where a search in steps of
    a tenth was 0.03 to 0.05 s off; at 2 m/s2 and 10 m/s each hundredth is 0.2 % of the ratio."""
    found = found_in(*true_rides["as it comes"], 5.0, seed=3, count=12)
    assert np.std(found.delay_off_s) < 0.02
    assert np.mean(found.delay_off_s) == pytest.approx(0.25, abs=0.03)


def test_as_many_seconds_more_as_were_asked_for_settle_a_gear():
    """Sixteen riders hold first for 15 s only; each then rides as much longer as the middle answer asks.

    The errors after that stand at the limit (half of them below it), within the 10 % to which scatter and revs repeat.
    """
    rng = np.random.default_rng(12)
    short = (15.0, 20.0, 20.0, 20.0, 20.0)
    scripts, lasts = by_the_protocol(rng, 16, short)
    first = found_in(ridden(BIKE, scripts, windy(rng, 16, *WIND), rng), lasts, 5.0, seed=4)
    inside = first.gear == 1
    assert not first.settled[inside].any()
    more = float(np.median(first.longer_s[inside]))
    assert 5.0 <= more < HOLD_S[0]
    scripts, lasts = by_the_protocol(rng, 16, (short[0] + more, *short[1:]))
    second = found_in(ridden(BIKE, scripts, windy(rng, 16, *WIND), rng), lasts, 5.0, seed=6)
    assert np.median(second.error[second.gear == 1]) == pytest.approx(SETTLED_WITHIN / SURE, rel=0.1)


def test_without_noise_the_ratios_come_back(true_rides):
    """No noise, no smoothing: what is left is the cubic between samples of the engine speed."""
    rng = np.random.default_rng(2)
    rides, lasts = first_of(true_rides["protocol"], 2)
    receiver = phone(noise_m_s=0.0, latency_s=1.3, smoothing_s=1e-6, rate_hz=5.0, jitter_s=0.0, rounding_m_s=1e-9)
    for log, _ in written_down(rides, [receiver] * 2, lasts, rng, tachometer_noise_rpm=0.0):
        found = find_ratios(log, rolling_circumference_m=AROUND_M)
        np.testing.assert_allclose([g.overall_ratio.value for g in found.gears], TRUTH, rtol=1e-4)
        assert found.latency_s == pytest.approx(1.25, abs=0.005)


def test_the_rides_obey_the_kernels_physics():
    """Full throttle in top gear from 60 to 100 km/h: the invented rides take the kernel's time.

    The rides are stepped by Euler's rule of 0.02 s and read to a step: 0.5 % of some eight seconds.
    """
    rng = np.random.default_rng(1)
    steps = 6000
    script = np.tile([90.0, 50.0, 5.0], (steps, 1))
    speed = ridden(BIKE, [script], [Day(wind_m_s=1.5)], rng).speed_m_s[:, 0]
    stepped = 0.02 * (np.interp(100 / 3.6, speed, np.arange(steps)) - np.interp(60 / 3.6, speed, np.arange(steps)))
    engine = np.linspace(150.0, 900.0, 200)
    names = ("mass_kg", "front_inertia_kg_m2", "rear_inertia_kg_m2", "crank_inertia_kg_m2", "front_radius_m", "efficiency", "f0_n", "f2_n_s2_m2")  # fmt: skip
    own = {name: getattr(BIKE, name) for name in names} | {"rear_radius_m": BIKE.radius_m, "ratios": TRUTH}
    setups = broadcast(single(**own))
    curve = PowerCurve(engine_speed_rad_s=engine, torque_n_m=BIKE.torque_n_m(engine))
    kernel = perform(setups, curve, Ride(headwind_m_s=1.5)).roll_on_s[0, -1]
    assert stepped == pytest.approx(kernel, rel=0.005)


def test_noise_of_the_engine_speed_alone_is_no_log():
    """Engine speed that has nothing to do with the road speed shows no gear, or none that is called settled."""
    rng = np.random.default_rng(3)
    time = np.arange(600.0)
    log = made_up(time, rng.uniform(8.0, 30.0, time.size), engine_speed_rad_s=rng.uniform(200.0, 600.0, time.size))
    with pytest.raises(InputError, match=r"hold a gear too seldom|shows no gear|no gear long enough"):
        find_ratios(log, rolling_circumference_m=AROUND_M)
