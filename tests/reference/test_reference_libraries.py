"""Air, flow, fuel and steering beside what well-kept libraries return for the same inputs."""

from __future__ import annotations

import pytest

pytestmark = pytest.mark.reference


def test_the_libraries_say_the_same():
    from support.ledger.libraries import by_libraries  # one of them takes seconds to load

    cases = by_libraries()
    off = [f"{case}: {case.compute():.10g}, there {case.printed} {case.unit}" for case in cases if not case.inside]
    assert off == [] and len(cases) >= 70
