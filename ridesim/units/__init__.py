"""Constants, and the one place where what people write ("52 hp", "31 psi") becomes SI and SI becomes what they read."""

from __future__ import annotations

import math
import re
from collections.abc import Mapping
from dataclasses import dataclass
from functools import cache, lru_cache
from typing import Any

from ridesim.errors import InputError, did_you_mean, near_names
from ridesim.statements import BothWays
from ridesim.units.table import COARSE_FROM, DEFINITIONS, WORDS
from ridesim.units.table import COUNTED as COUNTED
from ridesim.units.table import READINGS as READINGS
from ridesim.units.text import factors, spelled, split_quantity
from ridesim.units.text import split_list as split_list
from ridesim.units.text import value_and_unit as value_and_unit

G = 9.80665  # standard gravity [m/s2], ISO 80000-3
TWO_PI = 2.0 * math.pi
MPH_M_S = 0.44704  # exact, from the international mile
QUARTER_MILE_M = 402.336

_OF_FORCE = {"pound": "pound_force", "kilogram": "kilogram_force"}  # what they mean in a torque, "ft*lb" or "kg*m"


@dataclass(frozen=True)
class Kind:
    """A kind of quantity: what it is called, its SI unit, and examples a rider would write."""

    name: str
    si: str
    examples: str

    def __str__(self) -> str:
        """With its article: "a mass", "an engine speed"."""
        return f"a{'n' if self.name[0] in 'aeiou' else ''} {self.name}"


KINDS = {
    kind.name: kind
    for kind in (
        Kind("mass", "kg", "'158 kg' or '348 lb'"),
        Kind("length", "m", "'1418 mm' or '55.8 in'"),
        Kind("area", "m**2", "'0.66 m^2' or '7.1 ft^2'"),
        Kind("volume", "m**3", "'10.5 l', '463 cc' or '2.8 gal'"),
        Kind("angle", "rad", "'26.5 deg'"),
        Kind("time", "s", "'0.3 s'"),
        Kind("speed", "m/s", "'100 km/h', '62 mph' or '28 m/s'"),
        Kind("engine speed", "rad/s", "'6000 rev/min'"),
        Kind("force", "N", "'95 N' or '21 lbf'"),
        Kind("torque", "N*m", "'35 N*m' or '26 ft*lb'"),
        Kind("power", "W", "'38 kW', '52 hp' or '53 PS'"),
        Kind("inertia", "kg*m**2", "'0.4 kg m2'"),
        Kind("temperature", "K", "'18 degC' or '64 degF'"),
        Kind("pressure", "Pa", "'1013 hPa' or '31 psi'"),
        Kind("ratio", "", "'0.93' or '93 %'"),
        Kind("force per speed", "N/(m/s)", "'0 N/(m/s)'"),
        Kind("force per speed squared", "N/(m/s)**2", "'0.39 N/(m/s)^2'"),
        Kind("spring rate", "N/m", "'9.2 N/mm', '0.94 kgf/mm' or '52 lbf/in'"),
        Kind("acceleration", "m/s**2", "'3.2 m/s^2'"),
        Kind("density", "kg/m**3", "'1.2 kg/m^3'"),
        Kind("fuel consumption", "m**2", "'3.9 l/100km' or '60 mpg'"),
    )
}


class Measured(float):
    """A number in SI that remembers how it was written and how well it is known.

    It is a plain float in every sum; `plus_minus` (SI, 0 when none was given) feeds the bands.
    """

    plus_minus: float
    written: str

    def __new__(cls, value: float, plus_minus: float = 0.0, written: str = "") -> Measured:
        self = super().__new__(cls, value)
        self.plus_minus = plus_minus
        self.written = written or repr(value)
        return self

    def __reduce__(self) -> tuple[type[Measured], tuple[float, float, str]]:  # so that pickle and copy keep all three
        return Measured, (float(self), self.plus_minus, self.written)


@dataclass(frozen=True)
class _Unit:
    """A product of units: how many of its SI unit it is, where its zero lies in it, and its dimensions with their powers."""

    scale: float
    offset: float
    dimensions: Mapping[str, int]


