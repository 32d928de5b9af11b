"""What to measure next: for each reading a rider could take, how much narrower the figure that matters would get.

The errors left are independent and normal, u; with g the slopes of the figure, J those of a reading and C the covariance of its
errors, the variance g (1 + J' C^-1 J)^-1 g' is what is left after it, whatever it will show. First order, as all bands are.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import dataclass, replace
from statistics import NormalDist
from typing import Any

import numpy as np
from numpy.typing import NDArray

from ridesim.answers.solved import ride_with
from ridesim.bike import Bike
from ridesim.bike.figures_to_setups import setups_of
from ridesim.buildfile import readings as kinds
from ridesim.buildfile.io import Build
from ridesim.buildfile.readings import Reading
from ridesim.errors import InputError, did_you_mean
from ridesim.evidence.predict import KINDS, STEP, Model, measured, model_of
from ridesim.mechanics.kernel import Performance, perform
from ridesim.mechanics.setups import Ride
from ridesim.statements import BothWays
from ridesim.uncertainty.tolerances import PER_SD, perturbed
from ridesim.units import Measured, either, rad_s

Array = NDArray[np.float64]
VERDICT = "verdict"

START_S = 0.4  # within which a start is timed with care: it hangs on the rider as well (assumption)
TACHOMETER = rad_s(50.0)
COAST_CORRELATION = -0.7
OPEN_ROAD = (
    "Only on a closed road, or where the law and the traffic allow it; look where you ride, not at the instruments."
)

# figures read off the kernel, (S,): name -> (what it is, how it is read, where it stands)
FIGURES: dict[str, tuple[str, str, Callable[[Performance], Array]]] = {
    "top_speed": ("top speed", "speed", lambda p: p.top_speed_m_s),
    "time_0_60": ("standstill to " + BothWays("60 km/h", "37 mph (60 km/h)"), "time", lambda p: p.run.times_s[:, 0]),
    "time_0_100": ("standstill to " + BothWays("100 km/h", "62 mph (100 km/h)"), "time", lambda p: p.run.times_s[:, 1]),
    "distance_time": ("standing " + BothWays("400 m", "1,312 ft (400 m)"), "time", lambda p: p.run.distance_time_s),
    "roll_on": ("roll-on in top gear", "time", lambda p: p.roll_on_s[:, -1]),
    "first_force": ("highest wheel force in first", "force", lambda p: p.gears.peak_force_n[:, 0]),
    "first_climb": ("steepest grade in first", "percent", lambda p: np.tan(p.gears.steepest_slope_rad[:, 0])),
    "first_lift": ("lift ratio in first", "ratio", lambda p: p.gears.lift_ratio[:, 0]),
    "rider_shift": (
        "shift of the rider that lifts the front in first",
        "small length",
        lambda p: p.gears.rider_shift_m[:, 0],
    ),
    "cruise_speed": (
        "engine speed at cruise in top gear",
        "engine speed",
        lambda p: p.cruise.engine_speed_rad_s[:, -1],
    ),
    "power_in_hand": (
        "power in hand at cruise in top gear",
        "power",
        lambda p: (p.cruise.available_w - p.cruise.needed_w)[:, -1],
    ),
    "grade_held": ("grade held at cruise in top gear", "percent", lambda p: np.tan(p.cruise.slope_held_rad[:, -1])),
    "fuel": ("fuel at cruise in top gear", "consumption", lambda p: p.cruise.fuel_m3_per_m[:, -1]),
}


@dataclass(frozen=True, kw_only=True)
class Measurement:
    """A reading that could be taken: how well, how, and what is left of the figure's band then.

    reading           with the error of one taken with care
    plus_minus_then   half the width of the figure's band after it [SI]
    share_narrower    1 less that over half the width now, 0 where it teaches nothing
    certainty_then    how sure the limit would be, where the figure is the verdict's
    """

    reading: Reading
    plus_minus_then: float
    share_narrower: float
    how: str
    caution: str
    certainty_then: float | None = None


@dataclass(frozen=True, kw_only=True)
class Next:
    """A figure, half the width of its band, and the readings that would narrow it, best first.

    For the verdict the figure is that of its least certain limit, and certainty how sure that limit is to be met.
    """

    figure: str
    label: str
    shown_as: str
    value: float
    plus_minus: float
    candidates: tuple[Measurement, ...]
    certainty: float | None = None
    limit: str | None = None


def measure_next(build: Build, figure: str = "power_in_hand", units: str = "metric") -> Next:
    """What to measure next for a figure, or for the verdict on the sprockets.

    Parameters
    ----------
    build : Build
        With what its readings say, if it has any (`with_evidence`).
    figure : str
        A key of FIGURES, or "verdict".
    units : str
        The system whose round speeds the timed readings are proposed over.

    Returns
    -------
    Next

    Raises
    ------
    InputError
        No such figure, one that does not happen on this bike, or no limits for the verdict to rest on.

    Examples
    --------
    The drag area leaves most of the top speed open, and a timed top speed tells more of it than a coast-down does:

    >>> import ridesim as rs
    >>> found = measure_next(rs.demo("coast-single").build, "top_speed")
    >>> round(3.6 * found.plus_minus, 1)  # [km/h]
    3.8
    >>> [(one.reading.kind, round(3.6 * one.plus_minus_then, 1)) for one in found.candidates[:3]]
    [('top speed', 1.8), ('timed run', 1.9), ('coast-down', 2.2)]
    """
    if figure != VERDICT and figure not in FIGURES:
        raise InputError("--for", figure, "is not a figure known here", did_you_mean(figure, [*FIGURES, VERDICT]))
    own = model_of(build, ())
    bike = own.bikes[None, None]
    ways = list(_ways(bike, ride_with(bike, units=units)))
    model = replace(own, readings=tuple(reading for reading, _, _ in ways))
    if figure == VERDICT:
        asked, gradient = _of_the_verdict(build, model)
    else:
        asked, gradient = figure_slopes(bike, figure)
    start = np.sqrt(gradient @ gradient)
    at, slopes = model.linear(np.zeros(len(model.tolerances)))
    found = []
    for (reading, how, caution), value, slope in zip(ways, at, slopes, strict=True):
        if not np.isfinite(value).all():
            continue
        taken = _taken(reading, value)
        information = slope.T @ np.linalg.solve(measured(taken)[1], slope)
        left = gradient @ np.linalg.solve(np.eye(len(gradient)) + information, gradient)
        then = PER_SD * float(np.sqrt(left))
        narrower = 1.0 - then / asked.plus_minus if start else 0.0
        found.append(
            Measurement(
                reading=taken,
                plus_minus_then=then,
                share_narrower=max(narrower, 0.0),
                how=how,
                caution=caution,
                certainty_then=None if asked.certainty is None else _sure(asked.certainty, asked.plus_minus, then),
            )
        )
    ranked = sorted(found, key=lambda one: one.plus_minus_then)
    return replace(asked, candidates=tuple(ranked))


def _sure(certainty: float, before: float, then: float) -> float:
    """How sure a limit is where the band of its figure is narrower and its margin the same."""
    if not then > 0:
        return float(certainty >= 0.5)
    normal = NormalDist()
    return normal.cdf(normal.inv_cdf(certainty) * before / then) if 0.0 < certainty < 1.0 else certainty


def figure_slopes(bike: Bike, key: str) -> tuple[Next, Array]:
    """A figure of the bike on its own ride, and its slopes by each error, central differences over STEP. [SI per
    standard deviation]

    >>> import ridesim as rs
    >>> bike = rs.demo("coast-single")
    >>> found, slopes = figure_slopes(bike, "first_climb")
    >>> paths = [one.path for one in bike.tolerances]
    >>> {path: round(float(slope), 4) for path, slope in zip(paths, slopes, strict=True) if abs(slope) > 0.01}
    {'chassis.bike_cg_height': -0.014, 'chassis.rider_cg_ahead_of_rear_axle': 0.0103}
    """
    label, reading, read = FIGURES[key]
    count = len(bike.tolerances)
    shifts = STEP * np.concatenate([np.zeros((1, count)), np.eye(count), -np.eye(count)])
    setups = setups_of(perturbed(bike.raw, bike.tolerances, shifts / PER_SD), bike.cycle)
    values = np.asarray(read(perform(setups, bike.curve, bike.ride(), trace=False)), dtype=float)
    values = np.broadcast_to(values, (len(shifts),))
    if not np.isfinite(values[0]):
        raise InputError("--for", key, "does not happen on this bike", "Ask for a figure that does.")
    gradient = np.nan_to_num((values[1 : 1 + count] - values[1 + count :]) / (2.0 * STEP))
    wide = PER_SD * float(np.sqrt(gradient @ gradient))
    own = Next(figure=key, label=label, shown_as=reading, value=float(values[0]), plus_minus=wide, candidates=())
    return own, gradient


def _of_the_verdict(build: Build, model: Model) -> tuple[Next, Array]:
    """The limit that the verdict is least sure of, and the slopes of its margin."""
    from ridesim import selection

    decided = selection.verdict(selection.choose(build))
    certainty, place = decided.certainty, decided.certainty.place(decided.candidate.n)
    bent = [n for n, name in enumerate(certainty.names) if name not in certainty.chain]
    if place is None or not bent:
        fix = "Write limits in [limits], such as top_speed_least."
        raise InputError("limits", None, "give the verdict nothing to be sure of", fix)
    limit = min(bent, key=lambda n: certainty.by_limit[n, place])
    name = certainty.names[limit]
    goal = selection.GOALS[selection.LIMITED[name]]
    slopes = dict.fromkeys((tolerance.path for tolerance in model.tolerances), 0.0)
    for n, path in enumerate(certainty.paths):
        slopes[path] = float(certainty.up[limit, n, place] - certainty.down[limit, n, place]) / (2.0 * PER_SD)
    gradient = np.array([slopes[tolerance.path] for tolerance in model.tolerances])
    value = decided.candidate.figures[goal.key]
    asked = Next(
        figure=VERDICT,
        label=f"{decided.candidate.front}/{decided.candidate.rear}: " + goal.label,
        shown_as=goal.reading,
        value=float("nan") if value is None else value,
        plus_minus=PER_SD * float(np.sqrt(gradient @ gradient)),
        candidates=(),
        certainty=float(certainty.by_limit[limit, place]),
        limit=name,
    )
    return asked, gradient


def _taken(reading: Reading, shows: Array) -> Reading:
    """A reading as it would be taken: at what the bike shows, with the error of one taken with care."""
    start = isinstance(reading, kinds.TimedRun) and not isinstance(reading.gear, int)
    taken = {
        value.key: Measured(v, value.share * v + (START_S if start else value.off))
        for value, v in zip(KINDS[type(reading)].values, shows.tolist(), strict=False)
    }
    return reading.model_copy(update=taken)


def _ways(bike: Bike, ride: Ride) -> Iterator[tuple[Reading, str, str]]:
    """The readings a rider could take on a bike, timed over the speeds of a ride, how, and the caution that goes with it."""

    def reading(kind: type[Reading], name: str, **keys: Any) -> Reading:
        return kind.model_construct(kind=name, **keys)

    top = len(bike.gears)
    cruise = Measured(ride.cruise_m_s)
    low, high = (Measured(v) for v in ride.roll_on_m_s)
    turning = Measured(ride.cruise_m_s / float(bike.setups.meters_per_radian[0, -1]), TACHOMETER)
    peak = Measured(bike.curve.peak_power()[0])
    at_cruise, from_to = either("speed", ride.cruise_m_s), either("speed", *ride.roll_on_m_s)
    yield (
        reading(kinds.RollOut, "roll-out"),
        "Chalk the rear tire and the floor, roll three turns with the rider seated and the pressures right, and measure the distance.",
        "",
    )
    for axle in ("rear", "front"):
        for with_, words in (
            ("rider", "the rider seated and a helper to steady the bike"),
            ("bike alone", "nobody on it"),
        ):
            yield (
                reading(kinds.AxleWeight, "axle weight", axle=axle, **{"with": with_}),
                f"Put a scale under the {axle} wheel and a board of its height under the other, with {words}, and read it twice.",
                "Have someone hold the bike: it can fall off the scale.",
            )
    yield (
        reading(kinds.SpeedAtEngineSpeed, "speed at engine speed", gear=top, engine_speed=turning),
        "Hold about " + at_cruise + " in top gear on the level, and film the tachometer beside a GPS speed.",
        OPEN_ROAD,
    )
    yield (
        reading(kinds.Consumption, "consumption", speed=cruise),
        "Fill to the brim, ride a long stretch at a steady " + at_cruise + ", fill to the same mark, and divide.",
        "Let the engine cool before you open the tank, and keep flames away.",
    )
    yield (
        reading(kinds.CoastDownReading, "coast-down", correlation=Measured(COAST_CORRELATION)),
        "Coast in neutral from cruising speed to a walk on a level, empty road, both ways, twice, with a phone logging the speed.",
        OPEN_ROAD,
    )
    yield (
        reading(kinds.TimedRun, "timed run", to=high, gear=top, **{"from": low}),
        "Roll on from " + from_to + " in top gear at full throttle, both ways, and take the times from a GPS log.",
        OPEN_ROAD,
    )
    yield (
        reading(kinds.TimedRun, "timed run", to=high, gear="through the gears", **{"from": Measured(0.0)}),
        "Time a standing start to " + either("speed", float(high)) + " through the gears, both ways, from a GPS log.",
        OPEN_ROAD,
    )
    yield (
        reading(kinds.TopSpeed, "top speed"),
        "Read the GPS speed at full throttle where it no longer rises, both ways on the level and without wind.",
        f"A closed course is the place for this. {OPEN_ROAD}",
    )
    yield (
        reading(kinds.WheelPower, "wheel power", engine_speed=peak),
        "Have one pull measured on a roller dynamometer, and note the air of the day.",
        "Strap the bike down, and keep clear of the wheel and the chain.",
    )
