"""The kernel: every figure of every set-up in one call. One bike is a set-up of one; there is no other physics."""

from __future__ import annotations

from dataclasses import dataclass, fields, is_dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray

from ridesim.mechanics.cruise import Cruise, cruise
from ridesim.mechanics.pieces import pieces_of
from ridesim.mechanics.run import Run, roll_on_times_s, standing_start
from ridesim.mechanics.setups import Ride, SetUps
from ridesim.mechanics.thrust import Forces, Gears, gears
from ridesim.parts.power_curve import PowerCurve

Array = NDArray[np.float64]
CHUNK = 256  # set-ups worked at a time: their arrays stay in the processor's cache and the memory is bounded


@dataclass(frozen=True, kw_only=True, eq=False)
class Performance:
    """What the kernel says of S set-ups with one torque curve on one ride; SI, nan where a thing does not happen."""

    gears: Gears
    cruise: Cruise
    run: Run
    roll_on_s: Array  # (S, G)

    @property
    def top_speed_m_s(self) -> Array:
        """The highest top speed over the gears, nan when no gear holds any speed."""
        return np.asarray(np.fmax.reduce(self.gears.top_speed_m_s, axis=1))

    @property
    def top_speed_gear(self) -> NDArray[np.int64]:
        """The gear of it, counted from 1."""
        return np.asarray(np.argmax(np.nan_to_num(self.gears.top_speed_m_s, nan=-1.0), axis=1) + 1)


def perform(setups: SetUps, curve: PowerCurve, ride: Ride, chunk: int = CHUNK) -> Performance:
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

    Returns
    -------
    Performance
        Arrays with S first.
    """
    pieces = pieces_of(curve)
    parts = []
    for start in range(0, len(setups), chunk):
        group = setups if len(setups) <= chunk else setups.take(slice(start, start + chunk))
        forces = Forces(setups=group, pieces=pieces, ride=ride)
        figures = gears(forces)
        parts.append(Performance(
            gears=figures, cruise=cruise(forces), run=standing_start(forces, figures), roll_on_s=roll_on_times_s(forces)))
    return parts[0] if len(parts) == 1 else join(parts)


def join(parts: list[Any]) -> Any:
    """Records of arrays, one after the other along the first axis; single values are taken from the first."""
    first = parts[0]
    values = {}
    for field in fields(first):
        own = [getattr(part, field.name) for part in parts]
        if is_dataclass(own[0]):
            values[field.name] = join(own)
        elif isinstance(own[0], np.ndarray):
            values[field.name] = np.concatenate(own)
        else:
            values[field.name] = own[0]
    return type(first)(**values)
