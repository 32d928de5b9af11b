"""The mixture screw: readings made from a known truth, and whether the limits hold it as often as they say."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.optimize import minimize
from scipy.stats import binom
from support.idles import holds, idle

from ridesim.errors import InputError
from ridesim.fueling.idle_curve import concave_misfit, fit_idle_curve, wild_reading
from ridesim.fueling.mixture import best_mixture_setting, idle_answer
from ridesim.units import rad_s

pytestmark = pytest.mark.identities

BEST = 1.9
SETS = 60


def _read(name, turns, scatter_rpm, seed):
    """Readings of an idle that is best at BEST."""
    return rad_s(idle(name)(turns, BEST) + np.random.default_rng(seed).normal(0.0, scatter_rpm, turns.size))


@pytest.mark.parametrize("name", ["even", "cubic", "steeper", "two6", "two8", "flat", "stalls", "pointed"])
def test_limits_hold_the_truth_at_least_as_often_as_they_say(name):
    """On idles even, flat and of the worst lopsidedness, of thirteen, seven and six readings by turns; all are in tests/bench."""
    sets = [((0.5, 3.6, 0.25), 1.87, 5.0), ((0.5, 3.6, 0.5), 1.5, 8.0), ((0.75, 3.3, 0.5), 2.1, 5.0)]
    told = [holds(name, np.arange(*turns), *truth, seed) for seed in range(SETS // 3) for turns, *truth in sets]
    found = [one for one in told if one is not None]
    assert len(found) > 0.8 * SETS and sum(found) >= binom.ppf(0.0005, len(found), 0.95)


@pytest.mark.parametrize("seed", range(6))
def test_the_misfit_is_that_of_a_minimizer_told_the_bends(seed):
    """The same least squares put as bounds on slopes and bends, solved by scipy's SLSQP, with the top at a setting."""
    rng = np.random.default_rng(seed)
    x = np.sort(rng.choice(np.arange(0.25, 4.0, 0.25), 8, replace=False))
    y = idle("two3")(x, 1.9) / 100 + rng.normal(0, 0.05, x.size)
    top = int(rng.integers(1, 7))

    def slopes(f):
        return np.diff(f) / np.diff(x)

    rules = [
        {"type": "ineq", "fun": lambda f: -np.diff(slopes(f))},
        {"type": "ineq", "fun": lambda f: np.concatenate([slopes(f)[:top], -slopes(f)[top:]])},
    ]
    how = {"constraints": rules, "method": "SLSQP", "options": {"maxiter": 2000, "ftol": 1e-14}}
    found = minimize(lambda f: np.sum((f - y) ** 2), np.full(x.size, y.mean()), **how)
    assert concave_misfit(x, y, x[top]) == pytest.approx(found.fun, rel=1e-4, abs=1e-7)


@pytest.mark.parametrize("degree", [2, 3, 4])
def test_fit_is_that_of_numpy(degree):
    turns = np.arange(0.5, 3.6, 0.25)
    speeds = _read("cubic", turns, 8.0, 3)
    there, cov = np.polyfit(turns, speeds, degree, cov=True)
    curve = fit_idle_curve(turns, speeds, degree)
    at = np.linspace(0.5, 3.5, 7)
    np.testing.assert_allclose(curve.at(at), np.polyval(there, at), rtol=1e-10)
    rows = np.stack([k * at ** (k - 1) if k else np.zeros(7) for k in range(degree, -1, -1)], axis=1)
    np.testing.assert_allclose(curve.slope(at), rows @ there, rtol=1e-8, atol=1e-9)
    np.testing.assert_allclose(curve.slope_error(at), np.sqrt(np.einsum("ni,ij,nj->n", rows, cov, rows)), rtol=1e-8)


@settings(max_examples=20)
@given(st.floats(1.3, 2.4), st.floats(30.0, 120.0), st.floats(0.3, 0.6), st.integers(0, 10**6))
def test_readings_without_scatter_give_the_truth(best, fall, step, shuffle):
    turns = best + step * np.arange(-3.0, 4.0)
    turns = turns[turns >= 0]
    np.random.default_rng(shuffle).shuffle(turns)
    found = best_mixture_setting(turns.tolist(), rad_s(1100 - fall * (turns - best) ** 2).tolist())
    assert found.best_turns == pytest.approx(best, abs=1e-6)
    # between readings any bend will do: the limits stop at the settings next to the best
    assert best - step - 1e-3 <= found.low_turns <= best <= found.high_turns <= best + step + 1e-3
    assert (found.place, found.mixture) == ("inside", "right")


