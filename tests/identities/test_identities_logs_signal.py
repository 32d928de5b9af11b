"""The small functions under the fits against scipy, which is too slow to load for a command."""

from __future__ import annotations

import numpy as np
import pytest
from scipy.signal import find_peaks, lfilter, savgol_filter

from ridesim.logs.fits.gears import tops_of
from ridesim.logs.fits.pull_fit import DayOfPulls
from ridesim.logs.fits.receiver import Receiver, smoothed
from ridesim.logs.fits.signal import parabolas


@pytest.mark.parametrize("seed", range(5))
def test_parabolas_are_those_of_savitzky_and_golay(seed):
    values = np.random.default_rng(seed).normal(size=40)
    smooth, slope = parabolas(values, 0.7)
    np.testing.assert_allclose(smooth, savgol_filter(values, 5, 2), atol=1e-12)
    np.testing.assert_allclose(slope, savgol_filter(values, 5, 2, deriv=1, delta=0.7), atol=1e-12)


@pytest.mark.parametrize("seed", range(20))
def test_tops_are_those_of_scipy(seed):
    rng = np.random.default_rng(seed)
    height = np.convolve(rng.integers(0, 6, 300).astype(float), np.ones(3), mode="same") + 1e-6 * rng.random(300)
    height[50:60] = 40.0  # a flat top
    np.testing.assert_array_equal(tops_of(height, 17), find_peaks(height, distance=17)[0])


@pytest.mark.parametrize(("lags", "lag", "mean"), [(1, 0.4, 0.0), (2, 0.3, 0.0), (0, 0.0, 0.73), (1, 0.5, 0.9)])
def test_a_receiver_smooths_as_its_equations_say(lags, lag, mean):
    """A speed that rises steadily until 1 s, then bends twice: the same on steps so fine that how they are taken is no matter."""
    fine = 0.0005
    clock = np.arange(-15.0, 3.0 + fine / 2, fine)
    true = 3.0 + 0.5 * clock + 2.0 * np.maximum(clock - 1.0, 0.0) - 4.0 * np.maximum(clock - 1.5, 0.0)
    shown = true
    if mean:
        way = np.concatenate([[0.0], np.cumsum((true[1:] + true[:-1]) / 2 * fine)])
        shown = np.interp(clock, clock, way) - np.interp(clock - mean, clock, way)
        shown = np.where(clock > -14.0, shown / mean, true - 0.25 * mean)
    for _ in range(lags):
        keep = (2 * lag - fine) / (2 * lag + fine)  # the trapezoidal rule
        gain = fine / (2 * lag + fine)
        shown, _ = lfilter([gain, gain], [1, -keep], shown, zi=[shown[0] * (1 - gain)])
    time = np.arange(0.0, 3.0, 0.05)
    got = smoothed(np.interp(time, clock, true), 0.05, np.array(0.5), lags, lag, mean)
    # what follows the first takes its answer as straight between the steps
    np.testing.assert_allclose(got, np.interp(time, clock, shown), atol=1e-5 if lags + (mean > 0) == 1 else 1e-3)


class Known(DayOfPulls):
    """A day on which a receiver is the less likely the farther it stands from the fourth step of the ladder."""

    def __init__(self, first: float) -> None:
        self.found = {}
        self._find(None, Receiver("a lag", first))

    def _find(self, start, receiver):
        self.found[receiver] = (abs(receiver.step - 4.0), receiver)


@pytest.mark.parametrize("first", [1.0, 9.0])
def test_the_likeliest_receiver_is_found_from_either_side(first):
    assert Known(first)._walked()[0].step == 4.0
