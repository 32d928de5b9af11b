"""Gear ratios out of twenty invented rides of each kind with a known truth, logged at 1 to 20 Hz, in wind, with latency and noise."""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np
import pytest
from support.bikes import single
from support.log_texts import made_up
from support.synthetic_log import Bike, Day, phone, receiver_figure, windy
from support.synthetic_rides import as_it_comes, by_protocol, ridden, written_down

from ridesim.answers.text import sentence
from ridesim.components.power_curve import PowerCurve
from ridesim.errors import InputError
from ridesim.logs.fits.ratios import HOLD_S, PROTOCOL, SETTLED_WITHIN, SURE, find_ratios
from ridesim.logs.gears import geared
from ridesim.mechanics.kernel import perform
from ridesim.mechanics.setups import Ride, broadcast
from ridesim.units import TWO_PI

pytestmark = pytest.mark.identities
BIKE = Bike()
TRUTH = np.array(BIKE.ratios)
AROUND_M = TWO_PI * BIKE.radius_m
RIDES = 20
WIND = (2.0, 0.5, 0.003)  # along the road, its gusts, and the slope
AS_IT_COMES_S = 600.0
SHORT = (15.0, 20.0, 20.0, 20.0, 20.0)  # first gear is held for much less than is asked


def part_of(rides, which):
    return replace(rides, **{name: getattr(rides, name)[:, which] for name in ("speed_m_s", "engine_rad_s", "gear")})


def first_of(truth, count):
    rides, lasts = truth
    return part_of(rides, slice(count)), lasts[:count]


def by_the_protocol(rng, count, hold):
    scripts, lasts = zip(*(by_protocol(BIKE, rng, hold) for _ in range(count)), strict=True)
    return list(scripts), list(lasts)


@pytest.fixture(scope="module")
def true_rides():
    """What really happened on twenty rides of each kind, stepped together; every rate of logging looks at the same ones."""
    rng = np.random.default_rng(5)
    scripts, lasts = by_the_protocol(rng, RIDES, (*HOLD_S, HOLD_S[-1]))
    free = [as_it_comes(rng, AS_IT_COMES_S) for _ in range(RIDES)]
    both = ridden(BIKE, [*scripts, *free], windy(rng, 2 * RIDES, *WIND), rng)
    return {
        "protocol": (part_of(both, slice(RIDES)), lasts),
        "as it comes": (part_of(both, slice(RIDES, None)), [AS_IT_COMES_S] * RIDES),
    }


def hurried(seconds_in_first):
    """Sixteen rides with so much time in first gear and a little in the others."""
    rng = np.random.default_rng(12)
    scripts, lasts = by_the_protocol(rng, 16, (seconds_in_first, *SHORT[1:]))
    return ridden(BIKE, scripts, windy(rng, 16, *WIND), rng), lasts


@pytest.fixture(scope="module")
def short_rides():
    return hurried(SHORT[0])


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


def found_in(rides, lasts, rate_hz, seed, **receiver_is) -> Found:
    rng = np.random.default_rng(seed)
    longest = receiver_figure("largest latency of receivers that log once a second")
    receivers = [phone(latency_s=float(rng.uniform(0.2, longest)), rate_hz=rate_hz, **receiver_is) for _ in lasts]
    rows, gears, right, late = [], [], [], []
    for (log, true_gear), receiver in zip(written_down(rides, receivers, lasts, rng), receivers, strict=True):
        found = find_ratios(log, rolling_circumference_m=AROUND_M)
        ratios = np.array([g.overall_ratio.value for g in found.gears])
        which = np.argmin(np.abs(np.log(ratios[:, None] / TRUTH)), axis=1)
        for g, k in zip(found.gears, which, strict=True):
            band = g.overall_ratio
            holds = band.low <= TRUTH[k] <= band.high
            rows.append(
                (k + 1, band.value / TRUTH[k] - 1, band.standard_error / band.value, holds, g.settled, g.longer_s)
            )
        gears.append(which.size if np.unique(which).size == which.size else 99)
        sure = found.gear_at > 0
        right.append(np.mean(np.append(0, which + 1)[found.gear_at[sure]] == true_gear[sure]))
        late.append(found.latency_s - receiver.latency_s)
    names = ("gear", "off", "error", "held", "settled", "longer_s")
    whole = {"gears_a_ride": gears, "named_right": right, "delay_off_s": late}
    columns = dict(zip(names, zip(*rows, strict=True), strict=True)) | whole
    return Found(**{name: np.array(column) for name, column in columns.items()})


