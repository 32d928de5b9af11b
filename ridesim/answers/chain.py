"""The chain: links to order, where the axle ends up, whether the fitted chain will do, and what pulls on it."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import Any

import numpy as np

from ridesim import reference
from ridesim.answers.answer import Answer, Figure, Figures, Sentence, Step, Table, ValueOf, table_of
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
from ridesim.components.chain_geometry import center_distance_m, pitch_radius_m, wrap_angle_rad
from ridesim.components.chain_words import UNSEEN_M, ChainFit
from ridesim.errors import InputError
from ridesim.statements import Assumption
from ridesim.uncertainty.tolerances import Tolerance, quadrature, through
from ridesim.units import either, quantity

FIGURES = {"links": "links_to_order", "shift": "axle_shift_m", "center": "center_distance_m", "exact": "links_exact"}
QUESTION = "Does the chain fit?"


@dataclass(frozen=True, kw_only=True)
class ChainAnswer:
    """The fit of one sprocket pair, the pull, and what was assumed.

    place               where the axle is now, and the chain
    fit                 links, axle and whether the fitted chain will do; None when nothing says where the axle is
    pull_n              highest pull of the upper run, in first gear [N]
    share_of_strength   of the pull in the minimum tensile strength, nan where that is not known [-]
    tolerances          of axle and wear, by how much each moves the figures of the fit
    """

    place: ChainPlace
    fit: ChainFit | None
    pull_n: float
    share_of_strength: float
    tolerances: tuple[Tolerance, ...]
    assumptions: tuple[str, ...]
    notes: tuple[str, ...]


@dataclass(frozen=True, kw_only=True)
class ChainPlace:
    """The chain's size, where the axle is now (None when nothing says so), how far it may go, and what was assumed.

    travel_m holds both ends from where the axle is now, rearward counted positive. [m]
    """

    size: ChainSize
    center_now_m: float | None
    travel_m: tuple[float, float]
    assumptions: tuple[str, ...]
    notes: tuple[str, ...]


def chain_place(bike: Bike) -> ChainPlace:
    """What the chain question starts from; the same for every sprocket pair.

    The axle is where the build file's center distance says, else where its links put it with its own sprockets;
    chain size and travel are assumed where it has none, and said so.

    >>> import ridesim as rs
    >>> place = chain_place(rs.demo("coast-single"))
    >>> place.size.designation, place.center_now_m, place.travel_m
    ('520', 0.5909, (-0.012, 0.026000000000000002))
    """
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
        said = either("small length", *map(float, travel))
        assumptions.append(Assumption(path, f"{path} assumed " + said + f" ({default['why']})"))
    center, notes = _center_now(given, size, float(given.chain_wear))
    return ChainPlace(
        size=size,
        center_now_m=center,
        travel_m=(float(travel[0]), float(travel[1])),
        assumptions=tuple(assumptions),
        notes=notes,
    )


def chain_fit(solved: Solved) -> ChainAnswer:
    """How a chain fits this bike's sprockets, from the place of the axle now and its travel.

    The pull is  F = T primary gear eta / R1  with T the highest torque of the day and R1 the pitch radius in front.

    >>> import ridesim as rs
    >>> from ridesim.answers.solved import solved
    >>> fitted = chain_fit(solved(rs.demo("coast-single")))
    >>> round(fitted.fit.links_exact, 2), fitted.fit.links_to_order, round(fitted.pull_n)
    (102.44, 102, 5743)
    """
    bike, place = solved.bike, chain_place(solved.bike)
    size, notes = place.size, place.notes
    torque = bike.curve.peak_torque()[1] * float(bike.ride_day.factor)
    radius = float(pitch_radius_m(size.pitch_m, bike.front_teeth))
    pull = float(chain_pull_n(torque, bike.primary, bike.gears[0], radius, float(bike.raw["efficiency"])))
    fit: ChainFit | None = None
    tolerances: tuple[Tolerance, ...] = ()
    if place.center_now_m is not None:
        fit = _fit(bike, place)
        tolerances = _tolerances(bike, place)
        notes = (*notes, *fit.notes, *_other_chains(fit.links_to_order, tolerances))
    share = np.nan if size.minimum_tensile_n is None else float(share_of_strength(pull, size.minimum_tensile_n))
    return ChainAnswer(
        place=place,
        fit=fit,
        pull_n=pull,
        share_of_strength=share,
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


def _tolerances(bike: Bike, place: ChainPlace) -> tuple[Tolerance, ...]:
    """How far the figures of the fit move with the axle's place and the chain's wear, each at the ends of its tolerance; by nan where
    one takes a figure away altogether, as sprockets that would touch."""

    def read(**changed: float) -> dict[str, float]:
        try:
            other = _fit(bike, place, **changed)
        except InputError:
            return dict.fromkeys(FIGURES, np.nan)
        figures = {key: getattr(other, name) for key, name in FIGURES.items()}
        return {key: np.nan if value is None else float(value) for key, value in figures.items()}

    given = bike.record.final_drive
    return (
        *through("final_drive.centre_distance", given.centre_distance, lambda center: read(center_m=center)),
        *through("final_drive.chain_wear", given.chain_wear, lambda wear: read(wear=wear), 0.0),
    )


def _banded(figure: Figure, bike: Bike, tolerances: Sequence[Tolerance]) -> Figure:
    """A figure of the fit with its band; without one where the tolerances ask for another chain."""
    moves = {bike.source(tolerance): tolerance.moves[figure.key] for tolerance in tolerances}
    if not moves or figure.value is None:
        return figure
    another = figure.key != "exact" and any(any(tolerance.moves["links"]) for tolerance in tolerances)
    if another or not np.isfinite(list(moves.values())).all():
        return replace(figure, moves=None)
    down, up = quadrature(moves)
    value = float(figure.value)
    return replace(figure, low=value + down, high=value + up, moves=moves)


def _other_chains(links: float | None, tolerances: Sequence[Tolerance]) -> tuple[str, ...]:
    """Where a tolerance is wide enough to ask for another chain: measure before one is ordered."""
    notes = []
    for tolerance in tolerances:
        ends = tolerance.moves["links"]
        if not any(ends):  # nan counts as another chain
            continue
        others = [f"{links + move:.0f} links" for move in ends if move and links is not None and np.isfinite(move)]
        notes.append(
            f"within the tolerance of {tolerance.path} {' or '.join(dict.fromkeys(others)) or 'no chain'} may be right instead: "
            "measure it more closely before a chain is ordered"
        )
    return tuple(notes)


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
        "center distance not given: "
        + either("small length", center)
        + f" is where {given.links} links put the axle with {given.front}/{given.rear}",
    )


def chain(solved: Solved) -> Answer:
    """The chain of this set-up: links to order, where the axle ends up, the pull, even wear and wrap.

    Figures "shift" and "center" lose their bands where a tolerance of axle or wear asks for another chain,
    and a note says so. Without center distance and links there is only the pull; a belt or a shaft has no figures.

    series: "front_radius_m", "rear_radius_m", "center_now_m", "center_m", "travel_m", "links" for a drawing to
    scale.

    >>> import ridesim as rs
    >>> from ridesim.answers.solved import solved
    >>> found = chain(solved(rs.demo("coast-single")))
    >>> print(found)
    The fitted chain of 102 links will do: the axle stays where it is.
    >>> found.to_frame()[["Links", "Axle moves by [mm]", "Within the travel"]].round(1).values.tolist()[1:4]
    [[100, -19.5, False], [102, -3.5, True], [104, 12.5, True]]
    """
    bike = solved.bike
    if not bike.has_chain:
        return _no_chain(solved)
    fitted = chain_fit(solved)
    fit, place = fitted.fit, fitted.place
    pitch, z1, z2 = place.size.pitch_m, bike.front_teeth, bike.rear_teeth
    passed = solved.setups.torque_factor * solved.setups.efficiency
    passed = passed / passed[0]  # the pull goes with what of the torque reaches the tire
    strength = "Of the chain's minimum tensile strength (from memory)"
    figures = [
        solved.figure("pull", "Highest chain pull in first", "force", fitted.pull_n * passed, -1),
        solved.figure("share", strength, "percent", fitted.share_of_strength * passed, -1),
        Figure("ripple", "Speed ripple of the front sprocket", float(speed_ripple(z1)), "percent", better=-1),
    ]
    series: dict[str, Any] = {
        "front_radius_m": float(pitch_radius_m(pitch, z1)),
        "rear_radius_m": float(pitch_radius_m(pitch, z2)),
        "center_now_m": place.center_now_m,
        "center_m": None if fit is None else fit.center_distance_m,
        "travel_m": place.travel_m,
        "links": None if fit is None else fit.links_to_order,
    }
    begin = "Say where the axle is (center distance) or how many links are fitted, and the chain length follows; it pulls up to "
    say: Sentence = (begin, ValueOf("pull"), " in first.")
    rest: dict[str, Any] = {}
    if fit is not None:
        say = _order_said(fit)
        figures = [*_fit_figures(bike, fitted, fit), *figures, *_new_chain_figures(bike, pitch, fit)]
        radius = f"first gear, R1 {1e3 * series['front_radius_m']:.2f} mm"
        pull = Step("pull = T primary gear eta / R1", radius, f"{fitted.pull_n:.0f} N")
        rest = {
            "tables": (_lengths(bike, place, fit),),
            "steps": (*(Step(what, how, "") for what, _, how in (t.partition(" = ") for t in fit.steps)), pull),
        }
    return Answer(
        question=QUESTION,
        say=say,
        figures=Figures(*figures),
        series=series,
        assumptions=(*bike.assumptions, *fitted.assumptions),
        notes=fitted.notes,
        cautions=CAUTIONS,
        **rest,
    )


def _fit_figures(bike: Bike, fitted: ChainAnswer, fit: ChainFit) -> tuple[Figure, ...]:
    """What the chain's length and the axle come to, with the bands that axle and wear leave open."""
    shift, center, exact = (
        _banded(Figure(key, label, getattr(fit, FIGURES[key]), reading), bike, fitted.tolerances)
        for key, label, reading in (
            ("shift", "Axle moves by (rearward +)", "small length"),
            ("center", "Center distance then", "length"),
            ("exact", "Links for the axle where it is now", "number"),
        )
    )
    links = Figure("links", "Links", fit.links_to_order, "links")
    return (
        links,
        shift,
        center,
        Figure("will_do", "The fitted chain will do", fit.fitted_chain_will_do, "yes or no"),
        exact,
    )


