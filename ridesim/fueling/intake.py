"""The intake opening of an airbox: which hole saws make a wanted area, and which holes to plug for each step back."""

from __future__ import annotations

import math
import re
from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any, TypeAlias

import numpy as np

from ridesim.errors import InputError, one, whole
from ridesim.fueling.openings import (
    MOST_HOLES,
    SHARP_HOLE,
    Opening,
    coefficient_band,
    equivalent_diameter_m,
    length,
    opening_area_m2,
)
from ridesim.units import quantity

MOST_SAWS = 10
MOST_SETS = 2_000_000  # sums looked at; more would keep a page waiting
MICROMETERS = 1e6  # a meter in the whole units that diameters are counted in

Holes: TypeAlias = tuple[tuple[float, int], ...]  # (diameter [m], how many), the widest first


@dataclass(frozen=True, kw_only=True)
class HoleSaw:
    """A saw at hand and how many of its holes fit at most.  diameter_m [m]"""

    diameter_m: float
    most: int

    def __post_init__(self) -> None:
        length("intake.saw.diameter", self.diameter_m)
        whole("intake.saw.most", self.most, 1, MOST_HOLES, "Say how many of its holes fit at most.")


def saws_of(written: str, where: str, most: int | None = None) -> list[HoleSaw]:
    """Hole saws as they are written: "3 of 25 mm, 32 mm"; most is how many holes fit where that is not written.

    InputError, naming `where`, for what cannot be read or is past the bounds of a saw.

    >>> [saw.most for saw in saws_of("3 of 25 mm, 1.25 in", "--saws", 6)]
    [3, 6]
    """
    found = []
    for piece in written.split(",", MOST_SAWS):
        counted = re.fullmatch(r"\s*(?:(\d{1,3})\s+of\s+)?(.+?)\s*", piece)
        if counted is None or (counted[1] is None and most is None):
            raise InputError(where, written, "cannot be read", "Write them as 3 of 25 mm, 2 of 32 mm.")
        try:
            diameter = float(quantity(counted[2], "length", "mm", where))
        except InputError as error:
            raise InputError(where, written, error.problem, "Write them as 3 of 25 mm, 2 of 32 mm.") from None
        found.append(HoleSaw(diameter_m=diameter, most=int(counted[1]) if counted[1] else most or 0))
    return found


def wanted_of(written: str, where: str) -> dict[str, float]:
    """What is wanted, as plan_intake takes it: "+40 %", "140 %", "1.4 times stock", or an area in all [m2]; InputError otherwise.

    >>> wanted_of("+40 %", ""), wanted_of("1.4 times stock", "")
    ({'wanted_over_stock': 1.4}, {'wanted_over_stock': 1.4})
    """
    plain = written.strip().lower()
    times = re.fullmatch(r"(\d+(?:\.\d+)?)\s*(?:times stock|times|x)", plain)
    if times:
        return {"wanted_over_stock": float(times[1])}
    if plain.endswith("%"):
        share = float(quantity(plain, "ratio", "", where))
        return {"wanted_over_stock": 1.0 + share if plain.startswith(("+", "-")) else share}
    if re.fullmatch(r"[+-]?[\d.]+", plain):
        raise InputError(where, written, "does not say of what", "Write '+40 %', '1.4 times stock' or '1800 mm^2'.")
    return {"wanted_area_m2": float(quantity(plain, "area", "mm^2", where))}


@dataclass(frozen=True, kw_only=True)
class HoleSet:
    """One set of holes beside the stock opening.

    holes                       (diameter [m], how many), the widest first
    holes_area_m2, total_area_m2    without and with the stock opening [m2]
    off_by                      total over wanted, less 1 [-]
    one_hole_diameter_m         of a single hole with the area of all the new ones [m]
    flow_ratio_low, flow_ratio_high     air at the same suction, over stock [-]
    suction_ratio_low, suction_ratio_high   suction for the same air, over stock [-]
    """

    holes: Holes
    holes_area_m2: float
    total_area_m2: float
    off_by: float
    one_hole_diameter_m: float
    flow_ratio_low: float
    flow_ratio_high: float
    suction_ratio_low: float
    suction_ratio_high: float

    @property
    def count(self) -> int:
        """Number of holes to drill."""
        return sum(n for _, n in self.holes)


@dataclass(frozen=True, kw_only=True)
class PlugStep:
    """One step of the way back to stock.

    order           0 all open, each further plug one more, up to all plugged
    plug_m          diameter of the hole that is closed at this step; None at the first [m]
    total_area_m2   with the stock opening [m2]
    over_stock      the same over stock [-]
    """

    order: int
    plug_m: float | None
    total_area_m2: float
    over_stock: float


