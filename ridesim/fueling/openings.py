"""Openings of an intake: circles, slots and rectangles, their area, and the air that goes through."""

from __future__ import annotations

import math
import re
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any, Literal

import numpy as np

from ridesim.errors import InputError, one, whole, within
from ridesim.units import quantity

SHARP_HOLE = (0.60, 0.65)  # discharge coefficient of a sharp hole, from memory
MOST_OPENINGS, MOST_HOLES = 50, 50


@dataclass(frozen=True, kw_only=True)
class Opening:
    """Openings of one shape, all alike; a slot has round ends and its length is over all, a circle is as long as wide.

    area = n (w (l - w) + pi/4 w^2), of rectangles n l w
    """

    shape: Literal["circle", "slot", "rectangle"]
    length_m: float
    width_m: float
    count: int = 1

    def __post_init__(self) -> None:
        where = f"intake.{self.shape}"
        if self.shape == "circle":
            length(f"{where}.diameter", self.length_m)
        else:
            length(f"{where}.length", self.length_m)
            length(f"{where}.width", self.width_m)
        whole(f"{where}.count", self.count, 1, MOST_HOLES, "Count them.")
        if self.shape == "slot" and self.width_m > self.length_m:
            fix = "Measure the length from end to end, round ends included."
            raise InputError(f"{where}.width", self.width_m, "is more than the length over all", fix)

    @property
    def area_m2(self) -> float:
        """Area of all of them. [m2]"""
        w, long = self.width_m, self.length_m
        return self.count * (w * long if self.shape == "rectangle" else w * (long - w) + math.pi / 4 * w**2)

    @property
    def working(self) -> str:
        """The formula with its numbers, in mm."""
        w, long = f"{1e3 * self.width_m:.2f}", f"{1e3 * self.length_m:.2f}"
        formula = {"circle": f"pi/4 x {w}^2", "slot": f"({w} x ({long} - {w}) + pi/4 x {w}^2)"}
        return f"{self.count} x {formula.get(self.shape, f'{long} x {w}')}"


def circle(diameter_m: float, count: int = 1) -> Opening:
    """Round openings, all alike.

    Parameters
    ----------
    diameter_m : float
        1 mm to 0.5 m. [m]
    count : int
        1 to 50. [-]

    Returns
    -------
    Opening

    Raises
    ------
    InputError
        A diameter or a count outside its range.

    Examples
    --------
    Two of 40 mm: 2 x pi/4 x 40^2 = 2513 mm2.

    >>> round(1e6 * circle(diameter_m=0.040, count=2).area_m2)
    2513
    """
    return Opening(shape="circle", length_m=diameter_m, width_m=diameter_m, count=count)


_SHAPES = re.compile(
    r"(?:(\d{1,3})\s*(?:x\s*)?)?(?:(circle|hole|round|slot|rectangle)s?\s+(?:of\s+)?)?(.+)", re.IGNORECASE
)
_FIX = 'Write "circle 40 mm", "2 slots of 60 x 18 mm", "rectangle 38 x 50 mm", or an area such as "1250 mm^2".'


def openings_of(written: str, where: str) -> list[Opening]:
    """Openings as they are written, with commas between: the number, the shape and the measures of each; a bare length is a
    diameter, an area one round opening of that area.

    >>> openings_of("2 slots of 60 x 20 mm, circle 40 mm", "--stock")[0]
    Opening(shape='slot', length_m=0.06, width_m=0.02, count=2)
    """
    return [_opening_of(one.strip(), where) for one in written.strip(" ,;").split(",")]


def _opening_of(written: str, where: str) -> Opening:
    found = _SHAPES.fullmatch(written) if len(written) <= 80 else None
    if found is None:
        raise InputError(where, written, "is not an opening", _FIX)
    how_many, shape, rest = int(found[1] or 1), (found[2] or "").lower(), found[3]
    if not shape:
        return circle(_bare_diameter(written, where))
    sides = [one.strip() for one in re.split(r"[x×]", rest)]
    if len(sides) != (2 if shape in ("slot", "rectangle") else 1):
        raise InputError(where, written, "has the wrong number of measures for its shape", _FIX)
    last = re.search(r"[A-Za-z]+$", sides[-1])
    sides = [one if re.search(r"[A-Za-z]", one) or last is None else f"{one} {last[0]}" for one in sides]
    measures = sorted((float(quantity(one, "length", "mm", where)) for one in sides), reverse=True)
    if len(measures) == 1:
        return circle(measures[0], how_many)
    kind: Literal["slot", "rectangle"] = "slot" if shape == "slot" else "rectangle"
    return Opening(shape=kind, length_m=measures[0], width_m=measures[1], count=how_many)


def _bare_diameter(written: str, where: str) -> float:
    """A diameter, or that of one round opening of an area. [m]"""
    try:
        return float(quantity(written, "length", "mm", where))
    except InputError as error:
        if error.where != where:
            raise
    try:
        area = float(quantity(written, "area", "mm^2", where))
    except InputError:
        raise InputError(where, written, "is not an opening", _FIX) from None
    if not area > 0:
        raise InputError(where, written, "must be more than nothing", _FIX)
    return math.sqrt(4 * area / math.pi)


def opening_area_m2(openings: Sequence[Opening]) -> float:
    """Area of openings side by side:  the sum of their areas.

    Parameters
    ----------
    openings : sequence of Opening
        1 to 50 of them.

    Returns
    -------
    float
        [m2]

    Raises
    ------
    InputError
        No opening, or too many.

    Source: 40 CFR 1065.640(e), throats in parallel.

    Examples
    --------
    >>> slot = Opening(shape="slot", length_m=0.06, width_m=0.02)
    >>> round(1e6 * opening_area_m2([circle(0.03, 2), slot]), 1)
    2527.9
    """
    if not 1 <= len(openings) <= MOST_OPENINGS:
        problem = f"must be a list of 1 to {MOST_OPENINGS} openings"
        raise InputError("intake.stock", None, problem, "Measure the stock opening.")
    return math.fsum(opening.area_m2 for opening in openings)


def equivalent_diameter_m(diameters_m: Any) -> float:
    """One hole with the area of several side by side:  d = sqrt(d1^2 + d2^2 + ...).

    Parameters
    ----------
    diameters_m : sequence of float
        Each above 0. [m]

    Returns
    -------
    float
        [m]

    Raises
    ------
    InputError
        One that is not above 0.

    Source: 40 CFR 1065.640(e).

    Examples
    --------
    >>> equivalent_diameter_m([0.030, 0.040])
    0.05
    """
    d = within("diameters", diameters_m, 1e-6, 10.0, "m", "List the diameter of each hole.")
    return float(np.sqrt(np.sum(np.square(d))))


def length(where: str, value: Any) -> float:
    """A width or length that an intake opening can have, 1 mm to 0.5 m; InputError otherwise. [m]

    >>> length("intake.saw.diameter", 0.025)
    0.025
    """
    return one(where, value, 1e-3, 0.5, "m", "Measure it; an opening is 1 mm to 0.5 m across.")


def coefficient_band(where: str, pair: tuple[float, float]) -> tuple[float, float]:
    """Least and most discharge coefficient, 0.1 to 1, the least first; InputError otherwise. [-]

    >>> coefficient_band("intake.stock_coefficients", (0.60, 0.65))
    (0.6, 0.65)
    """
    low, high = (one(where, c, 0.1, 1.0, "", "A sharp hole has 0.60 to 0.65, a good funnel 0.98.") for c in pair)
    if low > high:
        raise InputError(where, pair, "has the most before the least", "Give the least first.")
    return low, high
