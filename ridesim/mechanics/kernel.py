"""The kernel: every figure of every set-up in one call. One bike is a set-up of one; there is no other physics."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from functools import cache, lru_cache
from typing import Any

import numpy as np
from numpy.typing import NDArray

from ridesim.components.power_curve import PowerCurve
from ridesim.mechanics.cruise import Cruise, cruise
from ridesim.mechanics.limits import Gears, gears
from ridesim.mechanics.passage import passage
from ridesim.mechanics.run import StandingRun, roll_on_times_s, standing_start, untimed
from ridesim.mechanics.setups import Array, Ride, SetUps
from ridesim.mechanics.torque import LONGEST_CELL_RAD_S, TorqueCells, cells_of
from ridesim.mechanics.traction import GearRows

CHUNK = 1280  # set-ups worked at a time: enough to drown the cost of a call, few enough to bound the memory
_KEPT_BYTES = 31_000_000  # just below the 32 MiB up to which glibc learns


@dataclass(frozen=True, kw_only=True, eq=False)
class Performance:
    """What the kernel says of S set-ups with one torque curve on one ride; SI, nan where a thing does not happen."""

    gears: Gears
    cruise: Cruise
    run: StandingRun
    roll_on_s: Array  # (S, G)

    @property
    def top_speed_m_s(self) -> Array:
        """The highest top speed over the gears, nan when no gear holds any speed."""
        return np.asarray(np.fmax.reduce(self.gears.top_speed_m_s, axis=1))

    @property
    def top_speed_gear(self) -> NDArray[np.int64]:
        """The gear of it, counted from 1."""
        return np.asarray(np.argmax(np.nan_to_num(self.gears.top_speed_m_s, nan=-np.inf), axis=1) + 1)


def perform(
    setups: SetUps,
    curve: PowerCurve,
    ride: Ride,
    chunk: int = CHUNK,
    *,
    trace: bool = True,
    timed: bool = True,
    longest_cell_rad_s: float = LONGEST_CELL_RAD_S,
) -> Performance:
    """Every figure of every set-up.

    Parameters
    ----------
    setups : SetUps
        S set-ups of G gears.
    curve : PowerCurve
        Crank torque in the sheet's standard air, ended at the rev limit; setups.torque_factor brings it to the day.
    ride : Ride
        Speeds, slope and wind.
    chunk : int
        Set-ups worked at a time.
    trace : bool
        Whether the run keeps its trace, by far its largest part.
    timed : bool
        Whether anything is timed, which is half of the work; the times are nan otherwise.
    longest_cell_rad_s : float
        How finely the curve is looked at: for a trace that is drawn. [rad/s]

    Returns
    -------
    Performance
        Arrays with S first.

    Examples
    --------
    >>> import ridesim as rs
    >>> bike = rs.demo("coast-single")
    >>> found = perform(bike.setups, bike.curve, bike.ride())
    >>> float(round(3.6 * found.top_speed_m_s[0], 1)), int(found.top_speed_gear[0])
    (125.3, 5)
    """
    cells = cells_of(curve, longest_cell_rad_s)
    _keep_memory()
    parts = []
    for start in range(0, len(setups), chunk):
        group = setups if len(setups) <= chunk else setups.take(slice(start, start + chunk))
        figures, run, roll_on = _full_throttle(group, cells, replace(ride, cruise_m_s=np.nan), trace, timed)
        held = cruise(GearRows(group, cells, ride))
        parts.append(Performance(gears=figures, cruise=held, run=run, roll_on_s=roll_on))
    return parts[0] if len(parts) == 1 else join(parts)


@lru_cache(maxsize=96)  # a page of gearing asks seven; eight riders at once still find theirs
def _full_throttle(
    setups: SetUps, cells: TorqueCells, ride: Ride, trace: bool, timed: bool
) -> tuple[Gears, StandingRun, Array]:
    """What does not depend on the cruising speed: a rider who slides that asks for it again and again."""
    rows = GearRows(setups, cells, ride)
    figures = gears(rows)
    if not timed:
        return figures, untimed(len(setups), ride), np.full(setups.ratios.shape, np.nan)
    free = passage(rows)
    run = standing_start(rows, figures, free, trace=trace)
    return figures, run, roll_on_times_s(rows, free, *ride.roll_on_m_s)


@cache
def _keep_memory() -> None:
    """Let the C library keep freed memory for the next arrays, where it would hand it back and have every page cleared anew.

    glibc raises what it keeps to twice the largest block freed so far; the block is never touched, so it costs nothing. Without
    it a thousand set-ups spend most of their time in page faults.
    """
    np.empty(_KEPT_BYTES, np.uint8)


def join(parts: Sequence[Any]) -> Any:
    """Arrays, or records of arrays, one after the other along the first axis; single values are taken from the first."""
    first = parts[0]
    if hasattr(first, "__dict__"):
        return type(first)(**{name: join([getattr(part, name) for part in parts]) for name in vars(first)})
    return np.concatenate(parts) if isinstance(first, np.ndarray) else first
