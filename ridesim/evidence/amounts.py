"""A figure with what it may be off, in the unit of its key of the build file or in US units, to the digits that mean something."""

from __future__ import annotations

import math
import re
from functools import cache
from typing import Any, NamedTuple, get_args

from ridesim.answers.text import number
from ridesim.buildfile.schema import BuildRecord, Tune
from ridesim.buildfile.values import Quantity, section_in
from ridesim.units import in_unit, shown_in, unit_words

_US = {
    "mass": "lb",
    "length": "in",
    "area": "ft^2",
    "temperature": "degF",
    "pressure": "inHg",
    "force": "lbf",
    "power": "hp",
    "speed": "mph",
    "volume": "gal",
}
_SHARES = (".curve_error", ".indicated_efficiency")  # of a sheet, of the heat


class Amount(NamedTuple):
    """Numbers in a unit, as they are told.

    value, plus_minus   in the unit
    unit                a unit of the build file, or of US readers
    like                how large an error the digits are to show; 0 for as short as it can be told
    """

    value: float
    plus_minus: float
    unit: str
    like: float  # how large an error the digits are to show


def amount(
    value: float, plus_minus: float, kind: str, unit: str, system: str = "metric", *, like: float = 0.0
) -> Amount:
    """An SI figure in the unit of a key, or in US units.

    >>> amount(0.66, 0.05, "area", "m^2").unit, round(amount(45.36, 0.0, "mass", "kg", "us").value, 1)
    ('m^2', 100.0)
    """
    if system == "us":
        unit = "mpg" if kind == "fuel consumption" else _US.get(kind, unit)

    def read(si: float) -> float:
        return float(shown_in(si, "consumption", "us")[0]) if unit == "mpg" else float(in_unit(si, unit, kind))

    def width(si: float) -> float:
        return abs(read(value + si) - read(value - si)) / 2 if si else 0.0

    return Amount(read(value), width(plus_minus), unit, width(like or plus_minus))


def in_words(one: Amount) -> str:
    """The figure and its error, to two digits of the error; without an error as short as it can be told.

    >>> in_words(Amount(0.61234, 0.0213, "m^2", 0.0213)), in_words(Amount(96.2, 0.0, "km/h", 0.0))
    ('0.612 ± 0.021 m²', '96.2 km/h')
    """
    unit = unit_words(one.unit)
    if not one.like or not math.isfinite(one.like):
        return f"{float(f'{one.value:.{4 if abs(one.value) >= 1000 else 3}g}'):,g} {unit}".rstrip()
    decimals = min(max(1 - math.floor(math.log10(one.like)), 0), 6)
    error = f" ± {number(one.plus_minus, decimals)}" if one.plus_minus else ""
    return f"{number(one.value, decimals)}{error} {unit}".rstrip()


@cache
def field_at(path: str) -> Quantity:
    """How the figure at a path of the build file is read.

    >>> field_at("road_load.coast_down[2]").unit, field_at("tires.rear.size").unit, field_at("masses.bike").unit
    ('N/(m/s)', 'm', 'kg')
    """
    if path.endswith(_SHARES):
        return Quantity("ratio", "")
    model: Any = BuildRecord
    if path == "tires.rear.size":  # a tire by its marking has a way it rolls, too
        path = "tires.rear.rollout"
    if path.startswith("tune."):
        model, path = Tune, path.rsplit(".", 1)[1]
    found: list[Quantity] = []
    for key in re.sub(r"\[\d+\]$", "", path).split("."):
        given = model.model_fields[key]
        found = [one for one in given.metadata if isinstance(one, Quantity)] or list(_quantities(given.annotation))
        model = section_in(given.annotation)
    place = re.search(r"\[(\d+)\]$", path)
    return found[int(place[1]) - 1 if place else 0]


def _quantities(annotation: Any) -> Any:
    """The quantities inside a type, in order."""
    for one in get_args(annotation):
        if isinstance(one, Quantity):
            yield one
        else:
            yield from _quantities(one)
