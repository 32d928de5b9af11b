"""Which chain fits a pair of sprockets: links to order, where the axle ends up, whether the fitted chain will do."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from functools import cache
from types import MappingProxyType
from typing import Any

import numpy as np
from numpy.typing import NDArray

from ridesim.errors import InputError, did_you_mean
from ridesim.parts.chain_geometry import (
    centre_distance_handbook_m,
    centre_distance_m,
    chain_pull_n,
    even_wear_turns,
    links_exact,
    links_handbook,
    pitch_radius_m,
    require_teeth,
    share_of_strength,
    speed_ripple,
    worn_pitch_m,
    wrap_angle_rad,
)
from ridesim.tables import cite, read_table

__all__ = [
    "CAUTIONS",
    "ChainFit",
    "ChainFits",
    "ChainSize",
    "centre_distance_handbook_m",
    "centre_distance_m",
    "chain_pull_n",
    "chain_size",
    "chain_sizes",
    "even_wear_turns",
    "fit_chain",
    "fit_chains",
    "links_exact",
    "links_handbook",
    "pitch_radius_m",
    "require_teeth",
    "share_of_strength",
    "speed_ripple",
    "worn_pitch_m",
    "wrap_angle_rad",
]

FRONT_TEETH, REAR_TEETH = (
    (6, 40),
    (12, 100),
)  # what countershaft and wheel sprockets of motorcycles are made in, with room
REACH = 3  # even counts looked at on either side of the exact length: beyond, no adjuster reaches
WEAR_LIMIT = 0.02  # common practice, no source: replace at two per cent, never beyond three

CAUTIONS = (
    "Measure before the chain is cut: axle place, slack under the rider's weight and clearance to swingarm, guard and slider.",
    "A small front sprocket runs the chain harder over the swingarm slider and bends it more: look at the slider often.",
    "Change chain and both sprockets together; fit and check the joining link as its maker says, and align the wheel.",
    "Slack and axle torque are the maker's to state; a chain too tight breaks bearings, one too slack comes off.",
)


@dataclass(frozen=True, kw_only=True)
class ChainSize:
    """A size of chain. The tensile strength is from memory: an assumption, never a rating to build on."""

    designation: str
    pitch_m: float
    roller_diameter_m: float | None
    inner_width_m: float | None
    minimum_tensile_n: float | None
    source: str


@cache
def chain_sizes() -> Mapping[str, ChainSize]:
    """The sizes known here by designation."""

    def metres(text: str) -> float | None:
        return float(text) / 1e3 if text else None

    return MappingProxyType(
        {
            row["designation"]: ChainSize(
                designation=row["designation"],
                pitch_m=float(row["pitch_mm"]) / 1e3,
                roller_diameter_m=metres(row["roller_diameter_mm"]),
                inner_width_m=metres(row["inner_width_mm"]),
                minimum_tensile_n=float(row["tensile_kn_from_memory"]) * 1e3 if row["tensile_kn_from_memory"] else None,
                source=cite(row),
            )
            for row in read_table("chain_sizes")
        }
    )


def chain_size(designation: str) -> ChainSize:
    """A chain by its designation ("520"); InputError with the near ones when it is not known.

    >>> chain_size("520").pitch_m
    0.015875
    """
    known = chain_sizes()
    name = str(designation).strip()
    if name not in known:
        raise InputError("final_drive.chain", designation, "is not a chain size known here", did_you_mean(name, known))
    return known[name]


@dataclass(frozen=True, kw_only=True, eq=False)
class ChainFits:
    """Fits of many pairs, arrays of one shape. links_to_order is 0 where no even chain puts the axle within its travel.

    links_exact             for the axle where it is now, new chain
    links_to_order          the fitted count where the fitted chain will do
    centre_distance_m       with that chain; nan where there is none
    axle_shift_m            from where the axle is now, rearward positive
    fitted_chain_will_do    judged with its wear
    fitted_shift_m          where the fitted chain puts the axle; nan without one
    fitted_links_over       links by which the fitted chain is too long (+) or too short (-) for the nearest end of the travel, else 0
    nearest_miss_m          how far beyond the travel the best even chain puts the axle, else 0
    """

    links_exact: NDArray[np.float64]
    links_to_order: NDArray[np.int64]
    centre_distance_m: NDArray[np.float64]
    axle_shift_m: NDArray[np.float64]
    fitted_chain_will_do: NDArray[np.bool_]
    fitted_shift_m: NDArray[np.float64]
    fitted_links_over: NDArray[np.float64]
    nearest_miss_m: NDArray[np.float64]


def fit_chains(
    *,
    front_teeth: Any,
    rear_teeth: Any,
    pitch_m: float,
    centre_distance_m_now: float,
    travel_m: tuple[float, float],
    fitted_links: int | None = None,
    wear: float = 0.0,
) -> ChainFits:
    """How a chain fits every pair.

    Parameters
    ----------
    front_teeth, rear_teeth : int arrays that broadcast
    pitch_m : float
        New chain. [m]
    centre_distance_m_now : float
        Countershaft to rear axle as it is. [m]
    travel_m : (forward, rearward)
        How far the axle may go from there; forward is negative. [m]
    fitted_links : int, optional
        Of the chain that is on the bike.
    wear : float
        Its elongation. [-]
    """
    _check(front_teeth, rear_teeth, pitch_m, centre_distance_m_now, travel_m, fitted_links, wear)
    z1, z2 = np.broadcast_arrays(np.asarray(front_teeth, dtype=int), np.asarray(rear_teeth, dtype=int))
    now = float(centre_distance_m_now)
    least, most = float(travel_m[0]), float(travel_m[1])
    slack = 1e-9
    exact = np.asarray(links_exact(now, pitch_m, z1, z2), dtype=float)
    middle = 2 * np.round(np.nan_to_num(exact) / 2).astype(int)
    counts = middle[..., None] + 2 * np.arange(-REACH, REACH + 1)
    shifts = np.asarray(centre_distance_m(counts, pitch_m, z1[..., None], z2[..., None])) - now
    miss = np.where(np.isfinite(shifts), np.maximum(np.maximum(shifts - most, least - shifts), 0.0), np.inf)
    within = miss <= slack
    rank = np.where(within, np.abs(shifts), np.where(np.isfinite(miss), 1e3 + miss, np.inf))
    best = np.argmin(rank, axis=-1)

    def chosen(values: Any) -> Any:
        return np.take_along_axis(np.asarray(values), best[..., None], axis=-1)[..., 0]

    some = within.any(axis=-1)
    order = np.where(some, chosen(counts), 0)
    shift = np.where(some, chosen(shifts), np.nan)
    if fitted_links is None:
        nothing = np.full(exact.shape, np.nan)
        will_do, fitted_shift, over = np.zeros(exact.shape, bool), nothing, nothing
    else:
        worn = worn_pitch_m(pitch_m, wear)
        fitted_shift = np.asarray(centre_distance_m(fitted_links, worn, z1, z2)) - now
        will_do = (fitted_shift >= least - slack) & (fitted_shift <= most + slack)
        longest, shortest = links_exact(now + most, worn, z1, z2), links_exact(now + least, worn, z1, z2)
        over = np.where(will_do, 0.0, np.where(fitted_links > longest, fitted_links - longest, fitted_links - shortest))
        order = np.where(will_do, fitted_links, order)
        shift = np.where(will_do, fitted_shift, shift)
    return ChainFits(
        links_exact=exact,
        links_to_order=order,
        centre_distance_m=now + shift,
        axle_shift_m=shift,
        fitted_chain_will_do=will_do,
        fitted_shift_m=fitted_shift,
        fitted_links_over=over,
        nearest_miss_m=np.where(some | will_do, 0.0, chosen(miss)),
    )


@dataclass(frozen=True, kw_only=True)
class ChainFit:
    """The fit of one pair in plain figures; links_to_order is None when no even chain puts the axle within its travel."""

    front_teeth: int
    rear_teeth: int
    links_exact: float
    links_to_order: int | None
    centre_distance_m: float | None
    axle_shift_m: float | None
    fitted_chain_will_do: bool | None
    take_up_m: float | None
    take_up_elongation: float | None
    assumptions: tuple[str, ...]
    notes: tuple[str, ...]
    steps: tuple[str, ...]


def fit_chain(
    *,
    front_teeth: int,
    rear_teeth: int,
    pitch_m: float,
    centre_distance_m_now: float,
    travel_m: tuple[float, float],
    fitted_links: int | None = None,
    wear: float = 0.0,
    own_teeth: tuple[int, int] | None = None,
) -> ChainFit:
    """How a chain fits one pair; see fit_chains.

    own_teeth are the sprockets the axle's present place was measured with: when the fitted chain disagrees with that
    place by more than a link, a note says to measure again.

    >>> fit = fit_chain(front_teeth=16, rear_teeth=45, pitch_m=0.015875, centre_distance_m_now=0.61, travel_m=(-0.008, 0.03), fitted_links=108)
    >>> fit.links_to_order, fit.fitted_chain_will_do, round(1e3 * fit.axle_shift_m, 2)
    (108, True, 0.76)
    """
    many = fit_chains(
        front_teeth=front_teeth,
        rear_teeth=rear_teeth,
        pitch_m=pitch_m,
        centre_distance_m_now=centre_distance_m_now,
        travel_m=travel_m,
        fitted_links=fitted_links,
        wear=wear,
    )
    order = int(many.links_to_order)
    centre = float(many.centre_distance_m) if order else None
    shift = float(many.axle_shift_m) if order else None
    exact = float(many.links_exact)
    if not np.isfinite(exact):
        raise InputError(
            "final_drive.centre_distance",
            f"{centre_distance_m_now:.4f} m",
            f"is less than the sprockets {front_teeth}/{rear_teeth} need side by side",
            "Measure from the middle of the countershaft to the middle of the axle.",
        )
    take_up = None if shift is None else travel_m[1] - shift
    stretch = None
    if centre is not None and take_up is not None:
        pitch = worn_pitch_m(pitch_m, wear) if many.fitted_chain_will_do else pitch_m
        stretch = float(order / links_exact(centre, pitch, front_teeth, rear_teeth))
        longest = float(links_exact(centre + take_up, pitch, front_teeth, rear_teeth))
        stretch = longest / order - 1.0
    notes = _notes(many, order, fitted_links, wear, pitch_m, centre_distance_m_now, own_teeth, stretch)
    steps = (
        (f"C for {order} links: the two-circle form solved for C = {centre:.4f} m, {1e3 * (shift or 0.0):+.1f} mm",)
        if centre is not None
        else ()
    )
    return ChainFit(
        front_teeth=front_teeth,
        rear_teeth=rear_teeth,
        links_exact=exact,
        links_to_order=order or None,
        centre_distance_m=centre,
        axle_shift_m=shift,
        fitted_chain_will_do=None if fitted_links is None else bool(many.fitted_chain_will_do),
        take_up_m=take_up,
        take_up_elongation=stretch,
        assumptions=("new links have the nominal pitch; a worn chain lies at its own longer pitch (assumption)",),
        notes=notes,
        steps=steps,
    )


def _notes(
    many: ChainFits,
    order: int,
    fitted_links: int | None,
    wear: float,
    pitch_m: float,
    centre_now: float,
    own_teeth: tuple[int, int] | None,
    stretch: float | None,
) -> tuple[str, ...]:
    notes = []
    if not order:
        notes.append(
            f"no even chain puts the axle within its travel: the nearest misses it by {1e3 * float(many.nearest_miss_m):.1f} mm"
        )
    if fitted_links is None:
        notes.append("no fitted chain is given (final_drive.links): whether it will do is not said")
    elif not many.fitted_chain_will_do and np.isfinite(many.fitted_links_over):
        over = float(many.fitted_links_over)
        notes.append(
            f"the fitted chain of {fitted_links} links is {abs(over):.1f} links too {'long' if over > 0 else 'short'}"
        )
    if wear > WEAR_LIMIT:
        notes.append(
            f"chain elongation of {100 * wear:.1f} %: replace at 2 %, never beyond 3 % (common practice, no source)"
        )
    if stretch is not None and stretch < 0.01:
        notes.append(f"the adjuster has room for only {100 * stretch:.1f} % more elongation: measure before ordering")
    if own_teeth is not None and fitted_links is not None:
        length = float(links_exact(centre_now, worn_pitch_m(pitch_m, wear), *own_teeth))
        if abs(length - fitted_links) > 1.0:
            notes.append(
                f"the stated centre distance with {own_teeth[0]}/{own_teeth[1]} takes {length:.1f} links, not the {fitted_links} fitted: "
                "measure the centre distance, or count the links, again"
            )
    return tuple(notes)


def _check(
    front: Any, rear: Any, pitch: Any, centre: Any, travel: tuple[float, float], fitted: int | None, wear: float
) -> None:
    require_teeth("final_drive.front", front, *FRONT_TEETH)
    require_teeth("final_drive.rear", rear, *REAR_TEETH)
    if not (np.isfinite(pitch) and 0.003 <= pitch <= 0.06):
        raise InputError(
            "chain pitch", pitch, "must be a pitch between 3 and 60 mm", "Name the chain size, such as 520."
        )
    if not (np.isfinite(centre) and 0.1 <= centre <= 2.0):
        raise InputError(
            "final_drive.centre_distance", centre, "must be between 0.1 and 2 m", "Measure countershaft to axle."
        )
    if not (np.isfinite(travel).all() and travel[0] <= travel[1]):
        raise InputError(
            "final_drive.axle_travel", list(travel), "must go from forward to rearward", "Forward is negative."
        )
    if fitted is not None and not (isinstance(fitted, int) and not isinstance(fitted, bool) and 30 <= fitted <= 250):
        raise InputError(
            "final_drive.links", fitted, "must be a whole number of links from 30 to 250", "Count the links."
        )
    if not (np.isfinite(wear) and 0.0 <= wear <= 0.1):
        raise InputError(
            "final_drive.chain_wear", wear, "must be an elongation from 0 to 10 %", "Measure over 20 pitches."
        )
