"""Idles made up: engine speed over turns out, even and lopsided, all with one top, and whether limits hold it."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

import numpy as np

from ridesim.errors import InputError
from ridesim.fueling.mixture import best_mixture_setting
from ridesim.units import rad_s

# rev/min below the top, d turns richer than the best
IDLES: dict[str, Callable[[Any], Any]] = {
    "even": lambda d: -80 * d**2,
    "cubic": lambda d: -80 * d**2 * (1 - 0.3 * d),
    "exponential": lambda d: -250 * (np.exp(-0.8 * d) + 0.8 * d - 1),
    "steep": lambda d: -71 * (np.exp(-1.5 * d) + 1.5 * d - 1),
    "steeper": lambda d: -26 * (np.exp(-2.5 * d) + 2.5 * d - 1),
    "two3": lambda d: -80 * d**2 * np.where(d < 0, 1.5, 0.5),
    "two6": lambda d: -80 * d**2 * np.where(d < 0, 12 / 7, 2 / 7),
    "two8": lambda d: -80 * d**2 * np.where(d < 0, 2 / 9, 16 / 9),
    "flat": lambda d: -40 * d**2 - 20 * d**4,
    "stalls": lambda d: -40 * d**2 - 200 * np.clip(-d - 0.6, 0, None) ** 2,
    "pointed": lambda d: -90 * np.abs(d) ** 1.5,
}


def idle(name: str) -> Callable[[Any, float], Any]:
    """Engine speed over turns out with the best where it is put. [rev/min]"""
    return lambda turns, best: 1200 + IDLES[name](turns - best)


def holds(name: str, turns: Any, best: float, scatter_rpm: float, seed: int, coverage: float = 0.95) -> bool | None:
    """Whether the limits of readings so scattered hold the best; None where they are refused."""
    speeds = idle(name)(turns, best) + np.random.default_rng(seed).normal(0.0, scatter_rpm, turns.size)
    try:
        found = best_mixture_setting(turns.tolist(), rad_s(np.clip(speeds, 300, 4000)).tolist(), coverage=coverage)
    except InputError:
        return None
    low, high = found.low_turns, found.high_turns
    return (low is None or low <= best) and (high is None or best <= high)
