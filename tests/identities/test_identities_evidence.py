"""Readings joined into one bike: closed forms of two and more Gaussians, and what must not matter."""

from __future__ import annotations

import random
from functools import cache

import numpy as np
import pytest
from support.evidence import EVIDENCE, SINGLE, with_readings

from ridesim.answers import solve
from ridesim.bike import make_bike
from ridesim.bike.figures_to_setups import setups_of
from ridesim.buildfile.readings import RollOut
from ridesim.evidence import fit, into_build, with_evidence
from ridesim.evidence.predict import measured
from ridesim.evidence.report import parameters
from ridesim.mechanics.kernel import perform
from ridesim.selection import choose
from ridesim.selection.certainty import certainty_of
from ridesim.selection.crossing import figures_of
from ridesim.selection.goals import limited
from ridesim.uncertainty.posterior import Posterior
from ridesim.uncertainty.tolerances import PER_SD, perturbed
from ridesim.units import Measured


@cache
def fitted():
    """The fit of all readings, made once."""
    return fit(with_readings(*EVIDENCE))


def by_path(found):
    return {one.path: one for one in parameters(found)}


def roll_out(value: float, plus_minus: float) -> RollOut:
    return RollOut.model_construct(kind="roll-out", value=Measured(value, plus_minus))  # past the bounds of a file


def alike(found, other, *, rel=1e-6):
    """The figures of two fits agree to a share of their tolerances as written."""
    ours, theirs = by_path(found), by_path(other)
    assert ours.keys() == theirs.keys()
    for path, one in ours.items():
        tolerance = rel * one.before_plus_minus
        assert one.after == pytest.approx(theirs[path].after, abs=tolerance, rel=0), path
        assert one.after_plus_minus == pytest.approx(theirs[path].after_plus_minus, abs=tolerance, rel=0), path


def test_a_coast_down_is_taken_with_the_correlation_of_its_errors():
    """Information adds as matrices: S = (S0^-1 + C^-1)^-1, m = S (S0^-1 m0 + C^-1 y)."""
    build = with_readings(
        'kind = "coast-down"\ndrag_area = "0.63 +- 0.02 m^2"\nrolling_resistance = "0.020 +- 0.001"\ncorrelation = -0.8'
    )
    found = by_path(fit(build))
    prior, read = np.diag(np.array([0.06, 0.003]) ** 2), np.array([[0.02**2, -0.8 * 2e-5], [-0.8 * 2e-5, 1e-6]])
    joint = np.linalg.inv(np.linalg.inv(prior) + np.linalg.inv(read))
    middle = joint @ (np.linalg.solve(prior, [0.66, 0.019]) + np.linalg.solve(read, [0.63, 0.020]))
    for n, key in enumerate(("drag_area", "rolling_resistance")):
        one = found[f"road_load.{key}"]
        assert one.after == pytest.approx(middle[n], rel=2e-5)
        assert one.after_plus_minus == pytest.approx(joint[n, n] ** 0.5, rel=1e-4)


def test_the_order_of_the_readings_does_not_matter():
    shuffled = random.Random(3).sample(EVIDENCE, len(EVIDENCE))
    alike(fitted(), fit(with_readings(*shuffled)), rel=1e-4)


def test_a_reading_with_no_weight_changes_nothing():
    build = with_readings(*EVIDENCE)
    alike(fitted(), fit(build, [*build.record.evidence, roll_out(2.3, 1e9)]), rel=1e-5)
    alone = fit(build, [roll_out(2.3, 1e9)])
    for one in parameters(alone):
        assert (one.after, one.after_plus_minus) == pytest.approx((one.before, one.before_plus_minus), rel=1e-9)


def test_a_posterior_that_learnt_nothing_leaves_the_bike_as_it_is():
    bike = make_bike(SINGLE)
    count = len(bike.tolerances)
    nothing = Posterior(tolerances=bike.tolerances, place=np.zeros(count), root=np.eye(count), says=())
    raw, tolerances = nothing.applied(bike.raw, bike.tolerances)
    assert {key: raw[key] for key in bike.raw if key != "ratios"} == {
        k: v for k, v in bike.raw.items() if k != "ratios"
    }
    for ours, theirs in zip(bike.tolerances, tolerances, strict=True):
        assert ours.path == theirs.path
        for key, pair in ours.moves.items():
            assert theirs.moves[key] == pytest.approx(pair, rel=1e-9)


def test_the_bands_of_a_fitted_bike_are_those_of_its_covariance():
    """A linear figure, the axle load: its band is the propagated covariance J S J'."""
    found = fitted()
    solved = solve(make_bike(with_evidence(with_readings(*EVIDENCE))))
    s = solved.setups
    figure = solved.figure("x", "x", "mass", s.mass_kg * (1 - s.ahead_m / s.wheelbase_m))
    n = next(k for k, one in enumerate(found.readings) if one.kind == "axle weight")
    wide = PER_SD * float(found.step.slopes[n][0] @ found.step.covariance @ found.step.slopes[n][0]) ** 0.5
    assert figure.value == pytest.approx(float(found.step.at[n][0]), rel=1e-6)
    assert (figure.high - figure.low) / 2 == pytest.approx(wide, rel=0.01)


