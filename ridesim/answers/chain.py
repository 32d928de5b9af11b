"""The chain: links to order, where the axle ends up, whether the fitted chain will do, and what pulls on it."""

from __future__ import annotations

from dataclasses import dataclass
from functools import partial
from typing import Any

import numpy as np

from ridesim import reference
from ridesim.answers.answer import Answer, Column, Figure, Figures, Sentence, Step, Table, ValueOf, plain
from ridesim.answers.chain_tolerances import banded, chain_tolerances, other_chains
from ridesim.answers.solved import Solved
from ridesim.bike import Bike
from ridesim.components.chain import (
    CAUTIONS,
    ChainSize,
    chain_pull_n,
    chain_size,
    even_wear_turns,
    share_of_strength,
    speed_ripple,
)
from ridesim.components.chain_fit import fit_chain
from ridesim.components.chain_geometry import center_distance_m, links_handbook, pitch_radius_m, wrap_angle_rad
from ridesim.components.chain_words import UNSEEN_M, ChainFit
from ridesim.statements import Assumption
from ridesim.uncertainty.tolerances import Tolerance
from ridesim.units import in_both, quantity

NO_CHAIN = dict.fromkeys(
    ("links_exact", "links_to_order", "centre_distance_m", "axle_shift_m", "fitted_chain_will_do", "chain_pull_max_n")
)


@dataclass(frozen=True, kw_only=True)
class ChainAnswer:
    """The fit of one sprocket pair, the pull, and what was assumed; fit is None when nothing says where the axle is."""

    size: ChainSize
    fit: ChainFit | None
    pull_n: float
    share_of_strength: float | None
    center_now_m: float | None
    travel_m: tuple[float, float]
    tolerances: tuple[Tolerance, ...]
    assumptions: tuple[str, ...]
    notes: tuple[str, ...]

    def contract(self) -> dict[str, Any]:
        """The chain part of the JSON object."""
        fit = self.fit
        if fit is None:
            return {**NO_CHAIN, "chain_pull_max_n": self.pull_n}
        return {
            "links_exact": plain(fit.links_exact),
            "links_to_order": plain(fit.links_to_order),
            "centre_distance_m": plain(fit.center_distance_m),
            "axle_shift_m": plain(fit.axle_shift_m),
            "fitted_chain_will_do": plain(fit.fitted_chain_will_do),
            "chain_pull_max_n": self.pull_n,
        }


@dataclass(frozen=True, kw_only=True)
class ChainPlace:
    """The chain's size, where the axle is now (None when nothing says so), how far it may go, and what was assumed."""

    size: ChainSize
    center_now_m: float | None
    travel_m: tuple[float, float]
    assumptions: tuple[str, ...]
    notes: tuple[str, ...]


def chain_place(bike: Bike) -> ChainPlace:
    """What the chain question starts from; the same for every sprocket pair."""
    given = bike.record.final_drive
    assumptions: list[str] = []
    designation = given.chain
    if designation is None:
        default = reference.defaults()["final_drive.chain"]
        designation = str(default["value"])
        assumptions.append(
            Assumption("final_drive.chain", f"final_drive.chain assumed {designation} ({default['why']})")
        )
    size = chain_size(designation)
    travel = given.axle_travel
    if travel is None:
        default = reference.defaults()["final_drive.axle_travel"]
        ends: Any = default["value"]
        path = "final_drive.axle_travel"
        travel = (quantity(ends[0], "length", "mm", path), quantity(ends[1], "length", "mm", path))
        assumptions.append(Assumption(path, f"{path} assumed {ends[0]} to {ends[1]} ({default['why']})"))
    center, notes = _center_now(given, size, float(given.chain_wear))
    return ChainPlace(
        size=size,
        center_now_m=center,
        travel_m=(float(travel[0]), float(travel[1])),
        assumptions=tuple(assumptions),
        notes=notes,
    )


