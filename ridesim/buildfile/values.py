"""How single values of a build file are read: quantities, ratios by teeth, texts, and the points of a curve."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Annotated, Any, Literal, get_args

from pydantic import BaseModel, BeforeValidator, ConfigDict, Field, PlainValidator

from ridesim.components.chain import chain_size
from ridesim.components.chain_geometry import FRONT_TEETH, REAR_TEETH
from ridesim.components.tire_marking import parse_marking
from ridesim.errors import InputError, InputErrors, did_you_mean
from ridesim.units import KINDS, Measured, quantity, rpm


class Record(BaseModel):
    """A table of a build file: no key but its own, and nothing changes once it is read."""

    model_config = ConfigDict(frozen=True, extra="forbid", arbitrary_types_allowed=True, defer_build=True)


def section_in(annotation: Any) -> type[Record] | None:
    """The table that a field holds, one or several; None where it holds none.

    >>> class Wheel(Record):
    ...     size: str
    >>> section_in(Wheel | None) is Wheel, section_in(float | None)
    (True, None)
    """
    kinds = (annotation, *get_args(annotation))
    return next((one for one in kinds if isinstance(one, type) and issubclass(one, Record)), None)


@dataclass(frozen=True)
class Quantity:
    """A field that reads a quantity; least and most, in `unit`, mark what no motorcycle reaches.

    >>> mass = Quantity("mass", "kg", 20, 1000, "all fluids, half a tank")
    >>> weighed = mass.read("150 +- 2 kg")
    >>> float(weighed), weighed.plus_minus, weighed.written
    (150.0, 2.0, '150 +- 2 kg')
    """

    kind: str
    unit: str
    least: float | None = None
    most: float | None = None
    what: str = ""

    def read(self, value: object) -> Measured:
        """The value in SI, or an InputError whose place the reader of the whole file fills in.

        Parameters
        ----------
        value : object
            A number in `unit`, or a text with a unit and perhaps a tolerance.

        Raises
        ------
        InputError
            It is no such quantity, lies outside the bounds, or has a tolerance wider than what lies between them.
        """
        result = quantity(value, self.kind, self.unit, "")
        fix = "Check the figure and its unit."
        ends = []
        for bound, outside, word in ((self.least, -1.0, "at least"), (self.most, 1.0, "at most")):
            if bound is not None:
                end = quantity(bound, self.kind, self.unit, "")
                ends.append(float(end))
                if outside * (result - end) > 1e-12 * abs(end):
                    raise InputError("", value, f"must be {word} {bound:g} {self.unit}".rstrip(), fix)
        if len(ends) == 2 and result.plus_minus > (ends[1] - ends[0]) / 2:
            span = f"{self.least:g} to {self.most:g} {self.unit}".rstrip()
            problem = f"has a tolerance wider than all there is ({span})"
            raise InputError("", value, problem, "Write how far the figure itself may be off.")
        return result

    @property
    def description(self) -> str:
        """What to write, for the schema and for the rider who left it out."""
        unit = f"a number in {self.unit}" if self.unit else "a number"
        return f"{self.what + ': ' if self.what else ''}{unit} or a string such as {KINDS[self.kind].examples}"

    def __get_pydantic_core_schema__(self, source: Any, _handler: Any) -> Any:
        from pydantic_core import core_schema

        schema = core_schema.no_info_plain_validator_function(self.read)
        return core_schema.nullable_schema(schema) if type(None) in get_args(source) else schema

    def __get_pydantic_json_schema__(self, _schema: Any, _handler: Any) -> dict[str, Any]:
        return {"anyOf": [{"type": "number"}, {"type": "string"}], "description": self.description}


def optional(kind: str, unit: str, least: float, most: float, what: str = "") -> Any:
    """A field of a record for a quantity that may be left out, None where it is.

    Parameters
    ----------
    kind, unit : str
        What it is a quantity of, and the unit of a bare number.
    least, most : float
        Bounds in that unit.
    what : str
        What to measure, for the schema and for a refusal.

    Examples
    --------
    >>> class Wheel(Record):
    ...     rollout: Measured | None = optional("length", "m", 0.8, 3.5)
    >>> Wheel().rollout, float(Wheel(rollout="200 cm").rollout)
    (None, 2.0)
    """
    field: Any = Field(default=None)
    field.metadata.append(Quantity(kind, unit, least, most, what))
    return field


def _teeth_or_ratio(value: object) -> float:
    """[driven, driving] teeth, or a ratio."""
    fix = "Write [driven, driving] teeth, such as [30, 12], or the ratio, such as 2.5."
    if isinstance(value, list | tuple):
        if len(value) != 2 or any(isinstance(t, bool) or not isinstance(t, int) for t in value):
            raise InputError("", value, "is not a pair of tooth counts", fix)
        driven, driving = int(value[0]), int(value[1])
        if not (5 <= driven <= 200 and 5 <= driving <= 200):
            raise InputError("", value, "has a tooth count outside 5 to 200", fix)
        return driven / driving
    try:
        ratio = quantity(value, "ratio", "", "")
    except InputError as error:
        raise InputError("", value, error.problem, fix) from None
    if ratio.plus_minus:
        raise InputError("", value, "has a tolerance, and teeth have none", fix)
    if not 0.2 <= ratio <= 20:
        raise InputError(
            "", value, "must be between 0.2 and 20", "Write engine-side turns per turn of the driven shaft."
        )
    return float(ratio)


def several(count: int, example: str) -> BeforeValidator:
    """A list of so many values, and what to write in the place of another.

    >>> several(2, '["4.6 l/100km", "90 km/h"]').func(["4.6 l/100km", "90 km/h"])
    ['4.6 l/100km', '90 km/h']
    """

    def checked(value: object) -> object:
        if not isinstance(value, list | tuple) or len(value) != count:
            raise InputError("", value, f"is not a list of {count} values", f"Write {example}.")
        return value

    return BeforeValidator(checked)


def _text(value: object) -> str:
    if not isinstance(value, str) or not value.strip():
        raise InputError("", value, "is not a text", "Write a short text in quotes.")
    if len(value) > 120 or not value.isprintable():
        raise InputError(
            "", value, "is too long or holds unprintable characters", "Keep it under 120 plain characters."
        )
    return value


def _marking(value: object) -> str:
    parse_marking(text := _text(value), "")
    return text


def _chain(value: object) -> str:
    chain_size(text := _text(value))
    return text


def _standard(value: object) -> str:
    if value in STANDARDS:
        return str(value)
    raise InputError("", value, "is not a standard known here", did_you_mean(value, STANDARDS))


# the names of the standards that the surroundings know the equations of
StandardName = Literal["SAE J1349", "ISO 1585", "DIN 70020", "as measured"]
STANDARDS: tuple[str, ...] = get_args(StandardName)
Standard = Annotated[str, PlainValidator(_standard, json_schema_input_type=StandardName)]
Ratio = Annotated[float, PlainValidator(_teeth_or_ratio, json_schema_input_type=float | list[int])]
Text = Annotated[str, PlainValidator(_text, json_schema_input_type=str)]
Marking = Annotated[str, PlainValidator(_marking, json_schema_input_type=str)]
ChainName = Annotated[str, PlainValidator(_chain, json_schema_input_type=str)]
Teeth = Annotated[int, Field(strict=True)]
FrontTeeth = Annotated[Teeth, Field(ge=FRONT_TEETH[0], le=FRONT_TEETH[1])]
RearTeeth = Annotated[Teeth, Field(ge=REAR_TEETH[0], le=REAR_TEETH[1])]
YesOrNo = Annotated[bool, Field(strict=True)]


def curve_points(points: Any, unit: object) -> tuple[tuple[float, float], ...]:
    """Points as (rad/s, SI torque or power); several problems of one list are told together.

    Parameters
    ----------
    points : list of pairs
        2 to 1000 of [engine speed in rev/min, value], rising in engine speed.
    unit : str
        Of the values: one of torque or of power.

    Raises
    ------
    InputError, InputErrors
        With the number of each point that will not do.

    Examples
    --------
    >>> [(round(speed, 1), value) for speed, value in curve_points([[3000, 30], [5000, "35 N*m"]], "N*m")]
    [(314.2, 30.0), (523.6, 35.0)]
    """
    kind = torque_or_power(unit)
    checked: list[tuple[float, float]] = []
    errors: list[InputError] = []
    if not 2 <= len(points) <= 1000:
        raise InputError("points", points, "must be 2 to 1000 points", "Write [rev/min, value] pairs.")
    for k, point in enumerate(points, start=1):
        try:
            checked.append(_point(point, kind, str(unit), checked))
        except InputError as error:
            errors.append(InputError(f"points[{k}]", error.got, error.problem, error.fix))
    if errors:
        raise InputErrors(errors)
    return tuple(checked)


def _point(point: Any, kind: str, unit: str, before: list[tuple[float, float]]) -> tuple[float, float]:
    """A point of a curve, which must lie beyond those before it."""
    if not isinstance(point, list | tuple) or len(point) != 2:
        raise InputError("", point, "is not a pair", "Write [rev/min, value].")
    speed, value = quantity(point[0], "engine speed", "rev/min", ""), quantity(point[1], kind, unit, "")
    if not 1 - 1e-9 <= rpm(speed) <= 30000 + 1e-9:
        raise InputError("", point[0], "must be an engine speed of 1 to 30000 rev/min", "Check this point.")
    if not 0 < value < (2000 if kind == "torque" else 500e3):
        raise InputError("", point[1], f"must be a {kind} above zero that an engine can give", "Check this point.")
    if speed.plus_minus or value.plus_minus:
        fix = "Leave it out, and write how far the whole curve may be off as curve_error."
        raise InputError("", point, "has a tolerance of its own", fix)
    if before and speed <= before[-1][0]:
        same = speed == before[-1][0]
        problem = "has the engine speed of the point before it" if same else "goes back in engine speed"
        raise InputError("", point[0], problem, "Keep one point for each engine speed, in rising order.")
    return float(speed), float(value)


def torque_or_power(unit: object) -> str:
    """Whether a unit names a torque or a power; InputError when it is neither.

    >>> torque_or_power("ft*lb"), torque_or_power("PS")
    ('torque', 'power')
    """
    for kind in ("torque", "power"):
        try:
            quantity(1.0, kind, str(unit), "points_are")
        except InputError:
            continue
        return kind
    fix = "Write one such as 'N*m', 'ft*lb', 'kW' or 'hp'."
    raise InputError("points_are", unit, "is neither a unit of torque nor of power", fix)
