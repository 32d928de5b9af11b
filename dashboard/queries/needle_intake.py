"""The door to the bench, for what is cut to size: needles in their jets, and the holes of an intake."""

from __future__ import annotations

import re
from collections.abc import Sequence
from dataclasses import dataclass
from functools import lru_cache
from typing import Any

import numpy as np

from dashboard import display
from dashboard.forms.link_fields import number, text
from dashboard.queries.fueling import BenchAnswer, pair_of
from dashboard.url_state import State
from ridesim.answers import Answer, Column, Figure, Figures, Table
from ridesim.answers.answer import ValueOf
from ridesim.errors import InputError
from ridesim.fueling import intake, needle, openings
from ridesim.units import quantity

SEAT_KEYS = ("needle-jet", "main-bore", "seat", "full-lift", "grooves", "pitch")
NEEDLE_KEYS = ("straight", "start", "length", "end", "clip")
INTAKE_KEYS = ("stock-opening", "wanted", "saws", "near", "coefficients")
_NUMBER = r"\d+(?:\.\d+)?"
_OPENING = re.compile(rf"(\d+)\s+(round|slot|rectangle)s?\s+of\s+({_NUMBER})(?:\s*[x×]\s*({_NUMBER}))?\s*(mm|cm|in)")
_SAW = re.compile(rf"(\d+)\s+of\s+({_NUMBER})\s*(mm|cm|in)")
_TIMES = re.compile(rf"({_NUMBER})\s*(?:times stock|times|x)")


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
        if isinstance(one, openings.RoundHole):
            found += [Drawn(wide_m=one.diameter_m, high_m=one.diameter_m, shape="round", there=True)] * one.count
        else:
            shape = "slot" if isinstance(one, openings.Slot) else "rectangle"
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
    columns = (
        Column(key="opening", label="Slide", reading="percent"),
        Column(key="lift_m", label="Lift", reading="lift"),
        Column(key="before_m2", label="Area, one", reading="bore area"),
        Column(key="after_m2", label="Area, two", reading="bore area"),
        Column(key="richness_ratio", label="Two against one", reading="ratio"),
    )
    answer = Answer(
        question="One needle or groove beside another",
        say=(change.sentence,),
        figures=Figures(
            Figure(
                key="greatest", label="Greatest change of the mixture", value=change.greatest_ratio, reading="ratio"
            ),
            Figure(key="at", label="at a lift of", value=change.greatest_at_m, reading="lift"),
            Figure(key="from", label="It touches lifts from", value=change.touched_from_m, reading="lift"),
            Figure(key="to", label="to", value=change.touched_to_m, reading="lift"),
        ),
        tables=(Table(title="Free area by lift", columns=columns, rows=change.rows()[::4]),),
        assumptions=change.assumptions,
        cautions=change.cautions,
    )
    names = (f"groove {clip}", f"groove {new_clip}") if same else (f"one, groove {clip}", f"two, groove {new_clip}")
    outlines = (_outline(one, clip, seat), _outline(two, new_clip, seat))
    drawn = {"change": change, "seat": seat, "names": names, "outlines": outlines}
    return BenchAnswer(answers=(answer,), working=(change.steps,), drawn=drawn)


def _one_then_two(state: State, seat: needle.NeedleSeat) -> list[tuple[needle.Needle, int]]:
    """Both needles; what the library finds wrong with one is told at its own field."""
    found = []
    for which in ("one", "two"):
        try:
            made, clip = _needle(state, which)
            needle.needle_curve(made, seat, clip=clip)  # whether it hangs free in the jet over the whole lift
            found.append((made, clip))
        except InputError as error:
            parts = {"needle.straight_diameter": "straight", "needle.taper_start": "start", "needle.length": "length"}
            parts |= {
                "needle.diameter": "straight",
                "slide.lift": "length",
                "needle.end_diameter": "end",
                "needle.taper_angle": "end",
                "needle.taper": "end",
            }
            key = parts.get(error.where)
            raise InputError(f"{which}-{key}" if key else error.where, error.got, error.problem, error.fix) from None
    return found


def _meters(value: str, unit: str) -> float:
    return float(quantity(f"{value} {unit}", "length", "mm", "length"))


def _each(written: str, key: str, shape: re.Pattern[str], example: str) -> list[re.Match[str]]:
    """The pieces of a list, each in the shape wanted."""
    found = [shape.fullmatch(piece.strip().lower()) for piece in written.strip(" ,;").split(",")]
    if not all(found):
        raise InputError(key, written, "cannot be read", f"Write it as {example}.")
    return [one for one in found if one]


def _openings(state: State) -> list[openings.Opening]:
    made: list[openings.Opening] = []
    example = "1 round of 40 mm, 2 slots of 60 x 20 mm, 1 rectangle of 50 x 30 mm"
    for count, shape, first, second, unit in (
        m.groups() for m in _each(text(state, "stock-opening"), "stock-opening", _OPENING, example)
    ):
        if (shape == "round") != (second is None):
            raise InputError(
                "stock-opening", None, f"has a {shape} with the wrong number of sizes", f"Write it as {example}."
            )
        long = _meters(first, unit)
        if shape == "round":
            made.append(openings.RoundHole(diameter_m=long, count=int(count)))
        else:
            kind = openings.Slot if shape == "slot" else openings.Rectangle
            made.append(kind(length_m=long, width_m=_meters(second, unit), count=int(count)))
    return made