@pytest.mark.parametrize("rate_hz", [1.0, 10.0])
def test_rides_by_the_protocol_settle_every_gear_within_half_a_percent(true_rides, rate_hz):
    """All five gears of all rides are found, settled, and within 0.5 % of the truth, and nothing is left out.

    A settled ratio has 3.5 standard errors or more in half a per cent: one in two thousand at the very edge would lie outside.
    The protocol leaves some 5 to 9 of them, so that none of 100 may. That the protocol settles all of them is not
    bound to be (the noise of a single ride is estimated, too): 97 % is asked, and 90 % at 1 Hz, where 95 % are.
    The band is 5 to 95 %: of 100 ratios 90 % are held, give or take 3 % by chance.
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
    gears together; those not settled say how much longer. At 1 Hz half as many independent samples are there as at 10 Hz, so
    fewer are settled. Settled shares: found 70 % at 1 Hz and 83 % at 20 Hz, asked somewhat less.
    """
    found = found_in(*first_of(true_rides["as it comes"], count), rate_hz, seed=int(10 + rate_hz))
    assert np.max(np.abs(found.off[found.settled])) < SETTLED_WITHIN
    assert 0.82 <= np.mean(found.held) <= 0.98
    assert np.mean(found.settled) > fewest_settled
    assert np.all((found.longer_s > 0) == ~found.settled)
    # gears may be missing where a ride hardly used them; none is there that is not in the gearbox, and no error past 5 of its own
    assert np.all(found.gears_a_ride <= 5)
    assert np.max(np.abs(found.off) / found.error) < 5.0
    assert np.mean(found.named_right) > 0.98


@pytest.mark.parametrize(
    ("kind", "settles", "unlike"),
    [
        ("protocol", False, {"noise_m_s": 0.25}),
        ("protocol", True, {"noise_m_s": 0.03}),
        ("protocol", False, {"noise_lasts_s": 3.0}),
        ("as it comes", None, {"noise_lasts_s": 1.0, "smoothing_s": 0.8}),
        ("protocol", True, {"noise_lasts_s": 1.0, "smoothing_s": 0.0, "mean_s": 1.5}),
    ],
    ids=str,
)
def test_a_receiver_unlike_the_usual_one_is_seen_for_what_it_is(true_rides, kind, settles, unlike):
    """Two and a half times the noise, a third of it, errors that last for three seconds, a slow lag, a moving mean.

    Nothing of the receiver is told to the fit: it reads noise, its memory and the smoothing off the log. Without the smoothing
    in the fit 53 to 70 % of fifth gear's bands hold under a lag of 0.8 s (tests/bench/test_bench_logs.py has the whole table).
    """
    found = found_in(*first_of(true_rides[kind], 15), 10.0, seed=21, **unlike)
    assert np.mean(found.held) >= 0.79
    assert np.mean(np.abs(found.off[found.settled]) < SETTLED_WITHIN) > 0.98
    if settles is not None:
        assert np.mean(found.settled) > 0.85 if settles else np.mean(found.settled) < 0.6


def test_the_delay_is_found_with_the_ratios(true_rides):
    """Receiver's latency and smoothing of 0.3 s less the tachometer's 0.05 s: to a few hundredths, where a search in steps of
    a tenth was 0.03 to 0.05 s off; at 2 m/s2 and 10 m/s each hundredth is 0.2 % of the ratio."""
    found = found_in(*first_of(true_rides["as it comes"], 12), 5.0, seed=3)
    assert np.std(found.delay_off_s) < 0.02
    assert np.mean(found.delay_off_s) == pytest.approx(0.25, abs=0.03)


def test_as_many_seconds_more_as_were_asked_for_settle_a_gear(short_rides):
    """Sixteen riders hold first for 15 s only; each then rides as much longer as the middle answer asks.

    The errors after that stand at the limit (half of them below it), within the 10 % to which scatter and revs repeat.
    """
    first = found_in(*short_rides, 5.0, seed=4)
    inside = first.gear == 1
    assert not first.settled[inside].any()
    more = float(np.median(first.longer_s[inside]))
    assert 5.0 <= more < HOLD_S[0]
    second = found_in(*hurried(SHORT[0] + more), 5.0, seed=6)
    assert np.median(second.error[second.gear == 1]) == pytest.approx(SETTLED_WITHIN / SURE, rel=0.1)


def test_what_is_said_of_gears_ridden_too_little_and_of_those_that_are_settled(short_rides, true_rides):
    for settles, truth in ((False, short_rides), (True, true_rides["protocol"])):
        rides, lasts = first_of(truth, 1)
        ((log, _),) = written_down(rides, [phone(rate_hz=5.0)], lasts, np.random.default_rng(4))
        done = geared(log, circumference_m=AROUND_M)
        first = done.found.gears[0]
        assert first.settled is settles and (first.longer_s == 0) is settles and first.longer_s % 5.0 == 0
        told = any(f"gear 1: ride this gear {first.longer_s:.0f} s longer" in note for note in done.found.notes)
        assert (told, PROTOCOL in done.found.notes) == (not settles, not settles)
        assert ("longer." in sentence(done.answer)) is not settles
        assert done.answer.tables[0].rows[0]["longer_s"] == (None if settles else first.longer_s)
        # held for as long as asked, and up to eight seconds of getting there and of rolling out at the end
        asked = (*HOLD_S, HOLD_S[-1]) if settles else SHORT
        assert all(a - 3 < g.seconds < a + 16 for g, a in zip(done.found.gears, asked, strict=True))


