"""How often the limits of the mixture screw hold the truth, by the shape of the idle and how it is read: printed, and held to 95 %."""

from __future__ import annotations

import numpy as np
import pytest
from scipy.stats import binom
from support.idles import IDLES, holds

SETS = 20
READ = {
    "five, 0.5 apart": np.arange(0.9, 3.0, 0.5),
    "seven, 0.5 apart": np.arange(0.5, 3.6, 0.5),
    "nine, 0.375 apart": np.arange(0.5, 3.6, 0.375),
    "thirteen, 0.25 apart": np.arange(0.5, 3.6, 0.25),
    "seven twice": np.repeat(np.arange(0.5, 3.6, 0.5), 2),
}


@pytest.mark.parametrize("read", READ)
def test_coverage_of_the_mixture_screw(read, tell):
    told = []
    for name in IDLES:
        found = [
            one
            for best in (1.5, 1.87, 2.4)
            for scatter in (3.0, 8.0)
            for seed in range(SETS)
            if (one := holds(name, READ[read], best, scatter, seed)) is not None
        ]
        told.append(f"{name} {100 * np.mean(found):.1f} % of {len(found)}")
        assert sum(found) >= binom.ppf(1e-4, len(found), 0.95), told[-1]
    tell(f"mixture screw, limits at 95 %, {read}: {', '.join(told)}")
