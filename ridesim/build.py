"""The build file: one bike as it would be ridden, in TOML, read into frozen records and checked all at once.

Every quantity is a number in the unit of its field or a string with a unit and perhaps a tolerance ("0.62 +- 0.06 m^2").
Inside the records everything is SI. Writing back keeps the rider's comments.
"""

from __future__ import annotations

import os
import tempfile
import tomllib
from collections.abc import Mapping
from dataclasses import dataclass
from pathlib import Path
from typing import Annotated, Any, Literal, get_args

from pydantic import (
    BaseModel,
    BeforeValidator,
    ConfigDict,
    Field,
    PlainValidator,
    ValidationError,
    model_validator,
)

from ridesim.errors import InputError, InputErrors, did_you_mean
from ridesim.parts.curve_file import CurveSheet
from ridesim.units import KINDS, Measured, in_unit, quantity

LARGEST_FILE = 1_000_000  # bytes; a build with a hundred tunes is a tenth of it


def _q(kind: str, unit: str, least: float | None = None, most: float | None = None, what: str = "", **field: Any) -> Any:
    """A field that reads a quantity; least and most are in `unit` and mark what no motorcycle reaches."""

    def read(value: object) -> Measured:
        result = quantity(value, kind, unit, "")
        low, high = (None if bound is None else quantity(bound, kind, unit, "") for bound in (least, most))
        if low is not None and result < low - 1e-12 * abs(low):
            raise InputError("", value, f"must be at least {least:g} {unit}".rstrip(), "Check the figure and its unit.")
        if high is not None and result > high + 1e-12 * abs(high):
            raise InputError("", value, f"must be at most {most:g} {unit}".rstrip(), "Check the figure and its unit.")
        return result

    schema = {"description": f"{what} [{unit or 'ratio'}] or a string such as {KINDS[kind].examples}".strip()}
    if field.get("default", ...) is None:
        return Annotated[
            Measured | None,
            PlainValidator(lambda v: None if v is None else read(v), json_schema_input_type=float | str),
            Field(json_schema_extra=schema),
        ]
    return Annotated[
        Measured, PlainValidator(read, json_schema_input_type=float | str), Field(json_schema_extra=schema)
    ]


def _optional(kind: str, unit: str, least: float | None = None, most: float | None = None, what: str = "") -> Any:
    return _q(kind, unit, least, most, what, default=None)


def _teeth_or_ratio(value: object) -> float:
    """[driven, driving] teeth, or a ratio."""
    if isinstance(value, list | tuple):
        if len(value) != 2 or any(isinstance(t, bool) or not isinstance(t, int) for t in value):
            raise InputError("", value, "is not a pair of tooth counts", "Write [driven, driving] teeth, such as [32, 13].")
        driven, driving = value
        if not (5 <= driven <= 200 and 5 <= driving <= 200):
            raise InputError("", value, "has a tooth count outside 5 to 200", "Write [driven, driving] teeth.")
        return driven / driving
    ratio = quantity(value, "ratio", "", "")
    if not 0.2 <= ratio <= 20:
        raise InputError("", value, "must be between 0.2 and 20", "Write engine-side turns per turn of the driven shaft.")
    return float(ratio)


def _pair(value: object) -> object:
    if not isinstance(value, list | tuple) or len(value) != 2:
        raise InputError("", value, "is not a pair", 'Write two values, such as ["-8 mm", "30 mm"].')
    return value


def _text(value: object) -> str:
    if not isinstance(value, str) or not value.strip():
        raise InputError("", value, "is not a text", "Write a short text in quotes.")
    if len(value) > 120 or not value.isprintable():
        raise InputError("", value, "is too long or holds unprintable characters", "Keep it under 120 plain characters.")
    return value


Ratio = Annotated[float, PlainValidator(_teeth_or_ratio, json_schema_input_type=float | list[int])]
Text = Annotated[str, PlainValidator(_text, json_schema_input_type=str)]
Teeth = Annotated[int, Field(strict=True)]


class _Section(BaseModel):
    model_config = ConfigDict(frozen=True, extra="forbid", arbitrary_types_allowed=True)


