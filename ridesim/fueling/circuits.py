"""Which part of a slide carburetor sets the mixture at which throttle opening, and what to try for a symptom there."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from functools import cache
from types import MappingProxyType
from typing import Any, Literal, get_args

import numpy as np

from ridesim.errors import one, within, word
from ridesim.fueling import JETTING
from ridesim.reference import read_table

MixtureVerdict = Literal["lean", "right", "rich"]
VERDICTS: tuple[MixtureVerdict, ...] = get_args(MixtureVerdict)

SLIGHT = 0.15  # below this share a part is not worth touching for a symptom at this opening

# How a wrong mixture shows, for the rider who has to choose between lean and rich. Common practice, no source.
SIGNS: Mapping[str, tuple[str, ...]] = MappingProxyType(
    {
        "lean": (
            "coughs or gasps when the throttle opens",
            "surges at a steady throttle",
            "pops when the throttle shuts",
            "idle hangs high before it comes down",
            "runs better with a little choke",
            "runs hot; plug pale",
        ),
        "rich": (
            "dull and heavy, clears its throat when opened further",
            "burbles or four-strokes at a steady throttle",
            "black smoke, smell of fuel; plug sooty",
            "worse warm than cold, worse with choke",
            "idle drops and stumbles",
        ),
    }
)

ASSUMPTIONS = (
    "which part acts at which opening is common practice, no source; the parts hand over gradually",
    "a slide carburetor whose slide follows the grip; where suction lifts the slide, its height counts and not the grip's",
    "engine warm and in order: valves, ignition, clean filter, float level, no leak of air behind the carburetor",
)


@dataclass(frozen=True, kw_only=True)
class CarburetorPart:
    """A part of the carburetor, where it acts, and what is done with it.

    starts, full_from, full_to, ends    throttle openings between which its say grows, stays and fades [-]
    weight                              its say where it is full, beside other parts that are full there [-]
    ease                                1 for the least work
    """

    key: str
    name: str
    starts: float
    full_from: float
    full_to: float
    ends: float
    weight: float
    ease: int
    richer: str
    leaner: str
    try_first: Mapping[str, str]
    how_to_tell: str


@dataclass(frozen=True, kw_only=True)
class Share:
    """How much of the mixture a part sets at one opening; the shares of all parts add up to 1."""

    key: str
    name: str
    share: float


@dataclass(frozen=True, kw_only=True)
class Parts:
    """The parts that set the mixture at one throttle opening, the most telling first, then those with no say there."""

    opening: float
    shares: tuple[Share, ...]
    no_say: tuple[str, ...]
    sentence: str
    steps: tuple[str, ...]
    assumptions: tuple[str, ...] = ASSUMPTIONS
    cautions: tuple[str, ...] = JETTING


@dataclass(frozen=True, kw_only=True)
class Diagnosis:
    """What to try for a verdict at one throttle opening.

    key, part       the part to change; None when the mixture is right
    direction       "richer", "leaner" or "none"
    change          what makes the part go that way
    try_first       the least change that shows something
    how_to_tell     how it shows, right or wrong
    overlap         other parts that have a say there, the stronger first
    leave_alone     parts that have none
    then            the part to turn to when the first does not cure it; None when there is no other
    """

    opening: float
    verdict: MixtureVerdict
    key: str | None
    part: str | None
    direction: Literal["richer", "leaner", "none"]
    change: str
    try_first: str
    how_to_tell: str
    overlap: tuple[Share, ...]
    leave_alone: tuple[str, ...]
    then: str | None
    sentence: str
    steps: tuple[str, ...]
    assumptions: tuple[str, ...] = ASSUMPTIONS
    cautions: tuple[str, ...] = JETTING


@cache
def parts() -> tuple[CarburetorPart, ...]:
    """The parts in the order of the openings they act at, from data/reference/circuits.csv (common practice, no source).

    >>> [part.key for part in parts()]
    ['pilot', 'cutaway', 'clip', 'needle', 'main']
    """
    numbers = ("weight", "starts", "full_from", "full_to", "ends")
    texts = ("name", "richer", "leaner", "how_to_tell")
    found = []
    for row in read_table("circuits"):
        figures: dict[str, Any] = {name: float(row[name]) for name in numbers} | {name: row[name] for name in texts}
        first = MappingProxyType({"rich": row["try_first_rich"], "lean": row["try_first_lean"]})
        found.append(CarburetorPart(key=row["part"], ease=int(row["ease"]), try_first=first, **figures))
    return tuple(found)


def circuit_shares(opening: Any) -> Any:
    """Share of each part in setting the mixture:  s_i = w_i t_i / sum(w t), t rising, full and falling in straight lines.

    Parameters
    ----------
    opening : float or array of shape (...)
        Throttle opening, 0 shut to 1 full. [-]

    Returns
    -------
    array of shape (5, ...)
        In the order of parts(); each column adds up to 1. [-]

    Raises
    ------
    InputError
        An opening outside 0 to 1.

    Source: common practice, no source.

    Examples
    --------
    >>> circuit_shares(1.0).tolist()
    [0.0, 0.0, 0.0, 0.0, 1.0]
    """
    at = np.asarray(within("throttle_opening", opening, 0.0, 1.0, "", "Write half throttle as 0.5."))
    told = _say(at)
    return told / told.sum(axis=0)


def parts_for(throttle_opening: float) -> Parts:
    """The parts that set the mixture at a throttle opening, the most telling first.

    Parameters
    ----------
    throttle_opening : float
        0 shut to 1 full. [-]

    Returns
    -------
    Parts

    Raises
    ------
    InputError
        An opening outside 0 to 1.

    Examples
    --------
    >>> print(parts_for(0.8125).sentence)
    At 13/16 throttle the main jet matters most (67 %), beside the needle clip (22 %), the needle taper and needle jet (11 %).
    """
    opening = one("throttle_opening", throttle_opening, 0.0, 1.0, "", "Write half throttle as 0.5.")
    shares = circuit_shares(opening)
    ranked = sorted(zip(parts(), shares.tolist(), strict=True), key=lambda pair: (-round(pair[1], 9), pair[0].ease))
    told = tuple(Share(key=part.key, name=part.name, share=share) for part, share in ranked if share > 0)
    silent = tuple(part.name for part, share in ranked if share == 0)
    beside = ", ".join(f"the {s.name} ({100 * s.share:.0f} %)" for s in told[1:])
    lead = f"At {_fraction(opening)} throttle the {told[0].name} "
    sentence = (
        f"{lead}matters most ({100 * told[0].share:.0f} %), beside {beside}."
        if beside
        else f"{lead}alone sets the mixture."
    )
    say = dict(zip((part.key for part in parts()), _say(opening).tolist(), strict=True))
    return Parts(
        opening=opening,
        shares=told,
        no_say=silent,
        sentence=sentence,
        steps=tuple(
            f"share of {s.name} = its say / the say of all = {say[s.key]:.3f} / {sum(say.values()):.3f} = {s.share:.3f}"
            for s in told
        ),
    )


def diagnose(throttle_opening: float, verdict: MixtureVerdict) -> Diagnosis:
    """Which part to change, which way, what to try first and how to tell, for a verdict at a throttle opening.

    Parameters
    ----------
    throttle_opening : float
        0 shut to 1 full, as marked on the grip. [-]
    verdict : "lean", "right" or "rich"
        What the engine says there; SIGNS helps to choose.

    Returns
    -------
    Diagnosis

    Raises
    ------
    InputError
        An opening outside 0 to 1, or another verdict.

    Examples
    --------
    >>> print(diagnose(0.5, "lean").sentence)
    Lean at 1/2 throttle points to the needle clip: go richer there. Try first: needle up: the clip one groove lower.
    >>> diagnose(0.5, "lean").leave_alone
    ('pilot jet and mixture screw', 'main jet', 'slide cutaway')
    """
    found = parts_for(throttle_opening)
    says: MixtureVerdict = word("verdict", verdict, VERDICTS)  # type: ignore[assignment]
    if says == "right":
        return Diagnosis(
            opening=found.opening,
            verdict=says,
            key=None,
            part=None,
            direction="none",
            change="none",
            try_first="leave it",
            how_to_tell="it pulls cleanly and evenly there",
            overlap=(),
            leave_alone=tuple(p.name for p in parts()),
            then=None,
            sentence=f"Right at {_fraction(found.opening)} throttle: leave it, and write down the settings.",
            steps=found.steps,
        )
    by_key = {part.key: part for part in parts()}
    part = by_key[found.shares[0].key]
    direction: Literal["richer", "leaner"] = "richer" if says == "lean" else "leaner"
    others = tuple(s for s in found.shares[1:] if s.share >= SLIGHT)
    then = f"{others[0].name}: {getattr(by_key[others[0].key], direction)}" if others else None
    change, first = getattr(part, direction), part.try_first[says]
    points = f"{says.capitalize()} at {_fraction(found.opening)} throttle points to the {part.name}"
    return Diagnosis(
        opening=found.opening,
        verdict=says,
        key=part.key,
        part=part.name,
        direction=direction,
        change=change,
        try_first=first,
        how_to_tell=part.how_to_tell,
        overlap=others,
        leave_alone=found.no_say,
        then=then,
        sentence=f"{points}: go {direction} there. Try first: {first}.",
        steps=(*found.steps, f"{says} there, so {direction}: {change}"),
    )


def _say(at: Any) -> Any:
    return np.stack(
        [
            part.weight * np.minimum(_rise(at, part.starts, part.full_from), 1 - _rise(at, part.full_to, part.ends))
            for part in parts()
        ]
    )


def _rise(at: Any, start: float, full: float) -> Any:
    """0 up to start, 1 from full on, straight between; a step where both are one opening."""
    if full == start:
        return np.where(at > full, 1.0, 0.0) if start >= 1.0 else np.where(at >= full, 1.0, 0.0)
    return np.clip((at - start) / (full - start), 0.0, 1.0)


def _fraction(opening: float) -> str:
    """An opening as riders say it, where it is a whole number of sixteenths."""
    sixteenths = opening * 16
    if opening in (0.0, 1.0):
        return "closed" if opening == 0.0 else "full"
    if sixteenths.is_integer():
        over = 16
        while sixteenths % 2 == 0:
            sixteenths, over = sixteenths / 2, over // 2
        return f"{sixteenths:.0f}/{over}"
    return f"{100 * opening:.0f} %"