def _wanted(state: State) -> dict[str, float]:
    held = text(state, "wanted").lower()
    times = _TIMES.fullmatch(held)
    if times:
        return {"wanted_over_stock": float(times[1])}
    return {"wanted_area_m2": float(quantity(held, "area", "mm^2", "wanted"))}


def holes_words(holes: Sequence[tuple[float, int]], system: str) -> str:
    """Holes in words, in the units shown.

    >>> holes_words(((0.032, 2), (0.0254, 1)), "us")
    '2 of 1.26 in and 1 of 1 in'
    """
    told = [
        f"{n} of {display.field_text(d, 'bore' if system == 'metric' else 'small length', system)}" for d, n in holes
    ]
    return " and ".join([", ".join(told[:-1]), told[-1]] if len(told) > 1 else told or ["none"])


@lru_cache(maxsize=16)
def opening(state: State) -> BenchAnswer:
    """The holes that make a wanted opening, and the way back."""
    stock = _openings(state)
    saws = [
        intake.HoleSaw(diameter_m=_meters(size, unit), most=int(most))
        for most, size, unit in (m.groups() for m in _each(text(state, "saws"), "saws", _SAW, "3 of 25 mm, 2 of 32 mm"))
    ]
    plan = intake.plan_intake(
        stock,
        saws,
        **_wanted(state),
        tolerance=number(state, "near"),
        stock_coefficients=pair_of(state, "coefficients"),
        show=12,
    )
    return BenchAnswer(
        answers=(_opening_answer(plan, state.units),),
        working=(plan.steps,),
        drawn={"openings": _drawn_openings(stock, plan.nearest.holes)},
    )


def _opening_answer(plan: intake.IntakePlan, system: str) -> Answer:
    best = plan.nearest
    near = f"within {display.shown(plan.tolerance, 'percent', system)} of the wanted "
    lead = f"{plan.found} set{'s' if plan.found != 1 else ''} of holes come{'' if plan.found != 1 else 's'} {near}"
    which = ("; the best is " if plan.found else "; the nearest is ") + holes_words(best.holes, system)
    figures = (
        Figure(key="stock", label="Stock opening", value=plan.stock_area_m2, reading="small area"),
        Figure(key="wanted", label="Wanted", value=plan.wanted_area_m2, reading="small area"),
        Figure(key="total", label="With the best holes", value=best.total_area_m2, reading="small area"),
        Figure(key="off", label="Off by", value=abs(best.off_by), reading="percent"),
        Figure(
            key="one",
            label="A single hole as large as the new ones",
            value=best.one_hole_diameter_m,
            reading="small length",
        ),
        Figure(
            key="low", label="Flow over stock at the same suction, least", value=best.flow_ratio_low, reading="ratio"
        ),
        Figure(key="high", label="The same, most", value=best.flow_ratio_high, reading="ratio"),
        Figure(
            key="suction",
            label="Suction for the same air, over stock",
            value=best.suction_ratio_high,
            reading="ratio",
            low=best.suction_ratio_low,
            high=best.suction_ratio_high,
        ),
    )
    side = "over" if best.off_by >= 0 else "under"
    return Answer(
        question="Holes for the intake",
        say=(
            *(lead if plan.found else f"No set of holes comes {near}", ValueOf("wanted"), f"{which}: "),
            *(ValueOf("total"), " in all, ", ValueOf("off"), f" {side}, ", ValueOf("low"), " to ", ValueOf("high")),
            " times the stock flow at the same suction.",
        ),
        figures=Figures(*figures),
        tables=_opening_tables(plan, system),
        assumptions=plan.assumptions,
        cautions=plan.cautions,
    )


def _opening_tables(plan: intake.IntakePlan, system: str) -> tuple[Table, Table]:
    sets = tuple(
        {
            "holes": holes_words(one.holes, system),
            "area": one.total_area_m2,
            "off": one.off_by,
            "low": one.flow_ratio_low,
            "high": one.flow_ratio_high,
        }
        for one in (plan.sets or (plan.nearest,))
    )
    back = tuple(
        {
            "plugs": str(step.order),
            "plugged": holes_words(step.plugged, system),
            "open": holes_words(step.open, system),
            "area": step.total_area_m2,
            "over": step.over_stock,
        }
        for step in plan.plugging
        if step.order is not None
    )
    return (
        Table(
            title="Sets of holes, the best first",
            columns=(
                Column(key="holes", label="Holes", reading="text"),
                Column(key="area", label="In all", reading="small area"),
                Column(key="off", label="Off by", reading="percent"),
                Column(key="low", label="Flow, least", reading="ratio"),
                Column(key="high", label="Flow, most", reading="ratio"),
            ),
            rows=sets,
        ),
        Table(
            title="The way back, plug by plug, for the best set",
            columns=(
                Column(key="plugs", label="Plugs in", reading="text"),
                Column(key="plugged", label="Plugged", reading="text"),
                Column(key="open", label="Open", reading="text"),
                Column(key="area", label="In all", reading="small area"),
                Column(key="over", label="Over stock", reading="ratio"),
            ),
            rows=back,
        ),
    )