class Masses(_Section):
    bike: _q("mass", "kg", 20, 1000, "all fluids, half a tank")
    rider: _q("mass", "kg", 20, 250, "in riding gear")
    luggage: _q("mass", "kg", 0, 400, "luggage and passenger") = Measured(0.0)


class Chassis(_Section):
    wheelbase: _optional("length", "mm", 700, 2500, "axle to axle") = None
    bike_cg_ahead_of_rear_axle: _optional("length", "m", 0.1, 2, "centre of mass of the bike alone") = None
    bike_cg_height: _optional("length", "m", 0.1, 1.5, "above the ground") = None
    rider_cg_ahead_of_rear_axle: _optional("length", "m", -0.5, 1.5, "seated") = None
    rider_cg_height: _optional("length", "m", 0.3, 2, "above the ground") = None
    luggage_cg_ahead_of_rear_axle: _optional("length", "m", -1, 2) = None
    luggage_cg_height: _optional("length", "m", 0.1, 2) = None
    drag_height: _optional("length", "m", 0.1, 2, "where the air drag acts") = None
    rake: _optional("angle", "deg", 10, 50, "steering axis from vertical") = None
    fork_offset: _optional("length", "mm", -50, 120, "axle to steering axis, perpendicular") = None
    ground_clearance: _optional("length", "mm", 20, 600, "lowest point, as it stands now") = None
    lowest_point_ahead_of_rear_axle: _optional("length", "m", 0, 2) = None


class Inertia(_Section):
    front_wheel: _optional("inertia", "kg*m2", 0, 10, "with tire and discs") = None
    rear_wheel: _optional("inertia", "kg*m2", 0, 10, "with tire and sprocket") = None
    crank: _optional("inertia", "kg*m2", 0, 2, "crank, flywheel and clutch at crank speed") = None
    crank_turns: Literal["forward", "backward"] | None = None


class Engine(_Section):
    cycle: Literal[2, 4] = 4
    displacement: _optional("volume", "cc", 20, 3000) = None
    stroke: _optional("length", "mm", 15, 200) = None
    cylinders: Annotated[int, Field(strict=True, ge=1, le=8)] = 1
    idle: _optional("engine speed", "rev/min", 300, 5000) = None
    rev_limit: _optional("engine speed", "rev/min", 1500, 25000) = None


class Gearbox(_Section):
    gears: tuple[Ratio, ...] = Field(min_length=1, max_length=10)
    primary: Ratio | None = None
    efficiency: _optional("ratio", "", 0.5, 1, "crank to tire") = None
    shift_time: _optional("time", "s", 0, 5, "drive interrupted by an upshift") = None
    ratios_are_a_guess: bool = False

    @model_validator(mode="after")
    def gears_must_fall(self) -> Gearbox:
        for k, (lower, higher) in enumerate(zip(self.gears, self.gears[1:], strict=False), start=2):
            if higher >= lower:
                raise InputError(
                    f"gears[{k}]", round(higher, 4), f"is not below the ratio of gear {k - 1} ({lower:.4g})",
                    "List the gears from first to top; each ratio is driven over driving teeth.")
        return self


class FinalDrive(_Section):
    front: Annotated[Teeth, Field(ge=6, le=40)]
    rear: Annotated[Teeth, Field(ge=12, le=100)]
    chain: Text | None = None
    links: Annotated[Teeth, Field(ge=30, le=250)] | None = None
    chain_wear: _q("ratio", "%", 0, 10, "elongation") = Measured(0.0)
    axle_travel: Annotated[
        tuple[_q("length", "mm", -200, 200), _q("length", "mm", -200, 200)] | None, BeforeValidator(_pair)
    ] = None
    centre_distance: _optional("length", "m", 0.2, 1.2, "countershaft to rear axle, now") = None

    @model_validator(mode="after")
    def travel_must_hold_the_axle(self) -> FinalDrive:
        if self.axle_travel and not self.axle_travel[0] <= 0.0 <= self.axle_travel[1]:
            raise InputError("axle_travel", [t.written for t in self.axle_travel], "does not hold the place where the axle is now",
                             "Measure both ways from the axle's present place: forward is negative, rearward positive.")
        return self


