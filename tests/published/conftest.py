"""Every printed figure is held to its digits, and all of them go into one table that a reader can open."""

from __future__ import annotations

import csv
from pathlib import Path
from typing import Any

import pytest
from support.printed import Printed

TABLE = Path(__file__).parents[2] / "build" / "computed-beside-printed.csv"
ROWS = pytest.StashKey[list[tuple[str, ...]]]()


@pytest.fixture
def beside(request: pytest.FixtureRequest):
    """Hold one printed figure: compute it, write the row, fail if it is outside its tolerance."""
    rows = request.config.stash.setdefault(ROWS, [])

    def hold(case: Printed) -> None:
        computed = float(case.compute())
        inside = abs(computed - float(case.printed)) <= case.allowed
        rows.append(
            (case.id, case.quantity, case.given, case.printed, f"{computed:.8g}", case.unit,
             f"{computed / float(case.printed):.6f}" if float(case.printed) else "", f"{case.allowed:.3g}",
             case.reason, case.source, "yes" if inside else "NO")
        )
        assert inside, (
            f"{case.id}: {case.quantity} ({case.given}): computed {computed:.8g}, printed {case.printed} "
            f"{case.unit}, allowed +-{case.allowed:.3g}; {case.source}"
        )

    return hold


@pytest.hookimpl(optionalhook=True)
def pytest_testnodedown(node: Any) -> None:
    """One of several processes has ended: its rows join those of the others."""
    node.config.stash.setdefault(ROWS, []).extend(map(tuple, node.workeroutput.get("printed", ())))


def pytest_sessionfinish(session: pytest.Session) -> None:
    rows = session.config.stash.get(ROWS, [])
    if hasattr(session.config, "workeroutput"):  # one of several processes hands its rows on
        session.config.workeroutput["printed"] = rows
    elif rows:
        _written(rows)
        session.config.get_terminal_writer().line(f"\n{len(rows)} printed figures beside computed ones: {TABLE}")


def _written(rows: list[tuple[str, ...]]) -> None:
    TABLE.parent.mkdir(exist_ok=True)
    with TABLE.open("w", encoding="utf-8", newline="") as out:
        writer = csv.writer(out)
        writer.writerow(("id", "quantity", "given", "printed", "computed", "unit", "computed/printed", "allowed",
                         "reason", "source", "inside"))
        writer.writerows(sorted(rows))
