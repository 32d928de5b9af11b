"""A ride of one's own through every sprocket pair: the gears, engine speeds, shifts and fuel of each."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray

from ridesim.answers.answer import rows_of
from ridesim.errors import InputError, within
from ridesim.logs.fits.demand import LONGEST_GAP_S, STEP_S, Demand
from ridesim.logs.log import Array, frozen
from ridesim.mechanics.fuel import (
    DENSITY_KG_M3,
    HEATING_VALUE_J_KG,
    friction_power_w,
    fuel_power_w,
)
from ridesim.statements import BothWays, many
from ridesim.units import rad_s, rpm

STANDING_M_S = 0.5


@dataclass(frozen=True, kw_only=True)
class Habit:
    """Shift up above one share of the range from idle to rev limit, down below another, and not again for a while.

    Attributes
    ----------
    up_share, down_share : float
        0.1 to 1 and 0 to 0.9; down at most 0.8 of up, or the gear would hunt. [-]
    hold_s : float
        How long a gear is kept, 0 to 20. [s]

    Examples
    --------
    An engine that idles at 150 rad/s and may turn 750 is shifted up above 510 and down below 300:

    >>> up, down = Habit().speeds_rad_s(np.ones((1, 5)), 150.0, 750.0)
    >>> up[0, 0].item(), down[0, 0].item()
    (510.0, 300.0)
    """

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
        """(shift up above, shift down below) for each pair and gear, in the shape of ratios (pairs, gears). [rad/s]"""
        span = limit_rad_s - idle_rad_s
        shape = np.ones_like(ratios)
        return shape * (idle_rad_s + self.up_share * span), shape * (idle_rad_s + self.down_share * span)


NEAR_LIMIT = 0.90
BIN_RAD_S = float(rad_s(250.0))
USUAL = Habit()
LUGGED = 0.2  # of the range from idle to the rev limit


@dataclass(frozen=True, kw_only=True)
class RideEngine:
    """What a ride must know of an engine; one that pulls below lugging_rad_s is lugged, a fifth of its range where it is None."""

    idle_rad_s: float
    limit_rad_s: float
    displacement_m3: float
    indicated_efficiency: float
    cycle: int = 4
    efficiency: float = 0.93
    crank_inertia_kg_m2: float = 0.0
    fuel_density_kg_m3: float = DENSITY_KG_M3
    lugging_rad_s: float | None = None

    @property
    def lugged_rad_s(self) -> float:
        """Below it a pulling engine counts as lugged."""
        if self.lugging_rad_s is None:
            return self.idle_rad_s + LUGGED * (self.limit_rad_s - self.idle_rad_s)
        return float(within("lugging_rad_s", self.lugging_rad_s, 0.0, self.limit_rad_s, "rad/s"))


@dataclass(frozen=True, kw_only=True)
class RideThrough:
    """What each pair would have made of the ride; the first axis is the pair.

    share_of_time is over bins of engine speed that begin at bins_rad_s, of the time on the move.
    """

    shifts: NDArray[np.int64]
    near_limit_s: Array
    over_limit_s: Array
    lugging_s: Array
    mean_engine_rad_s: Array
    engine_turns: Array
    fuel_m3: Array
    fuel_m3_per_m: Array
    in_gear_s: Array
    share_of_time: Array
    bins_rad_s: Array
    moving_s: float
    distance_m: float
    assumptions: tuple[str, ...]
    notes: tuple[str, ...]

    def rows(self) -> tuple[dict[str, Any], ...]:
        """One row a pair, in SI."""
        names = ("shifts", "mean_engine_rad_s", "near_limit_s", "over_limit_s", "lugging_s", "fuel_m3_per_m")
        return rows_of({**{name: getattr(self, name) for name in names}, "top_gear_s": self.in_gear_s[:, -1]})


def ride_through(
    asked: Demand,
    per_rad_m: Any,
    engine: RideEngine,
    habit: Habit = USUAL,
    progress: Callable[[float], None] | None = None,
) -> RideThrough:
    """The same ride with every pair: the gear by the habit, the engine speed from it, and the fuel by a Willans line.

    Parameters
    ----------
    asked : Demand
    per_rad_m : array (pairs, gears)
        Engine speed over road speed, i / r, falling from first gear on. [rad/m]
    engine : RideEngine
    habit : Habit, optional
    progress : callable, optional
        Told the share done.

    Returns
    -------
    RideThrough

    Raises
    ------
    InputError
        A ride that goes nowhere, or figures out of range.

    Examples
    --------
    Ten minutes at 25 m/s against 300 N, in one gear of 6:1 on a 0.3 m wheel: 500 rad/s.

    >>> steady = np.full(600, 25.0)
    >>> asked = Demand(speed_m_s=steady, acceleration_m_s2=0 * steady, grade=0 * steady, force_n=0 * steady + 300.0,
    ...                counts=0 * steady + 1.0)
    >>> out = ride_through(asked, [[6.0 / 0.3]], RideEngine(idle_rad_s=150.0, limit_rad_s=800.0, displacement_m3=463e-6, indicated_efficiency=0.36))
    >>> float(out.mean_engine_rad_s[0]), float((1e8 * out.fuel_m3_per_m[0]).round(2))
    (500.0, 4.55)
    """
    per = np.asarray(per_rad_m, dtype=float)
    pairs, gears = per.shape
    gear, shifts = gears_by_habit(asked.speed_m_s, per, habit, engine.idle_rad_s, engine.limit_rad_s, progress)
    held = per[np.arange(pairs), gear]
    speed, weight = asked.speed_m_s[:, None], asked.counts[:, None] * STEP_S
    moving = speed >= STANDING_M_S
    turning = np.where(
        moving, np.maximum(speed * held, engine.idle_rad_s), engine.idle_rad_s
    )  # below it the clutch slips
    brake = _brake_power_w(asked, held, moving, engine)
    on = weight * moving
    moving_s, distance = float(np.sum(on[:, 0])), float(np.sum(asked.speed_m_s * weight[:, 0]))
    if moving_s < 10.0:
        raise InputError("log", f"{moving_s:.0f} s", "are all the ride moves", "Choose a ride that goes somewhere.")
    bins = BIN_RAD_S * np.arange(int(max(float(turning.max()), engine.limit_rad_s) / BIN_RAD_S) + 1)
    fuel = np.sum(_heat_w(brake, turning, engine) * weight, axis=0) / HEATING_VALUE_J_KG / engine.fuel_density_kg_m3
    limit = engine.limit_rad_s
    return RideThrough(
        shifts=shifts,
        near_limit_s=frozen(np.sum(on * (turning >= NEAR_LIMIT * limit), axis=0)),
        over_limit_s=frozen(np.sum(on * (turning > limit), axis=0)),
        lugging_s=frozen(np.sum(on * (brake > 0) * (turning < engine.lugged_rad_s) * (gear > 0), axis=0)),
        mean_engine_rad_s=frozen(np.sum(turning * on, axis=0) / moving_s),
        engine_turns=frozen(np.sum(turning * weight, axis=0) / (2 * np.pi)),
        fuel_m3=frozen(fuel),
        fuel_m3_per_m=frozen(fuel / distance),
        in_gear_s=frozen(_time_in(gear, gears, on)),
        share_of_time=frozen(_time_in((turning / BIN_RAD_S).astype(np.int64), bins.size, on) / moving_s),
        bins_rad_s=frozen(bins),
        moving_s=moving_s,
        distance_m=distance,
        assumptions=_assumptions(habit, engine),
        notes=(*_notes(turning, limit, engine.lugged_rad_s), *_gaps_told(asked.counts)),
    )


def _brake_power_w(asked: Demand, held: Array, moving: NDArray[np.bool_], engine: RideEngine) -> Array:
    """Power at the crank: what the tire gives over the losses, and what speeds the crank up."""
    speed, rate = asked.speed_m_s[:, None], asked.acceleration_m_s2[:, None]
    power = asked.force_n[:, None] * speed / engine.efficiency + engine.crank_inertia_kg_m2 * held**2 * rate * speed
    return np.where(moving, power, 0.0)


def _heat_w(brake: Array, turning: Array, engine: RideEngine) -> Array:
    """Heat of the fuel burnt: by the Willans line when pulling, what idling takes when not."""
    shut = friction_power_w(engine.displacement_m3, engine.idle_rad_s, engine.cycle) / engine.indicated_efficiency
    pulling = fuel_power_w(
        np.maximum(brake, 0.0), engine.displacement_m3, turning, engine.cycle, engine.indicated_efficiency
    )
    return np.asarray(np.where(brake > 0, pulling, shut))


def _time_in(place: NDArray[np.int64], places: int, on: Array) -> Array:
    """Seconds of each pair in each of a number of places (gears, bins). [s]"""
    pairs = place.shape[1]
    flat = (place + places * np.arange(pairs)).ravel()
    weights = np.broadcast_to(on, place.shape).ravel()
    return np.asarray(np.bincount(flat, weights=weights, minlength=places * pairs).reshape(pairs, -1), dtype=float)


def _assumptions(habit: Habit, engine: RideEngine) -> tuple[str, ...]:
    return (
        f"shifted up at {100 * habit.up_share:.0f} % and down at {100 * habit.down_share:.0f} % of the range from idle to the rev limit",
        "the rider keeps to the same speeds whatever the gearing",
        "with the throttle shut the engine burns what it burns at idle",
        "below idle in first the clutch slips at idle speed",
        f"indicated efficiency {engine.indicated_efficiency:.3g}, "
        + BothWays(f"{HEATING_VALUE_J_KG / 1e6:g} MJ/kg", "18,700 BTU/lb")
        + f", fuel {engine.fuel_density_kg_m3 / 1000:.3g} times as heavy as water; friction by a line for automobile engines (from memory)",
    )


def _notes(engine: Array, limit: float, lug: float) -> tuple[str, ...]:
    over = np.any(engine > limit, axis=0)
    notes = [
        f"near the limit is {100 * NEAR_LIMIT:.0f} % of it and more; lugging is pulling below {rpm(lug):.0f} rev/min above first gear"
    ]
    if over.any():
        notes.append(
            f"{int(over.sum())} of {over.size} pairs could not have ridden it: the engine would pass its limit in top gear or "
            "before a shift"
        )
    return tuple(notes)


def _gaps_told(counts: Array) -> tuple[str, ...]:
    """How much of the ride lies in gaps, where it has any."""
    lost = int(np.sum(counts == 0) * STEP_S)
    if not lost:
        return ()
    gaps = int(np.sum(np.diff(np.concatenate([[1.0], counts])) < 0))
    return (f"{lost} s lie in {many(gaps, 'gap')} of the log longer than {LONGEST_GAP_S:g} s and count for nothing",)


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