class Tire(_Section):
    size: Text
    rollout: _optional("length", "m", 0.8, 3.5, "one turn, measured under the rider") = None
    deflection: _optional("length", "mm", 0, 60, "static, under load") = None
    worn: _q("length", "mm", 0, 30, "tread depth lost") = Measured(0.0)


class Tires(_Section):
    rear: Tire
    front: Tire | None = None


class Speedometer(_Section):
    sensor: Literal["front wheel", "rear wheel", "countershaft"] = "front wheel"
    calibrated_rear_tire: Text | None = None
    calibrated_front_tire: Text | None = None
    calibrated_front: Annotated[Teeth, Field(ge=6, le=40)] | None = None
    calibrated_rear: Annotated[Teeth, Field(ge=12, le=100)] | None = None
    reads_high: _q("ratio", "%", -20, 20, "with the tires and sprockets it was calibrated for") = Measured(0.0)


class Tune(_Section):
    points: tuple[tuple[float, float], ...]
    points_are: Text = "N*m"
    measured_at: Literal["crank", "wheel"] | None = None
    standard: Text | None = None
    temperature: _optional("temperature", "degC", -40, 60) = None
    pressure: _optional("pressure", "hPa", 500, 1100) = None
    humidity: _optional("ratio", "%", 0, 100) = None
    curve_error: _q("ratio", "%", 0, 30, "how far the torque may be off, either way") = Measured(0.0)
    note: Text | None = None
    trial: Text | None = None

    @model_validator(mode="before")
    @classmethod
    def points_must_make_a_curve(cls, data: Any) -> Any:
        if isinstance(data, Mapping) and isinstance(data.get("points"), list | tuple):
            checked = _curve_points(data["points"], data.get("points_are", "N*m"))
            return {**data, "points": checked}
        return data

    @model_validator(mode="after")
    def air_goes_with_as_measured(self) -> Tune:
        given = {"temperature": self.temperature, "pressure": self.pressure, "humidity": self.humidity}
        if self.standard == "as measured" and (self.temperature is None or self.pressure is None):
            raise InputError("standard", self.standard, "needs the air it was measured in",
                             "Add temperature and pressure (and humidity) of that day to this tune.")
        if self.standard != "as measured" and any(v is not None for v in given.values()):
            raise InputError("standard", self.standard, "does not go with an air of its own",
                             "A corrected sheet is already in standard air; for raw figures write standard = \"as measured\".")
        return self


def _curve_points(points: Any, unit: object) -> tuple[tuple[float, float], ...]:
    """Points as (rad/s, SI torque or power); several problems of one list are told together."""
    kind = torque_or_power(unit)
    checked: list[tuple[float, float]] = []
    errors: list[InputError] = []
    if not 2 <= len(points) <= 1000:
        raise InputError("points", f"{len(points)} points", "must be 2 to 1000 points", "Write [rev/min, value] pairs.")
    for k, point in enumerate(points, start=1):
        where = f"points[{k}]"
        if not isinstance(point, list | tuple) or len(point) != 2:
            errors.append(InputError(where, point, "is not a pair", "Write [rev/min, value]."))
            continue
        try:
            speed = quantity(point[0], "engine speed", "rev/min", where)
            value = quantity(point[1], kind, str(unit), where)
        except InputError as error:
            errors.append(error)
            continue
        if not 0 < speed <= quantity(30000, "engine speed", "rev/min", where):
            errors.append(InputError(where, point[0], "must be an engine speed of 1 to 30000 rev/min", "Check this point."))
        elif not 0 < value < (2000 if kind == "torque" else 500e3):
            errors.append(InputError(where, point[1], f"must be a {kind} above zero that an engine can give", "Check this point."))
        elif checked and speed <= checked[-1][0]:
            same = speed == checked[-1][0]
            errors.append(InputError(
                where, point[0], "has the engine speed of the point before it" if same else "goes back in engine speed",
                "Keep one point for each engine speed, in rising order."))
        else:
            checked.append((float(speed), float(value)))
    if errors:
        raise InputErrors(errors)
    return tuple(checked)


