"""Figures that were read in no document: second-hand, from memory, or common practice; the ledger counts them apart."""

from __future__ import annotations

import pytest
from support.ledger.rows import unread

pytestmark = pytest.mark.regression


@pytest.mark.parametrize("case", unread(), ids=str)
def test_matches_the_figure_as_it_came(case):
    assert case.inside, (
        f"computed {case.compute():.10g}, given {case.printed} {case.unit}, allowed +-{case.allowed:.3g}"
    )