@settings(max_examples=10)
@given(st.integers(0, 500), st.floats(0.6, 2.0))
def test_the_setting_scales_with_the_unit_of_the_screw_and_not_with_that_of_engine_speed(seed, unit):
    """Turns and half turns: the same best, the limits twice as many."""
    turns = np.arange(0.5, 3.6, 0.5)
    speeds = _read("cubic", turns, 8.0, seed)
    one = best_mixture_setting(turns.tolist(), speeds.tolist())
    other = best_mixture_setting((2 * turns).tolist(), (unit * speeds).tolist(), useful_turns=(1.0, 6.0))
    assert (other.best_turns, other.low_turns, other.high_turns) == pytest.approx(
        (2 * one.best_turns, 2 * one.low_turns, 2 * one.high_turns), abs=1e-3
    )
    assert other.engine_speed_rad_s == pytest.approx(unit * one.engine_speed_rad_s)
    assert other.fitted.scatter == pytest.approx(unit * one.fitted.scatter)


def test_a_wild_reading_is_left_out_and_said():
    turns = np.arange(0.5, 3.6, 0.25)
    speeds = _read("even", turns, 4.0, 1)
    fair = best_mixture_setting(turns.tolist(), speeds.tolist())
    speeds[9] += rad_s(200.0)  # read a line wrong
    found = best_mixture_setting(turns.tolist(), speeds.tolist())
    told = idle_answer(found)
    assert [turn for turn, _ in found.left_out] == [turns[9]] and any("take it again" in a for a in told.notes)
    assert found.best_turns == pytest.approx(fair.best_turns, abs=0.1)
    assert sum(row["used"] for row in told.tables[0].rows) == turns.size - 1


def test_fair_readings_are_seldom_called_wild():
    turns = np.arange(0.5, 3.6, 0.25)
    called = sum(wild_reading(turns, _read("even", turns, 5.0, seed), 3) is not None for seed in range(1000))
    assert called <= binom.ppf(0.9995, 1000, 0.01)


@pytest.mark.parametrize(
    ("best", "screw", "place", "mixture", "jet"),
    [
        (-0.6, "fuel", "at or past the inner end", "rich", "smaller pilot jet"),
        (-0.6, "air", "at or past the inner end", "lean", "larger pilot jet"),
        (4.6, "fuel", "at or past the outer end", "lean", "larger pilot jet"),
        (4.6, "air", "at or past the outer end", "rich", "smaller pilot jet"),
        (0.3, "fuel", "at or past the inner end", "rich", "smaller pilot jet"),
        (3.3, "fuel", "at or past the outer end", "lean", "larger pilot jet"),
    ],
)
def test_a_best_at_or_past_an_end_tells_of_the_pilot_jet(best, screw, place, mixture, jet):
    """Common practice, no source: happy all the way in is too rich, better and better past the useful range too lean."""
    turns = np.arange(0.0, 3.9, 0.25) if best < 3.0 or best > 4.0 else np.arange(1.0, 4.6, 0.25)
    speeds = rad_s(1150 - 25 * (turns - best) ** 2 + np.random.default_rng(4).normal(0, 2.0, turns.size))
    found = best_mixture_setting(turns.tolist(), speeds.tolist(), screw=screw)
    assert (found.place, found.mixture) == (place, mixture) and jet in found.advice
    assert found.certain == (best != 0.3)  # 0.3 and 0.5 are nearer than readings every 0.25 tell apart
    assert (found.best_turns is None) == (not turns.min() < best < turns.max())


@pytest.mark.parametrize("seed", [2, 3, 4, 5, 6, 11])
def test_readings_that_end_level_do_not_say_for_certain_that_the_best_lies_past_them(seed):
    """The true best is the last reading, at the end of the useful range: the slope there is 0, and what is seen is scatter."""
    turns = np.arange(0.5, 3.1, 0.25)
    speeds = rad_s(1150 - 25 * (turns - 3.0) ** 2 + np.random.default_rng(seed).normal(0, 5.0, turns.size))
    found = best_mixture_setting(turns.tolist(), speeds.tolist(), useful_turns=(0.5, 3.0))
    assert (found.place, found.best_turns, found.certain) == ("at or past the outer end", None, False)


@pytest.mark.parametrize("seed", range(20))
def test_scatter_alone_shows_no_top(seed):
    """A screw that does nothing: at 99.9 % coverage hardly a set in twenty passes for a top or a slope."""
    turns = np.arange(0.5, 3.6, 0.5)
    speeds = rad_s(1100 + np.random.default_rng(seed).normal(0, 5.0, turns.size))
    with pytest.raises(InputError, match="show no top"):
        best_mixture_setting(turns.tolist(), speeds.tolist(), coverage=0.999)