def test_the_fit_agrees_with_draws_weighted_by_their_likelihood():
    """Importance sampling from the prior through the kernel, an independent way to the same posterior."""
    readings = (
        'kind = "top speed"\nvalue = "128 +- 2 km/h"',
        'kind = "axle weight"\naxle = "rear"\nwith = "rider"\nvalue = "147 +- 2 kg"',
    )
    found = fit(with_readings(*readings))
    fitter, count = found.fitter, len(found.model.tolerances)
    u = np.random.default_rng(5).standard_normal((8000, count))
    log = np.zeros(len(u))
    for values, (y, covariance) in zip(found.model(u), map(measured, found.readings), strict=True):
        log -= 0.5 * ((values[:, 0] - y[0]) ** 2) / covariance[0, 0]
    weight = np.exp(log - log.max())
    weight /= weight.sum()
    assert 1 / np.sum(weight**2) > 1500
    middle = weight @ u
    np.testing.assert_allclose(found.step.u, middle, atol=0.1)
    np.testing.assert_allclose(np.diag(found.step.covariance) ** 0.5, np.sqrt(weight @ (u - middle) ** 2), rtol=0.06)
    assert fitter.predictable == [True, True]


def test_a_fitted_bike_written_to_a_file_answers_as_the_fit_does():
    build, found = with_readings(*EVIDENCE), fitted()
    written = into_build(found)
    assert not written.record.evidence
    ours, theirs = (solve(make_bike(one)) for one in (with_evidence(build), written))
    for read in (
        lambda p: p.top_speed_m_s[0],
        lambda p: p.roll_on_s[0, -1],
        lambda p: p.run.times_s[0, 1],
        lambda p: p.gears.peak_force_n[0, 0],
        lambda p: p.cruise.fuel_m3_per_m[0, -1],
    ):
        assert read(theirs.performance) == pytest.approx(read(ours.performance), rel=3e-3)
    after = by_path(found)
    for tolerance in make_bike(written).tolerances:
        if (one := after.get(tolerance.path)) and not one.path.endswith(("curve_error", "n[1]")):
            assert tolerance.value == pytest.approx(one.after, rel=1e-5)
            assert tolerance.plus_minus == pytest.approx(one.after_plus_minus, rel=0.01)


def test_readings_of_another_tune_move_what_both_tunes_share():
    build = SINGLE.changed({"tune.stock.standard": None})
    text = build.text.replace(
        "[active]", '[tune.other]\npoints = [[1800, 28], [5000, 36], [7200, 24]]\ncurve_error = "4 %"\n[active]'
    )
    from ridesim.buildfile.io import parse

    two = parse(
        text + '\n[[evidence]]\nkind = "wheel power"\ntune = "other"\nengine_speed = 5000\nvalue = "16.8 +- 0.3 kW"\n'
    )
    found = by_path(fit(two))
    assert found["tune.other.curve_error"].after < 1.0
    assert found["tune.stock.curve_error"].after == pytest.approx(1.0, abs=1e-9)
    assert found["gearbox.efficiency"].after < 0.92


def test_the_air_of_a_day_carries_a_reading_to_the_air_of_the_build():
    """A wheel power read in thin air counts for more at home: the same reading, its air told or not."""
    reading = 'kind = "wheel power"\nengine_speed = 5000\nvalue = "16.0 +- 0.3 kW"'
    here, high = (by_path(fit(with_readings(r))) for r in (reading, reading + '\nair = {altitude = "2500 m"}'))
    path = "tune.stock.curve_error"
    assert high[path].after > here[path].after + 0.02


def test_the_certainty_of_a_limit_is_that_of_draws_from_the_joint_error():
    """The share of bikes that meet each limit, drawn from the fit's mean and covariance and put through the kernel on the figures as
    they are written: no component is taken apart on that way."""
    limits = {"top_speed_least": "127 km/h", "cruise_engine_speed_most": "4869 rev/min"}
    build = with_readings(*EVIDENCE).changed({f"limits.{name}": limit for name, limit in limits.items()})
    found = fit(build)
    choice = choose(with_evidence(build), fronts=[13, 14, 15], rears=[39, 41, 43])
    certainty = certainty_of(choice)
    u = np.random.default_rng(8).multivariate_normal(found.step.u, found.step.covariance, 3000)
    shares, sure = [], []
    for front, rear in ((13, 43), (14, 41), (15, 39)):
        bike = make_bike(build, front=front, rear=rear)
        which = [[one.cause for one in found.model.tolerances].index(each.cause) for each in bike.tolerances]
        setups = setups_of(perturbed(bike.raw, bike.tolerances, u[:, which] / PER_SD), bike.cycle)
        drawn = figures_of(perform(setups, bike.curve, bike.ride(), trace=False), bike.ride())
        row = choice.find(front=front, rear=rear, rear_tire=bike.rear_tire.marking.written, tune=bike.tune)
        for name in limits:
            goal = limited(name)
            shares.append(np.mean(goal.better * (drawn[goal.key] - float(getattr(choice.limits, name))) >= 0))
            sure.append(certainty.by_limit[certainty.names.index(name), certainty.place(row.n)])
    assert sum(0.02 < share < 0.98 for share in shares) == 3
    np.testing.assert_allclose(sure, shares, atol=0.05)
