"""The door to the bench, for what is cut to size: needles in their jets, and the holes of an intake."""

from __future__ import annotations

import re
from collections.abc import Sequence
from dataclasses import dataclass
from functools import lru_cache
from typing import Any

import numpy as np

from dashboard.forms.link_fields import number, text
from dashboard.queries.fueling import BenchAnswer, pair_of
from dashboard.url_state import State
from ridesim.errors import InputError, placed
from ridesim.fueling import intake, needle, openings
from ridesim.fueling.intake_answers import intake_answer
from ridesim.fueling.needle_answers import change_answer
from ridesim.units import quantity

SEAT_KEYS = ("needle-jet", "main-bore", "seat", "full-lift", "grooves", "pitch")
NEEDLE_KEYS = ("straight", "start", "length", "end", "clip")
NEEDLE_PLACES = {
    "needle.straight_diameter": "straight",
    "needle.diameter": "straight",
    "needle.taper_start": "start",
    "needle.length": "length",
    "slide.lift": "length",
    "needle.end_diameter": "end",
    "needle.taper_angle": "end",
    "needle.taper": "end",
}
INTAKE_KEYS = ("stock-opening", "wanted", "saws", "near", "coefficients")


def _needle(state: State, which: str) -> tuple[needle.Needle, int]:
    """A needle as it was typed; what the second leaves open is as the first has it."""

    def held(key: str) -> str:
        return text(state, f"{which}-{key}") or text(state, f"one-{key}")

    def measured(key: str) -> float:
        return float(quantity(held(key), "length", "mm", f"{which}-{key}"))

    angle = re.search(r"deg|°|rad", held("end")) is not None
    end = float(quantity(held("end"), "angle" if angle else "length", "mm" if not angle else "deg", f"{which}-end"))
    made = needle.Needle(
        name=f"needle {which}",
        straight_diameter_m=measured("straight"),
        taper_start_m=measured("start"),
        length_m=measured("length"),
        end_diameter_m=None if angle else end,
        taper_angle_rad=end if angle else None,
        clips=int(number(state, "grooves")) if number(state, "grooves").is_integer() else 0,
        clip_pitch_m=number(state, "pitch"),
    )
    groove = float(quantity(held("clip"), "ratio", "", f"{which}-clip"))
    if not (groove.is_integer() and 1 <= groove <= made.clips):
        raise InputError(
            f"{which}-clip", held("clip"), f"is not a groove from 1 to {made.clips}", "Count from the top."
        )
    return made, int(groove)


@dataclass(frozen=True, kw_only=True)
class Outline:
    """A needle from the side, from where its clip sits: places along it, its diameter there, the jet at full lift."""

    along_m: Any
    diameter_m: Any
    full_m: float


def _outline(one: needle.Needle, clip: int, seat: needle.NeedleSeat) -> Outline:
    from_top = np.array([0.0, one.taper_start_m, one.length_m])
    diameter = one.straight_diameter_m - one.taper_per_length * np.maximum(from_top - one.taper_start_m, 0.0)
    full = seat.seat_to_jet_m + seat.full_lift_m
    return Outline(along_m=from_top - (clip - 1) * one.clip_pitch_m, diameter_m=diameter, full_m=full)


@dataclass(frozen=True, kw_only=True)
class Drawn:
    """One opening to draw."""

    wide_m: float
    high_m: float
    shape: str
    there: bool


def _drawn_openings(stock: Sequence[openings.Opening], holes: Sequence[tuple[float, int]]) -> list[Drawn]:
    found = []
    for one in stock:
        shape = "round" if one.shape == "circle" else one.shape
        found += [Drawn(wide_m=one.length_m, high_m=one.width_m, shape=shape, there=True)] * one.count
    return found + [Drawn(wide_m=d, high_m=d, shape="round", there=False) for d, n in holes for _ in range(n)]


@lru_cache(maxsize=32)
def needles(state: State) -> BenchAnswer:
    """Two needles, or two grooves of one, beside each other."""
    seat = needle.NeedleSeat(
        needle_jet_bore_m=number(state, "needle-jet"),
        main_jet_bore_m=number(state, "main-bore"),
        seat_to_jet_m=number(state, "seat"),
        full_lift_m=number(state, "full-lift"),
    )
    (one, clip), (two, new_clip) = _one_then_two(state, seat)
    same = all(getattr(one, name) == getattr(two, name) for name in vars(one) if name != "name")
    change = needle.needle_change(one, seat, clip=clip, new_clip=new_clip, new_needle=None if same else two)
    names = (f"groove {clip}", f"groove {new_clip}") if same else (f"one, groove {clip}", f"two, groove {new_clip}")
    outlines = (_outline(one, clip, seat), _outline(two, new_clip, seat))
    drawn = {"change": change, "seat": seat, "names": names, "outlines": outlines}
    return BenchAnswer(answers=(change_answer(change, 4),), drawn=drawn)


def _one_then_two(state: State, seat: needle.NeedleSeat) -> list[tuple[needle.Needle, int]]:
    """Both needles; what the library finds wrong with one is told at its own field."""
    found = []
    for which in ("one", "two"):
        with placed({place: f"{which}-{key}" for place, key in NEEDLE_PLACES.items()}):
            made, clip = _needle(state, which)
            needle.needle_curve(made, seat, clip=clip)  # whether it hangs free in the jet over the whole lift
        found.append((made, clip))
    return found


@lru_cache(maxsize=16)
def opening(state: State) -> BenchAnswer:
    """The holes that make a wanted opening, and the way back."""
    stock = openings.openings_of(text(state, "stock-opening"), "stock-opening")
    plan = intake.plan_intake(
        stock,
        intake.saws_of(text(state, "saws"), "saws"),
        **intake.wanted_of(text(state, "wanted"), "wanted"),
        tolerance=number(state, "near"),
        stock_coefficients=pair_of(state, "coefficients"),
        show=12,
    )
    return BenchAnswer(answers=(intake_answer(plan),), drawn={"openings": _drawn_openings(stock, plan.nearest.holes)})