def chain_fit(solved: Solved) -> ChainAnswer:
    """How a chain fits this bike's sprockets, from the place of the axle now and its travel."""
    bike = solved.bike
    given = bike.record.final_drive
    place = chain_place(bike)
    size, notes = place.size, place.notes
    torque = bike.curve.peak_torque()[1] * float(bike.ride_day.factor)
    radius = float(pitch_radius_m(size.pitch_m, bike.front_teeth))
    pull = float(chain_pull_n(torque, bike.primary, bike.gears[0], radius, float(bike.raw["efficiency"])))
    fit: ChainFit | None = None
    tolerances: tuple[Tolerance, ...] = ()
    if place.center_now_m is not None:
        fit = _fit(bike, place)
        tolerances = chain_tolerances(given, partial(_fit, bike, place))
        notes = (*notes, *fit.notes, *other_chains(plain(fit.links_to_order), tolerances))
    share = None if size.minimum_tensile_n is None else float(share_of_strength(pull, size.minimum_tensile_n))
    return ChainAnswer(
        size=size,
        fit=fit,
        pull_n=pull,
        share_of_strength=share,
        center_now_m=place.center_now_m,
        travel_m=place.travel_m,
        tolerances=tolerances,
        assumptions=(
            *place.assumptions,
            *(fit.assumptions if fit else ()),
            *size.assumptions,
            "the pull takes the whole crank-to-tire efficiency; the chain's own loss comes after it, so it may be 3 % more",
        ),
        notes=tuple(dict.fromkeys(notes)),
    )


def _fit(bike: Bike, place: ChainPlace, *, center_m: float | None = None, wear: float | None = None) -> ChainFit:
    """The fit of this bike's sprockets, perhaps with the axle elsewhere or the chain more worn than the file says."""
    given = bike.record.final_drive
    worn = float(given.chain_wear) if wear is None else wear
    if center_m is None:
        center_m = _center_now(given, place.size, worn)[0]
    assert center_m is not None
    return fit_chain(
        front_teeth=bike.front_teeth,
        rear_teeth=bike.rear_teeth,
        pitch_m=place.size.pitch_m,
        center_distance_m=center_m,
        travel_rearward_m=place.travel_m,
        fitted_links=given.links,
        wear=worn,
        own_teeth=given.teeth,
    )


def _center_now(given: Any, size: ChainSize, wear: float) -> tuple[float | None, tuple[str, ...]]:
    """Where the axle is now: as measured, else where the fitted chain puts it with the file's own sprockets."""
    if given.centre_distance is not None:
        return float(given.centre_distance), ()
    if given.links is None:
        return None, (
            "chain length and axle place need final_drive.centre_distance, or final_drive.links of the chain fitted now",
        )
    pitch = size.pitch_m * (1 + wear)
    center = float(center_distance_m(given.links, pitch, given.front, given.rear))
    return center, (
        f"center distance not given: {in_both('small length', center)} is where {given.links} links put the axle with {given.front}/{given.rear}",
    )


def chain(solved: Solved) -> Answer:
    """The chain of this set-up.

    series: "front_radius_m", "rear_radius_m", "center_now_m", "center_m", "travel_m", "links" for a drawing to scale.
    """
    bike = solved.bike
    if not bike.has_chain:
        return _no_chain(bike)
    fitted = chain_fit(solved)
    fit, size = fitted.fit, fitted.size
    ripple = float(speed_ripple(bike.front_teeth))
    share = np.nan if fitted.share_of_strength is None else fitted.share_of_strength
    passed = (
        solved.setups.torque_factor * solved.setups.efficiency
    )  # the pull goes with what of the torque reaches the tire
    passed = passed / passed[0]
    figures = [
        solved.figure("pull", "Highest chain pull in first", "force", fitted.pull_n * passed, -1),
        solved.figure("share", "Of the chain's minimum tensile strength (from memory)", "percent", share * passed, -1),
        Figure("ripple", "Speed ripple of the front sprocket", ripple, "percent", better=-1),
    ]
    series: dict[str, Any] = {
        "front_radius_m": float(pitch_radius_m(size.pitch_m, bike.front_teeth)),
        "rear_radius_m": float(pitch_radius_m(size.pitch_m, bike.rear_teeth)),
        "center_now_m": fitted.center_now_m,
        "center_m": None,
        "travel_m": fitted.travel_m,
        "links": None,
    }
    if fit is None:
        say: Sentence = (
            "Say where the axle is (center distance) or how many links are fitted, and the chain length follows; it pulls up to ",
            ValueOf("pull"),
            " in first.",
        )
        return Answer(
            question="Does the chain fit?",
            say=say,
            figures=Figures(*figures),
            series=series,
            assumptions=(*bike.assumptions, *fitted.assumptions),
            notes=fitted.notes,
            cautions=CAUTIONS,
        )
    links, center = plain(fit.links_to_order), plain(fit.center_distance_m)
    series |= {"center_m": center, "links": links}
    exact = float(fit.links_exact)
    hand = float(links_handbook(fitted.center_now_m, size.pitch_m, bike.front_teeth, bike.rear_teeth))
    shift = plain(fit.axle_shift_m)
    will_do = plain(fit.fitted_chain_will_do)
    figures = [
        Figure("links", "Links", links, "links"),
        banded(
            Figure("shift", "Axle moves by (rearward +)", shift, "small length"),
            bike,
            fitted.tolerances,
        ),
        banded(Figure("center", "Center distance then", center, "length"), bike, fitted.tolerances),
        Figure("will_do", "The fitted chain will do", will_do, "yes or no"),
        banded(
            Figure("exact", "Links for the axle where it is now", exact, "number"),
            bike,
            fitted.tolerances,
        ),
        *figures,
    ]
    if links is not None:
        turns = int(even_wear_turns(bike.front_teeth, int(links)))
        figures.append(
            Figure("even", "Chain turns until a front tooth meets the same link again", turns, "number", better=1)
        )
        wrap = float(wrap_angle_rad(center, size.pitch_m, bike.front_teeth, bike.rear_teeth))
        figures.append(Figure("wrap", "Wrap of the front sprocket", wrap, "angle", better=1))
    say = ("No even chain puts the axle within its travel.",)
    if links is not None:
        begins, then = ("The fitted chain of ", " links will do: ") if will_do else ("Order ", " links: ")
        say = (begins, ValueOf("links"), then, *_moves(shift))
    steps = (
        Step(
            "X = 2 C/p cos a + z1 (pi - 2a)/2pi + z2 (pi + 2a)/2pi, sin a = (R2 - R1)/C",
            f"C {fitted.center_now_m:.4f} m, p {1e3 * size.pitch_m:.3f} mm, {bike.front_teeth}/{bike.rear_teeth}",
            f"{exact:.3f} links",
        ),
        Step("X = 2 C/p + (z1 + z2)/2 + ((z2 - z1)/2pi)^2 p/C", "the same, handbook form", f"{hand:.3f} links"),
        *(Step("chain", text, "") for text in fit.steps),
        Step(
            "pull = T primary gear eta / R1",
            f"first gear, R1 {1e3 * series['front_radius_m']:.2f} mm",
            f"{fitted.pull_n:.0f} N",
        ),
    )
    return Answer(
        question="Does the chain fit?",
        say=say,
        figures=Figures(*figures),
        tables=(_lengths(solved, fitted),),
        series=series,
        assumptions=(*bike.assumptions, *fitted.assumptions),
        steps=steps,
        notes=fitted.notes,
        cautions=CAUTIONS,
    )