def test_gears_can_be_asked_for_and_are_told_by_stretch(true_rides):
    rides, lasts = first_of(true_rides["as it comes"], 1)
    ((log, _),) = written_down(rides, [phone(rate_hz=5.0)], lasts, np.random.default_rng(4))
    found = find_ratios(log, rolling_circumference_m=AROUND_M)
    assert {s["gear"] for s in found.segments} == {g.gear for g in found.gears}
    assert found.gear_at.max() == len(found.gears) and (found.gear_at == 0).any()
    ratios = [g.overall_ratio.value for g in found.gears]
    assert ratios == sorted(ratios, reverse=True)
    longer = find_ratios(log, rolling_circumference_m=1.01 * AROUND_M)
    assert longer.gears[0].overall_ratio.value == pytest.approx(1.01 * ratios[0])
    assert len(find_ratios(log, rolling_circumference_m=AROUND_M, gears=3).gears) == 3
    for bad, why in ((8, "are not all in this log"), *((one, "whole number") for one in (0, 9, True, 2.5))):
        with pytest.raises(InputError, match=why):
            find_ratios(log, rolling_circumference_m=AROUND_M, gears=bad)


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
    steps = 2000
    script = np.tile([90.0, 50.0, 5.0], (steps, 1))
    speed = ridden(BIKE, [script], [Day(wind_m_s=1.5)], np.random.default_rng(1)).speed_m_s[:, 0]
    stepped = 0.02 * (np.interp(100 / 3.6, speed, np.arange(steps)) - np.interp(60 / 3.6, speed, np.arange(steps)))
    engine = np.linspace(150.0, 900.0, 200)
    names = ("mass_kg", "front_inertia_kg_m2", "rear_inertia_kg_m2", "crank_inertia_kg_m2", "front_radius_m", "efficiency", "f0_n", "f2_n_s2_m2")  # fmt: skip
    own = {name: getattr(BIKE, name) for name in names} | {"rear_radius_m": BIKE.radius_m, "ratios": TRUTH}
    curve = PowerCurve(engine_speed_rad_s=engine, torque_n_m=BIKE.torque_n_m(engine))
    kernel = perform(broadcast(single(**own)), curve, Ride(headwind_m_s=1.5)).roll_on_s[0, -1]
    assert stepped == pytest.approx(kernel, rel=0.005)


@pytest.mark.parametrize("seed", range(3))
def test_whatever_the_log_a_ratio_is_a_figure_or_is_refused(seed):
    """Of four kinds of log the engine speed has ever less to do with the road speed; in the last the bike stands."""
    rng = np.random.default_rng(seed)
    read = refused = 0
    for _ in range(40):
        count, kind = int(rng.choice([3, 9, 41, 60, 400])), rng.integers(4)
        time = np.cumsum(rng.choice([0.05, 0.2, 1.0, 8.0], count)) if rng.random() < 0.3 else np.arange(count) * 0.2
        speed = np.clip(15 + 10 * np.sin(time / 10) + rng.normal(0, 0.1 * kind, count), 0, None) * (kind < 3)
        ratio = np.repeat(rng.choice([15.0, 10.0, 7.0], count // 20 + 1), 20)[:count]
        engine = np.maximum(speed * ratio / 0.33 + rng.normal(0, 1, count), 0)
        engine[rng.random(count) < 0.5 * rng.random()] = np.nan
        log = made_up(time - time[0], speed, engine_speed_rad_s=engine)
        try:
            found = find_ratios(log, rolling_circumference_m=AROUND_M)
        except InputError as error:
            refused += 1
            assert str(error).isprintable()
        else:
            read += 1
            figures = [(g.overall_ratio.value, g.overall_ratio.standard_error, g.longer_s) for g in found.gears]
            assert np.isfinite(figures).all() and np.all(np.array(figures)[:, 0] > 0)
            assert found.gear_at.size == count
    assert read and refused


def test_noise_of_the_engine_speed_alone_is_no_log():
    """Engine speed that has nothing to do with the road speed shows no gear, or none that is called settled."""
    rng = np.random.default_rng(3)
    time = np.arange(600.0)
    log = made_up(time, rng.uniform(8.0, 30.0, time.size), engine_speed_rad_s=rng.uniform(200.0, 600.0, time.size))
    with pytest.raises(InputError, match=r"hold a gear too seldom|shows no gear|no gear long enough"):
        find_ratios(log, rolling_circumference_m=AROUND_M)
