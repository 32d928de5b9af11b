"""Coast-downs, pulls, gears and rides: what is asked for, what is refused, and what is said about it."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from support.log_texts import made_up
from support.simulated_pulls import PullDay, Rider, fit_runs, log_of_day, runs_of_day
from support.synthetic_log import Bike, Day, coast_downs, phone

from ridesim import reference
from ridesim.errors import InputError
from ridesim.logs.coast_down import coast_down
from ridesim.logs.fits.change import _sentence, change_between
from ridesim.logs.fits.demand import demand
from ridesim.logs.fits.pull import wheel_curve
from ridesim.logs.fits.pull_fit import mixed
from ridesim.logs.fits.ride import Habit, RideEngine, ride_through
from ridesim.logs.log import RoadRun, cut, frozen
from ridesim.logs.pull import _least_told
from ridesim.logs.runs import runs_of
from ridesim.units import Measured, rad_s

BIKE = Bike()
DEMO = reference.DATA / "demo" / "coast-single.toml"
WHEELS = BIKE.weighed
DAY = PullDay(day=Day(gust_m_s=0.3), rider=Rider(runs_each_way=2), receiver=phone(rate_hz=5.0))


@pytest.fixture(scope="module")
def coasts():
    return coast_downs([(BIKE, Day(wind_m_s=1.0, gust_m_s=0.3, grade=0.002))], 3, phone(), np.random.default_rng(1))[0]


@pytest.fixture(scope="module")
def ridden():
    return runs_of_day(DAY, np.random.default_rng(2))


@pytest.fixture(scope="module")
def fit(ridden):
    return fit_runs(ridden, BIKE)


def log_of(runs, pause=30.0, positions=True):
    """One log with all runs in it, standing still between them, and riding out and back."""
    time, speed, east = [np.array([0.0, 1.0])], [np.zeros(2)], [np.zeros(2)]
    for run in runs:
        start = time[-1][-1] + pause
        time.append(start + run.time_s)
        speed.append(run.speed_m_s)
        way = np.concatenate([[0], np.cumsum(np.diff(run.time_s) * run.speed_m_s[1:])])
        east.append(east[-1][-1] + run.direction * way)
        time.append(start + run.time_s[-1] + np.array([4.0, 5.0]))
        speed.append(np.zeros(2))
        east.append(np.full(2, east[-1][-1]))
    t, v, e = (np.concatenate(x) for x in (time, speed, east))
    places = {"east_m": e, "north_m": 0 * e} if positions else {}
    return made_up(t, v, distance_m=np.abs(e), **places)


def test_one_direction_is_refused_or_widened(coasts):
    out = [run for run in coasts if run.direction == 1]
    with pytest.raises(InputError, match="cannot tell wind and slope"):
        coast_down(out, **WHEELS)
    wide = coast_down(out, **WHEELS, one_way_wind_m_s=2.0, one_way_grade=0.005)
    both = coast_down(coasts, **WHEELS)
    assert wide.drag_area_m2.high - wide.drag_area_m2.low > 2 * (both.drag_area_m2.high - both.drag_area_m2.low)
    assert wide.drag_area_m2.low < BIKE.drag_area_m2 < wide.drag_area_m2.high
    assert wide.rolling_resistance.low < BIKE.rolling_resistance < wide.rolling_resistance.high
    assert any("one way only" in note for note in wide.notes)
    assert wide.headwind_m_s == 0.0


def test_tolerances_of_mass_and_air_widen_the_band(coasts):
    plain = coast_down(coasts, **WHEELS)
    loose = coast_down(
        coasts, **{**WHEELS, "mass_kg": Measured(BIKE.mass_kg, 10.0), "air_density_kg_m3": Measured(1.2, 0.05)}
    )
    assert loose.drag_area_m2.value == plain.drag_area_m2.value
    assert loose.drag_area_m2.standard_error > plain.drag_area_m2.standard_error
    assert loose.rolling_resistance.standard_error == pytest.approx(plain.rolling_resistance.standard_error, rel=1e-3)


def test_runs_that_are_none():
    with pytest.raises(InputError, match="1 to 200 runs"):
        coast_down([], **WHEELS)
    time = np.arange(0.0, 20.0, 0.5)
    harder = RoadRun(time_s=frozen(time), speed_m_s=frozen(30.0 - 0.3 * time - 0.03 * time**2), direction=1)
    with pytest.raises(InputError, match="do not tell the drag of the air"):  # no drag is below nothing
        coast_down([harder, replace(harder, direction=-1)], **WHEELS)
    steady = RoadRun(time_s=frozen(np.arange(20.0)), speed_m_s=frozen(np.full(20, 20.0)), direction=1)
    with pytest.raises(InputError, match="hardly gathers speed"):
        fit_runs([steady], BIKE)
    with pytest.raises(InputError, match="too few for a pull"):
        fit_runs([replace(steady, throttle_s=(3.0, 6.0))], BIKE)


def test_runs_are_found_in_a_log_with_their_directions(coasts):
    log = log_of(coasts)
    runs = runs_of([log], "coast-down", from_m_s=29.0, to_m_s=8.5)
    assert [run.direction for run in runs] == [run.direction for run in coasts]
    found = coast_down(runs, **WHEELS)
    assert found.drag_area_m2.value == pytest.approx(BIKE.drag_area_m2, rel=0.06)
    without = log_of(coasts, positions=False)
    with pytest.raises(InputError, match="holds no pull"):
        runs_of([without], "pull", from_m_s=30.0, to_m_s=60.0)
    with pytest.raises(InputError, match="no positions"):
        runs_of([without], "coast-down", from_m_s=29.0, to_m_s=8.5)
    by_hand = runs_of([without], "coast-down", from_m_s=29.0, to_m_s=8.5, directions=[1, -1] * 3)
    assert [run.direction for run in by_hand] == [1, -1] * 3
    with pytest.raises(InputError, match="do not go with"):
        runs_of([without], "coast-down", from_m_s=29.0, to_m_s=8.5, directions=[1, -1])
    with pytest.raises(InputError, match="fewer than three samples"):
        cut(log, 5.0, 5.1)


def braked(run, rate_m_s2, from_share):
    """The run with the brake on for two seconds."""
    slower = rate_m_s2 * np.clip(run.time_s - from_share * run.time_s[-1], 0, 2.0)
    return replace(run, speed_m_s=frozen(np.maximum(run.speed_m_s - slower, 0.1)))


def test_a_braked_coast_down_is_named_and_left_out(coasts):
    """3 m/s2 is beyond any coasting: in a log such a run stands among the others for the fit to name it."""
    light, hard = ([*coasts[:2], braked(coasts[2], *how), *coasts[3:]] for how in ((0.8, 0.5), (3.0, 0.4)))
    in_a_log = runs_of([log_of(hard)], "coast-down", from_m_s=29.0, to_m_s=8.5)
    assert [one.direction for one in in_a_log] == [one.direction for one in coasts]
    for runs in (light, in_a_log):
        found = coast_down(runs, **WHEELS)
        assert [row["run"] for row in found.rows] == [one.name for one in runs if one is not runs[2]]
        assert any(n.startswith(f"{runs[2].name} slowed by") and "brake" in n and "left out" in n for n in found.notes)
    pair = coast_down(light[1:3], **WHEELS)
    assert len(pair.rows) == 2 and any("ride that way again" in note for note in pair.notes)
    assert not any("brake" in note for note in coast_down(coasts, **WHEELS).notes)


def test_a_gap_parts_a_coast_down_and_does_not_lose_it(coasts):
    log = log_of(coasts)
    start = coasts[0].time_s[8] + 31.0
    holed = log.where((log.time_s < start) | (log.time_s > start + 6.0))
    runs = runs_of([holed], "coast-down", from_m_s=29.0, to_m_s=8.5)
    assert [run.name for run in runs[:3]] == ["coast-down 1, part 1", "coast-down 1, part 2", "coast-down 2"]
    assert [run.direction for run in runs] == [1, 1, -1, 1, -1, 1, -1]
    whole, parted = coast_down(coasts, **WHEELS), coast_down(runs, **WHEELS)
    assert parted.drag_area_m2.value == pytest.approx(whole.drag_area_m2.value, rel=0.05)


def test_pulls_are_found_with_what_surrounds_them(ridden):
    assert [run.direction for run in ridden] == [1, -1, 1, -1]
    for run in ridden:
        opens, shuts = run.throttle_s
        assert opens > 2.3 and run.time_s[-1] - shuts > 2.5
        assert run.row()["from_m_s"] < 12.0 and run.row()["to_m_s"] > 27.0
    with pytest.raises(InputError, match="holds no pull"):
        runs_of([log_of_day(DAY, np.random.default_rng(2))], "pull", from_m_s=14.0, to_m_s=40.0)


def test_a_corrected_curve_says_so(fit, ridden):
    plain, better = wheel_curve(fit, ridden), wheel_curve(replace(fit, correction=1.10, standard="SAE J1349"), ridden)
    np.testing.assert_allclose(better.power_w, 1.10 * plain.power_w)
    assert any("outside" in note for note in better.notes)
    with pytest.raises(InputError, match="is not that of the curve before"):
        change_between(fit, replace(fit, standard="ISO 1585"))


def test_one_way_and_bare_pulls_are_told_and_have_wider_bands(fit, ridden):
    told = []
    out = [run for run in ridden if run.direction == 1]
    bare = [replace(run, **bare_of(run)) for run in out]
    day = fit_runs(bare, BIKE, progress=told.append)
    curve, full = wheel_curve(day, bare), wheel_curve(fit, ridden)
    assert told[-1] == 1.0
    assert any("one way only" in note for note in curve.notes) and any(
        "lacks what goes before" in n for n in curve.notes
    )
    assert np.mean((curve.high_w - curve.low_w) / curve.power_w) > 1.3 * np.mean(
        (full.high_w - full.low_w) / full.power_w
    )


def test_a_pull_is_whole_where_the_log_goes_on_both_before_and_after(fit):
    time = frozen(np.arange(0.0, 10.5, 0.5))
    for opens, shuts, whole in ((3.0, 7.0, True), (3.0, 10.0, False), (0.0, 7.0, False), (0.0, 10.0, False)):
        run = RoadRun(time_s=time, speed_m_s=time, direction=1, name="x", throttle_s=(opens, shuts))
        assert any(note.startswith("x: the log lacks") for note in wheel_curve(fit, [run]).notes) is not whole


def bare_of(run):
    """The run from where the throttle opens to where it shuts."""
    opens, shuts = run.throttle_s
    inside = (run.time_s >= opens) & (run.time_s <= shuts)
    time = run.time_s[inside]
    return {
        "time_s": frozen(time - time[0]),
        "speed_m_s": frozen(run.speed_m_s[inside]),
        "engine_speed_rad_s": None,
        "throttle_s": (0.0, float(time[-1] - time[0])),
    }


def test_before_and_after_tell_a_real_gain_from_noise(fit):
    same = fit_runs(runs_of_day(DAY, np.random.default_rng(5)), BIKE)
    gained = replace(same, correction=1.10)  # as a day with so much more power would be
    real, noise = (change_between(fit, one, same_receiver=True) for one in (gained, same))
    assert 1 in real.verdict and "more power" in real.sentence and real.overall_verdict == 1
    assert real.overall_low < 0.10 < real.overall_high
    assert not any(noise.verdict) and "within the noise" in noise.sentence
    assert np.all((real.sure_low_w < real.low_w) & (real.low_w < real.change_w) & (real.change_w < real.high_w))
    lost = change_between(gained, fit, same_receiver=True)
    np.testing.assert_allclose(lost.change_w, -real.change_w)
    for one in (real, lost, noise):
        assert one.verdict == tuple((one.sure_low_w > 0).astype(int) - (one.sure_high_w < 0))
    assert "less power" in lost.sentence
    open_question = change_between(fit, gained)
    assert np.mean(open_question.sure_high_w - open_question.sure_low_w) > np.mean(real.sure_high_w - real.sure_low_w)


ENGINE = RideEngine(idle_rad_s=146.0, limit_rad_s=796.0, displacement_m3=497e-6, indicated_efficiency=0.36)
RATIOS = np.array([BIKE.ratios]) / 0.33
HELD = {"f0_n": 40.0, "f2_n_s2_m2": 0.4}


@pytest.fixture(scope="module")
def wanted():
    """Ten minutes of starts, stops and everything up to 31 m/s, over gentle hills."""
    time = np.arange(600.0)
    log = made_up(time, np.clip(14.0 + 17.0 * np.sin(time / 30.0), 0.0, None), elevation_m=100 + 10 * np.sin(time / 60))
    return demand(log, mass_kg=BIKE.mass_kg, coasting_mass_kg=BIKE.coasting_mass_kg, **HELD)


def test_shorter_gearing_turns_the_engine_more(wanted):
    ratios = RATIOS * np.array([0.85, 1.0, 1.2])[:, None]
    out = ride_through(wanted, ratios, ENGINE)
    assert out.in_gear_s[0, -1] < out.in_gear_s[2, -1]
    top = ride_through(wanted, ratios[:, -1:], ENGINE)
    assert np.all(np.diff(top.engine_turns) > 0) and np.all(np.diff(top.fuel_m3) > 0)
    assert np.all(top.shifts == 0) and np.all(out.shifts > 0)
    # a bare assumption set: petrol for 100 km of mixed riding by a big single
    assert 1.5e-8 < out.fuel_m3_per_m[1] < 8e-8


def test_lugging_and_the_limit_are_counted(wanted):
    lazy = ride_through(wanted, RATIOS, ENGINE, Habit(up_share=0.35, down_share=0.05))
    keen = ride_through(wanted, RATIOS, ENGINE, Habit(up_share=0.95, down_share=0.5))
    assert lazy.lugging_s[0] > keen.lugging_s[0] and lazy.near_limit_s[0] < keen.near_limit_s[0]


def test_a_short_ride_is_none():
    with pytest.raises(InputError, match="30 s to 16 hours"):
        demand(made_up(np.arange(10.0), 1.0), mass_kg=250.0, coasting_mass_kg=260.0, **HELD)


def test_a_climb_asks_for_the_weight_on_the_slope():
    time = np.arange(0.0, 200.0)
    climb = made_up(time, 20.0, elevation_m=time)  # 1 m up in 20 m of way
    got = demand(climb, mass_kg=250.0, coasting_mass_kg=260.0, **HELD)
    slope = np.arctan(0.05)
    assert got.force_n[100] == pytest.approx(40 * np.cos(slope) + 250 * 9.80665 * np.sin(slope) + 0.4 * 400, rel=1e-6)
    assert got.acceleration_m_s2[100] == pytest.approx(0, abs=1e-9)


def test_seconds_in_gaps_do_not_count():
    time = np.concatenate([np.arange(0.0, 100.0), np.arange(400.0, 500.0)])
    got = demand(made_up(time, 20.0), mass_kg=250.0, coasting_mass_kg=260.0, **HELD)
    out = ride_through(got, RATIOS, ENGINE)
    assert out.moving_s == pytest.approx(199, abs=2)
    assert any(note.startswith(("300 s lie in 1 gap ", "301 s lie in 1 gap ")) for note in out.notes)


def test_a_comparison_tells_how_small_a_difference_it_proves(fit):
    found = change_between(fit, fit)
    speeds = fit.engine_speeds()
    power = np.interp(found.engine_speed_rad_s, speeds, mixed(*fit.day.parts(speeds / fit.per), fit.day.share)[0])
    assert 0 < found.least_share <= 1.001 * np.median((found.sure_high_w - found.sure_low_w) / 2 / power)
    assert f"from about {100 * found.least_share:.0f} % of the power on" in _least_told(found)[0]
    assert _least_told(replace(found, verdict=(1, 1))) == ()


def test_a_single_place_is_said_to_be_at_its_speed():
    one = {"from_rad_s": rad_s(5000.0), "to_rad_s": rad_s(5000.0), "verdict": 1, "mean_change_w": 900.0}
    wide = one | {"to_rad_s": rad_s(6000.0), "verdict": -1}
    told = "Proved: more power at 5,000 rev/min; less power from 5,000 to 6,000 rev/min."
    assert _sentence((one, wide), 0, 0.0) == told
    noise = one | {"verdict": 0}
    assert _sentence((noise,), 1, 0.031).startswith("Proved: more power over the whole curve, 3.1 % in the mean")
