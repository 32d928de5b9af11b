"""The records of a build file: every key, its unit, its bounds, and what must fit with what. SI once read."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from typing import Annotated, Any, Literal

from pydantic import Field, model_validator

from ridesim.buildfile.readings import MOST, AnyReading, DayAir
from ridesim.buildfile.values import (
    ChainName,
    FrontTeeth,
    Marking,
    Quantity,
    Ratio,
    RearTeeth,
    Record,
    Standard,
    Teeth,
    Text,
    YesOrNo,
    curve_points,
    optional,
    several,
    torque_or_power,
)
from ridesim.errors import InputError, InputErrors, did_you_mean
from ridesim.units import Measured, rpm

__all__ = ["BuildRecord", "LimitsSection", "Masses", "Quantity", "RideSection", "Tune", "torque_or_power"]


Price = Annotated[float, Field(ge=0, le=1e9, allow_inf_nan=False)]


_OF_A_CHAIN = ("chain", "links", "chain_wear", "axle_travel", "centre_distance")
_DRIVE_FIX = {
    "front": "Add it, such as front = 15.",
    "rear": "Add it, such as rear = 45.",
    "ratio": "Add it: the gearbox's turns for one of the wheel, such as ratio = 2.91, or [driven, driving] teeth, such as [32, 11].",
}


class Masses(Record):
    bike: Annotated[Measured, Quantity("mass", "kg", 20, 1000, "all fluids, half a tank")]
    rider: Annotated[Measured, Quantity("mass", "kg", 20, 250, "in riding gear")]
    luggage: Annotated[Measured, Quantity("mass", "kg", 0, 400, "luggage and passenger")] = Measured(0.0)


class Chassis(Record):
    wheelbase: Measured | None = optional("length", "mm", 700, 2500, "axle to axle")
    bike_cg_ahead_of_rear_axle: Measured | None = optional("length", "m", 0.1, 2, "center of mass of the bike alone")
    bike_cg_height: Measured | None = optional("length", "m", 0.1, 1.5, "above the ground")
    rider_cg_ahead_of_rear_axle: Measured | None = optional("length", "m", -0.5, 1.5, "seated")
    rider_cg_height: Measured | None = optional("length", "m", 0.3, 2, "above the ground")
    luggage_cg_ahead_of_rear_axle: Measured | None = optional("length", "m", -1, 2)
    luggage_cg_height: Measured | None = optional("length", "m", 0.1, 2)
    drag_height: Measured | None = optional("length", "m", 0.1, 2, "where the air drag acts")
    rake: Measured | None = optional("angle", "deg", 10, 50, "steering axis from vertical")
    fork_offset: Measured | None = optional("length", "mm", -50, 120, "axle to steering axis, perpendicular")
    ground_clearance: Measured | None = optional("length", "mm", 20, 600, "lowest point, as it stands now")
    lowest_point_ahead_of_rear_axle: Measured | None = optional("length", "m", 0, 2)


class Spring(Record):
    """A fork, both legs together along the legs, or the rear wheel, up and down at the axle."""

    rate: Measured | None = optional("spring rate", "N/mm", 1, 200, "both legs together, or at the wheel")
    sag: Measured | None = optional("length", "mm", 1, 300, "rider seated, from fully extended to where it stands")
    travel: Measured | None = optional("length", "mm", 20, 450, "from fully extended to the stop")

    @model_validator(mode="after")
    def sag_lies_within_the_travel(self) -> Spring:
        if self.sag is not None and self.travel is not None and self.sag >= self.travel:
            raise InputError(
                "sag", self.sag.written, "is not less than the travel", "Measure both from fully extended."
            )
        return self


class Suspension(Record):
    fork: Spring = Spring()
    rear: Spring = Spring()


class Inertia(Record):
    front_wheel: Measured | None = optional("inertia", "kg*m2", 0, 10, "with tire and discs")
    rear_wheel: Measured | None = optional("inertia", "kg*m2", 0, 10, "with tire and sprocket")
    crank: Measured | None = optional("inertia", "kg*m2", 0, 2, "crank, flywheel and clutch at crank speed")
    crank_turns: Literal["forward", "backward", "lengthwise"] | None = None


class Engine(Record):
    cycle: Literal[2, 4] = 4
    displacement: Measured | None = optional("volume", "cc", 20, 3000)
    stroke: Measured | None = optional("length", "mm", 15, 200)
    cylinders: Annotated[int, Field(strict=True, ge=1, le=8)] = 1
    idle: Measured | None = optional("engine speed", "rev/min", 300, 5000)
    rev_limit: Measured | None = optional("engine speed", "rev/min", 1500, 25000)


class Gearbox(Record):
    gears: tuple[Ratio, ...] = Field(min_length=1, max_length=10)
    primary: Ratio | None = None
    efficiency: Measured | None = optional("ratio", "", 0.5, 1, "crank to tire")
    shift_time: Measured | None = optional("time", "s", 0, 5, "drive interrupted by an upshift")
    ratios_are_a_guess: YesOrNo = False

    @model_validator(mode="after")
    def gears_must_fall(self) -> Gearbox:
        for k, (lower, higher) in enumerate(zip(self.gears, self.gears[1:], strict=False), start=2):
            if higher >= lower:
                problem = f"is not below the ratio of gear {k - 1} ({lower:.4g})"
                fix = "List the gears from first to top; each ratio is driven over driving teeth."
                raise InputError(f"gears[{k}]", round(higher, 4), problem, fix)
        return self


class FinalDrive(Record):
    """A chain by its sprockets, a belt by its pulleys, or a shaft by its ratio alone."""

    kind: Literal["chain", "belt", "shaft"] = "chain"
    front: FrontTeeth | None = None
    rear: RearTeeth | None = None
    ratio: Ratio | None = None
    chain: ChainName | None = None
    links: Annotated[Teeth, Field(ge=30, le=250)] | None = None
    chain_wear: Annotated[Measured, Quantity("ratio", "%", 0, 10, "elongation")] = Measured(0.0)
    axle_travel: Annotated[
        tuple[
            Annotated[Measured, Quantity("length", "mm", -200, 200)],
            Annotated[Measured, Quantity("length", "mm", -200, 200)],
        ]
        | None,
        several(2, '["-8 mm", "30 mm"]'),
    ] = None
    centre_distance: Measured | None = optional("length", "m", 0.2, 1.2, "countershaft to rear axle, now")

    @model_validator(mode="after")
    def parts_must_be_of_the_kind(self) -> FinalDrive:
        needed = ("ratio",) if self.kind == "shaft" else ("front", "rear")
        of_no_use = {"chain": ("ratio",), "belt": ("ratio", *_OF_A_CHAIN), "shaft": ("front", "rear", *_OF_A_CHAIN)}
        errors = [InputError(key, None, "is missing", _DRIVE_FIX[key]) for key in needed if getattr(self, key) is None]
        errors += [
            InputError(key, None, f"is not a part of a {self.kind} drive", "Leave it out, or mend final_drive.kind.")
            for key in of_no_use[self.kind]
            if getattr(self, key)
        ]
        if errors:
            raise InputErrors(errors)
        return self

    @property
    def teeth(self) -> tuple[int, int] | None:
        """Of the front and the rear sprocket or pulley; None of a shaft."""
        return None if self.front is None or self.rear is None else (self.front, self.rear)

    @property
    def final_ratio(self) -> float:
        """Turns of the gearbox for one of the wheel."""
        return self.rear / self.front if self.front and self.rear else float(self.ratio or 1.0)

    @model_validator(mode="after")
    def travel_must_hold_the_axle(self) -> FinalDrive:
        if self.axle_travel and not self.axle_travel[0] <= 0.0 <= self.axle_travel[1]:
            problem = "does not hold the place where the axle is now"
            fix = "Measure both ways from the axle's present place: forward is negative, rearward positive."
            raise InputError("axle_travel", [t.written for t in self.axle_travel], problem, fix)
        return self


class Tire(Record):
    size: Marking
    rollout: Measured | None = optional("length", "m", 0.8, 3.5, "one turn, measured under the rider")
    deflection: Measured | None = optional("length", "mm", 0, 60, "static, under load")
    worn: Annotated[Measured, Quantity("length", "mm", 0, 30, "tread depth lost")] = Measured(0.0)
    rim_width: Measured | None = optional("length", "in", 0.8, 12, "between the flanges, stamped on the rim")
    room_beside: Measured | None = optional(
        "length", "mm", 0, 200, "least gap beside the tire: swingarm or fork, chain, brake"
    )
    room_around: Measured | None = optional("length", "mm", 0, 300, "least gap outside the tread, suspension pushed in")


class Tires(Record):
    rear: Tire
    front: Tire | None = None


class SpeedometerSection(Record):
    sensor: Literal["front wheel", "rear wheel", "countershaft"] = "front wheel"
    calibrated_rear_tire: Marking | None = None
    calibrated_front_tire: Marking | None = None
    calibrated_front: FrontTeeth | None = None
    calibrated_rear: RearTeeth | None = None
    reads_high: Annotated[
        Measured, Quantity("ratio", "%", -20, 20, "with the tires and sprockets it was calibrated for")
    ] = Measured(0.0)


class Tune(Record):
    points: tuple[tuple[float, float], ...]
    points_are: Text = "N*m"
    measured_at: Literal["crank", "wheel"] | None = None
    standard: Standard | None = None
    temperature: Measured | None = optional("temperature", "degC", -40, 60)
    pressure: Measured | None = optional("pressure", "hPa", 500, 1100)
    humidity: Measured | None = optional("ratio", "%", 0, 100)
    curve_error: Annotated[Measured, Quantity("ratio", "%", 0, 30, "how far the torque may be off, either way")] = (
        Measured(0.0)
    )
    measured_with: Text | None = None
    note: Text | None = None
    trial: Text | None = None

    @property
    def measurement(self) -> object:
        """What the errors of the curve belong to: the instrument and day that the rider names, else this curve alone."""
        return self.measured_with or self.points

    @model_validator(mode="before")
    @classmethod
    def points_must_make_a_curve(cls, data: Any) -> Any:
        if isinstance(data, Mapping) and isinstance(data.get("points"), list | tuple):
            checked = curve_points(data["points"], data.get("points_are", "N*m"))
            return {**data, "points": checked}
        return data

    @model_validator(mode="after")
    def air_goes_with_as_measured(self) -> Tune:
        given = {"temperature": self.temperature, "pressure": self.pressure, "humidity": self.humidity}
        if self.standard == "as measured" and (self.temperature is None or self.pressure is None):
            fix = "Add temperature and pressure (and humidity) of that day to this tune."
            raise InputError("standard", self.standard, "needs the air it was measured in", fix)
        if self.standard != "as measured" and any(v is not None for v in given.values()):
            fix = 'A corrected sheet is already in standard air; for raw figures write standard = "as measured".'
            raise InputError("standard", self.standard, "does not go with an air of its own", fix)
        return self


class Active(Record):
    tune: Text


class RoadLoadSection(Record):
    drag_area: Measured | None = optional("area", "m^2", 0.05, 3, "drag coefficient times frontal area")
    rolling_resistance: Measured | None = optional("ratio", "", 0, 0.3)
    coast_down: Annotated[
        tuple[
            Annotated[Measured, Quantity("force", "N", 0, 2000)],
            Annotated[Measured, Quantity("force per speed", "N/(m/s)", -20, 50)],
            Annotated[Measured, Quantity("force per speed squared", "N/(m/s)^2", 0, 5)],
        ]
        | None,
        several(3, '["95 N", "0 N/(m/s)", "0.39 N/(m/s)^2"]'),
    ] = None
    standard: Literal["40 CFR 86.529-98"] | None = None

    @model_validator(mode="after")
    def one_way_only(self) -> RoadLoadSection:
        parts = self.drag_area is not None or self.rolling_resistance is not None
        ways = [parts, self.coast_down is not None, self.standard is not None]
        if sum(ways) > 1:
            fix = "Keep drag_area with rolling_resistance, or coast_down, or standard."
            raise InputError("", None, "gives the road load in more than one way", fix)
        return self


class SurfaceSection(Record):
    name: Text = "dry asphalt"
    friction: Measured | None = optional("ratio", "", 0.02, 2)


class AirSection(DayAir):
    """The air of the ride."""

    altitude: Annotated[Measured, Quantity("length", "m", -430, 6000)] = Measured(0.0)


class Fuel(Record):
    tank: Measured | None = optional("volume", "l", 0.5, 100)
    known_consumption: Annotated[
        tuple[
            Annotated[Measured, Quantity("fuel consumption", "l/100km", 0.5, 40)],
            Annotated[Measured, Quantity("speed", "km/h", 10, 250)],
        ]
        | None,
        several(2, '["4.6 l/100km", "90 km/h"]'),
    ] = None
    density: Measured | None = optional("ratio", "", 0.6, 0.9, "kg per liter")


class RideSection(Record):
    cruise: Annotated[Measured, Quantity("speed", "km/h", 5, 400)] = Measured(100 / 3.6, 0.0, "100 km/h")
    grade: Annotated[Measured, Quantity("ratio", "%", -60, 100)] = Measured(0.0)
    headwind: Annotated[Measured, Quantity("speed", "m/s", -40, 60)] = Measured(0.0)


class LimitsSection(Record):
    """What the rider needs of a sprocket pair; every one is optional."""

    cruise_engine_speed_most: Measured | None = optional("engine speed", "rev/min", 500, 25000)
    first_gear_climb_least: Measured | None = optional("ratio", "%", 0, 150)
    first_gear_lift_ratio_least: Measured | None = optional("ratio", "", 0, 5)
    walking_speed_most: Measured | None = optional(
        "speed", "km/h", 1, 60, "road speed in first at walking_engine_speed"
    )
    walking_engine_speed: Measured | None = optional("engine speed", "rev/min", 500, 10000)
    top_speed_least: Measured | None = optional("speed", "km/h", 20, 400)
    time_0_100_most: Measured | None = optional("time", "s", 1, 120)
    roll_on_60_100_most: Measured | None = optional("time", "s", 0.5, 300, "in top gear")
    ride_time_above_most: Measured | None = optional("ratio", "%", 0, 100, "of your ride, above ride_engine_speed")
    ride_engine_speed: Measured | None = optional("engine speed", "rev/min", 500, 25000)
    ride_shifts_per_hour_most: Measured | None = optional("ratio", "", 0, 3600, "up and down, an hour on the move")
    ride_fuel_most: Measured | None = optional("fuel consumption", "l/100km", 0.5, 50, "over your ride")
    ride_range_least: Measured | None = optional("length", "km", 10, 3000, "on a full tank")
    keep_chain: YesOrNo = False
    within_axle_travel: YesOrNo = True
    fronts: tuple[FrontTeeth, ...] | None = Field(default=None, max_length=40)
    rears: tuple[RearTeeth, ...] | None = Field(default=None, max_length=90)
    rear_tires: tuple[Marking, ...] | None = Field(default=None, max_length=50)
    tunes: tuple[Text, ...] | None = Field(default=None, max_length=50)


class Prices(Record):
    """What parts cost the rider, all in one currency of their own."""

    currency: Text | None = None
    front_sprocket: Price | None = None
    rear_sprocket: Price | None = None
    chain: Price | None = None
    master_link: Price | None = None
    rear_tire: Price | None = None


class BuildRecord(Record):
    """Every value of a build file in SI."""

    name: Text
    masses: Masses
    chassis: Chassis = Chassis()
    suspension: Suspension = Suspension()
    inertia: Inertia = Inertia()
    engine: Engine = Engine()
    gearbox: Gearbox
    final_drive: FinalDrive
    tires: Tires
    speedometer: SpeedometerSection = SpeedometerSection()
    tune: dict[Text, Tune] = Field(min_length=1, max_length=100)
    active: Active | None = None
    road_load: RoadLoadSection = RoadLoadSection()
    surface: SurfaceSection = SurfaceSection()
    air: AirSection = AirSection()
    fuel: Fuel = Fuel()
    ride: RideSection = RideSection()
    limits: LimitsSection = LimitsSection()
    prices: Prices = Prices()
    evidence: tuple[AnyReading, ...] = Field(default=(), max_length=MOST)

    @model_validator(mode="after")
    def parts_must_fit(self) -> BuildRecord:
        if errors := [*self._unknown_tunes(), *self._odd_limits(), *self._unknown_gears()]:
            raise InputErrors(errors)
        return self

    def _unknown_tunes(self) -> Iterator[InputError]:
        """Where a tune is named that the build does not have."""
        named = [("active.tune", self.active.tune if self.active else None)]
        named += [(f"limits.tunes[{n}]", name) for n, name in enumerate(self.limits.tunes or (), start=1)]
        named += [(f"evidence[{n}].tune", reading.tune) for n, reading in enumerate(self.evidence, start=1)]
        for where, name in named:
            if name is not None and name not in self.tune:
                yield InputError(where, name, "is not a tune of this build", did_you_mean(name, self.tune))

    def _odd_limits(self) -> Iterator[InputError]:
        """Where the rev limit leaves nothing to ride at."""
        limit, idle = self.engine.rev_limit, self.engine.idle
        if limit is None:
            return
        for name, tune in self.tune.items():
            first = tune.points[0][0]
            if limit <= first:
                problem = f"is not above the first point of tune {name!r} ({rpm(first):.0f} rev/min)"
                fix = "Give points from below the limit, or mend the limit."
                yield InputError("engine.rev_limit", limit.written, problem, fix)
        if idle is not None and idle >= limit:
            yield InputError("engine.idle", idle.written, "is not below the rev limit", "Mend one of the two.")

    def _unknown_gears(self) -> Iterator[InputError]:
        """The readings in a gear that the build does not have."""
        count = len(self.gearbox.gears)
        for n, reading in enumerate(self.evidence, start=1):
            gear = getattr(reading, "gear", None)
            if isinstance(gear, int) and gear > count:
                problem = f"is not a gear of this build (1 to {count})"
                yield InputError(f"evidence[{n}].gear", gear, problem, "Count gears from 1.")