@cache
def _units() -> tuple[dict[str, _Unit], dict[str, str]]:
    """The units of the table by their first names, and the first name of each by all it has.

    A library of units takes as long to load as most questions to answer.
    """
    found, names = dict[str, _Unit](), dict[str, str]()
    for line in DEFINITIONS.strip().splitlines():
        name, definition, *more = line.split(" = ")
        names |= dict.fromkeys((name, *more), name)
        product, _, offset = definition.partition("; offset: ")
        if product.startswith("["):
            found[name] = _Unit(1.0, float(offset or 0.0), {product: 1})
            continue
        scale, powers = 1.0, dict[str, int]()
        for sign, factor, power in _FACTOR.findall(product):
            count = (-1 if sign == "/" else 1) * int(power or 1)
            if factor in found:
                powers[factor] = powers.get(factor, 0) + count
            else:
                scale *= float(factor) ** count
        made = _product_of(powers, found)
        found[name] = _Unit(scale * made.scale, float(offset or 0.0), made.dimensions)
    return found, names


_FACTOR = re.compile(r"(^|[*/]) ?([\w.]+)(?: \*\* (\d))?")


def _product_of(powers: Mapping[str, int], units: Mapping[str, _Unit]) -> _Unit:
    """Units with their powers, multiplied; a zero elsewhere counts where a unit stands alone."""
    scale, dimensions = 1.0, dict[str, int]()
    for name, power in powers.items():
        scale *= units[name].scale ** power
        for dimension, own in units[name].dimensions.items():
            dimensions[dimension] = dimensions.get(dimension, 0) + own * power
    alone = units[next(iter(powers))].offset if list(powers.values()) == [1] else 0.0
    return _Unit(scale, alone, {name: power for name, power in dimensions.items() if power})


def _unit(text: str, kind: Kind) -> _Unit:
    known = [(_known(name), power) for name, power in factors(text)]
    powers: dict[str, int] = {}
    for name, power in known:
        if kind.name == "torque":
            name = _OF_FORCE.get(name, name)
        powers[name] = powers.get(name, 0) + power
    return _product_of(powers, _units()[0])


@lru_cache(maxsize=4096)
def _factor(text: str, kind_name: str) -> tuple[float, float]:
    """(scale, offset) so that SI = value x scale + offset; ValueError with a reason when the unit will not do."""
    kind = KINDS[kind_name]
    if kind_name == "fuel consumption":
        return _consumption_factor(text), 0.0
    unit, si = _unit(text, kind), _unit(kind.si, kind)
    if unit.dimensions != si.dimensions:
        raise ValueError(f"{text!r} is not a unit of {kind.name}")
    return unit.scale / si.scale, unit.offset


def _known(name: str) -> str:
    """The unit of that name: in the plural too, and in other capitals where only one unit is spelt so."""
    names = _units()[1]
    for wanted in (name, name.removesuffix("s")):
        if wanted in names:
            return names[wanted]
        same = {unit for one, unit in names.items() if one.casefold() == wanted.casefold()}
        if len(same) == 1:
            return same.pop()
    known = ("km/h", "m/s", "rev/min", "N*m", "ft*lb", *names)
    hint = f" ({did_you_mean(name, known)})" if near_names(name, known) else ""
    raise ValueError(f"the unit {name!r} is not known{hint}")


def _consumption_factor(text: str) -> float:
    plain = re.sub(r"\s+", "", spelled(text)).lower()
    if plain in ("l/100km", "liter/100km", "litre/100km"):
        return 1e-3 / 100e3
    if plain in ("mpg", "mi/gal", "mpgus"):
        return -(231 * 0.0254**3) / 1609.344  # negative: the reciprocal is meant, see quantity()
    if plain in ("mpgimp", "mpg(imp)", "mpguk"):
        return -4.54609e-3 / 1609.344
    if plain == "km/l":
        return -1e-3 / 1e3
    raise ValueError(f"{text!r} is not a unit of fuel consumption")


