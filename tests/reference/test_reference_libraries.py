"""Air, flow, fuel and steering beside what well-kept libraries return for the same inputs."""

from __future__ import annotations

import pytest
from support.ledger.libraries import by_libraries

pytestmark = pytest.mark.reference


@pytest.mark.parametrize("case", by_libraries(), ids=str)
def test_the_library_says_the_same(case):
    assert case.inside, (
        f"computed {case.compute():.10g}, there {case.printed} {case.unit}, allowed +-{case.allowed:.3g}"
    )
