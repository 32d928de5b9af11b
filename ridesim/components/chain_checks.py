"""What a chain and its sprockets may be: the bounds, each in one place, and the checks that refuse the rest."""

from __future__ import annotations

from typing import Any, Literal

import numpy as np
from numpy.typing import NDArray

from ridesim.errors import InputError

Outside = Literal["raise", "nan"]
Floats = NDArray[np.float64]

# The formulas hold from a triangle up; above 150 teeth no roller chain wheel is made.
WHEEL_TEETH = (3, 150)
# Front sprockets of motorcycles have 10 to 20 teeth as a rule, 6 on the smallest, up to 40 where a first stage drives
# a jackshaft; rear ones run from 12 to about 80. With room, and the same as the build file takes.
FRONT_TEETH, REAR_TEETH = (6, 40), (12, 100)
PITCHES_M = (0.003, 0.06)  # from clockwork to heavy industry: a pitch outside is a slip of the unit
CENTRES_M = (0.1, 2.0)  # no motorcycle is outside
MOST_TRAVEL_M = 0.5  # ten times what an adjuster has
LINKS = (30, 250)  # 30 links do not go round two small sprockets with air between; 250 is past the longest swingarm
MOST_ELONGATION = 0.1  # long past the end of any chain: a figure in per cent, or a slip of the pen


def first_bad(value: Any, ok: Any) -> Any:
    """The first element of `value` that is not `ok`, so that a message does not print thousands.

    >>> first_bad([15, 0, -1], [True, False, False])
    0
    """
    values, fine = np.broadcast_arrays(np.asarray(value), ok)
    return values[~fine].flat[0].item() if values.ndim and not fine.all() else value


def floats(where: str, value: Any, problem: str, fix: str) -> Floats:
    """Any array of numbers as floats; InputError for what is no number.

    >>> float(floats("here", 3, "", ""))
    3.0
    """
    try:
        numbers, kind = np.asarray(value, dtype=float), np.asarray(value).dtype.kind
    except (TypeError, ValueError, OverflowError):
        raise InputError(where, value, problem, fix) from None
    if kind not in "iuf" or numbers.size == 0:
        raise InputError(where, value, problem, fix)
    return numbers


def within(where: str, value: Any, least: float, most: float, problem: str, fix: str) -> Floats:
    """Numbers from `least` to `most` as floats; NaN passes no comparison.

    >>> float(within("here", 3, 1, 5, "", ""))
    3.0
    """
    numbers = floats(where, value, problem, fix)
    ok = (numbers >= least) & (numbers <= most)
    if not ok.all():
        raise InputError(where, first_bad(value, ok), problem, fix)
    return numbers


def one(where: str, value: Any, least: float, most: float, problem: str, fix: str) -> float:
    """A single number from `least` to `most`.

    >>> one("here", 3, 1, 5, "", "")
    3.0
    """
    number = within(where, value, least, most, problem, fix)
    if number.ndim:
        raise InputError(where, value, "must be one number", fix)
    return float(number)


def positive(where: str, value: Any, fix: str) -> Floats:
    """Finite numbers above zero.

    >>> float(positive("here", 3, ""))
    3.0
    """
    return within(where, value, np.finfo(float).tiny, np.finfo(float).max, "must be a finite number above 0", fix)


def whole(where: str, value: Any, least: int, most: int, what: str) -> NDArray[np.int64]:
    """Whole numbers of `what` from `least` to `most`.

    >>> whole("final_drive.front", 15, 6, 40, "teeth").item()
    15
    """
    fix = f"Count the {what}."
    problem = f"must be a whole number of {what} from {least} to {most}"
    numbers = within(where, value, least, most, problem, fix)
    ok = numbers == np.round(numbers)
    if not ok.all():
        raise InputError(where, first_bad(value, ok), problem, fix)
    return numbers.astype(np.int64)


def even_links(where: str, links: Any) -> NDArray[np.int64]:
    """Even numbers of links that a motorcycle chain can have.

    >>> even_links("final_drive.links", 108).item()
    108
    """
    counts = whole(where, links, *LINKS, "links")
    if (counts % 2).any():
        fix = "Count inner and outer links alike; an odd count needs an offset link, which weakens the chain."
        raise InputError(where, first_bad(links, counts % 2 == 0), "must be an even number of links", fix)
    return counts


def elongations(elongation: Any) -> Floats:
    """Elongations of a worn chain.

    >>> float(elongations(0.02))
    0.02
    """
    problem = f"must be an elongation from 0 to {MOST_ELONGATION:.0%}"
    fix = "Measure over 20 pitches: the length over the nominal one, less 1."
    return within("final_drive.chain_wear", elongation, 0.0, MOST_ELONGATION, problem, fix)


def kept(where: str, value: Any, ok: Any, outside: Outside, problem: str, fix: str) -> None:
    """Raise for the first value that is not ok, unless nan was asked for."""
    if outside not in ("raise", "nan"):
        raise InputError("outside", outside, "must be 'raise' or 'nan'", "Leave it out to be told of what cannot be.")
    if outside == "raise" and not np.all(ok):
        raise InputError(where, first_bad(value, ok), problem, fix)
