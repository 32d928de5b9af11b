"""What work costs."""

from __future__ import annotations

import time
from collections.abc import Callable


def least_s(work: Callable[[], object], runs: int, clock: Callable[[], float] = time.process_time) -> float:
    """The least time of several runs, by default of the processor: what the machine needs when it is left alone. [s]"""
    times = []
    for _ in range(runs):
        start = clock()
        work()
        times.append(clock() - start)
    return min(times)
