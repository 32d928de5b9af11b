"""The rider's own rides with every combination: the time at high engine speed, the shifts, the fuel and the range each would give.

The rides are replayed by `ridesim.logs.ride.ridden`; the speeds of the rider stay what they were, whatever the gearing.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING, Any

import numpy as np
from numpy.typing import NDArray

from ridesim.errors import InputError
from ridesim.uncertainty.tolerances import Tolerance, perturbed

if TYPE_CHECKING:
    from ridesim.bike import Bike
    from ridesim.logs.log import Log

Array = NDArray[np.float64]
Teeth = NDArray[np.int64]
HOUR_S = 3600.0
NEAR_THE_LIMIT = 0.9  # of the rev limit: what counts as high where neither the rider nor a limit says it
MOST_AT_ONCE = 2_000_000  # seconds times pairs, for the memory they take
MOST_PAIRS = 1999  # of one replay, which puts the bike's own before them
# raw figures of a bike that a replay rests on; its other ones are of lift, grip and power
RESTS_ON = {
    *("rear_radius_m", "front_radius_m", "bike_kg", "rider_kg", "luggage_kg", "displacement_m3", "efficiency"),
    *("front_inertia_kg_m2", "rear_inertia_kg_m2", "crank_inertia_kg_m2", "indicated_efficiency", "drag_area_m2"),
    *("rolling_resistance", "air_density_kg_m3", "fuel_density_kg_m3", "f0_n", "f1_n_s_m", "f2_n_s2_m2"),
}


@dataclass(frozen=True, kw_only=True, eq=False)
class Replay:
    """Some rides with P pairs, all rides together.

    bins_rad_s, in_bin_s   where each bin of engine speed begins, (B,), and the time on the move in it, (P, B)
    shifts, fuel_m3        (P,)
    moving_s, distance_m   of the rides, whatever the pair
    """

    bins_rad_s: Array
    in_bin_s: Array
    shifts: Array
    fuel_m3: Array
    moving_s: float
    distance_m: float
    assumptions: tuple[str, ...]
    notes: tuple[str, ...]

    def figures(self, above_rad_s: float, tank_m3: float) -> dict[str, Array]:
        """The figures of RIDE_GOALS, (P,); a bin that holds the engine speed counts in part.

        Parameters
        ----------
        above_rad_s : float
            The engine speed above which time counts. [rad/s]
        tank_m3 : float
            nan where the build has none, and with it the range. [m3]

        Examples
        --------
        Half of a minute between 400 and 500 rad/s, half of it between 300 and 400, asked about above 450:

        >>> bins, times = np.array([300.0, 400.0]), np.array([[30.0, 30.0]])
        >>> ride = Replay(
        ...     bins_rad_s=bins, in_bin_s=times, shifts=np.array([3.0]), fuel_m3=np.array([5e-5]),
        ...     moving_s=60.0, distance_m=1000.0, assumptions=(), notes=(),
        ... )
        >>> {key: round(float(value[0]), 8) for key, value in ride.figures(450.0, 0.01).items()}
        {'ride_time_above': 0.25, 'ride_shifts': 180.0, 'ride_fuel': 5e-08, 'ride_range': 200000.0}
        """
        width = self.bins_rad_s[1] - self.bins_rad_s[0]
        counts = np.clip((self.bins_rad_s + width - above_rad_s) / width, 0.0, 1.0)
        fuel = self.fuel_m3 / self.distance_m
        return {
            "ride_time_above": self.in_bin_s @ counts / self.moving_s,
            "ride_shifts": self.shifts * (HOUR_S / self.moving_s),
            "ride_fuel": fuel,
            "ride_range": tank_m3 / fuel,
        }


def replay(logs: Sequence[Log], bike: Bike, fronts: Teeth, rears: Teeth) -> Replay:
    """Some rides on a bike with every pair of P fronts and rears.

    Raises
    ------
    InputError
        A log that is no ride of 30 s to 16 hours, named; a build without idle speed or displacement.
    """
    pairs = list(zip(fronts.tolist(), rears.tolist(), strict=True))
    parts = [list(_ridden(log, bike, pairs)) for log in logs]
    widest = max((found for part in parts for found, _ in part), key=lambda found: found.bins_rad_s.size)
    in_bin = np.zeros((len(pairs), widest.bins_rad_s.size))
    shifts, fuel = np.zeros(len(pairs)), np.zeros(len(pairs))
    for part in parts:
        start = 0
        for found, rows in part:
            where = slice(start, start := start + len(rows))
            in_bin[where, : found.bins_rad_s.size] += found.share_of_time[rows] * found.moving_s
            shifts[where] += found.shifts[rows]
            fuel[where] += found.fuel_m3[rows]
    firsts = [part[0][0] for part in parts]
    return Replay(
        bins_rad_s=widest.bins_rad_s,
        in_bin_s=in_bin,
        shifts=shifts,
        fuel_m3=fuel,
        moving_s=sum(found.moving_s for found in firsts),
        distance_m=sum(found.distance_m for found in firsts),
        assumptions=tuple(dict.fromkeys(text for found in firsts for text in found.assumptions)),
        notes=tuple(dict.fromkeys(note for log in logs for note in log.notes)),
    )


def _ridden(log: Log, bike: Bike, pairs: Sequence[tuple[int, int]]) -> Iterator[tuple[Any, list[int]]]:
    """One ride with all pairs, some at a time: what was found, and which of its rows are theirs."""
    from ridesim.logs.ride import ridden

    size = max(min(int(MOST_AT_ONCE / max(float(log.time_s[-1]), 1.0)), MOST_PAIRS), 1)
    for start in range(0, len(pairs), size):
        some = pairs[start : start + size]
        try:
            done = ridden(bike, log, pairs=some)
        except InputError as error:
            raise InputError(
                log.name if error.where == "log" else error.where, error.got, error.problem, error.fix
            ) from None
        row = {pair: n for n, pair in enumerate(done.pairs)}
        yield done.found, [row[pair] for pair in some]


def at_ends(
    logs: Sequence[Log],
    bike: Bike,
    tolerances: Sequence[Tolerance],
    fronts: Teeth,
    rears: Teeth,
    above_rad_s: float,
) -> dict[str, Array]:
    """The figures of RIDE_GOALS as the bike is, then with each tolerance alone at its upper and its lower end, (1 + 2 D, P).

    First order: only what moves the rear radius, which may be lopsided and shifts gears, is ridden at both ends; the lower
    end of the others mirrors the upper one.
    """

    def figures(at: Bike, of: Replay) -> dict[str, Array]:
        return of.figures(above_rad_s, float(at.raw["tank_m3"]))

    own = replay(logs, bike, fronts, rears)
    rows = [figures(bike, own)]
    for tolerance in tolerances:
        rides = bool(RESTS_ON & tolerance.moves.keys())
        ends: list[dict[str, Array]] = []
        for turn in (1.0, -1.0):
            if turn < 0.0 and rides and "rear_radius_m" not in tolerance.moves:
                ends.append({key: 2.0 * rows[0][key] - up for key, up in ends[0].items()})
                continue
            raw = perturbed(bike.raw, [tolerance], [[turn]])
            moved = replace(bike, raw=raw | {name: float(raw[name][0]) for name in tolerance.moves})
            ends.append(figures(moved, replay(logs, moved, fronts, rears) if rides else own))
        rows += ends
    return {key: np.array([row[key] for row in rows]) for key in rows[0]}


def high_engine_speed(limits: Any, rev_limit_rad_s: float) -> tuple[float, str]:
    """Above which engine speed the time of a ride is counted [rad/s], and why, where the rider does not say it.

    As stated, else the limit at the cruising speed, else nine tenths of the rev limit.

    >>> import ridesim as rs
    >>> from ridesim.buildfile.schema import LimitsSection
    >>> speed, why = high_engine_speed(LimitsSection(), 753.98)
    >>> round(speed, 1), why
    (678.6, 'ride_engine_speed assumed 6,480 rev/min: 90 % of the rev limit')
    """
    from ridesim.units import in_both

    if limits.ride_engine_speed is not None:
        return float(limits.ride_engine_speed), ""
    if limits.cruise_engine_speed_most is not None:
        speed, why = float(limits.cruise_engine_speed_most), "the limit at the cruising speed"
    else:
        speed, why = NEAR_THE_LIMIT * rev_limit_rad_s, f"{100 * NEAR_THE_LIMIT:.0f} % of the rev limit"
    return speed, f"ride_engine_speed assumed {in_both('engine speed', speed)}: {why}"
