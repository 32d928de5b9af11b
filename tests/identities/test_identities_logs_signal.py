"""The small functions under the fits against scipy, which is too slow to load for a command."""

from __future__ import annotations

import numpy as np
import pytest
from scipy.ndimage import gaussian_filter1d
from scipy.signal import find_peaks, savgol_filter
from scipy.stats import t as student

from ridesim.logs.fits.gears import tops_of
from ridesim.logs.fits.signal import bell, parabolas, student_95


@pytest.mark.parametrize("seed", range(5))
def test_parabolas_are_those_of_savitzky_and_golay(seed):
    values = np.random.default_rng(seed).normal(size=40)
    smooth, slope = parabolas(values, 0.7)
    np.testing.assert_allclose(smooth, savgol_filter(values, 5, 2), atol=1e-12)
    np.testing.assert_allclose(slope, savgol_filter(values, 5, 2, deriv=1, delta=0.7), atol=1e-12)


@pytest.mark.parametrize("sigma", [0.8, 3.0, 8.0])
def test_the_bell_is_that_of_scipy(sigma):
    values = np.random.default_rng(1).normal(size=400)
    np.testing.assert_allclose(bell(values, sigma), gaussian_filter1d(values, sigma), atol=1e-12)


@pytest.mark.parametrize("seed", range(20))
def test_tops_are_those_of_scipy(seed):
    rng = np.random.default_rng(seed)
    height = np.convolve(rng.integers(0, 6, 300).astype(float), np.ones(3), mode="same") + 1e-6 * rng.random(300)
    height[50:60] = 40.0  # a flat top
    np.testing.assert_array_equal(tops_of(height, 17), find_peaks(height, distance=17)[0])


def test_the_quantile_of_students_law_is_that_of_scipy_stats():
    for free in (1.0, 1.3, 2.5, 6.0, 31.0, 1000.0, 1e5):
        assert student_95(free) == pytest.approx(student.ppf(0.95, free), rel=1e-9)
