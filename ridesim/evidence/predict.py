"""What a bike would show for each reading, by the kernel, as functions of how far its toleranced figures are off."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, field, replace
from functools import cached_property
from itertools import zip_longest
from typing import Any

import numpy as np
from numpy.typing import NDArray

from ridesim.answers.solved import in_highest_gear
from ridesim.bike import Bike, make_bike
from ridesim.bike.figures_to_setups import setups_of
from ridesim.buildfile import readings as kinds
from ridesim.buildfile.io import Build
from ridesim.buildfile.readings import DayAir, Reading
from ridesim.buildfile.schema import AirSection
from ridesim.mechanics.kernel import Performance, perform
from ridesim.mechanics.setups import Ride, SetUps
from ridesim.uncertainty.tolerances import PER_SD, Tolerance, perturbed
from ridesim.units import TWO_PI, G, Measured

Array = NDArray[np.float64]
STEP = 0.25  # standard deviations, for slopes


@dataclass(frozen=True, kw_only=True, eq=False)
class Shown:
    """Variants of a bike, and what the kernel says of them on the rides that the readings ask for.

    raw holds one row for each variant, so that a reading is predicted for all of them at once, shape (n,) or (n,
    k).
    """

    bike: Bike
    raw: Mapping[str, Any]
    readings: Sequence[Reading]

    @cached_property
    def setups(self) -> SetUps:
        return setups_of(self.raw, self.bike.cycle)

    @cached_property
    def performances(self) -> tuple[tuple[Ride, Performance], ...]:
        """As few rides as all readings fit on: each has one cruising speed and one roll-on, the first all targets of the start."""
        runs = [one for one in self.readings if isinstance(one, kinds.TimedRun)]
        cruises = {float(one.speed): None for one in self.readings if isinstance(one, kinds.Consumption)}
        rolls = {(float(run.from_), float(run.to)): None for run in runs if isinstance(run.gear, int)}
        targets = sorted(
            {float(v) for run in runs if not isinstance(run.gear, int) for v in (run.from_, run.to) if v > 0}
        )
        rides: list[Ride] = []
        for cruise, roll in zip_longest(cruises or {100 / 3.6: None}, rolls):
            ride = Ride(rev_limit_rad_s=self.bike.rev_limit_rad_s, targets_m_s=() if rides else tuple(targets))
            rides.append(replace(ride, cruise_m_s=cruise or ride.cruise_m_s, roll_on_m_s=roll or ride.roll_on_m_s))
        return tuple((ride, perform(self.setups, self.bike.curve, ride, trace=False)) for ride in rides)

    def on(self, **wanted: Any) -> Performance:
        """What the kernel says of the ride with these."""
        return next(
            found for ride, found in self.performances if all(getattr(ride, key) == v for key, v in wanted.items())
        )


def _axle_weight(one: kinds.AxleWeight, shown: Shown) -> Any:
    """Share of the mass on an axle, by moments about the other."""
    s, raw = shown.setups, shown.raw
    alone = one.with_ == "bike alone"
    mass, ahead = (raw["bike_kg"], raw["bike_ahead_m"]) if alone else (s.mass_kg, s.ahead_m)
    front = mass * ahead / s.wheelbase_m
    return front if one.axle == "front" else mass - front


def _consumption(one: kinds.Consumption, shown: Shown) -> Any:
    """Fuel in the highest gear that holds the speed."""
    cruise = shown.on(cruise_m_s=float(one.speed)).cruise
    return in_highest_gear(cruise, cruise.fuel_m3_per_m)


def _coast_down(_: kinds.CoastDownReading, shown: Shown) -> Any:
    s = shown.setups
    density = np.broadcast_to(shown.raw["air_density_kg_m3"], s.f2_n_s2_m2.shape)
    return np.stack([2.0 * s.f2_n_s2_m2 / density, s.f0_n / (s.mass_kg * G)], axis=1)


def _speed_at_engine_speed(one: kinds.SpeedAtEngineSpeed, shown: Shown) -> Any:
    return shown.setups.meters_per_radian[:, one.gear - 1] * float(one.engine_speed)


def _timed_run(one: kinds.TimedRun, shown: Shown) -> Any:
    """A roll-on in its gear, or what a start through the gears takes from one speed to the other."""
    if isinstance(one.gear, int):
        return shown.on(roll_on_m_s=(float(one.from_), float(one.to))).roll_on_s[:, one.gear - 1]
    ride, found = shown.performances[0]
    times = {speed: found.run.times_s[:, n] for n, speed in enumerate(ride.targets_m_s)}
    return times[float(one.to)] - times.get(float(one.from_), 0.0)


def _wheel_power(one: kinds.WheelPower, shown: Shown) -> Any:
    s = shown.setups
    w = np.array([float(speed) for speed, _ in points(one)])
    crank = shown.bike.whole_curve.torque_at(w, outside="nan") * w
    return (s.efficiency * s.torque_factor)[:, None] * crank


def points(one: kinds.WheelPower) -> Sequence[tuple[Any, Any]]:
    """The engine speeds and powers of a reading of wheel power: its points, or the one that it has."""
    return one.points or ((one.engine_speed, one.value),)


@dataclass(frozen=True)
class ReadFigure:
    """A figure that a reading holds: under which key, its kind and unit, and by how much one taken with care may be off, half of the
    90 % range: a share of it, or in SI (assumptions)."""

    key: str
    kind: str
    unit: str
    share: float = 0.0
    off: float = 0.0


@dataclass(frozen=True)
class ReadingKind:
    """What the bike would show for a kind of reading, and the figures it holds."""

    predict: Callable[[Any, Shown], Any]
    values: tuple[ReadFigure, ...]


_SPEED = ("speed", "km/h")
KINDS: Mapping[type[Reading], ReadingKind] = {
    kinds.RollOut: ReadingKind(
        lambda one, shown: TWO_PI * shown.setups.rear_radius_m, (ReadFigure("value", "length", "m", share=0.002),)
    ),
    kinds.AxleWeight: ReadingKind(_axle_weight, (ReadFigure("value", "mass", "kg", off=1.0),)),
    kinds.SpeedAtEngineSpeed: ReadingKind(_speed_at_engine_speed, (ReadFigure("speed", *_SPEED, off=0.5 / 3.6),)),
    kinds.Consumption: ReadingKind(_consumption, (ReadFigure("value", "fuel consumption", "l/100km", share=0.04),)),
    kinds.CoastDownReading: ReadingKind(
        _coast_down,
        (ReadFigure("drag_area", "area", "m^2", share=0.04), ReadFigure("rolling_resistance", "ratio", "", share=0.06)),
    ),
    kinds.TimedRun: ReadingKind(_timed_run, (ReadFigure("time", "time", "s", off=0.2),)),
    kinds.TopSpeed: ReadingKind(
        lambda one, shown: shown.performances[0][1].top_speed_m_s, (ReadFigure("value", *_SPEED, off=2.0 / 3.6),)
    ),
    kinds.WheelPower: ReadingKind(_wheel_power, (ReadFigure("value", "power", "kW", share=0.03),)),
}


def measured(reading: Reading) -> tuple[Array, Array]:
    """What was read, (k,), and the covariance of its errors, (k, k): a tolerance is half of a 90 % range, 1.645
    standard deviations.

    Drag area and rolling resistance of a coast-down go with its correlation; what the engine speed is off stands
    for so much of the speed beside it.

    >>> drag = {"drag_area": "0.63 +- 0.02 m^2", "rolling_resistance": "0.019 +- 0.001", "correlation": -0.7}
    >>> y, covariance = measured(kinds.CoastDownReading.model_validate({"kind": "coast-down", **drag}))
    >>> y.tolist(), np.sqrt(np.diag(covariance) * PER_SD**2).round(6).tolist()
    ([0.63, 0.019], [0.02, 0.001])
    """
    both: list[Measured] = [getattr(reading, value.key) for value in KINDS[type(reading)].values]
    if isinstance(reading, kinds.WheelPower):
        both = [power for _, power in points(reading)]
    sd, shape = np.array([one.plus_minus for one in both]) / PER_SD, np.eye(len(both))
    if isinstance(reading, kinds.CoastDownReading):
        shape[0, 1] = shape[1, 0] = float(reading.correlation)
    elif isinstance(reading, kinds.SpeedAtEngineSpeed):  # what the engine speed is off stands for so much of the speed
        w = reading.engine_speed
        sd = np.hypot(sd, float(reading.speed) / float(w) * w.plus_minus / PER_SD)
    return np.array([float(one) for one in both]), np.asarray(shape * np.outer(sd, sd))


@dataclass(frozen=True, kw_only=True, eq=False)
class Model:
    """Readings as functions of errors: u, one for each toleranced figure, in standard deviations, 0 as the build has
    it.

    >>> import ridesim as rs
    >>> build = rs.demo("coast-single").build
    >>> out = kinds.RollOut.model_validate({"kind": "roll-out", "value": "2.0 +- 0.004 m"})
    >>> model = model_of(build, [out])
    >>> n = [one.path for one in model.tolerances].index("tires.rear.rollout")
    >>> up = np.eye(len(model.tolerances))[[n]] * PER_SD  # at the upper end of its tolerance
    >>> model(0.0 * up)[0].round(4).tolist(), model(up)[0].round(4).tolist()
    ([[1.996]], [[2.002]])
    """

    build: Build
    readings: tuple[Reading, ...]
    bikes: Mapping[tuple[str | None, DayAir | None], Bike] = field(default_factory=dict)

    @cached_property
    def tolerances(self) -> tuple[Tolerance, ...]:
        """The toleranced figures of all bikes that the readings are about, each once."""
        return tuple(
            {tolerance.cause: tolerance for bike in self.bikes.values() for tolerance in bike.tolerances}.values()
        )

    def __call__(self, u: Array) -> list[Array]:
        """What each reading would show, (n, k) each, where the errors are u, (n, K); nan where it cannot be."""
        column = {tolerance.cause: n for n, tolerance in enumerate(self.tolerances)}
        found: dict[int, Array] = {}
        for key, bike in self.bikes.items():
            own = [n for n, one in enumerate(self.readings) if (one.tune, one.air) == key]
            which = [column[tolerance.cause] for tolerance in bike.tolerances]
            raw = perturbed(bike.raw, bike.tolerances, np.asarray(u)[:, which] / PER_SD)
            shown = Shown(bike=bike, raw=raw, readings=[self.readings[n] for n in own])
            for n in own:
                values = np.asarray(KINDS[type(self.readings[n])].predict(self.readings[n], shown), dtype=float)
                values = (
                    values[:, None] if values.ndim == 1 else values.reshape(-1, values.shape[-1] if values.ndim else 1)
                )
                found[n] = np.broadcast_to(values, (len(u), values.shape[1]))
        return [found[n] for n in range(len(self.readings))]

    def linear(self, u: Array, step: float = STEP) -> tuple[list[Array], list[Array]]:
        """The readings at u, (k,) each, and their slopes, (k, K) each, by central differences over `step` standard
        deviations.

        Where a thing happens on one side only, the slope to it; 0 where on neither.
        """
        count = len(u)
        shifts = np.concatenate([np.zeros((1, count)), step * np.eye(count), -step * np.eye(count)])
        at, slopes = [], []
        for values in self(u + shifts):
            own, up, down = values[0], values[1 : 1 + count] - values[0], values[0] - values[1 + count :]
            both = np.where(np.isfinite(up), up, down) + np.where(np.isfinite(down), down, up)
            at.append(own)
            slopes.append(np.nan_to_num(both / (2.0 * step)).T)
        return at, slopes


def model_of(build: Build, readings: Sequence[Reading]) -> Model:
    """The readings of a build, each with the tune and in the air it was taken with."""
    bikes: dict[tuple[str | None, DayAir | None], Bike] = {}
    as_filed = make_bike(build)
    for key in dict.fromkeys([(None, None), *((one.tune, one.air) for one in readings)]):
        tune, air = key
        day = build if air is None else replace(build, record=build.record.model_copy(update={"air": _air(build, air)}))
        bikes[key] = as_filed if key == (None, None) else make_bike(day, tune=tune or as_filed.tune, own=as_filed)
    return Model(build=build, readings=tuple(readings), bikes=bikes)


def _air(build: Build, day: DayAir) -> AirSection:
    """The air of a reading's day: a place or a barometer of its own puts that of the build and its thermometer aside."""
    given = {name: value for name in DayAir.model_fields if (value := getattr(day, name)) is not None}
    elsewhere = {"altitude", "pressure"} & set(given)
    aside = {"pressure": None, "temperature": None} if elsewhere else {}
    return build.record.air.model_copy(update=aside | given)
