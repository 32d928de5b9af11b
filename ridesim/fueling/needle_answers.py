"""What a needle leaves open, and what another groove or needle does, as answers."""

from __future__ import annotations

import numpy as np

from ridesim.answers.answer import Answer, Figure, Figures, Sentence, ValueOf, table_of
from ridesim.fueling import FUEL, LEAN, MANUAL, SLIDE
from ridesim.fueling.needle import TOUCHED, NeedleChange, NeedleCurve
from ridesim.units import either

ASSUMPTIONS = (
    "fuel at the same suction goes with the free area; the same discharge coefficient at ring and main jet",
    "ring and main jet in series add their pressure drops, nothing recovered between: 1/A^2 = 1/A1^2 + 1/A2^2",
    "the ring is taken square to the needle's axis, which at its slender taper is short by far less than 0.1 %",
    "needle and jet concentric, unworn, at nominal size; the air that is mixed in before the jet is left out",
    "below a quarter of the lift the pilot jet and the slide cutaway matter most (common practice): there the needle shows little",
)
CAUTIONS = (FUEL, SLIDE, "Note the groove before taking the needle out.", LEAN, MANUAL)


def curve_answer(curve: NeedleCurve, every: int = 1) -> Answer:
    """What a needle leaves open, with a row for every so many lifts.

    A straight needle of 2.5 mm in a jet of 2.6 mm leaves pi/4 (2.6^2 - 2.5^2) = 0.4006 mm2 while the slide is shut.

    >>> from ridesim.fueling.needle import Needle, NeedleSeat, needle_curve
    >>> needle = Needle(straight_diameter_m=2.5e-3, taper_start_m=0.030, length_m=0.070, end_diameter_m=1.5e-3)
    >>> seat = NeedleSeat(needle_jet_bore_m=2.6e-3, main_jet_bore_m=1.25e-3, seat_to_jet_m=0.020, full_lift_m=0.036)
    >>> round(1e6 * curve_answer(needle_curve(needle, seat, clip=3)).tables[0].rows[0]["ring_area_m2"], 4)
    0.4006
    """
    half = int(np.argmax(curve.opening >= 0.5))
    table = table_of(
        "Free area by lift of the slide",
        ("lift_m", "Lift", "lift", curve.lift_m[::every]),
        ("opening", "Of full lift", "percent", curve.opening[::every]),
        ("needle_diameter_m", "Needle", "bore", curve.needle_diameter_m[::every]),
        ("ring_area_m2", "Ring", "bore area", curve.ring_area_m2[::every]),
        ("effective_area_m2", "Ring and main jet", "bore area", curve.effective_area_m2[::every]),
        ("main_jet_share", "Drop at the main jet", "percent", curve.main_jet_share[::every]),
    )
    return Answer(
        question="What does the needle leave open?",
        say=(
            f"With the clip in groove {curve.clip} of {curve.needle.clips} the main jet takes ",
            *(ValueOf("half"), " of the pressure drop at ", ValueOf("opening"), " of full lift and ", ValueOf("full")),
            " at full lift; the rest is the needle's.",
        ),
        figures=Figures(
            Figure("opening", "Share of full lift", float(curve.opening[half]), "percent"),
            Figure("half", "Drop at the main jet there", float(curve.main_jet_share[half]), "percent"),
            Figure("full", "Drop at the main jet at full lift", float(curve.main_jet_share[-1]), "percent"),
        ),
        tables=(table,),
        assumptions=ASSUMPTIONS,
        steps=(
            "needle diameter at the jet's edge: d = d0 - taper x (lift + seat to jet + (clip - 1) x pitch - taper start), at most d0",
            f"taper = diameter lost over length = {curve.needle.taper_per_length:.5f}",
            "ring = pi/4 (D^2 - d^2), D the bore of the needle jet",
            "ring and main jet: 1/A^2 = 1/A_ring^2 + 1/A_main^2; drop at the main jet = (A/A_main)^2",
        ),
        cautions=CAUTIONS,
    )