def _new_chain_figures(bike: Bike, pitch_m: float, fit: ChainFit) -> tuple[Figure, ...]:
    """How evenly the chain wears and how far it lies on the front sprocket; nothing where none fits."""
    if fit.links_to_order is None:
        return ()
    turns = int(even_wear_turns(bike.front_teeth, fit.links_to_order))
    wrap = float(wrap_angle_rad(fit.center_distance_m, pitch_m, bike.front_teeth, bike.rear_teeth))
    return (
        Figure("even", "Chain turns until a front tooth meets the same link again", turns, "number", better=1),
        Figure("wrap", "Wrap of the front sprocket", wrap, "angle", better=1),
    )


def _order_said(fit: ChainFit) -> Sentence:
    """Which chain to order, or that the fitted one will do, and where the axle goes."""
    if fit.links_to_order is None:
        return ("No even chain puts the axle within its travel.",)
    will_do = fit.fitted_chain_will_do
    begins, then = ("The fitted chain of ", " links will do: ") if will_do else ("Order ", " links: ")
    shift = fit.axle_shift_m
    if shift is None or abs(shift) < UNSEEN_M:
        return (begins, ValueOf("links"), then, "the axle stays where it is.")
    goes = " back." if shift > 0 else " forward."
    return (begins, ValueOf("links"), then, "the axle moves ", ValueOf("shift", size=True), goes)


