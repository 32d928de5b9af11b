"""Our own digits: the answers of the demo builds as they were last looked at. A change here is a number that moved.

Write the file anew with RIDESIM_WRITE_REGRESSION=1, look at the difference, and tell it in DEVELOPERS.md.
"""

from __future__ import annotations

import json
import os
from pathlib import Path

import pytest

from ridesim import reference
from ridesim.answers import contract, solve
from ridesim.bike import make_bike
from ridesim.buildfile.io import read

pytestmark = pytest.mark.regression
KEPT = Path(__file__).with_name("demo_answers.json")
NAMES = sorted(p.stem for p in (reference.DATA / "demo").glob("*.toml"))


def figures(value, path=""):
    """Every number and word of an answer by its path; sentences are left out."""
    if isinstance(value, dict):
        for key, inner in value.items():
            if key not in ("notes", "assumptions"):
                yield from figures(inner, f"{path}.{key}" if path else key)
    elif isinstance(value, list):
        for n, inner in enumerate(value):
            yield from figures(inner, f"{path}[{n}]")
    else:
        yield path, value


@pytest.mark.parametrize("name", NAMES)
def test_no_number_moved(name):
    found = dict(figures(contract(solve(make_bike(read(reference.DATA / "demo" / f"{name}.toml")), bands=False))))
    kept = json.loads(KEPT.read_text(encoding="utf-8")) if KEPT.exists() else {}
    if os.environ.get("RIDESIM_WRITE_REGRESSION"):
        KEPT.write_text(json.dumps(kept | {name: found}, indent=1, sort_keys=True) + "\n", encoding="utf-8")
        return
    assert set(found) == set(kept[name])
    moved = {
        k: (kept[name][k], v)
        for k, v in found.items()
        if v != (pytest.approx(kept[name][k], rel=1e-6) if isinstance(v, float) else kept[name][k])
    }
    assert not moved
