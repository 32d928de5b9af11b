"""The counts of the ledger are printed at the end of a run that wrote it."""

from __future__ import annotations

import csv
import time
from typing import Any

STARTED = time.time()


def pytest_terminal_summary(terminalreporter: Any) -> None:
    from support.ledger.rows import LEDGER, table

    if LEDGER.exists() and LEDGER.stat().st_mtime >= STARTED:
        with LEDGER.open(encoding="utf-8", newline="") as lines:
            terminalreporter.write_line(
                f"\nOur figures beside those of others, {LEDGER}:\n{table(csv.DictReader(lines))}"
            )
