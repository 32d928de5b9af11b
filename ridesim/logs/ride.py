"""One's own ride through sprocket pairs: what each pair would have made of it."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace

import numpy as np

from ridesim.answers import Answer, Figure, Figures, Step, Table
from ridesim.answers.answer import ValueOf, table_from
from ridesim.bike import Bike
from ridesim.errors import InputError
from ridesim.logs.fits.bike import coasting_kg, resistance_of
from ridesim.logs.fits.demand import demand
from ridesim.logs.fits.ride import BIN_RAD_S, USUAL, Habit, RideEngine, RideThrough, ride_through
from ridesim.logs.log import CAUTIONS, Log, frozen
from ridesim.units import rpm

Pair = tuple[int, int]
SAY = (
    *("Over ", ValueOf("distance"), " the engine turns ", ValueOf("mean"), " on average with ", ValueOf("pair"), ": "),
    *(ValueOf("shifts"), " shifts, ", ValueOf("near"), " of the time near the rev limit, "),
    *(ValueOf("lugging"), " lugging, ", ValueOf("fuel"), "."),
)


@dataclass(frozen=True, kw_only=True)
class Ridden:
    """A ride through some pairs, and the answer in words about the first of them.

    Attributes
    ----------
    found : RideThrough
        What each pair would have made of the ride.
    pairs : tuple of (front, rear) teeth
        In the order of found, the bike's own first.
    lugging_rad_s : float
        Below which a pulling engine was taken as lugged. [rad/s]
    answer : Answer
    """

    found: RideThrough
    pairs: tuple[Pair, ...]
    lugging_rad_s: float
    answer: Answer


def ridden(
    bike: Bike,
    log: Log,
    *,
    pairs: Sequence[Pair] | None = None,
    habit: Habit = USUAL,
    lugging_rad_s: float | None = None,
    progress: Callable[[float], None] | None = None,
) -> Ridden:
    """The ride with each pair of sprockets on the same bike.

    Parameters
    ----------
    bike : Bike
    log : Log
    pairs : sequence of (front, rear) teeth, optional
        The bike's own pair when not given; it is put first in any case.
    habit : Habit, optional
        When to shift.
    lugging_rad_s : float, optional
        A pulling engine below it is lugged; idle and a fifth of the range when not given. [rad/s]
    progress : callable, optional
        Told the share done.

    Returns
    -------
    Ridden

    Raises
    ------
    InputError
        A build without idle speed or displacement, a ride shorter than 30 s or longer than 16 hours, or one that goes nowhere.

    Examples
    --------
    Five minutes at a steady 25 m/s, with the bike's own sprockets and with one tooth more in front:

    >>> import ridesim as rs
    >>> from ridesim.logs.log import Log
    >>> t = np.arange(300.0)
    >>> done = ridden(rs.demo("coast-single"), Log(name="x", time_s=t, speed_m_s=25.0 + 0.0 * t, distance_m=25.0 * t), pairs=[(15, 41)])
    >>> done.pairs, rpm(done.found.mean_engine_rad_s).round(0).tolist()
    (((14, 41), (15, 41)), [4656.0, 4345.0])
    """
    own = (bike.front_teeth, bike.rear_teeth)
    every = tuple(dict.fromkeys([own, *(pairs or ())]))
    held = resistance_of(bike)
    asked = demand(
        replace(log, time_s=frozen(log.time_s - log.time_s[0])),  # a part of a log keeps the clock of the whole
        mass_kg=float(bike.setups.mass_kg[0]),
        coasting_mass_kg=coasting_kg(bike),
        f0_n=held.f0_n,
        f2_n_s2_m2=held.f2_n_s2_m2,
    )
    engine = _engine(bike, lugging_rad_s)
    ratios = np.array([bike.primary * np.array(bike.gears) * rear / front for front, rear in every])
    found = ride_through(asked, ratios / float(bike.setups.rear_radius_m[0]), engine, habit, progress)
    level = () if log.elevation_m is not None else ("the log holds no elevation: the road was taken as level",)
    answer = _answer(found, every, engine, bike, held.assumptions, (*log.notes, *level))
    return Ridden(found=found, pairs=every, lugging_rad_s=engine.lugged_rad_s, answer=answer)


def _engine(bike: Bike, lugging_rad_s: float | None) -> RideEngine:
    """The engine of a build for a simulated ride, which cannot do without idle speed and displacement."""
    idle, s = bike.record.engine.idle, bike.setups
    if idle is None:
        raise InputError("engine.idle", None, "is missing in the build", "Add it: a ride is also stops and starts.")
    if not bike.has_displacement:
        fix = "Add it: the fuel is worked out from it."
        raise InputError("engine.displacement", None, "is missing in the build", fix)
    return RideEngine(
        idle_rad_s=float(idle),
        limit_rad_s=bike.rev_limit_rad_s,
        displacement_m3=float(s.displacement_m3[0]),
        cycle=bike.cycle,
        efficiency=float(s.efficiency[0]),
        crank_inertia_kg_m2=float(s.crank_inertia_kg_m2[0]),
        indicated_efficiency=float(s.indicated_efficiency[0]),
        fuel_density_kg_m3=float(s.fuel_density_kg_m3[0]),
        lugging_rad_s=lugging_rad_s,
    )


def _answer(
    found: RideThrough,
    pairs: Sequence[Pair],
    engine: RideEngine,
    bike: Bike,
    told: tuple[str, ...],
    notes: tuple[str, ...],
) -> Answer:
    table = _ride_table(found, pairs)
    row = table.rows[0]
    return Answer(
        question="What would your own ride be like?",
        say=SAY,
        figures=Figures(
            Figure("pair", "Sprockets", row["pair"], "text"),
            Figure("distance", "Distance", found.distance_m, "journey"),
            Figure("mean", "Mean engine speed on the move", row["mean_engine_rad_s"], "engine speed", better=-1),
            Figure("shifts", "Shifts", row["shifts"], "number", better=-1),
            Figure("near", "Time near the rev limit", row["near_limit"], "percent", better=-1),
            Figure("over", "Time over the rev limit", row["over_limit"], "percent", better=-1),
            Figure("lugging", "Time lugging", row["lugging"], "percent", better=-1),
            Figure("fuel", "Fuel", row["fuel_m3_per_m"], "consumption", better=-1),
            Figure("top", "Time in top gear", row["top_gear"], "percent"),
        ),
        tables=(table,),
        series={
            "bins_rad_s": found.bins_rad_s,
            "bin_middles_rad_s": found.bins_rad_s + BIN_RAD_S / 2,
            "share": found.share_of_time[0],
            "limit_rad_s": bike.rev_limit_rad_s,
            "lugging_rad_s": engine.lugged_rad_s,
        },
        assumptions=(*found.assumptions, *told),
        steps=(
            Step(
                "omega = v i / r, in the gear the habit gives, second by second",
                f"{found.moving_s:.0f} s on the move",
                f"mean {rpm(row['mean_engine_rad_s']):.0f} rev/min",
            ),
            Step(
                "fuel = sum of ((F v / eta + J i^2/r^2 a v) + friction) / eta_i over the ride",
                f"eta_i {engine.indicated_efficiency:.3f}",
                f"{1000 * float(found.fuel_m3[0]):.2f} l",
            ),
        ),
        notes=(*found.notes, *notes),
        cautions=CAUTIONS,
    )


def _ride_table(found: RideThrough, pairs: Sequence[Pair]) -> Table:
    """A row for each pair, the bike's own first: SI, times also as shares of the time on the move."""
    names = ("near_limit", "over_limit", "lugging", "top_gear")
    return table_from(
        "The ride with every pair, in shares of the time on the move",
        (
            {"pair": f"{front}/{rear}", **row, **{name: row[f"{name}_s"] / found.moving_s for name in names}}
            for (front, rear), row in zip(pairs, found.rows(), strict=True)
        ),
        ("pair", "Sprockets", "text"),
        ("mean_engine_rad_s", "Mean engine speed", "engine speed"),
        ("shifts", "Shifts", "number"),
        ("near_limit", "Near the limit", "percent"),
        ("over_limit", "Over the limit", "percent"),
        ("lugging", "Lugging", "percent"),
        ("top_gear", "In top gear", "percent"),
        ("fuel_m3_per_m", "Fuel", "consumption"),
    )