def change_answer(change: NeedleChange, every: int = 1) -> Answer:
    """What another groove or needle does, with a row for every so many lifts.

    >>> from ridesim.fueling.needle import Needle, NeedleSeat, needle_change
    >>> needle = Needle(straight_diameter_m=2.5e-3, taper_start_m=0.030, length_m=0.070, end_diameter_m=1.5e-3)
    >>> seat = NeedleSeat(needle_jet_bore_m=2.6e-3, main_jet_bore_m=1.25e-3, seat_to_jet_m=0.026, full_lift_m=0.036)
    >>> change_answer(needle_change(needle, seat, clip=3, new_clip=4)).figures["greatest"].value > 0.0  # one down is richer
    True
    """
    ratio, full = change.richness_ratio, change.before.seat.full_lift_m
    figures = [
        Figure("greatest", "Greatest change of the mixture", change.greatest_ratio - 1, "percent"),
        Figure("at", "at a lift of", change.greatest_at_m, "lift"),
        Figure("at_opening", "which is of full lift", change.greatest_at_m / full, "percent"),
    ]
    say: Sentence = (f"{change.what}: no change that matters at any lift.",)
    if change.touched_from_m is not None and change.touched_to_m is not None:
        rich, lean = float(ratio.max()) - 1 > TOUCHED, 1 - float(ratio.min()) > TOUCHED
        way = "richer in places and leaner in others, by" if rich and lean else "richer by" if rich else "leaner by"
        figures += [
            Figure("from", "It touches lifts from", change.touched_from_m / full, "percent"),
            Figure("to", "to", change.touched_to_m / full, "percent"),
        ]
        say = (
            *(f"{change.what}: {way} up to ", ValueOf("greatest", size=True), ", most at ", ValueOf("at_opening")),
            *(" of full lift; it touches ", ValueOf("from"), " to ", ValueOf("to"), " of full lift."),
        )
    before, after = change.before, change.after
    table = table_of(
        "Free area of ring and main jet by lift of the slide",
        ("lift_m", "Lift", "lift", before.lift_m[::every]),
        ("opening", "Of full lift", "percent", before.opening[::every]),
        ("before_m2", "Before", "bore area", before.effective_area_m2[::every]),
        ("after_m2", "After", "bore area", after.effective_area_m2[::every]),
        ("richer", "Richer by", "percent", ratio[::every] - 1),
    )
    return Answer(
        question="What does the change of the needle do?",
        say=say,
        figures=Figures(*figures),
        tables=(table,),
        assumptions=ASSUMPTIONS,
        steps=_steps(before, after, int(np.argmax(before.lift_m == change.greatest_at_m))),
        cautions=CAUTIONS,
    )


def _steps(before: NeedleCurve, after: NeedleCurve, at: int) -> tuple[str, ...]:
    """The working at one lift, with the numbers in, lengths in mm and areas in mm2."""
    bore, main = 1e3 * before.seat.needle_jet_bore_m, np.pi / 4 * (1e3 * before.seat.main_jet_bore_m) ** 2
    told = [
        "at a lift of " + either("lift", float(before.lift_m[at])),
        f"main jet = pi/4 x {1e3 * before.seat.main_jet_bore_m:.2f}^2 = {main:.4f} mm2",
    ]
    for curve, name in ((before, "before"), (after, "after")):
        d, ring = 1e3 * curve.needle_diameter_m[at], 1e6 * curve.ring_area_m2[at]
        told += [
            f"ring {name} = pi/4 (D^2 - d^2) = pi/4 ({bore:.3f}^2 - {d:.3f}^2) = {ring:.4f} mm2",
            f"effective area {name}, 1/A^2 = 1/{ring:.4f}^2 + 1/{main:.4f}^2, A = "
            f"{1e6 * curve.effective_area_m2[at]:.4f} mm2",
        ]
    areas = 1e6 * after.effective_area_m2[at], 1e6 * before.effective_area_m2[at]
    return (*told, f"richness = {areas[0]:.4f} / {areas[1]:.4f} = {areas[0] / areas[1]:.4f}")
