"""Shares of doubt beside the indices of the test function that the literature on sensitivity uses."""

from __future__ import annotations

import numpy as np
import pytest
from support.printed import Printed

from ridesim.bands import shares_of_doubt

pytestmark = pytest.mark.published

SOURCE = (
    "Ishigami and Homma, An importance quantification technique in uncertainty analysis for computer models, ISUMA 1990; "
    "indices for a = 7, b = 0.1 as printed wherever the function is used to check a program"
)
REASON = "Monte Carlo: over 20 seeds of 4,096 draws the estimates spread by at most 0.004 (one standard deviation), taken threefold"


def ishigami(draws):
    """The function sin x1 + 7 sin^2 x2 + 0.1 x3^4 sin x1 on -pi..pi."""
    x = np.pi * (2.0 * draws.T - 1.0)
    return np.atleast_2d(np.sin(x[0]) + 7.0 * np.sin(x[1]) ** 2 + 0.1 * x[2] ** 4 * np.sin(x[0]))


def share(order: int, which: int) -> float:
    """First-order (0) or total (1) share of one input."""
    return float(shares_of_doubt(ishigami, 3, n=4096)[order][0, which])


CASES = [
    Printed(
        id=f"ishigami-{('first', 'total')[order]}-x{which + 1}",
        quantity=f"{('first-order', 'total')[order]} index of x{which + 1}",
        given="sin x1 + 7 sin^2 x2 + 0.1 x3^4 sin x1, each uniform on -pi..pi",
        printed=printed,
        unit="-",
        source=SOURCE,
        compute=lambda order=order, which=which: share(order, which),
        tolerance=0.012,
        reason=REASON,
    )
    for order, row in enumerate((("0.3139", "0.4424", "0.0000"), ("0.5576", "0.4424", "0.2437")))
    for which, printed in enumerate(row)
]


@pytest.mark.parametrize("case", CASES, ids=str)
def test_the_shares_are_those_of_the_literature(case, beside):
    beside(case)