@dataclass(frozen=True, kw_only=True)
class IntakePlan:
    """The sets of holes that come within the tolerance of the wanted area, the best first.

    found           how many there are; sets holds the best of them
    nearest         the best, or where none is near enough the nearest there is
    within          whether the nearest is within the tolerance
    plugging        the steps of the nearest set, from fully open down to stock
    stock, stock_coefficients   what it was worked out from
    """

    stock_area_m2: float
    wanted_area_m2: float
    tolerance: float
    found: int
    sets: tuple[HoleSet, ...]
    nearest: HoleSet
    within: bool
    plugging: tuple[PlugStep, ...]
    stock: tuple[Opening, ...]
    stock_coefficients: tuple[float, float]


def plug_steps(holes: Holes, stock_area_m2: float) -> tuple[PlugStep, ...]:
    """Every step from fully open down to stock; plugging closes the smallest hole first. All plugged is the stock area, exactly.

    Parameters
    ----------
    holes : tuple of (diameter, count)
        Diameters. [m]
    stock_area_m2 : float
        What stays open. [m2]

    Returns
    -------
    tuple of PlugStep

    Examples
    --------
    >>> [(step.plug_m, round(1e6 * step.total_area_m2)) for step in plug_steps(((0.040, 1), (0.030, 1)), 0.001)]
    [(None, 2963), (0.03, 2257), (0.04, 1000)]
    """
    closing = sorted(d for d, n in holes for _ in range(n))
    totals = [stock_area_m2 + _holes_area(tuple(Counter(closing[k:]).items())) for k in range(len(closing) + 1)]
    return tuple(
        PlugStep(order=k, plug_m=plug, total_area_m2=total, over_stock=total / stock_area_m2)
        for k, (plug, total) in enumerate(zip((None, *closing), totals, strict=True))
    )


def plan_intake(
    stock: Sequence[Opening],
    saws: Sequence[HoleSaw],
    *,
    wanted_area_m2: float | None = None,
    wanted_over_stock: float | None = None,
    tolerance: float = 0.03,
    stock_coefficients: tuple[float, float] = SHARP_HOLE,
    show: int = 40,
) -> IntakePlan:
    """All sets of holes within a tolerance of a wanted area, nearest first, then fewest holes, then fewest saw sizes.

    Every count of every saw is looked at, in whole micrometers and their squares, so that equal areas are equal.

    Parameters
    ----------
    stock : sequence of Opening
        The opening as it is; it stays.
    saws : sequence of HoleSaw
        1 to 10 different diameters.
    wanted_area_m2 : float
        Total with the stock opening, above stock; either this or wanted_over_stock. [m2]
    wanted_over_stock : float
        The same over the stock area, such as 1.5. [-]
    tolerance : float
        Share of the wanted area, 0 to 0.5. [-]
    stock_coefficients : tuple of float
        Least and most discharge coefficient of the stock opening; one with a snorkel or round lip has more. [-]
    show : int
        Sets to hand out, 1 to 1000.

    Returns
    -------
    IntakePlan

    Raises
    ------
    InputError
        A figure outside its range, a wanted area that is not above stock, or more than two million sets to look at.

    Examples
    --------
    >>> from ridesim.fueling.openings import circle
    >>> plan = plan_intake([circle(0.040)],
    ...                    [HoleSaw(diameter_m=0.025, most=3), HoleSaw(diameter_m=0.032, most=2)], wanted_over_stock=2.0)
    >>> [(s.holes, round(s.off_by, 3)) for s in plan.sets]
    [(((0.032, 1), (0.025, 1)), 0.015)]
    """
    area = opening_area_m2(stock)
    wanted = _wanted(area, wanted_area_m2, wanted_over_stock)
    share = one("intake.tolerance", tolerance, 0.0, 0.5, "", "Write 3 % as 0.03.")
    shown = whole("intake.show", show, 1, 1000, "Say how many sets to hand out.")
    band = coefficient_band("intake.stock_coefficients", stock_coefficients)
    wide = _checked_saws(saws)
    sums = _sums(wide)
    unit = MICROMETERS**2 * 4 / math.pi  # areas as sums of squared diameters in um2
    off = np.abs(sums - round((wanted - area) * unit))
    inside = np.flatnonzero(off <= round(share * wanted * unit))
    inside = inside[inside > 0]  # place 0 is no hole at all
    near = inside if inside.size else np.flatnonzero(off[1:] == off[1:].min()) + 1
    best = _ranked(near, off, wide, shown if inside.size else 1)
    sets = tuple(_hole_set(_counts(place, wide), wide, area, wanted, band) for place in best)
    return IntakePlan(
        stock_area_m2=area,
        wanted_area_m2=wanted,
        tolerance=share,
        found=inside.size,
        sets=sets if inside.size else (),
        nearest=sets[0],
        within=bool(inside.size),
        plugging=plug_steps(sets[0].holes, area),
        stock=tuple(stock),
        stock_coefficients=band,
    )


