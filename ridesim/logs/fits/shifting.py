"""When a rider shifts, by a habit in shares of the rev range, and the gear of every second."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from ridesim.errors import InputError, within
from ridesim.logs.log import Array


@dataclass(frozen=True, kw_only=True)
class Habit:
    """Shift up above one share of the range from idle to rev limit, down below another, and not again for a while."""

    up_share: float = 0.60
    down_share: float = 0.25
    hold_s: float = 2.0

    def __post_init__(self) -> None:
        within("habit.up_share", self.up_share, 0.1, 1.0, "")
        within("habit.down_share", self.down_share, 0.0, 0.9, "")
        within("habit.hold_s", self.hold_s, 0.0, 20.0, "s")
        if self.down_share > 0.8 * self.up_share:
            problem = f"is too near the share for shifting up ({self.up_share:g})"
            fix = "Leave a fifth between them, or the gear will hunt."
            raise InputError("habit.down_share", self.down_share, problem, fix)

    def speeds_rad_s(self, ratios: Array, idle_rad_s: float, limit_rad_s: float) -> tuple[Array, Array]:
        """(shift up above, shift down below) for each pair and gear."""
        span = limit_rad_s - idle_rad_s
        shape = np.ones_like(ratios)
        return shape * (idle_rad_s + self.up_share * span), shape * (idle_rad_s + self.down_share * span)


STANDING_M_S = 0.5
STEP_S = 1.0


def gears_by_habit(
    speed: Array,
    per: Array,
    habit: Habit,
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
    habit : Habit
    idle, limit : float
        [rad/s]
    progress : callable, optional
        Told the share done.

    Returns
    -------
    tuple of array (seconds, pairs) and array (pairs,)
    """
    pairs, gears = per.shape
    up, down = (array.ravel() for array in habit.speeds_rad_s(per, idle, limit))
    up, down = up.copy(), down.copy()
    base = gears * np.arange(pairs)
    up[base + gears - 1] = np.inf  # nothing above top gear
    down[base] = -np.inf
    flat = per.ravel()
    # a shift that would at once be taken back is not made: the engine speed after it must lie between the marks
    up_stays = np.concatenate([flat[1:] / flat[:-1], [0.0]])
    down_to = np.concatenate([[0.0], flat[:-1] / flat[1:]])
    next_down, last_up = np.concatenate([down[1:], [0.0]]), np.concatenate([[np.inf], up[:-1]])
    hold = max(int(np.ceil(habit.hold_s / STEP_S)), 1)
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
