"""The fit of one pair of sprockets in words: its record, what is assumed, what to note, and the sums with their numbers."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cache
from typing import Any

import numpy as np

from ridesim.components import chain_geometry as geometry
from ridesim.components.chain_geometry import COUNT_TEETH, FRONT_TEETH, REAR_TEETH
from ridesim.errors import whole
from ridesim.reference import read_table
from ridesim.units import either, in_unit, quantity

UNSEEN_M = 5e-5  # less than half the tenth of a millimeter that is shown


@cache
def chain_rule(name: str) -> float:
    """A rule of the table chain_rules, in SI.

    >>> float(round(chain_rule("wear_replace"), 6))
    0.02
    """
    row = next(row for row in read_table("chain_rules") if row["rule"] == name)
    return float(quantity(f"{row['value']} {row['unit']}", {"deg": "angle", "%": "ratio"}[row["unit"]], "", name))


@dataclass(frozen=True, kw_only=True, eq=False)
class ChainFit:
    """How a chain fits: of many pairs arrays of one shape, with nan where there is nothing to say; of one pair plain figures, with
    None there, and its words.

    links_exact             for the axle where it is now, new chain; nan where the sprockets would touch there
    links_to_order          the fitted count where the fitted chain will do, else that of the new chain; nan where none fits
    center_distance_m       with links_to_order, and from where the axle is now to there (rearward positive): axle_shift_m
    fitted_chain_will_do    judged with its wear; False everywhere without one
    fitted_links_over       links by which it is too long (+) or too short (-) for the nearest end of the travel, else 0
    new_links               even count of a new chain that puts the axle within its travel, nearest to where it is now
    new_axle_shift_m        where that puts it
    nearest_links           where no even count fits: the one that misses the travel least
    nearest_miss_m          and by how much: + beyond the rear end, - beyond the front end; 0 where one fits
    take_up_m               rearward travel left beyond the axle's place
    take_up_elongation      the further elongation, in parts of the new chain, that this takes up
    wrap_rad                of the chain on the smaller sprocket
    reason                  why links_to_order is nan, else empty
    assumptions, notes, steps   sentences about one pair; a step is a formula with its numbers in it
    """

    front_teeth: Any
    rear_teeth: Any
    links_exact: Any
    links_to_order: Any
    center_distance_m: Any
    axle_shift_m: Any
    fitted_chain_will_do: Any
    fitted_links_over: Any
    new_links: Any
    new_axle_shift_m: Any
    nearest_links: Any
    nearest_miss_m: Any
    take_up_m: Any
    take_up_elongation: Any
    wrap_rad: Any
    reason: Any
    assumptions: tuple[str, ...] = ()
    notes: tuple[str, ...] = ()
    steps: tuple[str, ...] = ()


@dataclass(frozen=True, kw_only=True)
class Drive:
    """What the words need to know beside the fit: new pitch, where the axle is and may go, the fitted chain and its wear."""

    pitch_m: float
    now_m: float
    most_m: float
    links: int | None
    wear: float


def _mm(length_m: float, sign: bool = False, decimals: int = 1) -> str:
    return f"{in_unit(length_m, 'mm', 'length'):{'+' if sign else ''}.{decimals}f} mm"


def _percent(share: float) -> str:
    return f"{in_unit(share, '%', 'ratio'):.1f} %"


@cache
def assumptions() -> tuple[str, ...]:
    """What every fit takes for granted.

    >>> len(assumptions())
    3
    """
    return (
        "new links have their nominal pitch; worn links share their wear evenly and lie on the sprockets at the longer pitch",
        "the chain runs taut: the slack its maker asks for lets the axle sit a little further forward "
        f"(a handbook takes {_percent(chain_rule('slack_share'))} of the center distance)",
        "the axle moves along the line to the countershaft: the wheelbase changes by as much as the axle moves",
    )


def notes_of(fit: ChainFit, drive: Drive, own_teeth: tuple[int, int] | None) -> tuple[str, ...]:
    """What the rider should know beside the figures.

    >>> from ridesim.components.chain_fit import fit_chain
    >>> fit_chain(front_teeth=15, rear_teeth=43, pitch_m=0.015875, center_distance_m=0.610,
    ...           travel_rearward_m=(-0.001, 0.002)).notes[0]
    'no even count of links puts the axle within its travel: 106 links miss it by 1.9 mm beyond the front end'
    """
    told = (_none_fits(fit), *_fitted(fit, drive), _measure_again(drive, own_teeth), *_wear(fit, drive), _wrap(fit))
    return tuple(note for note in told if note)


def _none_fits(fit: ChainFit) -> str:
    if not fit.reason or fit.nearest_miss_m is None:
        return str(fit.reason)
    end = "rear" if fit.nearest_miss_m > 0.0 else "front"
    miss = either("small length", abs(fit.nearest_miss_m))
    return f"{fit.reason}: {fit.nearest_links} links miss it by " + miss + f" beyond the {end} end"


def _fitted(fit: ChainFit, drive: Drive) -> tuple[str, ...]:
    if drive.links is None:
        return ("no fitted chain is given (final_drive.links): whether it will do is not said",)
    if fit.fitted_chain_will_do:
        if fit.new_links == drive.links:
            return ()
        if fit.new_links is None:
            return (
                f"the fitted chain of {drive.links} links will do as worn as it is, but no new one of even count would",
            )
        order = f"the fitted chain will do; to replace it order {fit.new_links} links: "
        return (order + _goes(fit.new_axle_shift_m),)
    over = fit.fitted_links_over
    if over is None:
        return (f"the fitted chain of {drive.links} links will not do: the sprockets would touch",)
    how = "long" if over > 0.0 else "short"
    return (f"the fitted chain of {drive.links} links is {abs(over):.1f} links too {how} for the axle's travel",)


def _goes(shift_m: float | None) -> str:
    """Where a new chain puts the axle."""
    if shift_m is None or abs(shift_m) < UNSEEN_M:
        return "the axle stays where it is"
    return "the axle moves " + either("small length", abs(shift_m)) + (" back" if shift_m > 0.0 else " forward")


def _measure_again(drive: Drive, own_teeth: tuple[int, int] | None) -> str:
    if own_teeth is None or drive.links is None:
        return ""
    front = whole("final_drive.front", own_teeth[0], *FRONT_TEETH, COUNT_TEETH)
    rear = whole("final_drive.rear", own_teeth[1], *REAR_TEETH, COUNT_TEETH)
    pitch = geometry.worn_pitch_m(drive.pitch_m, drive.wear)
    takes = float(geometry.links_exact(drive.now_m, pitch, front, rear, outside="nan"))
    if abs(takes - drive.links) <= 1.0:
        return ""
    said = "a center distance of " + either("small length", drive.now_m) + f" with {front}/{rear} teeth "
    found = "lets the sprockets touch" if np.isnan(takes) else f"takes {takes:.1f} links, not the {drive.links} fitted"
    return said + f"{found}: measure the center distance again, or count the links and teeth again"


def _wear(fit: ChainFit, drive: Drive) -> tuple[str, ...]:
    replace, never = chain_rule("wear_replace"), chain_rule("wear_never_beyond")
    rule = f"replace at {_percent(replace)}, never beyond {_percent(never)} (common practice, no source; the maker's limit wins)"
    notes = []
    if drive.wear >= replace:
        notes.append(f"the fitted chain is worn by {_percent(drive.wear)}: {rule}")
    if fit.take_up_elongation is not None and fit.take_up_m is not None:
        worn = drive.wear if fit.fitted_chain_will_do else 0.0
        if worn < replace and worn + fit.take_up_elongation < replace:
            notes.append(
                either("small length", fit.take_up_m)
                + f" of travel is left, which takes up {_percent(fit.take_up_elongation)} of further wear: "
                "the adjuster ends before the chain is worn out"
            )
    return tuple(notes)


def _wrap(fit: ChainFit) -> str:
    least = chain_rule("least_wrap")
    if fit.wrap_rad is None or fit.wrap_rad >= least:
        return ""
    found, wanted = (f"{in_unit(angle, 'deg', 'angle'):.0f} degrees" for angle in (fit.wrap_rad, least))
    return f"the chain lies on only {found} of the small sprocket; handbooks ask for {wanted} so that it does not jump"


def steps_of(fit: ChainFit, drive: Drive) -> tuple[str, ...]:
    """The sums, each formula with the numbers in it.

    >>> from ridesim.components.chain_fit import fit_chain
    >>> fit_chain(front_teeth=16, rear_teeth=45, pitch_m=0.015875, center_distance_m=0.610,
    ...           travel_rearward_m=(-0.008, 0.030)).steps[0]
    'R = p/(2 sin(pi/z)): R1 = 15.875 mm/(2 sin(pi/16)) = 40.69 mm, R2 = 15.875 mm/(2 sin(pi/45)) = 113.79 mm'
    """
    z1, z2, p, c = fit.front_teeth, fit.rear_teeth, drive.pitch_m, drive.now_m
    r1, r2 = (float(geometry.pitch_radius_m(p, z)) for z in (z1, z2))
    hand = float(geometry.links_handbook(c, p, z1, z2))  # which refuses sprockets that touch
    lean = float(np.arcsin((r2 - r1) / c))
    mm, pitch = in_unit(c, "mm", "length"), in_unit(p, "mm", "length")
    radii = ", ".join(
        f"R{n} = {_mm(p, decimals=3)}/(2 sin(pi/{z})) = {_mm(r, decimals=2)}" for n, z, r in ((1, z1, r1), (2, z2, r2))
    )
    steps = [
        f"R = p/(2 sin(pi/z)): {radii}",
        f"sin a = (R2 - R1)/C: ({_mm(r2, decimals=2)} - {_mm(r1, decimals=2)})/{_mm(c)}, a = {lean:.5f} rad",
        "X = 2 C/p cos a + z1 (pi - 2a)/(2 pi) + z2 (pi + 2a)/(2 pi): "
        f"2 x {mm:.1f}/{pitch:.3f} x {np.cos(lean):.5f} + {z1} x {0.5 - lean / np.pi:.5f} + {z2} x {0.5 + lean / np.pi:.5f} "
        f"= {fit.links_exact:.3f} links",
        f"X = 2 C/p + (z1 + z2)/2 + ((z2 - z1)/(2 pi))^2 p/C (handbook form): {hand:.3f} links",
    ]
    if fit.links_to_order is None or fit.center_distance_m is None or fit.axle_shift_m is None:
        return tuple(steps)
    if fit.fitted_chain_will_do:
        steps.append(
            f"p (1 + e): {_mm(p, decimals=3)} x (1 + {drive.wear:.4f}) = {_mm(p * (1.0 + drive.wear), decimals=3)}"
        )
    steps.append(
        f"C solved from X = {fit.links_to_order}: {_mm(fit.center_distance_m, decimals=2)}, "
        f"shift {_mm(fit.center_distance_m, decimals=2)} - {_mm(c, decimals=2)} = {_mm(fit.axle_shift_m, True, 2)}"
    )
    worn = drive.wear if fit.fitted_chain_will_do else 0.0
    steps.append(
        f"further wear taken up = (1 + e)((C now + travel)/C - 1): (1 + {worn:.4f}) x ({_mm(c + drive.most_m, decimals=2)}/"
        f"{_mm(fit.center_distance_m, decimals=2)} - 1) = {_percent(fit.take_up_elongation or 0.0)}"
    )
    return tuple(steps)
