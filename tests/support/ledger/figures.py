"""What the tables in tests/published and the reference libraries are held against: each figure by its name.

A figure takes its inputs in SI, under the names that stand in the column `given`, and returns SI; where it has a kind,
the ledger converts to the unit of the print.
"""

from __future__ import annotations

import re
from collections.abc import Callable
from dataclasses import dataclass
from typing import Any

from ridesim.units import quantity

UNITS = {  # the units of the column `given`, by the kind of their quantity
    "length": "mm m in ft", "area": "mm2 m2", "temperature": "K degC degF", "pressure": "kPa Pa bar hPa mmHg",
    "engine speed": "rev/min", "speed": "km/h mph m/s", "mass": "kg lb", "angle": "deg", "force": "N", "torque": "N*m",
    "power": "kW", "density": "kg/m^3", "force per speed squared": "N/(km/h)^2", "time": "s", "ratio": "%",
}  # fmt: skip
KINDS = {unit: kind for kind, units in UNITS.items() for unit in units.split()}
WITH_UNIT = re.compile(r"\s*([-+]?[\d.]+(?:[eE][-+]?\d+)?)\s+(\S+)\s*")


def si(text: str) -> Any:
    """A number as it is, a number with its unit in SI, any other text as it is."""
    if (match := WITH_UNIT.fullmatch(text)) and match[2] in KINDS:
        return float(quantity(text.strip(), KINDS[match[2]], "", text))
    try:
        return float(text)
    except ValueError:
        return text.strip()


@dataclass(frozen=True)
class Figure:
    """The public function that makes a figure, the kind of its quantity (empty for a bare number), and how it is asked."""

    function: str
    kind: str
    compute: Callable[..., Any]


FIGURES: dict[str, Figure] = {}


def label(public: Any) -> str:
    """What computes a figure, by its full name."""
    return public if isinstance(public, str) else f"{public.__module__}.{public.__qualname__}"


def figure(name: str, public: Any, kind: str = "") -> Callable[[Callable[..., Any]], Callable[..., Any]]:
    """Enter a figure by its name."""

    def enter(compute: Callable[..., Any]) -> Callable[..., Any]:
        FIGURES[name] = Figure(label(public), kind, compute)
        return compute

    return enter
