"""The needle in its jet: free area against slide lift, for two needles or two grooves of one."""

from __future__ import annotations

from typing import Any

from dashboard.display import axis
from dashboard.pages.carburetor.bench import bench_section
from dashboard.pages.page import Chart, View
from dashboard.queries import fueling, needle_intake
from ridesim.plots.fueling import Profile, profiles
from ridesim.plots.lines import Line, Mark, lines

ONE = tuple(f"one-{key}" for key in needle_intake.NEEDLE_KEYS)
TWO = tuple(f"two-{key}" for key in needle_intake.NEEDLE_KEYS)
PLACES = {
    "needle_jet.bore": "needle-jet",
    "needle_jet.seat_to_jet": "seat",
    "main_jet.bore": "main-bore",
    "slide.full_lift": "full-lift",
    "needle.clips": "grooves",
    "needle.clip_pitch": "pitch",
}
AREA = "The free area that fuel goes through, ring and main jet together, against the lift of the slide."
CHANGE = "How much fuel two passes against one, at the same suction: above 1 is richer."
PROFILE = (
    "Both needles from where the clip sits, thickness drawn many times over. The edge of the jet stands at the left dotted "
    "line with the slide shut and at the right one at full lift; what is left between needle and bore is where fuel passes."
)


def _area(told: fueling.BenchAnswer, v: View) -> Any:
    change, names = told.drawn["change"], told.drawn["names"]
    x, y = axis("Slide lift", "lift", v.system), axis("Free area", "bore area", v.system)
    rows = [
        Line(x=x(curve.lift_m), y=y(curve.effective_area_m2), role=role, legend=name.capitalize())
        for curve, role, name in zip((change.before, change.after), ("now", "planned"), names, strict=True)
    ]
    return lines(rows, x_title=x.title, y_title=y.title, dark=v.dark)


def _change(told: fueling.BenchAnswer, v: View) -> Any:
    change = told.drawn["change"]
    x, y = axis("Slide lift", "lift", v.system), axis("Two against one", "ratio", v.system)
    row = Line(x=x(change.before.lift_m), y=y(change.richness_ratio), role="planned", legend="Two against one")
    marks = [Mark(axis="y", at=1.0, text="the same mixture")]
    return lines([row], x_title=x.title, y_title=y.title, dark=v.dark, marks=marks, from_zero="x")


def _profile(told: fueling.BenchAnswer, v: View) -> Any:
    seat = told.drawn["seat"]
    x, y = axis("From the clip's seat down", "lift", v.system), axis("Thickness", "bore", v.system)
    shapes = [
        Profile(
            along=x(shape.along_m).tolist(),
            diameter=y(shape.diameter_m).tolist(),
            shut=x.one(seat.seat_to_jet_m) or 0.0,
            full=x.one(shape.full_m) or 0.0,
            role=role,
        )
        for shape, role in zip(told.drawn["outlines"], ("now", "planned"), strict=True)
    ]
    bore = y.one(seat.needle_jet_bore_m) or 0.0
    return profiles(shapes, bore, x_title=x.title, y_title=y.title, dark=v.dark)


SECTION = bench_section(
    key="needle",
    title="Another needle or groove",
    lead="Between a quarter and three quarters the needle meters the fuel: here is the area it leaves free, lift by lift.",
    groups={"Jets and slide": needle_intake.SEAT_KEYS, "Needle one": ONE, "Needle two": TWO},
    ask=needle_intake.needles,
    places=PLACES,
    charts=(
        Chart(name="area", caption=AREA, draw=_area, shape="tall"),
        Chart(name="change", caption=CHANGE, draw=_change),
        Chart(name="profile", caption=PROFILE, draw=_profile),
    ),
)