def torque_or_power(unit: object) -> str:
    """Whether a unit names a torque or a power; InputError when it is neither."""
    for kind in ("torque", "power"):
        try:
            quantity(1.0, kind, str(unit), "points_are")
        except InputError:
            continue
        return kind
    raise InputError("points_are", unit, "is neither a unit of torque nor of power", "Write one such as 'N*m', 'ft*lb', 'kW' or 'hp'.")


class Active(_Section):
    tune: Text


class RoadLoadSection(_Section):
    drag_area: _optional("area", "m^2", 0.05, 3, "drag coefficient times frontal area") = None
    rolling_resistance: _optional("ratio", "", 0, 0.3) = None
    coast_down: tuple[
        _q("force", "N", 0, 2000), _q("force per speed", "N/(m/s)", -20, 50), _q("force per speed squared", "N/(m/s)^2", 0, 5)
    ] | None = None
    standard: Literal["40 CFR 86.529-98"] | None = None

    @model_validator(mode="after")
    def one_way_only(self) -> RoadLoadSection:
        parts = self.drag_area is not None or self.rolling_resistance is not None
        ways = [parts, self.coast_down is not None, self.standard is not None]
        if sum(ways) > 1:
            raise InputError("", None, "gives the road load in more than one way",
                             "Keep drag_area with rolling_resistance, or coast_down, or standard.")
        return self


class Surface(_Section):
    name: Text = "dry asphalt"
    friction: _optional("ratio", "", 0.02, 2) = None


class AirSection(_Section):
    altitude: _q("length", "m", -430, 6000) = Measured(0.0)
    temperature: _optional("temperature", "degC", -40, 55) = None
    humidity: _optional("ratio", "%", 0, 100) = None
    pressure: _optional("pressure", "hPa", 400, 1100, "as read at the place, not reduced to sea level") = None


class Fuel(_Section):
    tank: _optional("volume", "l", 0.5, 100) = None
    known_consumption: Annotated[
        tuple[_q("fuel consumption", "l/100km", 0.5, 40), _q("speed", "km/h", 10, 250)] | None, BeforeValidator(_pair)
    ] = None
    density: _optional("ratio", "", 0.6, 0.9, "kg per litre") = None


class RideSection(_Section):
    cruise: _q("speed", "km/h", 5, 400) = Measured(100 / 3.6, 0.0, "100 km/h")
    grade: _q("ratio", "%", -60, 100) = Measured(0.0)
    headwind: _q("speed", "m/s", -40, 60) = Measured(0.0)


class Limits(_Section):
    """What the rider needs of a sprocket pair; every one is optional."""

    cruise_engine_speed_most: _optional("engine speed", "rev/min", 500, 25000) = None
    first_gear_climb_least: _optional("ratio", "%", 0, 150) = None
    first_gear_lift_ratio_least: _optional("ratio", "", 0, 5) = None
    walking_speed_most: _optional("speed", "km/h", 1, 60, "road speed in first at walking_engine_speed") = None
    walking_engine_speed: _optional("engine speed", "rev/min", 500, 10000) = None
    top_speed_least: _optional("speed", "km/h", 20, 400) = None
    time_0_100_most: _optional("time", "s", 1, 120) = None
    roll_on_60_100_most: _optional("time", "s", 0.5, 300, "in top gear") = None
    keep_chain: bool = False
    within_axle_travel: bool = True
    fronts: tuple[Annotated[Teeth, Field(ge=6, le=40)], ...] | None = Field(default=None, max_length=40)
    rears: tuple[Annotated[Teeth, Field(ge=12, le=100)], ...] | None = Field(default=None, max_length=90)
    rear_tires: tuple[Text, ...] | None = Field(default=None, max_length=50)
    tunes: tuple[Text, ...] | None = Field(default=None, max_length=50)