def no_chain_note(bike: Bike) -> str:
    """Why the chain's figures are empty: the belt or the shaft that drives the rear wheel instead."""
    return f"no chain: a {bike.record.final_drive.kind} drives the rear wheel"


def _no_chain(solved: Solved) -> Answer:
    kind = solved.bike.record.final_drive.kind
    asks = " Its length and tension are for the maker's manual to say." if kind == "belt" else ""
    nothing = dict.fromkeys(("front_radius_m", "rear_radius_m", "center_now_m", "center_m", "links"))
    say = (f"No chain: a {kind} drives the rear wheel.{asks}",)
    series = {**nothing, "travel_m": (0.0, 0.0)}
    return solved.answer(QUESTION, say, (), series=series, notes=(no_chain_note(solved.bike),))


def _lengths(bike: Bike, place: ChainPlace, fit: ChainFit) -> Table:
    """Even chain lengths around the exact one and where each puts the axle."""
    assert place.center_now_m is not None
    middle, (least, most) = 2 * round(fit.links_exact / 2), place.travel_m
    links = np.arange(middle - 4, middle + 5, 2)
    center = center_distance_m(links, place.size.pitch_m, bike.front_teeth, bike.rear_teeth, outside="nan")
    shift = center - place.center_now_m
    return table_of(
        "Even chain lengths, new chain",
        ("links", "Links", "links", links),
        ("center", "Center distance", "length", center),
        ("shift", "Axle moves by", "small length", shift),
        ("within", "Within the travel", "yes or no", (least <= shift) & (shift <= most)),
        ("even", "Front teeth and links share no factor", "yes or no", np.gcd(bike.front_teeth, links) == 1),
    )
