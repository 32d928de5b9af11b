"""When a rider shifts, by a habit in shares of the rev range or the regulation's rule, and the gear of every second."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray

from ridesim.errors import InputError, within
from ridesim.logs.log import Array

REGULATION = "UN GTR No. 2, shift speeds for a simulated ride (formula from memory)"
AFTER_A_SHIFT = 0.92  # share of the engine speed just after a shift up below which the rule's rider shifts down again


@dataclass(frozen=True, kw_only=True)
class Habit:
    """Shift up above one share of the range from idle to rev limit, down below another, and not again for a while."""

    up_share: float = 0.60
    down_share: float = 0.25
    hold_s: float = 2.0
    where_from: str = "a habit of the rider's own"

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


@dataclass(frozen=True, kw_only=True)
class RegulationRule:
    """The rule of UN GTR No. 2, from memory: rated power, rated speed, and the mass of the bike alone."""

    rated_power_w: float
    rated_rad_s: float
    unladen_mass_kg: float
    hold_s: float = 2.0
    where_from: str = REGULATION

    def speeds_rad_s(self, ratios: Array, idle_rad_s: float, limit_rad_s: float) -> tuple[Array, Array]:
        """(shift up above, shift down below) for each pair and gear; never above the rev limit."""
        up = np.empty_like(ratios)
        for gear in range(ratios.shape[1]):
            up[:, gear] = regulation_upshift_rad_s(
                gear + 1, self.rated_power_w, self.unladen_mass_kg, idle_rad_s, self.rated_rad_s
            )
        up = np.minimum(np.maximum(up, 1.15 * idle_rad_s), limit_rad_s)
        down = np.zeros_like(ratios)
        down[:, 1:] = AFTER_A_SHIFT * up[:, :-1] * ratios[:, 1:] / ratios[:, :-1]
        return up, down


def regulation_upshift_rad_s(
    gear: int, rated_power_w: Any, unladen_mass_kg: Any, idle_rad_s: Any, rated_rad_s: Any
) -> Any:
    """Engine speed of the shift up:  n = idle + (0.5753 exp(-1.9 P / (m_k + 75)) - 0.1 in first) (rated - idle).

    P in kW, m_k in kg. From memory of UN GTR No. 2: offered beside a rider's own habit, not a check value.

    Parameters
    ----------
    gear : int
        1 for first.
    rated_power_w : float or array
        [W]
    unladen_mass_kg : float or array
        Bike in running order without a rider. [kg]
    idle_rad_s, rated_rad_s : float or array
        [rad/s]

    Returns
    -------
    float or array
        [rad/s]

    Examples
    --------
    28 kW, 161 kg, idle 1400 and rated 6500 rev/min:

    >>> from ridesim.units import rad_s, rpm
    >>> [int(round(float(rpm(regulation_upshift_rad_s(g, 28e3, 161.0, rad_s(1400.0), rad_s(6500.0)))))) for g in (1, 2)]
    [3232, 3742]
    """
    share = 0.5753 * np.exp(-1.9 * np.divide(rated_power_w, 1000.0) / np.add(unladen_mass_kg, 75.0)) - (
        0.1 if gear == 1 else 0.0
    )
    return idle_rad_s + share * np.subtract(rated_rad_s, idle_rad_s)


STANDING_M_S = 0.5
STEP_S = 1.0


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
