"""The holes that make a wanted opening, and the way back plug by plug, as an answer."""

from __future__ import annotations

from collections.abc import Sequence

from ridesim.answers.answer import Answer, Figure, Figures, Sentence, Table, ValueOf, table_of
from ridesim.fueling import MANUAL
from ridesim.fueling.intake import Holes, HoleSet, IntakePlan
from ridesim.fueling.openings import SHARP_HOLE, Opening

ASSUMPTIONS = (
    "the stock opening stays; holes beside it add their areas (40 CFR 1065.640(e))",
    "hole-saw diameters are taken to a whole micrometer; the hole comes out as wide as its saw",
    "discharge coefficient of a sharp hole 0.60 to 0.65, from memory; the band is carried",
    "the opening is what limits the flow; filter, airbox, duct and carburetor are left as they are",
)
CAUTIONS = (
    "More air leans the mixture: re-jet first or go in small steps, and stop when it runs lean or hot.",
    "Drill off the bike: airbox out, filter out, its outlet covered; nothing may fall towards the engine.",
    "Deburr every hole and take out every chip before the filter goes back.",
    "Leave material: about a hole's radius between holes and to any edge, rib or seam, so that the airbox does not crack.",
    "Keep holes high and away from the wheel's spray: on gravel and in fords they let in dust and water.",
    "Keep the snorkel and the plugs, so that every step can be taken back.",
    "Opening an intake can break noise and type-approval rules: ask locally.",
    MANUAL,
)


def intake_answer(plan: IntakePlan) -> Answer:
    """The holes that make a wanted opening, and the way back to stock plug by plug.

    One hole of 30 mm beside a stock opening of 40 mm is one of 50 mm, pi/4 x 50^2 = 1963 mm2.

    >>> from ridesim.fueling.intake import HoleSaw, plan_intake
    >>> from ridesim.fueling.openings import circle
    >>> plan = plan_intake([circle(0.040)], [HoleSaw(diameter_m=0.030, most=2)], wanted_over_stock=1.5625)
    >>> round(1e6 * intake_answer(plan).figures["total"].value)
    1963
    """
    best = plan.nearest
    count = f"{plan.found or 'No'} {'sets of holes come' if plan.found > 1 else 'set of holes comes'} within "
    return Answer(
        question="Which holes make the wanted intake?",
        say=(
            *(count, ValueOf("tolerance"), " of the wanted ", ValueOf("wanted")),
            *(f"; the {'best' if plan.within else 'nearest'} is ", *_holes(best.holes)),
            *(": ", ValueOf("total"), " in all, ", ValueOf("off", size=True)),
            f" {'over' if best.off_by >= 0 else 'under'}, {_flow(best)} times the stock flow at the same suction.",
        ),
        figures=Figures(
            Figure("stock", "Stock opening", plan.stock_area_m2, "small area"),
            Figure("wanted", "Wanted", plan.wanted_area_m2, "small area"),
            Figure("tolerance", "Near enough", plan.tolerance, "percent"),
            *(
                Figure(f"hole_{k}", f"Diameter of {n} hole{'s' if n > 1 else ''}", d, "small length")
                for k, (d, n) in enumerate(best.holes, start=1)
            ),
            Figure("total", "With the best holes", best.total_area_m2, "small area"),
            Figure("off", "Off the wanted by", best.off_by, "percent"),
            Figure("one", "One hole as large as the new ones", best.one_hole_diameter_m, "small length"),
            _band("flow", "Flow over stock at the same suction", best.flow_ratio_low, best.flow_ratio_high),
            _band("suction", "Suction over stock for the same air", best.suction_ratio_low, best.suction_ratio_high),
        ),
        tables=_tables(plan),
        assumptions=(
            *ASSUMPTIONS,
            "discharge coefficient of the stock opening {:g} to {:g}".format(*plan.stock_coefficients),
        ),
        steps=_steps(plan.stock, plan.stock_area_m2, plan.wanted_area_m2, best, plan.stock_coefficients),
        cautions=CAUTIONS,
    )


def _band(key: str, label: str, low: float, high: float) -> Figure:
    return Figure(key, label, (low + high) / 2, "ratio", low=low, high=high)


def _holes(holes: Holes) -> Sentence:
    """The holes of the best set, in pieces, so that their diameters come in the units shown."""
    told: Sentence = ()
    for k, (_, count) in enumerate(holes):
        told += (f"{', ' if k else ''}{count} of ", ValueOf(f"hole_{k + 1}"))
    return told


def _tables(plan: IntakePlan) -> tuple[Table, Table]:
    rows = [(k, one, d, n) for k, one in enumerate(plan.sets or (plan.nearest,), start=1) for d, n in one.holes]
    return (
        table_of(
            "Sets of holes, the best first",
            ("set", "Set", "number", [k for k, *_ in rows]),
            ("count", "Holes", "number", [n for *_, n in rows]),
            ("diameter", "of", "small length", [d for _, _, d, _ in rows]),
            ("total", "Opening in all", "small area", [one.total_area_m2 for _, one, *_ in rows]),
            ("off", "Off the wanted", "percent", [one.off_by for _, one, *_ in rows]),
            ("flow", "Flow, times stock", "text", [_flow(one) for _, one, *_ in rows]),
        ),
        table_of(
            "Step by step back to stock, the best set, smallest holes plugged first",
            ("step", "Step", "number", [one.order for one in plan.plugging]),
            ("plug", "Plug one of", "small length", [one.plug_m for one in plan.plugging]),
            ("total", "Opening in all", "small area", [one.total_area_m2 for one in plan.plugging]),
            ("over", "Over stock", "percent", [one.over_stock - 1 for one in plan.plugging]),
        ),
    )


def _flow(one: HoleSet) -> str:
    return f"{one.flow_ratio_low:.2f} to {one.flow_ratio_high:.2f}"


def _steps(
    stock: Sequence[Opening], area: float, wanted: float, best: HoleSet, band: tuple[float, float]
) -> tuple[str, ...]:
    squares = " + ".join(f"{n} x {1e3 * d:g}^2" for d, n in best.holes)
    return (
        *(f"stock opening = {opening.working} = {1e6 * opening.area_m2:.1f} mm2" for opening in stock),
        f"wanted = {wanted / area:.4f} x {1e6 * area:.1f} = {1e6 * wanted:.1f} mm2",
        f"holes wanted = {1e6 * wanted:.1f} - {1e6 * area:.1f} = {1e6 * (wanted - area):.1f} mm2",
        f"holes = pi/4 ({squares}) = {1e6 * best.holes_area_m2:.1f} mm2",
        f"one hole as large: d = sqrt(sum d^2) = {1e3 * best.one_hole_diameter_m:.1f} mm [40 CFR 1065.640(e)]",
        f"flow over stock = 1 + (C_hole / C_stock) A_holes / A_stock, from 1 + ({SHARP_HOLE[0]} / {band[1]:g}) x "
        f"{best.holes_area_m2 / area:.4f} = {best.flow_ratio_low:.3f} to 1 + ({SHARP_HOLE[1]} / {band[0]:g}) x "
        f"{best.holes_area_m2 / area:.4f} = {best.flow_ratio_high:.3f}",
        f"suction for the same air = 1 / (flow over stock)^2 = {best.suction_ratio_low:.3f} to {best.suction_ratio_high:.3f}",
    )
