"""The intake opening: which holes make a wanted area, and which to plug for each step back."""

from __future__ import annotations

import typer

from ridesim.cli.given import pair, placed, share
from ridesim.cli.options import Printing, grouped, option
from ridesim.cli.output import say

app = typer.Typer(rich_markup_mode=None, add_completion=False)
SIDES = ("diameter", "length", "width", "count")
OPENING_PLACES = {f"intake.{shape}.{side}": "--stock" for shape in ("circle", "slot", "rectangle") for side in SIDES}
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


@app.command()
@grouped
def intake(
    stock: list[str] = option(
        "The opening as it is: 'circle 40 mm', '2 slots 60 x 18 mm', 'rectangle 38 x 50 mm', '1250 mm^2'; may be repeated.",
        default=...,
    ),
    wanted: str = option("'+40 %' more than stock, '140 %' of stock, or '1800 mm^2' in all.", default=...),
    saws: str = option("Hole saws at hand in mm or with a unit, such as 25,32,38 or '1 in,1.25 in'.", default=...),
    most: int = option("How many holes of each saw fit at most.", default=6),
    tolerance: str = option("How near to the wanted area a set must come.", default="3 %"),
    stock_coefficient: str | None = option(
        "Discharge coefficient of the stock opening, least:most.", otherwise="a sharp hole's"
    ),
    show: int = option("Sets to print.", default=10),
    *,
    printing: Printing,
) -> None:
    """Which holes make a wanted intake opening, and which to plug for each step back."""
    from ridesim.fueling.intake import plan_intake, saws_of, wanted_of
    from ridesim.fueling.intake_answers import intake_answer
    from ridesim.fueling.openings import SHARP_HOLE, openings_of

    with placed(OPENING_PLACES):
        openings = [opening for one in stock for opening in openings_of(one, "--stock")]
    band = SHARP_HOLE if stock_coefficient is None else pair(stock_coefficient, "--stock-coefficient", "0.60:0.65")
    with placed({"intake.saw.diameter": "--saws", "intake.saw.most": "--most"}):
        at_hand = saws_of(saws, "--saws", most)
    with placed(PLACES):
        plan = plan_intake(
            openings,
            at_hand,
            **wanted_of(wanted, "--wanted"),
            tolerance=float(share(tolerance, "--tolerance")),
            stock_coefficients=band,
            show=show,
        )
    also = {"found": plan.found, "within": plan.within, "sets": plan.sets, "plugging": plan.plugging}
    say(intake_answer(plan), printing, also=also)