def quantity(written: object, kind: str, unit: str, where: str) -> Measured:
    """What was written, in SI: a number in `unit`, or a string with a unit and perhaps a tolerance.

    Parameters
    ----------
    written : int, float or str
        `158`, "158 kg", "0.66 +- 0.05 m^2".
    kind : str
        One of KINDS.
    unit : str
        The unit of a bare number.
    where : str
        The path to name in an error.

    Returns
    -------
    Measured
        The value in the SI unit of its kind.

    Raises
    ------
    InputError
        Not a number, not finite, a unit of something else, or more than a number with its unit.

    Examples
    --------
    >>> round(float(quantity("52 hp", "power", "W", "here")), 1)
    38776.4
    >>> area = quantity("0.66 +- 0.05 m^2", "area", "m**2", "here")
    >>> float(area), area.plus_minus
    (0.66, 0.05)
    >>> round(quantity("30 ft*lb", "torque", "N*m", "here"), 2)
    40.67
    """
    what = KINDS[kind]
    or_string = f" in {unit} or a string with a unit" if unit else ""
    fix = f"Write a number{or_string}, such as {what.examples}."
    if isinstance(written, Measured):
        return written
    if isinstance(written, bool) or not isinstance(written, int | float | str):
        raise InputError(where, written, f"is not {what}", fix)
    try:
        return _measured(written, kind, unit)
    except OverflowError:
        raise InputError(where, written, "is not a finite number", fix) from None
    except ValueError as error:
        raise InputError(where, written, f"cannot be read as {what}: {error}", fix) from None


def _measured(written: float | str, kind: str, unit: str) -> Measured:
    value, spread, unit_text = split_quantity(written, unit)
    scale, offset = _factor(unit_text, kind)
    if scale < 0:  # a distance per volume: the consumption is its reciprocal
        if value == 0.0:
            raise ValueError("no distance at all is left")
        value, spread, scale = 1.0 / value, spread / value**2, -scale
    value, spread = value * scale + offset, spread * scale
    if not (math.isfinite(value) and math.isfinite(spread)):
        raise OverflowError
    return Measured(value, spread, str(written))


def in_unit(si_value: Any, unit: str, kind: str) -> Any:
    """An SI value (scalar or array) as a number in another unit, for output.

    >>> round(in_unit(27.7777777778, "km/h", "speed"), 6)
    100.0
    """
    scale, offset = _factor(unit, kind)
    return (si_value - offset) / scale


def rpm(engine_speed_rad_s: Any) -> Any:
    """Engine speed in rev/min: n = 60 w / (2 pi)."""
    return engine_speed_rad_s * (60.0 / TWO_PI)


def rad_s(engine_speed_rpm: Any) -> Any:
    """Engine speed in rad/s: w = 2 pi n / 60.

    >>> round(rad_s(6000.0), 2), round(rpm(rad_s(6000.0)), 6)
    (628.32, 6000.0)
    """
    return engine_speed_rpm * (TWO_PI / 60.0)


def kmh(speed_m_s: Any) -> Any:
    """Speed in km/h."""
    return speed_m_s * 3.6


def percent(ratio: Any) -> Any:
    """A ratio in percent."""
    return ratio * 100.0


def kw(power_w: Any) -> Any:
    """Power in kW."""
    return power_w / 1000.0


def shown_in(si_value: Any, reading: str, system: str) -> tuple[Any, str, int]:
    """(value, unit, decimals) of an SI figure for reading in "metric" or "us" units; arrays too, by their largest.

    >>> shown_in(27.7778, "speed", "us")[1:]
    ('mph', 1)
    >>> [shown_in(one, "small length", "metric")[2] for one in (0.0086, 0.8586)]
    [1, 0]
    """
    value, unit, decimals = _read_in(si_value, reading, system)
    coarse = COARSE_FROM.get((reading, system))
    sizes = () if coarse is None else [abs(one) for one in (value.flat if hasattr(value, "flat") else (value,))]
    if coarse is not None and max((one for one in sizes if math.isfinite(one)), default=0.0) >= coarse:
        decimals -= 1
    return value, unit, decimals