class BuildRecord(_Section):
    """Every value of a build file in SI."""

    name: Text
    masses: Masses
    chassis: Chassis = Chassis()
    inertia: Inertia = Inertia()
    engine: Engine = Engine()
    gearbox: Gearbox
    final_drive: FinalDrive
    tires: Tires
    speedometer: Speedometer = Speedometer()
    tune: dict[Text, Tune] = Field(min_length=1, max_length=100)
    active: Active | None = None
    road_load: RoadLoadSection = RoadLoadSection()
    surface: Surface = Surface()
    air: AirSection = AirSection()
    fuel: Fuel = Fuel()
    ride: RideSection = RideSection()
    limits: Limits = Limits()

    @model_validator(mode="after")
    def parts_must_fit(self) -> BuildRecord:
        errors = []
        if self.active and self.active.tune not in self.tune:
            errors.append(InputError("active.tune", self.active.tune, "is not a tune of this build", did_you_mean(self.active.tune, self.tune)))
        limit = self.engine.rev_limit
        for name, tune in self.tune.items():
            first = tune.points[0][0]
            if limit is not None and limit <= first:
                errors.append(InputError(
                    "engine.rev_limit", limit.written, f"is not above the first point of tune {name!r} ({in_unit(first, 'rpm', 'engine speed'):.0f} rev/min)",
                    "Give points from below the limit, or mend the limit."))
        if limit is not None and self.engine.idle is not None and self.engine.idle >= limit:
            errors.append(InputError("engine.idle", self.engine.idle.written, "is not below the rev limit", "Mend one of the two."))
        if errors:
            raise InputErrors(errors)
        return self


@dataclass(frozen=True)
class Build:
    """A checked build: its record in SI, and its text with every comment the rider wrote."""

    record: BuildRecord
    text: str

    @property
    def name(self) -> str:
        return self.record.name

    def tune_name(self, wanted: str | None = None) -> str:
        """The wanted tune, the active one, or the first; InputError with near names when there is no such tune."""
        tunes = self.record.tune
        if wanted is None:
            return self.record.active.tune if self.record.active else next(iter(tunes))
        if wanted not in tunes:
            raise InputError("tune", wanted, "is not a tune of this build", did_you_mean(wanted, tunes))
        return wanted

    def changed(self, changes: Mapping[str, Any]) -> Build:
        """The build with some values written anew ("final_drive.front": 15); comments stay; None takes a key out."""
        import tomlkit

        document = tomlkit.parse(self.text)
        for path, value in changes.items():
            *tables, key = path.split(".")
            place: Any = document
            for table in tables:
                if table not in place:
                    place[table] = tomlkit.table()
                place = place[table]
            if value is None:
                place.pop(key, None)
            else:
                place[key] = value
        return parse(tomlkit.dumps(document))

    def save(self, path: str | Path) -> None:
        """Write the file whole or not at all: the text goes to a temporary name and is then moved into place."""
        target = Path(path)
        try:
            handle, temporary = tempfile.mkstemp(dir=target.parent, prefix=f".{target.name}.", suffix=".part")
            try:
                with os.fdopen(handle, "w", encoding="utf-8", newline="") as out:
                    out.write(self.text)
                    out.flush()
                    os.fsync(out.fileno())
                os.replace(temporary, target)
            except BaseException:
                Path(temporary).unlink(missing_ok=True)
                raise
        except OSError as error:
            raise InputError(str(target), None, f"cannot be written ({error.strerror})", "Choose another folder.") from None


def read(path: str | Path) -> Build:
    """The build in a file; InputError names the file when it cannot be read at all."""
    where = Path(path)
    try:
        if where.is_dir():
            raise InputError(str(path), None, "is a folder, not a build file", "Name the .toml file inside it.")
        with where.open("rb") as file:
            raw = file.read(LARGEST_FILE + 1)
    except (OSError, ValueError) as error:
        if isinstance(error, InputError):
            raise
        reason = getattr(error, "strerror", None) or "not a usable file name"
        raise InputError(str(path), None, f"cannot be read ({reason})", "Check the name of the build file.") from None
    if len(raw) > LARGEST_FILE:
        raise InputError(str(path), None, "is larger than 1 MB", "A build file is a few kilobytes of TOML text; is this the right file?")
    try:
        text = raw.decode("utf-8-sig")
    except UnicodeDecodeError as error:
        raise InputError(str(path), None, f"is not UTF-8 text (byte {error.start})", "Save it as UTF-8 in your editor.") from None
    return parse(text)


