"""The needle in its jet: free area against slide lift, what the main jet leaves of it, and what a move of the clip does."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import numpy as np

from ridesim.errors import InputError, one, whole, within

LIFTS = 41  # heights a curve is worked out at unless told otherwise
TOUCHED = 0.005  # a change of richness below half a per cent is not worth naming


@dataclass(frozen=True, kw_only=True)
class Needle:
    """A jet needle: a straight part, then a taper down to its end, and grooves for the clip.

    straight_diameter_m     [m]
    taper_start_m           from the top groove to where the taper starts [m]
    length_m                from the top groove to the end of the taper [m]
    end_diameter_m          at the end of the taper; either this or taper_angle_rad [m]
    taper_angle_rad         full angle between the sides [rad]
    clips                   number of grooves; groove 1 is the top one
    clip_pitch_m            from groove to groove [m]
    """

    name: str = "needle"
    straight_diameter_m: float
    taper_start_m: float
    length_m: float
    end_diameter_m: float | None = None
    taper_angle_rad: float | None = None
    clips: int = 5
    clip_pitch_m: float = 0.0009

    def __post_init__(self) -> None:
        fix, slope_fix = "Measure the needle with a micrometer.", "Give the full angle between the sides."
        from_top = "Measure from the top groove to the end of the taper."
        straight = one("needle.straight_diameter", self.straight_diameter_m, 1e-4, 0.02, "m", fix)
        start = one("needle.taper_start", self.taper_start_m, 0.0, 0.2, "m", "Measure from the top groove.")
        length = one("needle.length", self.length_m, 1e-3, 0.3, "m", from_top)
        whole("needle.clips", self.clips, 1, 20, "Count the grooves.")
        one("needle.clip_pitch", self.clip_pitch_m, 1e-5, 0.01, "m", "Measure from groove to groove.")
        if length <= start:
            raise InputError("needle.length", length, "must reach past where the taper starts", "Measure both again.")
        end, angle = self.end_diameter_m, self.taper_angle_rad
        if (end is None) == (angle is None):
            problem = "either the end diameter or the taper angle is wanted, and not both"
            raise InputError("needle.taper", None, problem, "Give one of the two.")
        if end is not None and one("needle.end_diameter", end, 0.0, 0.02, "m", fix) > straight:
            problem = "is more than that of the straight part"
            raise InputError("needle.end_diameter", end, problem, "A needle gets thinner towards its end.")
        if angle is not None:
            one("needle.taper_angle", angle, 0.0, 0.5, "rad", slope_fix)
            if self.tip_diameter_m < 0:
                problem = "runs to a point before the end of the needle"
                raise InputError("needle.taper_angle", angle, problem, f"{slope_fix} Check the length.")

    @property
    def tip_diameter_m(self) -> float:
        """Diameter at the end of the taper, given or by the angle. [m]"""
        if self.end_diameter_m is not None:
            return self.end_diameter_m
        slope = 2 * np.tan(float(self.taper_angle_rad or 0.0) / 2)
        return float(self.straight_diameter_m - slope * (self.length_m - self.taper_start_m))

    @property
    def taper_per_length(self) -> float:
        """Diameter lost over length, along the taper. [-]"""
        return (self.straight_diameter_m - self.tip_diameter_m) / (self.length_m - self.taper_start_m)


@dataclass(frozen=True, kw_only=True)
class NeedleSeat:
    """What the needle hangs in: the needle jet, the main jet below it, and the slide.

    needle_jet_bore_m   [m]
    main_jet_bore_m     [m]
    seat_to_jet_m       slide shut: from where the clip sits down to the edge of the needle jet [m]
    full_lift_m         of the slide from shut to full throttle [m]
    """

    needle_jet_bore_m: float
    main_jet_bore_m: float
    seat_to_jet_m: float
    full_lift_m: float

    def __post_init__(self) -> None:
        one("needle_jet.bore", self.needle_jet_bore_m, 2e-4, 0.02, "m", "Give the bore of the needle jet.")
        one("main_jet.bore", self.main_jet_bore_m, 5e-5, 0.01, "m", "Give the bore of the main jet.")
        one("needle_jet.seat_to_jet", self.seat_to_jet_m, 1e-3, 0.3, "m", "Measure with the slide shut.")
        one("slide.full_lift", self.full_lift_m, 1e-3, 0.1, "m", "About the bore of the carburetor.")


@dataclass(frozen=True, kw_only=True)
class NeedleCurve:
    """Free areas against slide lift, as arrays of one length.

    lift_m, opening         slide lift, and the same over full lift
    needle_diameter_m       at the edge of the needle jet
    ring_area_m2            between needle and bore
    effective_area_m2       ring and main jet in series
    main_jet_share          of the pressure drop that falls at the main jet
    """

    needle: Needle
    seat: NeedleSeat
    clip: int
    lift_m: Any
    opening: Any
    needle_diameter_m: Any
    ring_area_m2: Any
    effective_area_m2: Any
    main_jet_share: Any


@dataclass(frozen=True, kw_only=True)
class NeedleChange:
    """Two needles or clip positions beside each other.

    what                what is changed, in words
    before, after       their curves, at the same lifts
    richness_ratio      after over before at each lift; above 1 is richer
    touched_from_m, touched_to_m    the lifts between which it changes by more than half a per cent; None where nowhere
    greatest_ratio, greatest_at_m   the greatest change, and where
    """

    what: str
    before: NeedleCurve
    after: NeedleCurve
    richness_ratio: Any
    touched_from_m: float | None
    touched_to_m: float | None
    greatest_ratio: float
    greatest_at_m: float


def series_area_m2(first_area_m2: Any, second_area_m2: Any) -> Any:
    """One hole that passes what two holes one behind the other pass:  1/A^2 = 1/A1^2 + 1/A2^2.

    The same flow through both, each with drop ~ (flow/A)^2, the drops add: same discharge coefficient, no pressure
    recovered between.

    Parameters
    ----------
    first_area_m2, second_area_m2 : float or array
        A1 and A2, above 0. [m2]

    Returns
    -------
    float or array
        Less than either. [m2]

    Raises
    ------
    InputError
        An area that is not above 0.

    Examples
    --------
    >>> float(round(series_area_m2(3.0, 4.0), 12))
    2.4
    """
    first = within("area", first_area_m2, 1e-12, 1e3, "m2", "Give an area above 0.")
    second = within("area", second_area_m2, 1e-12, 1e3, "m2", "Give an area above 0.")
    return first * second / np.hypot(first, second)


def ring_area_m2(bore_m: Any, needle_diameter_m: Any) -> Any:
    """Free area between a needle and the bore it hangs in:  pi/4 (D^2 - d^2).

    Parameters
    ----------
    bore_m : float or array
        D, 1e-5 to 0.1. [m]
    needle_diameter_m : float or array
        d, 0 to less than D. [m]

    Returns
    -------
    float or array
        [m2]

    Raises
    ------
    InputError
        A diameter out of range, or a needle as thick as the bore or thicker.

    Examples
    --------
    >>> round(1e6 * float(ring_area_m2(2.6e-3, 2.5e-3)), 4)
    0.4006
    """
    bore = within("needle_jet.bore", bore_m, 1e-5, 0.1, "m", "Give the bore of the needle jet.")
    needle = within("needle.diameter", needle_diameter_m, 0.0, 0.1, "m", "Measure the needle with a micrometer.")
    if not np.all(np.less(needle, bore)):
        problem = "is as thick as the bore of the needle jet, or thicker"
        fix = "Check both sizes: the needle has to hang free in the jet."
        raise InputError("needle.diameter", needle_diameter_m, problem, fix)
    return np.pi / 4 * (np.square(bore) - np.square(needle))


def needle_diameter_m(needle: Needle, clip: int, seat_to_jet_m: float, lift_m: Any) -> Any:
    """Needle diameter at the edge of the jet:  d = d0 - taper x (s + seat + (clip - 1) pitch - start), never above d0.

    Parameters
    ----------
    needle : Needle
    clip : int
        Groove of the clip, 1 the top one. A lower groove lifts the needle.
    seat_to_jet_m : float
        Slide shut: from where the clip sits down to the edge of the needle jet. [m]
    lift_m : float or array
        s, of the slide. [m]

    Returns
    -------
    float or array
        [m]

    Raises
    ------
    InputError
        No such groove, a lift out of range, or one at which the needle has left the jet.

    Examples
    --------
    >>> thin = Needle(straight_diameter_m=2.5e-3, taper_start_m=0.030, length_m=0.060, end_diameter_m=1.5e-3)
    >>> 1e3 * needle_diameter_m(thin, 1, 0.025, np.array([0.0, 0.005, 0.020]))
    array([2.5, 2.5, 2. ])
    """
    groove = whole("needle.clip", clip, 1, needle.clips, f"This needle has grooves 1 (top) to {needle.clips}.")
    lift = within("slide.lift", lift_m, 0.0, 0.2, "m", "Give the lift of the slide from shut.")
    along = lift + seat_to_jet_m + (groove - 1) * needle.clip_pitch_m
    if not np.all(along <= needle.length_m * (1 + 1e-12)):
        problem = f"would pull {needle.name} with the clip in groove {groove} out of its jet"
        fix = "Check the needle's length and the depth of the jet below the clip's seat."
        raise InputError("slide.lift", float(np.max(lift)), problem, fix)
    return needle.straight_diameter_m - needle.taper_per_length * np.maximum(along - needle.taper_start_m, 0.0)


def needle_curve(needle: Needle, seat: NeedleSeat, *, clip: int, lifts_m: Any = None) -> NeedleCurve:
    """Free areas of a needle over the lift of the slide.

    Parameters
    ----------
    needle : Needle
    seat : NeedleSeat
    clip : int
        Groove of the clip, 1 the top one.
    lifts_m : array of shape (n,) or None
        Lifts to work out, 0 to full lift; None takes 41 of them evenly spaced. [m]

    Returns
    -------
    NeedleCurve

    Raises
    ------
    InputError
        Impossible geometry, or a lift outside 0 to full.

    Examples
    --------
    >>> thin = Needle(straight_diameter_m=2.5e-3, taper_start_m=0.030, length_m=0.070, end_diameter_m=1.5e-3)
    >>> seat = NeedleSeat(needle_jet_bore_m=2.6e-3, main_jet_bore_m=1.25e-3, seat_to_jet_m=0.026, full_lift_m=0.036)
    >>> curve = needle_curve(thin, seat, clip=3, lifts_m=[0.0, 0.018, 0.036])
    >>> (1e6 * curve.effective_area_m2).round(3).tolist()
    [0.381, 1.019, 1.144]
    """
    full, fix = seat.full_lift_m, "The slide goes from 0 to its full lift."
    given = np.linspace(0.0, full, LIFTS) if lifts_m is None else lifts_m
    lift = np.atleast_1d(within("slide.lift", given, 0.0, full, "m", fix))
    diameter = needle_diameter_m(needle, clip, seat.seat_to_jet_m, lift)
    ring = ring_area_m2(seat.needle_jet_bore_m, diameter)
    main = np.pi / 4 * seat.main_jet_bore_m**2
    effective = series_area_m2(ring, main)
    return NeedleCurve(
        needle=needle,
        seat=seat,
        clip=int(clip),
        lift_m=lift,
        opening=lift / seat.full_lift_m,
        needle_diameter_m=diameter,
        ring_area_m2=ring,
        effective_area_m2=effective,
        main_jet_share=(effective / main) ** 2,
    )


def needle_change(
    needle: Needle,
    seat: NeedleSeat,
    *,
    clip: int,
    new_clip: int,
    new_needle: Needle | None = None,
    lifts_m: Any = None,
) -> NeedleChange:
    """What another groove or another needle does; a lower groove lifts the needle and enriches, a higher one leans.

    Parameters
    ----------
    needle : Needle
    seat : NeedleSeat
    clip, new_clip : int
        Grooves before and after, 1 the top one, each of its own needle.
    new_needle : Needle or None
        The needle to fit; None moves the clip of the one there is.
    lifts_m : array of shape (n,) or None
        As in needle_curve. [m]

    Returns
    -------
    NeedleChange

    Raises
    ------
    InputError
        Impossible geometry, no such groove, or a lift outside 0 to full.

    Examples
    --------
    >>> thin = Needle(straight_diameter_m=2.5e-3, taper_start_m=0.030, length_m=0.070, end_diameter_m=1.5e-3)
    >>> seat = NeedleSeat(needle_jet_bore_m=2.6e-3, main_jet_bore_m=1.25e-3, seat_to_jet_m=0.026, full_lift_m=0.036)
    >>> found = needle_change(thin, seat, clip=3, new_clip=4)
    >>> found.what, round(found.greatest_ratio, 3), round(found.greatest_at_m, 4)
    ('Clip from groove 3 to 4', 1.166, 0.0027)
    """
    fitted = f"Fitting {new_needle.name} in groove {new_clip} for {needle.name} in groove {clip}" if new_needle else ""
    before = needle_curve(needle, seat, clip=clip, lifts_m=lifts_m)
    after = needle_curve(new_needle or needle, seat, clip=new_clip, lifts_m=lifts_m)
    ratio = after.effective_area_m2 / before.effective_area_m2
    touched = np.flatnonzero(np.abs(ratio - 1) > TOUCHED)
    most = int(np.argmax(np.abs(np.log(ratio))))
    ends = (float(before.lift_m[touched[0]]), float(before.lift_m[touched[-1]])) if touched.size else (None, None)
    return NeedleChange(
        what=fitted or f"Clip from groove {clip} to {new_clip}",
        before=before,
        after=after,
        richness_ratio=ratio,
        touched_from_m=ends[0],
        touched_to_m=ends[1],
        greatest_ratio=float(ratio[most]),
        greatest_at_m=float(before.lift_m[most]),
    )