def _read_in(si_value: Any, reading: str, system: str) -> tuple[Any, str, int]:
    """The same with the decimals of the smallest figures."""
    how = READINGS[reading]
    unit, decimals = (how.metric, how.metric_decimals) if system == "metric" else (how.us, how.us_decimals)
    if unit == "mpg":
        return -_consumption_factor(unit) / si_value, unit, decimals
    return in_unit(si_value, unit, how.kind), unit, decimals


def is_round(value: float) -> bool:
    """Whether a figure is a whole number, as speeds are that somebody set.

    >>> is_round(95.00000000001), is_round(95.04)
    (True, False)
    """
    return math.isfinite(value) and abs(value - round(value)) < 1e-6


def unit_of(reading: str, system: str) -> str:
    """The unit a reading is shown in, as it is printed; nothing for what is counted.

    >>> unit_of("torque", "us"), unit_of("gear", "us")
    ('lb·ft', '')
    """
    if reading in COUNTED:
        return ""
    return unit_words(READINGS[reading].metric if system == "metric" else READINGS[reading].us)


def unit_words(unit: str) -> str:
    """A unit as it is printed.

    >>> unit_words("lbf*ft")
    'lb·ft'
    """
    return WORDS.get(unit, unit)


def field_text(si_value: float, reading: str, system: str) -> str:
    """An SI figure as a rider would type it, with its unit: no thousands apart, no idle zeros, nothing of it rounded for its size.

    >>> field_text(29.16666667, "speed", "metric"), field_text(0.0, "mass", "us"), field_text(293.15, "temperature", "metric")
    ('105 km/h', '0 lb', '20 °C')
    """
    value, unit, decimals = _read_in(si_value, reading, system)
    unit = unit_words(unit) if unit.startswith("deg") and reading == "temperature" else unit
    text = f"{float(value):.{decimals}f}"
    text = text.rstrip("0").rstrip(".") if "." in text else text
    return f"{'0' if text in ('-0', '') else text} {unit}".strip()


def written_us(value: Measured, reading: str) -> str:
    """A figure with its tolerance in US units, as it would be written.

    >>> written_us(quantity("0.66 +- 0.08 m^2", "area", "", ""), "area")
    '7.1 +- 0.86 ft²'
    """
    spread = f" +- {field_text(value.plus_minus, reading, 'us').split()[0]}" if value.plus_minus else ""
    number, unit = field_text(value, reading, "us").split()
    return f"{number}{spread} {unit_words(unit)}"


def either(reading: str, *si_values: float) -> BothWays:
    """One SI figure, or several joined by "to", in metric or in US units: a piece of a note, by "+".

    Parameters
    ----------
    reading : str
        A key of READINGS.
    si_values : float
        In the SI unit of the reading's kind.

    Examples
    --------
    >>> either("speed", 10.0, 20.0), either("speed", 10.0, 20.0).us
    ('36 to 72 km/h', '22.4 to 44.7 mph')
    """
    told = []
    for system in ("metric", "us"):
        read = [shown_in(one, reading, system) for one in si_values]
        words = unit_words(read[0][1])
        decimals = min(places for _, _, places in read)
        if reading == "speed" and all(is_round(value) for value, _, _ in read):
            decimals = 0
        numbers = " to ".join(f"{float(value):z,.{decimals}f}" for value, _, _ in read)
        told.append(numbers + (words if words == "°" else f" {words}"))
    return BothWays(*told)


def in_both(reading: str, *si_values: float) -> str:
    """The same in metric and behind it in US units, said once where both read alike: for an error, which knows of no system.

    >>> in_both("small length", 0.008), in_both("temperature", 288.15), in_both("time", 2.5)
    ('8.0 mm (0.31 in)', '15 °C (59 °F)', '2.50 s')
    """
    metric, us = (one := either(reading, *si_values)), one.us
    return metric if metric == us else f"{metric} ({us})"
