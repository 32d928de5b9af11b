"""The JSON answers of whole build files against the same bikes worked out from scratch in plain loops, without ridesim."""

from __future__ import annotations

import pytest
from support.whole_bikes import ALLOWED, BIKES, pairs

pytestmark = pytest.mark.identities


@pytest.mark.parametrize("name", BIKES)
def test_a_whole_bike(name):
    """Every figure worked out from scratch, wherever it stands, within two millionths."""
    for where, ours, theirs in pairs(name):
        wanted = (
            theirs if isinstance(theirs, bool | str) or theirs is None else pytest.approx(theirs, rel=ALLOWED, abs=1e-9)
        )
        assert ours == wanted, where
