"""The records of `[[evidence]]`: what a rider has measured on the bike, each reading with how far it may be off."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Annotated, Any, Literal

from pydantic import Field, model_validator

from ridesim.buildfile.values import Quantity, Record, Teeth, Text, optional
from ridesim.errors import InputError, InputErrors
from ridesim.units import Measured, quantity

MOST = 100  # readings in a file, and points of one curve


class Exact(Quantity):
    """A quantity that says where a reading was taken: how far it may be off belongs into the reading itself."""

    def read(self, value: object) -> Measured:
        found = super().read(value)
        if found.plus_minus:
            raise InputError(
                "", value, "has a tolerance of its own", "Write it without, and widen that of the reading."
            )
        return found


class Off(Quantity):
    """A quantity with its error, half of the range that holds it in nine of ten readings."""

    def read(self, value: object) -> Measured:
        found = super().read(value)
        if not found.plus_minus > 1e-9 * abs(found):
            fix = f"Write how far it may be off, half of the 90 % range, such as '{found.written} +- ...'."
            raise InputError("", value, "has no error beside it", fix)
        return found


_Gear = Annotated[Teeth, Field(ge=1, le=10)]
_Speed = Annotated[Measured, Exact("speed", "km/h", 0, 400)]
_ENGINE_SPEED = Exact("engine speed", "rev/min", 300, 25000)


class DayAir(Record):
    """The air of one reading's day; what is not given is as in the build."""

    altitude: Measured | None = optional("length", "m", -430, 6000)
    temperature: Measured | None = optional("temperature", "degC", -40, 55)
    humidity: Measured | None = optional("ratio", "%", 0, 100)
    pressure: Measured | None = optional("pressure", "hPa", 400, 1100, "as read at the place, not reduced to sea level")


class Reading(Record):
    """What every reading may carry: the tune it was taken with (the active one unless given), its day's air, a note."""

    kind: str
    tune: Text | None = None
    air: DayAir | None = None
    note: Text | None = None


class RollOut(Reading):
    kind: Literal["roll-out"]
    value: Annotated[Measured, Off("length", "m", 0.8, 3.5, "one turn of the rear wheel, rider seated")]


class AxleWeight(Reading):
    kind: Literal["axle weight"]
    axle: Literal["rear", "front"]
    with_: Literal["rider", "bike alone"] = Field(alias="with")
    value: Annotated[Measured, Off("mass", "kg", 10, 800, "what the scale reads under one wheel")]


class SpeedAtEngineSpeed(Reading):
    kind: Literal["speed at engine speed"]
    gear: _Gear
    speed: Annotated[Measured, Quantity("speed", "km/h", 2, 400, "true, as GPS has it")]
    engine_speed: Annotated[Measured, Quantity("engine speed", "rev/min", 300, 25000)]

    @model_validator(mode="after")
    def one_must_have_an_error(self) -> SpeedAtEngineSpeed:
        if not (self.speed.plus_minus or self.engine_speed.plus_minus):
            fix = "Write how far it may be off, half of the 90 % range, such as '96.2 +- 0.5 km/h'."
            raise InputError("speed", self.speed.written, "has no error beside it", fix)
        return self


class Consumption(Reading):
    kind: Literal["consumption"]
    value: Annotated[Measured, Off("fuel consumption", "l/100km", 0.5, 40)]
    speed: Annotated[Measured, Exact("speed", "km/h", 10, 250, "held all the way")]


class CoastDownReading(Reading):
    kind: Literal["coast-down"]
    drag_area: Annotated[Measured, Off("area", "m^2", 0.05, 3)]
    rolling_resistance: Annotated[Measured, Off("ratio", "", 0, 0.3)]
    correlation: Annotated[Measured, Exact("ratio", "", -0.999, 0.999, "of the two errors")] = Measured(0.0)


class TimedRun(Reading):
    kind: Literal["timed run"]
    from_: _Speed = Field(alias="from")
    to: _Speed
    gear: _Gear | Literal["through the gears"]
    time: Annotated[Measured, Off("time", "s", 0.2, 600)]

    @model_validator(mode="after")
    def speed_must_rise(self) -> TimedRun:
        if self.to <= self.from_:
            raise InputError(
                "to", self.to.written, "is not above the speed it starts from", "Write the higher speed as to."
            )
        return self


class TopSpeed(Reading):
    kind: Literal["top speed"]
    value: Annotated[Measured, Off("speed", "km/h", 20, 400, "true, level road, no wind")]


_WHEEL_POWER = Off("power", "kW", 0.1, 400, "at the rear wheel")


def _curve(points: Any) -> tuple[tuple[Measured, Measured], ...]:
    """Points [rev/min, kW, +- kW] as engine speed and power; several problems are told together."""
    if not 1 <= len(points) <= MOST:
        raise InputError("points", points, f"must be 1 to {MOST} points", "Write [[rev/min, kW, +- kW], ...].")
    found, errors = [], []
    for n, point in enumerate(points, start=1):
        try:
            if not isinstance(point, list | tuple) or len(point) != 3:
                raise InputError("", point, "is not a point of three figures", "Write [rev/min, kW, +- kW].")
            power, off = (quantity(one, "power", "kW", "") for one in point[1:])
            found.append((_ENGINE_SPEED.read(point[0]), _WHEEL_POWER.read(Measured(float(power), float(off)))))
        except InputError as error:
            errors.append(InputError(f"points[{n}]", point, error.problem, error.fix))
    if errors:
        raise InputErrors(errors)
    return tuple(found)


class WheelPower(Reading):
    kind: Literal["wheel power"]
    engine_speed: Annotated[Measured, _ENGINE_SPEED] | None = None
    value: Annotated[Measured, _WHEEL_POWER] | None = None
    points: tuple[tuple[Any, ...], ...] | None = None  # (engine speed, power), each with its error

    @model_validator(mode="before")
    @classmethod
    def points_must_make_a_curve(cls, data: Any) -> Any:
        if isinstance(data, Mapping) and isinstance(data.get("points"), list | tuple):
            return {**data, "points": _curve(data["points"])}
        return data

    @model_validator(mode="after")
    def a_value_or_points(self) -> WheelPower:
        single = self.engine_speed is not None and self.value is not None
        if single == (self.points is not None) or (self.engine_speed is None) != (self.value is None):
            fix = "Write engine_speed with value, or points = [[rev/min, kW, +- kW], ...]."
            raise InputError("", None, "is neither one power nor a list of points", fix)
        return self


AnyReading = Annotated[
    RollOut | AxleWeight | SpeedAtEngineSpeed | Consumption | CoastDownReading | TimedRun | TopSpeed | WheelPower,
    Field(discriminator="kind"),
]
BY_KIND: dict[str, type[Reading]] = {
    "roll-out": RollOut,
    "axle weight": AxleWeight,
    "speed at engine speed": SpeedAtEngineSpeed,
    "consumption": Consumption,
    "coast-down": CoastDownReading,
    "timed run": TimedRun,
    "top speed": TopSpeed,
    "wheel power": WheelPower,
}
