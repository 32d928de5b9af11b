"""Bikes drawn from the tolerances of one, through the kernel: what the first order of a band is held to.

A tolerance is half of a 90 % range, so its error is normal with a standard deviation of it over 1.645. The draws are a scrambled
Sobol sequence with a fixed seed.
"""

from __future__ import annotations

import numpy as np
from scipy.stats import norm, qmc

from ridesim.bike.figures_to_setups import setups_of
from ridesim.mechanics.kernel import perform
from ridesim.uncertainty.tolerances import PER_SD, perturbed

SEED = 20


def performed(bike, errors):
    """What the kernel says of a bike with errors of so many standard deviations, (n, tolerances)."""
    raw = perturbed(bike.raw, bike.tolerances, np.asarray(errors) / PER_SD)
    return perform(setups_of(raw, bike.cycle), bike.curve, bike.ride(), trace=False)


def normal_errors(count, samples=2048):
    return norm.ppf(qmc.Sobol(count, rng=np.random.default_rng(SEED)).random(samples))


def band(bike, read, samples=2048):
    """The 5th and 95th percentile of a figure."""
    values = read(performed(bike, normal_errors(len(bike.tolerances), samples)))
    assert np.isfinite(values).all()
    return np.quantile(values, [0.05, 0.95])
