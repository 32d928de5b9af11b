"""Which part of a slide carburetor sets the mixture at which throttle opening, and what to try for a symptom there."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from fractions import Fraction
from functools import cache
from types import MappingProxyType
from typing import Any, Literal, get_args

import numpy as np

from ridesim.answers.answer import Answer, Figure, Figures, Table, table_of
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

OTHER_CAUSES = "look for another cause: ignition, valves, float level, an air leak"
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
    try_first: Mapping[str, str] = field(hash=False)
    how_to_tell: str


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


def circuit_answer(throttle_opening: float, verdict: MixtureVerdict | None = None) -> Answer:
    """Which part sets the mixture at an opening and, for a verdict there, which to change, which way, and what to try first.

    Parameters
    ----------
    throttle_opening : float
        0 shut to 1 full, as marked on the grip. [-]
    verdict : "lean", "right", "rich" or None
        What the engine says there; SIGNS helps to choose.

    Returns
    -------
    Answer
        The shares of the parts, the most telling first; then what to do, or without a verdict how lean and rich show.

    Raises
    ------
    InputError
        An opening outside 0 to 1, or another verdict.

    Examples
    --------
    >>> print(circuit_answer(0.8125))
    At 13/16 throttle the main jet matters most (67 %), beside the needle clip (22 %), the needle taper and needle jet (11 %).
    >>> advised = circuit_answer(0.5, "lean")
    >>> str(advised)[:104]
    'Lean at 1/2 throttle points to the needle clip: go richer there. Try first: needle up: the clip one groo'
    >>> advised.tables[1].rows[-1]["how"]
    'pilot jet and mixture screw, main jet, slide cutaway'
    """
    opening = one("throttle_opening", throttle_opening, 0.0, 1.0, "", "Write half throttle as 0.5.")
    says = "" if verdict is None else word("verdict", verdict, VERDICTS)
    pairs = zip(parts(), circuit_shares(opening).tolist(), strict=True)
    ranked = sorted(pairs, key=lambda pair: (-round(pair[1], 9), pair[0].ease))
    at, (first, share) = f"{_fraction(opening)} throttle", ranked[0]
    beside = ", ".join(f"the {part.name} ({100 * share:.0f} %)" for part, share in ranked[1:] if share > 0)
    alone = f"At {at} the {first.name} alone sets the mixture."
    matters = f"At {at} the {first.name} matters most ({100 * share:.0f} %), beside {beside}." if beside else alone
    lead, change = "", "richer" if says == "lean" else "leaner"
    if says == "right":
        lead = f"Right at {at}: leave it, and write down the settings. "
    elif says:
        lead = f"{says.capitalize()} at {at} points to the {first.name}: go {change} there. Try first: {first.try_first[says]}. "
    say = dict(zip(parts(), _say(opening).tolist(), strict=True))
    shown = {part.name: share for part, share in ranked if share > 0 or says}
    return Answer(
        question="Which part, which way, what first?",
        say=(lead + matters,),
        figures=Figures(*(Figure(name, f"Share of the {name}", share, "percent") for name, share in shown.items())),
        tables=(
            table_of(
                "How much each part matters at this opening",
                ("name", "Part", "text", shown),
                ("share", "Share", "percent", shown.values()),
            ),
            *([_told("What to do", _to_do(ranked, says, change))] if says in SIGNS else []),
            *([] if says else [_told("Lean or rich? How it shows", SIGNS)]),
        ),
        assumptions=ASSUMPTIONS,
        steps=(
            *(
                f"share of {part.name} = its weight / the sum of all weights = {say[part]:.3f} / {sum(say.values()):.3f} = {share:.3f}"
                for part, share in ranked
                if share > 0
            ),
            *((f"{says} there, so {change}: {getattr(first, change)}",) if says in SIGNS else ()),
        ),
        cautions=JETTING,
    )


def _to_do(ranked: Sequence[tuple[CarburetorPart, float]], says: str, change: str) -> dict[str, tuple[str, ...]]:
    """What to do about a verdict, the first part being the one to change; what there is nothing to say of is left out."""
    first = ranked[0][0]
    others = [(part, share) for part, share in ranked[1:] if share >= SLIGHT]
    then = f"{others[0][0].name}: {getattr(others[0][0], change)}" if others else OTHER_CAUSES
    return {
        "Change": (getattr(first, change),),
        "Try first": (first.try_first[says],),
        "How to tell": (first.how_to_tell,),
        "If that does not cure it": (then,),
        "Also matters here": tuple(f"{part.name} ({100 * share:.0f} %)" for part, share in others),
        f"It shows as {says} when it": SIGNS[says],
        "Leave alone": tuple(part.name for part, share in ranked if share == 0),
    }


def _told(title: str, rows: Mapping[str, Sequence[str]]) -> Table:
    """Words by what they are about."""
    told = {what.capitalize(): ", ".join(how) for what, how in rows.items() if how}
    return table_of(title, ("what", "", "text", told), ("how", "", "text", told.values()))


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
    if opening in (0.0, 1.0):
        return "closed" if opening == 0.0 else "full"
    part = Fraction(opening)
    return str(part) if part.denominator <= 16 else f"{100 * opening:.0f} %"