def no_chain_note(bike: Bike) -> str:
    """Why the chain's figures are empty."""
    return f"no chain: a {bike.record.final_drive.kind} drives the rear wheel"


def _no_chain(bike: Bike) -> Answer:
    kind = bike.record.final_drive.kind
    asks = " Its length and tension are for the maker's manual to say." if kind == "belt" else ""
    return Answer(
        question="Does the chain fit?",
        say=(f"No chain: a {kind} drives the rear wheel.{asks}",),
        figures=Figures(),
        series={
            **dict.fromkeys(("front_radius_m", "rear_radius_m", "center_now_m", "center_m", "links")),
            "travel_m": (0.0, 0.0),
        },
        assumptions=bike.assumptions,
        notes=(*bike.notes, no_chain_note(bike)),
    )


def _moves(shift_m: float | None) -> Sentence:
    """Where the axle goes, in words."""
    if shift_m is None or abs(shift_m) < UNSEEN_M:
        return ("the axle stays where it is.",)
    return ("the axle moves ", ValueOf("shift", size=True), " rearward." if shift_m > 0 else " forward.")


def _lengths(solved: Solved, fitted: ChainAnswer) -> Table:
    """Even chain lengths around the exact one and where each puts the axle."""
    bike, fit = solved.bike, fitted.fit
    assert fit is not None and fitted.center_now_m is not None
    middle = 2 * round(float(fit.links_exact) / 2)
    rows = []
    for links in range(middle - 4, middle + 5, 2):
        center = float(center_distance_m(links, fitted.size.pitch_m, bike.front_teeth, bike.rear_teeth, outside="nan"))
        shift = center - fitted.center_now_m
        rows.append(
            {
                "links": links,
                "center": center,
                "shift": shift,
                "within": bool(fitted.travel_m[0] <= shift <= fitted.travel_m[1]),
                "even": bool(np.gcd(bike.front_teeth, links) == 1),
            }
        )
    return Table(
        title="Even chain lengths, new chain",
        columns=(
            Column("links", "Links", "links"),
            Column("center", "Center distance", "length"),
            Column("shift", "Axle moves by", "small length"),
            Column("within", "Within the travel", "yes or no"),
            Column("even", "Front teeth and links share no factor", "yes or no"),
        ),
        rows=tuple(rows),
    )
