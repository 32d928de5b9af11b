"""Which chain fits a pair of sprockets: links to order, where the axle ends up, whether the fitted chain will do.

All pairs are worked out at once (fit_chains); one pair is the same sum with its words beside it (fit_chain).
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import Any

import numpy as np
from numpy.typing import NDArray

from ridesim.components import chain_geometry as geometry
from ridesim.components.chain_geometry import COUNT_LINKS, COUNT_TEETH, FRONT_TEETH, LINKS, REAR_TEETH, Floats
from ridesim.components.chain_words import ChainFit, Drive, assumptions, notes_of, steps_of
from ridesim.errors import InputError, one, whole, wholes
from ridesim.units import in_both

PITCHES_M = (0.003, 0.06)  # from clockwork to heavy industry: a pitch outside is a slip of the unit
CENTERS_M = (0.1, 2.0)  # no motorcycle is outside
MOST_TRAVEL_M = 0.5  # ten times what an adjuster has
SLACK_M = 1e-9  # an axle this far past the end of its travel is there by rounding
NO_EVEN_COUNT = "no even count of links puts the axle within its travel"
SPROCKETS_TOUCH = "the sprockets would touch wherever the axle is in its travel"


@dataclass(frozen=True, kw_only=True)
class _Place:
    """Sprocket pairs, and where the axle is and may go."""

    z1: NDArray[np.int64]
    z2: NDArray[np.int64]
    pitch_m: float
    now_m: float
    least_m: float
    most_m: float

    def center(self, links: Any, pitch_m: float) -> Floats:
        return np.asarray(geometry.center_distance_m(links, pitch_m, self.z1, self.z2, outside="nan"))

    def length(self, center_m: Any, pitch_m: Any) -> Floats:
        return np.asarray(geometry.links_exact(center_m, pitch_m, self.z1, self.z2, outside="nan"))

    def length_of_travel(self, pitch_m: float) -> tuple[Floats, Floats]:
        """Links for the front and the rear end; the front end is where the sprockets come clear, if that is behind it."""
        clear = np.asarray(geometry.touching_distance_m(pitch_m, self.z1, self.z2)) * (1.0 + 1e-9)
        front = np.maximum(self.now_m + self.least_m, clear)
        return self.length(front, pitch_m), self.length(self.now_m + self.most_m, pitch_m)


def fit_chains(
    *,
    front_teeth: Any,
    rear_teeth: Any,
    pitch_m: float,
    center_distance_m: float,
    travel_rearward_m: tuple[float, float],
    fitted_links: int | None = None,
    wear: float = 0.0,
) -> ChainFit:
    """How a chain fits every pair of sprockets.

    Parameters
    ----------
    front_teeth, rear_teeth : int or array
        They broadcast: 6 to 40 and 12 to 100 teeth. [-]
    pitch_m : float
        Of a new chain. [m]
    center_distance_m : float
        Countershaft to rear axle, as it is now. [m]
    travel_rearward_m : (least, most)
        How far the axle may go from where it is now; rearward positive, so that least is 0 or negative. [m]
    fitted_links : int, optional
        Even count of the chain that is on the bike. [links]
    wear : float
        Elongation of the fitted chain, 0 to 0.1. [-]

    Returns
    -------
    ChainFit

    Raises
    ------
    InputError
        A figure no motorcycle has, travel the wrong way round, an odd count of links.

    Examples
    --------
    Three front sprockets on a bike whose axle can go 8 mm forward and 30 mm back:

    >>> fits = fit_chains(front_teeth=[14, 15, 16], rear_teeth=45, pitch_m=0.015875, center_distance_m=0.6145,
    ...                   travel_rearward_m=(-0.008, 0.030), fitted_links=108)
    >>> fits.links_to_order.tolist(), [round(1e3 * shift, 1) for shift in fits.axle_shift_m.tolist()]
    ([108.0, 108.0, 108.0], [3.6, -0.1, -3.7])
    """
    z1 = wholes("final_drive.front", front_teeth, *FRONT_TEETH, COUNT_TEETH)
    z2 = wholes("final_drive.rear", rear_teeth, *REAR_TEETH, COUNT_TEETH)
    try:
        z1, z2 = np.broadcast_arrays(z1, z2)
    except ValueError:
        raise InputError("final_drive.rear", z2.shape, f"does not pair with front teeth of shape {z1.shape}") from None
    place = _place(z1, z2, pitch_m, center_distance_m, travel_rearward_m)
    stretch = one("final_drive.chain_wear", wear, 0.0, geometry.MOST_ELONGATION, "", "0.02 is two percent.")
    new = _new_chain(place)
    will_do, shift_fitted, over = _fitted_chain(place, fitted_links, stretch)

    order = np.where(will_do, np.nan if fitted_links is None else float(fitted_links), new["new_links"])
    shift = np.where(will_do, shift_fitted, new["new_axle_shift_m"])
    center, worn = place.now_m + shift, np.where(will_do, stretch, 0.0)
    touch = ~np.isfinite(place.length_of_travel(pitch_m)[1])
    reason = np.where(np.isfinite(order), "", np.where(touch, SPROCKETS_TOUCH, NO_EVEN_COUNT))
    return ChainFit(
        front_teeth=z1,
        rear_teeth=z2,
        links_exact=place.length(place.now_m, place.pitch_m),
        links_to_order=order,
        center_distance_m=center,
        axle_shift_m=shift,
        fitted_chain_will_do=will_do,
        fitted_links_over=over,
        **new,
        take_up_m=place.most_m - shift,
        take_up_elongation=(1.0 + worn) * ((place.now_m + place.most_m) / center - 1.0),
        wrap_rad=np.asarray(
            geometry.wrap_angle_rad(center, geometry.worn_pitch_m(place.pitch_m, worn), z1, z2, outside="nan")
        ),
        reason=reason,
    )


def _place(z1: Any, z2: Any, pitch_m: Any, center_distance_m: Any, travel_rearward_m: Any) -> _Place:
    where, fix = (
        "final_drive.axle_travel",
        "Measure both ways from where the axle is now: forward negative, rearward positive.",
    )
    try:
        least_given, most_given = travel_rearward_m
    except (TypeError, ValueError):
        raise InputError(where, travel_rearward_m, "must be two lengths", fix) from None
    far = f"must be lengths within {in_both('length', MOST_TRAVEL_M)} of where the axle is now"
    least, most = (
        one(where, end, -MOST_TRAVEL_M, MOST_TRAVEL_M, fix=fix, problem=far) for end in (least_given, most_given)
    )
    if least > most:
        raise InputError(where, [least_given, most_given], "must go from forward to rearward", fix)
    p_text, c_text = (f"must be from {in_both('length', *ends)}" for ends in (PITCHES_M, CENTERS_M))
    axle = "Measure countershaft to rear axle."
    return _Place(
        z1=z1,
        z2=z2,
        pitch_m=one("chain pitch", pitch_m, *PITCHES_M, fix="Name the chain size, such as 520.", problem=p_text),
        now_m=one("final_drive.centre_distance", center_distance_m, *CENTERS_M, fix=axle, problem=c_text),
        least_m=least,
        most_m=most,
    )


def _new_chain(place: _Place) -> dict[str, Any]:
    """The even count nearest to where the axle is now within the travel; failing that, the one that misses it least."""
    shortest, longest = place.length_of_travel(place.pitch_m)
    lowest, highest = 2.0 * np.ceil(shortest / 2.0 - 1e-9), 2.0 * np.floor(longest / 2.0 + 1e-9)
    fits = highest >= lowest  # False where one of them is nan: the sprockets touch
    exact = place.length(place.now_m, place.pitch_m)
    below = 2.0 * np.floor(np.where(np.isfinite(exact), exact, shortest) / 2.0)
    # with none in the travel, lowest lies just behind its rear end and highest just before its front end
    one_way = np.where(fits, np.clip(below, lowest, highest), highest)
    other_way = np.where(fits, np.clip(below + 2.0, lowest, highest), lowest)
    shifts = np.stack([place.center(links, place.pitch_m) - place.now_m for links in (one_way, other_way)])
    misses = np.maximum(shifts - place.most_m, 0.0) + np.minimum(shifts - place.least_m, 0.0)
    far = np.where(fits, np.abs(shifts), np.abs(misses))
    nearer = np.where(np.isfinite(far), far, np.inf).argmin(axis=0)[None]

    def taken(pair: Any) -> Floats:
        return np.asarray(np.take_along_axis(np.stack(pair), nearer, axis=0)[0])

    count, shift = taken([one_way, other_way]), taken(list(shifts))
    return {
        "new_links": np.where(fits, count, np.nan),
        "new_axle_shift_m": np.where(fits, shift, np.nan),
        "nearest_links": count,
        "nearest_miss_m": np.where(fits, 0.0, taken(list(misses))),
    }


def _fitted_chain(place: _Place, fitted_links: int | None, wear: float) -> tuple[Any, Floats, Floats]:
    """Whether the fitted chain will do, where it puts the axle, and how many links it is over the nearest end."""
    if fitted_links is None:
        nothing = np.full(place.z1.shape, np.nan)
        return np.zeros(place.z1.shape, dtype=bool), nothing, nothing
    links = whole("final_drive.links", fitted_links, *LINKS, COUNT_LINKS)
    if links % 2:
        fix = "Count inner and outer links alike; an odd count needs an offset link, which weakens the chain."
        raise InputError("final_drive.links", fitted_links, "must be an even number of links", fix)
    pitch = float(geometry.worn_pitch_m(place.pitch_m, wear))
    shift = place.center(links, pitch) - place.now_m
    will_do = (shift >= place.least_m - SLACK_M) & (shift <= place.most_m + SLACK_M)
    shortest, longest = place.length_of_travel(pitch)
    over = np.where(shift > place.most_m, links - longest, links - shortest)
    return will_do, shift, np.where(will_do, 0.0, over)


def fit_chain(
    *,
    front_teeth: int,
    rear_teeth: int,
    pitch_m: float,
    center_distance_m: float,
    travel_rearward_m: tuple[float, float],
    fitted_links: int | None = None,
    wear: float = 0.0,
    own_teeth: tuple[int, int] | None = None,
) -> ChainFit:
    """How a chain fits one pair of sprockets; the figures are those of fit_chains.

    Parameters
    ----------
    front_teeth, rear_teeth : int
        [-]
    pitch_m, center_distance_m, travel_rearward_m, fitted_links, wear
        As for fit_chains.
    own_teeth : (front, rear), optional
        The sprockets the present place of the axle was measured with: when the fitted chain disagrees with that place
        by more than a link, a note says to measure again.

    Returns
    -------
    ChainFit

    Raises
    ------
    InputError
        As fit_chains, and where the sprockets would touch at the present center distance.

    Examples
    --------
    >>> fit = fit_chain(front_teeth=16, rear_teeth=45, pitch_m=0.015875, center_distance_m=0.610,
    ...                 travel_rearward_m=(-0.008, 0.030), fitted_links=108)
    >>> fit.links_to_order, fit.fitted_chain_will_do, round(1e3 * fit.axle_shift_m, 2)
    (108, True, 0.76)
    """
    for where, teeth in (("final_drive.front", front_teeth), ("final_drive.rear", rear_teeth)):
        one(where, teeth, *geometry.WHEEL_TEETH, "teeth", COUNT_TEETH)
    many = fit_chains(
        front_teeth=front_teeth,
        rear_teeth=rear_teeth,
        pitch_m=pitch_m,
        center_distance_m=center_distance_m,
        travel_rearward_m=travel_rearward_m,
        fitted_links=fitted_links,
        wear=wear,
    )
    figures = {name: _plain(name, value) for name, value in vars(many).items() if hasattr(value, "item")}
    if fitted_links is None:
        figures["fitted_chain_will_do"] = None
    bare = replace(many, **figures, assumptions=assumptions())
    drive = Drive(
        pitch_m=float(pitch_m),
        now_m=float(center_distance_m),
        most_m=float(travel_rearward_m[1]),
        links=fitted_links,
        wear=float(wear),
    )
    return replace(bare, notes=notes_of(bare, drive, own_teeth), steps=steps_of(bare, drive))


def _plain(name: str, value: Any) -> Any:
    """A figure of one pair as Python has it: None for nan, a count as a whole number."""
    figure = value.item()
    if isinstance(figure, float):
        return None if not np.isfinite(figure) else round(figure) if name in _COUNTS else figure
    return figure


_COUNTS = ("links_to_order", "new_links", "nearest_links")
