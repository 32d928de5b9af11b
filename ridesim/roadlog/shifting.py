"""In which gear a rider of a given habit would be, second by second, for all sprocket pairs at once."""

from __future__ import annotations

from collections.abc import Callable

import numpy as np
from numpy.typing import NDArray

from ridesim.roadlog.habit import Habit, RegulationRule
from ridesim.roadlog.log import Array
from ridesim.roadlog.road_demand import STEP_S

STANDING_M_S = 0.5


def gears_by_habit(
    speed: Array,
    per: Array,
    rule: Habit | RegulationRule,
    idle: float,
    limit: float,
    progress: Callable[[float], None] | None,
) -> tuple[NDArray[np.int64], NDArray[np.int64]]:
    """Gear (0 for first) for each second and pair, and shifts a pair.

    A gear depends on the one before, so time is gone through second by second, all pairs at once.

    Parameters
    ----------
    speed : array (seconds,)
        [m/s]
    per : array (pairs, gears)
        Engine speed over road speed. [rad/m]
    rule : Habit or RegulationRule
    idle, limit : float
        [rad/s]
    progress : callable, optional
        Told the share done.

    Returns
    -------
    tuple of array (seconds, pairs) and array (pairs,)
    """
    pairs, gears = per.shape
    up, down = (array.ravel() for array in rule.speeds_rad_s(per, idle, limit))
    up, down = up.copy(), down.copy()
    base = gears * np.arange(pairs)
    up[base + gears - 1] = np.inf  # nothing above top gear
    down[base] = -np.inf
    flat = per.ravel()
    # a shift that would at once be taken back is not made: the engine speed after it must lie between the marks
    up_stays = np.concatenate([flat[1:] / flat[:-1], [0.0]])
    down_to = np.concatenate([[0.0], flat[:-1] / flat[1:]])
    next_down, last_up = np.concatenate([down[1:], [0.0]]), np.concatenate([[np.inf], up[:-1]])
    hold = max(int(np.ceil(rule.hold_s / STEP_S)), 1)
    out = np.empty((speed.size, pairs), dtype=np.int64)
    at, since, shifts = base.copy(), np.full(pairs, hold), np.zeros(pairs, dtype=np.int64)
    for k, v in enumerate(speed):
        if v < STANDING_M_S:
            at, since = base.copy(), np.full(pairs, hold)
        else:
            engine = v * flat[at]
            free = since >= hold
            rise = (engine > up[at]) & ((free & (engine * up_stays[at] > next_down[at])) | (engine > limit))
            fall = (engine < down[at]) & free & (engine * down_to[at] < last_up[at])
            move = rise.astype(np.int64) - fall
            at = at + move
            since = np.where(move != 0, 1, since + 1)
            shifts += move != 0
        out[k] = at - base
        if progress and k % 1000 == 0:
            progress(0.8 * k / speed.size)
    return out, shifts
