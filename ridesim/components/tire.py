"""A tire on the road: what it rolls out in one turn, how well that is known, what load and speed it may carry."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

from ridesim.components.tire_dimensions import (
    chord_rolling_circumference_m,
    free_radius_of_rolling_m,
    loaded_radius_m,
    worn_diameter_m,
)
from ridesim.components.tire_marking import TireMarking
from ridesim.errors import InputError, did_you_mean, one
from ridesim.reference import cite, read_table
from ridesim.units import TWO_PI, either, in_both

Position = Literal["front", "rear"]

DEFLECTION_M = {"rear": 0.008, "front": 0.006}  # assumption: static, rider seated, pressures as the maker states
# The chord model fits cross-ply tires: bicycle roll-outs stand at 0.993 to 0.995 of pi D (from memory). Belted ones roll up to 3 % less
# than it says: ETRTO's 3.05 D for radials at full load (from memory), and a tire engineer's "about 3 % under the free circumference".
CHORD_LOW, CHORD_HIGH = 0.02, 0.007
ROLL_OUT_SPREAD = 0.003  # assumption: reading the chalk marks, and pressure on the day
POSITIVE = (1e-12, 1e12)
FAR_OFF = 0.15  # a roll-out this far from the marking is a slip of the pen, not a tire
DOUBTFUL = 0.04  # a roll-out this far from the marking is worth measuring again


@dataclass(frozen=True, kw_only=True)
class RollingTire:
    """One tire as it rolls under its rider.

    marking                the parsed marking
    position               "front" or "rear"
    circumference_m        way rolled in one turn [m]
    low_m, high_m          its band [m]
    free_radius_m          half the outer diameter as worn, unloaded [m]
    loaded_radius_m        height of the axle above the ground [m]
    section_width_m        nominal [m]
    deflection_m           how far the tire is pressed in [m]
    measured               True when the circumference is a roll-out, False when the chord model made it
    assumptions, notes     in words
    steps                  formulas with the numbers in
    """

    marking: TireMarking
    position: Position
    circumference_m: float
    low_m: float
    high_m: float
    free_radius_m: float
    loaded_radius_m: float
    section_width_m: float
    deflection_m: float
    measured: bool
    assumptions: tuple[str, ...]
    notes: tuple[str, ...]
    steps: tuple[str, ...]

    @property
    def rolling_radius_m(self) -> float:
        """Circumference over 2 pi. [m]"""
        return self.circumference_m / TWO_PI


def rolling_tire(
    marking: TireMarking,
    *,
    rollout_m: float | None = None,
    deflection_m: float | None = None,
    worn_m: float = 0.0,
    position: Position = "rear",
    where: str = "",
) -> RollingTire:
    """What a tire rolls out: the measured roll-out when there is one, else the chord model on its marking.

    Parameters
    ----------
    marking : TireMarking
    rollout_m : float, optional
        Way rolled in one turn, measured under the rider; it wins. Its own +- is used when it carries one. [m]
    deflection_m : float, optional
        How far the tire is pressed in; 8 mm rear and 6 mm front are assumed. [m]
    worn_m : float
        Tread depth lost; not taken off again from a measured roll-out. [m]
    position : "front" or "rear"
    where : str
        The path to name in an error, "tires.rear" by default.

    Returns
    -------
    RollingTire

    Raises
    ------
    InputError
        A deflection, wear or roll-out that no such tire can have, or an unknown position.

    Examples
    --------
    >>> from ridesim.components.tire_marking import parse_marking
    >>> tire = rolling_tire(parse_marking("120/90-17 M/C 64S"))
    >>> round(tire.circumference_m, 3), round(tire.low_m, 3), round(tire.high_m, 3)
    (2.019, 1.979, 2.033)
    """
    if position not in DEFLECTION_M:
        raise InputError(where or "position", position, "is no place of a tire", did_you_mean(position, DEFLECTION_M))
    where = where or f"tires.{position}"
    assumptions: list[str] = []
    if deflection_m is None:
        deflection_m = DEFLECTION_M[position]
        by = either("small length", deflection_m)
        assumptions.append(f"Static deflection of the {position} tire assumed " + by + ".")
    deflection_m, worn_m = float(deflection_m), float(worn_m)
    height_m = marking.section_height_m
    _possible(f"{where}.worn", worn_m, height_m, "Give the tread depth that is gone, from nothing to a few mm.")
    pressed = "Give how far the tire is pressed in under the rider, a few mm."
    _possible(f"{where}.deflection", deflection_m, height_m - worn_m, pressed)
    notes = [*marking.notes, *_wear_notes(worn_m)]
    if deflection_m > 0.25 * height_m:
        notes.append("The tire is pressed in by more than a quarter of its height: check the pressure before riding.")
    free_m, chord_m, steps = _by_chord_model(marking, worn_m, deflection_m)
    if rollout_m is None:
        circumference_m = chord_m
        below_m, above_m = (chord_m * share for share in _chord_spread(marking, assumptions))
    else:
        circumference_m, below_m = _measured(rollout_m, chord_m, worn_m, where, assumptions, notes)
        above_m = below_m
        steps.append(f"measured roll-out U = {circumference_m:.5g} m, used instead")
        free_m = free_radius_of_rolling_m(circumference_m, deflection_m)
        steps.append(f"free radius that rolls so by the chord model: Rg = {free_m:.5g} m")
    steps.append(f"rolling radius r = U / 2 pi = {circumference_m:.5g} m / 2 pi = {circumference_m / TWO_PI:.5g} m")
    return RollingTire(
        marking=marking,
        position=position,
        circumference_m=circumference_m,
        low_m=circumference_m - below_m,
        high_m=circumference_m + above_m,
        free_radius_m=free_m,
        loaded_radius_m=float(loaded_radius_m(free_m, deflection_m)),
        section_width_m=marking.section_width_m,
        deflection_m=deflection_m,
        measured=rollout_m is not None,
        assumptions=tuple(assumptions),
        notes=tuple(notes),
        steps=tuple(steps),
    )


def _by_chord_model(marking: TireMarking, worn_m: float, deflection_m: float) -> tuple[float, float, list[str]]:
    """Free radius, rolling circumference and steps from the marking alone."""
    diameter_m = marking.overall_diameter_m
    free_m = float(worn_diameter_m(diameter_m, worn_m)) / 2.0
    chord_m = float(chord_rolling_circumference_m(free_m, deflection_m))
    return (
        free_m,
        chord_m,
        [
            f"outer diameter D = d + 2 H = {marking.rim_diameter_m:.3f} m + 2 x {marking.section_height_m:.4g} m "
            f"= {diameter_m:.4g} m",
            f"free radius Rg = D/2 - depth lost = {diameter_m / 2:.5g} m - {worn_m:.4g} m = {free_m:.5g} m",
            f"chord model: cos t = (Rg - deflection)/Rg = ({free_m:.5g} - {deflection_m:.4g})/{free_m:.5g}, "
            f"U = 2 pi Rg sin(t)/t = {chord_m:.5g} m",
        ],
    )


def _possible(where: str, value_m: float, height_m: float, fix: str) -> None:
    if not 0.0 <= value_m < height_m:  # also false for NaN
        problem = f"is not between nothing and the {in_both('length', height_m)} of tire above the rim"
        raise InputError(where, value_m, problem, fix)


def _chord_spread(marking: TireMarking, assumptions: list[str]) -> tuple[float, float]:
    """How far below and above the chord model the tire may roll, as shares."""
    assumptions.append(
        f"Rolling circumference by the chord model, -{100 * CHORD_LOW:g} % to +{100 * CHORD_HIGH:g} % assumed: it fits "
        "cross-ply tires, and belted ones roll up to 3 % less; a roll-out under the rider is better."
    )
    if marking.system == "metric":
        return CHORD_LOW, CHORD_HIGH
    more = marking.diameter_tolerance
    assumptions.append(f"Another +-{100 * more:.0f} % for the {marking.system} marking.")
    return CHORD_LOW + more, CHORD_HIGH + more


def _measured(
    rollout_m: float, chord_m: float, worn_m: float, where: str, assumptions: list[str], notes: list[str]
) -> tuple[float, float]:
    """The roll-out and its spread, after a look at whether it can belong to this tire."""
    measured_m = float(rollout_m)
    off = measured_m / chord_m - 1.0
    if not abs(off) <= FAR_OFF:  # also true for NaN
        problem = f"does not belong to this marking, which rolls {in_both('length', chord_m)} a turn"
        fix = "Check the size, and give the way rolled in one single turn."
        raise InputError(f"{where}.rollout", measured_m, problem, fix)
    if abs(off) > DOUBTFUL:
        notes.append(
            f"The roll-out is {100 * off:+.1f} % off the marking's "
            + either("length", chord_m)
            + ": measure again, and check the size."
        )
    if worn_m:
        assumptions.append("The roll-out was measured on the tire as it is now; its wear is not taken off again.")
    own_m = float(getattr(rollout_m, "plus_minus", 0.0))
    if own_m > 0.0:
        return measured_m, own_m
    assumptions.append(f"Measured roll-out assumed good to +-{100 * ROLL_OUT_SPREAD:.1f} %.")
    return measured_m, measured_m * ROLL_OUT_SPREAD


def _wear_notes(worn_m: float) -> list[str]:
    if not worn_m:
        return []
    rows = {row["key"]: row for row in read_table("tread_depth")}
    deepest, least = rows["new_enduro_most"], rows["least_uk"]
    notes: list[str] = [
        "The law sets the least tread depth left, such as "
        + either("small length", float(least["depth_mm"]) / 1000.0)
        + f" ({cite(least)}); local rules and the tire's wear bars decide."
    ]
    deepest_m = float(deepest["depth_mm"]) / 1000.0
    if worn_m > deepest_m:
        notes.append(
            "More tread is gone than even an off-road tire has when new, "
            + either("small length", deepest_m)
            + f" ({cite(deepest)}): measure again."
        )
    return notes


def load_allowed(marking: TireMarking, load_kg: float) -> bool | None:
    """Whether a tire may carry what rests on it:  load <= capacity of the load index; None where the marking has none.

    Parameters
    ----------
    marking : TireMarking
    load_kg : float
        What this one tire carries, rider and luggage on. [kg]

    Raises
    ------
    InputError
        A mass that is not positive and finite.

    Examples
    --------
    >>> from ridesim.components.tire_marking import parse_marking
    >>> tire = parse_marking("120/90-17 64S")
    >>> load_allowed(tire, 145.0), load_allowed(tire, 300.0), load_allowed(parse_marking("120/90-17"), 145.0)
    (True, False, None)
    """
    load = one("load_kg", load_kg, *POSITIVE, "kg", "Give the mass this tire carries.")
    return None if marking.load_capacity_kg is None else load <= marking.load_capacity_kg


def speed_allowed(marking: TireMarking, top_speed_m_s: float) -> bool | None:
    """Whether a tire may go as fast as the bike:  top speed <= limit of the speed symbol.

    Parameters
    ----------
    marking : TireMarking
    top_speed_m_s : float
        The fastest the bike can go. [m/s]

    Returns
    -------
    bool or None
        None where the marking says nothing, and above a limit that is a floor: only the tire's maker says how much more.

    Raises
    ------
    InputError
        A speed that is not positive and finite.

    Examples
    --------
    >>> from ridesim.components.tire_marking import parse_marking
    >>> [speed_allowed(parse_marking(f"120/90-17 {mark}"), 69.0) for mark in ("64H", "64V", "(64V)")]
    [False, False, None]
    """
    top = one("top_speed_m_s", top_speed_m_s, *POSITIVE, "m/s", "Give the fastest the bike can go.")
    if marking.speed_limit_m_s is None:
        return None
    return True if top <= marking.speed_limit_m_s else None if marking.speed_limit_is_floor else False
