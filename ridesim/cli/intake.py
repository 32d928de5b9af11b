"""The intake opening: which holes make a wanted area, and which to plug for each step back."""

from __future__ import annotations

import re
from typing import TYPE_CHECKING, Annotated

import typer

from ridesim.cli.given import listed, meters, pair, placed, share
from ridesim.cli.options import Printing, grouped
from ridesim.cli.output import say
from ridesim.errors import InputError
from ridesim.units import quantity

if TYPE_CHECKING:
    from ridesim.fueling.intake import HoleSaw
    from ridesim.fueling.openings import Opening


app = typer.Typer(rich_markup_mode=None, add_completion=False)
PLACES = {
    "intake.stock": "--stock",
    "intake.wanted": "--wanted",
    "intake.wanted_over_stock": "--wanted",
    "intake.wanted_area": "--wanted",
    "intake.saws": "--saws",
    "intake.tolerance": "--tolerance",
    "intake.stock_coefficients": "--stock-coefficient",
    "intake.show": "--show",
}
_SHAPES = re.compile(r"(?:(\d{1,3})\s*(?:x\s*)?)?(?:(circle|hole|slot|rectangle)s?\s+)?(.+)", re.IGNORECASE)
_STOCK_FIX = 'Write "circle 40 mm", "2 slots 60 x 18 mm", "rectangle 38 x 50 mm", or an area such as "1250 mm^2".'


@app.command()
@grouped
def intake(
    stock: Annotated[
        list[str],
        typer.Option(
            help="The opening as it is: 'circle 40 mm', '2 slots 60 x 18 mm', 'rectangle 38 x 50 mm', '1250 mm^2'; may be repeated."
        ),
    ],
    wanted: Annotated[str, typer.Option(help="'+40 %' more than stock, '140 %' of stock, or '1800 mm^2' in all.")],
    saws: Annotated[
        str, typer.Option(help="Hole saws at hand in mm or with a unit, such as 25,32,38 or '1 in,1.25 in'.")
    ],
    most: Annotated[int, typer.Option(help="How many holes of each saw fit at most.")] = 6,
    tolerance: Annotated[str, typer.Option(help="How near to the wanted area a set must come.")] = "3 %",
    stock_coefficient: Annotated[
        str | None,
        typer.Option(help="Discharge coefficient of the stock opening, least:most.", show_default="a sharp hole's"),
    ] = None,
    show: Annotated[int, typer.Option(help="Sets to print.")] = 10,
    *,
    printing: Printing,
) -> None:
    """Which holes make a wanted intake opening, and which to plug for each step back."""
    from ridesim.fueling.intake import plan_intake
    from ridesim.fueling.intake_answers import intake_answer
    from ridesim.fueling.openings import SHARP_HOLE

    shapes = ("circle.diameter", "circle.count", "slot.length", "slot.width", "slot.count", "rectangle.length",
              "rectangle.width", "rectangle.count")  # fmt: skip
    with placed({f"intake.{one}": "--stock" for one in shapes}):
        openings = [_opening(one) for one in stock]
    area, over = _wanted(wanted)
    band = SHARP_HOLE if stock_coefficient is None else pair(stock_coefficient, "--stock-coefficient", "0.60:0.65")
    with placed(PLACES):
        plan = plan_intake(
            openings,
            _saws(saws, most),
            wanted_area_m2=area,
            wanted_over_stock=over,
            tolerance=float(share(tolerance, "--tolerance")),
            stock_coefficients=band,
            show=show,
        )
    also = {"found": plan.found, "within": plan.within, "sets": plan.sets, "plugging": plan.plugging}
    say(intake_answer(plan), printing, also=also)


def _opening(written: str) -> Opening:
    """An opening as it is written: its number, its shape, its measures."""
    from ridesim.fueling.openings import Rectangle, RoundHole, Slot

    found = _SHAPES.fullmatch(written.strip()) if len(written) <= 80 else None
    if found is None:
        raise InputError("--stock", written, "is not an opening", _STOCK_FIX)
    how_many, shape, rest = int(found[1] or 1), (found[2] or "").lower(), found[3]
    if not shape:  # no word: a bare diameter or an area
        return _bare_opening(written)
    sides = [one.strip() for one in re.split(r"[x×]", rest)]
    if len(sides) != (1 if shape in ("circle", "hole") else 2):
        raise InputError("--stock", written, "has the wrong number of measures for its shape", _STOCK_FIX)
    last = re.search(r"[A-Za-z]+$", sides[-1])
    sides = [one if re.search(r"[A-Za-z]", one) or last is None else f"{one} {last[0]}" for one in sides]
    measures = sorted((meters(one, "--stock") for one in sides), reverse=True)
    if shape == "slot":
        return Slot(length_m=measures[0], width_m=measures[1], count=how_many)
    if shape == "rectangle":
        return Rectangle(length_m=measures[0], width_m=measures[1], count=how_many)
    return RoundHole(diameter_m=measures[0], count=how_many)


def _bare_opening(written: str) -> Opening:
    """A diameter, or an area, which is taken as one round opening of that area."""
    import math

    from ridesim.fueling.openings import RoundHole

    try:
        return RoundHole(diameter_m=float(quantity(written, "length", "mm", "--stock")))
    except InputError as error:
        if error.where != "--stock":
            raise
    try:
        area = float(quantity(written, "area", "mm^2", "--stock"))
    except InputError:
        raise InputError("--stock", written, "is not an opening", _STOCK_FIX) from None
    if not area > 0:
        raise InputError("--stock", written, "must be more than nothing", _STOCK_FIX)
    return RoundHole(diameter_m=math.sqrt(4 * area / math.pi))


def _wanted(written: str) -> tuple[float | None, float | None]:
    """(area, share of stock), one of them."""
    plain = written.strip()
    if plain.endswith("%"):
        value = float(share(plain, "--wanted"))
        return None, 1.0 + value if plain.startswith(("+", "-")) else value
    if re.fullmatch(r"[+-]?[\d.]+", plain):
        raise InputError("--wanted", written, "does not say of what", "Write '+40 %', '140 %' or '1800 mm^2'.")
    return float(quantity(plain, "area", "mm^2", "--wanted")), None


def _saws(written: str, most: int) -> list[HoleSaw]:
    from ridesim.fueling.intake import HoleSaw

    with placed({"intake.saw.diameter": "--saws", "intake.saw.most": "--most"}):
        return [
            HoleSaw(diameter_m=meters(one, "--saws"), most=most)
            for one in listed(written, "--saws", "Write them as 25,32,38.")
        ]