def parse(text: str) -> Build:
    """The build in a TOML text; every problem of it is reported together (InputErrors)."""
    try:
        data = tomllib.loads(text)
    except (tomllib.TOMLDecodeError, RecursionError, ValueError) as error:
        raise InputError("build file", None, f"is not valid TOML ({str(error)[:120]})", "Mend the line named here.") from None
    try:
        return Build(BuildRecord.model_validate(data), text)
    except ValidationError as errors:
        found = [mended for error in errors.errors() for mended in _explain(error)]
        raise InputErrors(found) from None


def json_schema() -> dict[str, Any]:
    """The JSON schema of the build file, for editors that complete and check TOML."""
    schema = BuildRecord.model_json_schema(mode="validation")
    schema["$schema"] = "https://json-schema.org/draft/2020-12/schema"
    schema["title"] = "ridesim build file"
    return schema


def _path(location: tuple[Any, ...]) -> str:
    text = ""
    for part in location:
        text += f"[{part + 1}]" if isinstance(part, int) else f".{part}" if text else str(part)
    return text


def _model_at(location: tuple[Any, ...]) -> type[BaseModel] | None:
    model: Any = BuildRecord
    for part in location:
        if isinstance(model, type) and issubclass(model, BaseModel) and part in model.model_fields:
            annotation = model.model_fields[part].annotation
            choices = [a for a in (annotation, *get_args(annotation)) if isinstance(a, type) and issubclass(a, BaseModel)]
            model = choices[0] if choices else None
            if part == "tune":
                model = {"tune": Tune}
        elif isinstance(model, dict):
            model = model["tune"]
        else:
            return None
    return model if isinstance(model, type) else None


def _explain(error: Mapping[str, Any]) -> list[InputError]:
    """A validation error in our own words."""
    location, kind = tuple(error["loc"]), error["type"]
    where = _path(location)
    inner = error.get("ctx", {}).get("error")
    if isinstance(inner, InputErrors):
        return [_placed(one, where) for one in inner.errors]
    if isinstance(inner, InputError):
        return [_placed(inner, where)]
    if kind == "missing":
        model = _model_at(location[:-1])
        extra = model.model_fields[location[-1]].json_schema_extra if model and location[-1] in model.model_fields else None
        hint = f"Add it: {extra['description']}." if isinstance(extra, dict) else "Add it."
        return [InputError(where, None, "is missing", hint)]
    if kind == "extra_forbidden":
        model = _model_at(location[:-1])
        return [InputError(where, error["input"], "is not a key of a build file", did_you_mean(location[-1], model.model_fields if model else []))]
    if kind == "literal_error":
        return [InputError(where, error["input"], f"is not one of {error['ctx']['expected']}", "Use one of these.")]
    return [InputError(where, error["input"], _plain(error["msg"]), "Check the value.")]


def _placed(error: InputError, where: str) -> InputError:
    inner = error.where
    place = where if not inner else inner if not where or "." in inner else f"{where}.{inner}"
    return InputError(place, error.got, error.problem, error.fix)


def _plain(message: str) -> str:
    return "is not usable: " + message.replace("Input should be", "it should be").replace("valid dictionary", "table").rstrip(".")


def with_tune(build: Build, name: str, sheet: CurveSheet, *, measured_at: str | None = None, standard: str | None = None) -> Build:
    """The build with a tune added, or written anew, from the points of a sheet; everything else and all comments stay."""
    import tomlkit

    document = tomlkit.parse(build.text)
    table = tomlkit.table()
    if measured_at is not None:
        table["measured_at"] = measured_at
    if standard is not None:
        table["standard"] = standard
    points = tomlkit.array()
    for point in sheet.points:
        points.append(list(point))
    table["points"] = points
    table["points_are"] = sheet.unit
    document["tune"][name] = table  # type: ignore[index]
    return parse(tomlkit.dumps(document))