def _wanted(stock: float, area: float | None, over: float | None) -> float:
    if (area is None) == (over is None):
        problem = "either an area or a share of stock is wanted, and not both"
        raise InputError("intake.wanted", None, problem, "Give the wanted area, or how many times the stock area.")
    if over is not None:
        wanted = stock * one("intake.wanted_over_stock", over, 0.0, 20.0, "", "Write 150 % as 1.5.")
    else:
        wanted = one("intake.wanted_area", area, 0.0, 1.0, "m2", "Give the total area with the stock opening.")
    if wanted <= stock * (1 + 1e-9):
        fix = "Holes only add; ask for more than the stock area."
        raise InputError("intake.wanted", over if area is None else area, "is not more than the stock opening", fix)
    return wanted


def _checked_saws(saws: Sequence[HoleSaw]) -> tuple[HoleSaw, ...]:
    """The saws, the widest first, or why they will not do."""
    if not 1 <= len(saws) <= MOST_SAWS:
        raise InputError("intake.saws", None, f"must be a list of 1 to {MOST_SAWS} hole saws", "List the saws at hand.")
    wide = tuple(sorted(saws, key=lambda saw: -saw.diameter_m))
    if len({_micrometers(saw) for saw in wide}) < len(wide):
        raise InputError("intake.saws", None, "has the same diameter twice", "List each saw once, with all its holes.")
    total = math.prod(saw.most + 1 for saw in wide)
    if total > MOST_SETS:
        problem = f"make {total:,} sets, more than the {MOST_SETS:,} that are looked at"
        raise InputError("intake.saws", None, problem, "Name fewer saws, or fewer holes of each.")
    return wide


def _micrometers(saw: HoleSaw) -> int:
    return round(saw.diameter_m * MICROMETERS)


def _sums(saws: tuple[HoleSaw, ...]) -> Any:
    """Sum of squared diameters of every set of holes, as whole um2; the place of a sum tells its counts."""
    sums = np.zeros(1, dtype=np.int64)
    for saw in saws:
        sums = np.add.outer(sums, _micrometers(saw) ** 2 * np.arange(saw.most + 1, dtype=np.int64)).ravel()
    return sums


def _counts(places: Any, saws: tuple[HoleSaw, ...]) -> Any:
    """Holes of each saw at a place of the sums; one row a saw."""
    return np.array(np.unravel_index(places, [saw.most + 1 for saw in saws]))


def _ranked(places: Any, off: Any, saws: tuple[HoleSaw, ...], most: int) -> Any:
    """The best places in order: nearest, then fewest holes, then fewest sizes, then the widest holes."""
    if places.size > most:  # the far ones need no order
        places = places[off[places] <= np.partition(off[places], most - 1)[most - 1]]
    counts = _counts(places, saws)
    order = np.lexsort((*(-row for row in counts[::-1]), (counts > 0).sum(axis=0), counts.sum(axis=0), off[places]))
    return places[order][:most]


def _hole_set(
    counts: Any, saws: tuple[HoleSaw, ...], stock: float, wanted: float, band: tuple[float, float]
) -> HoleSet:
    holes = tuple((_micrometers(saw) / MICROMETERS, int(n)) for saw, n in zip(saws, counts, strict=True) if n)
    area = _holes_area(holes)
    more = area / stock
    low, high = 1 + SHARP_HOLE[0] / band[1] * more, 1 + SHARP_HOLE[1] / band[0] * more
    return HoleSet(
        holes=holes,
        holes_area_m2=area,
        total_area_m2=stock + area,
        off_by=(stock + area) / wanted - 1,
        one_hole_diameter_m=equivalent_diameter_m([d for d, n in holes for _ in range(n)]),
        flow_ratio_low=low,
        flow_ratio_high=high,
        suction_ratio_low=high**-2,
        suction_ratio_high=low**-2,
    )


def _holes_area(holes: Holes) -> float:
    return math.pi / 4 * math.fsum(n * d**2 for d, n in holes)
