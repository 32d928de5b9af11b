"""Checks on what a rider gives the bench: one number, a short list of numbers, a word out of a few."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

from ridesim.environment.checks import within
from ridesim.errors import InputError, did_you_mean


def one(where: str, value: Any, least: float, most: float, unit: str = "", fix: str = "") -> float:
    """One number inside its range; a list, a text, True and nan are not numbers.

    >>> one("jet", 142, 5, 1000)
    142.0
    """
    number = within(where, value, least, most, unit, fix) if _single(value) else None
    if number is None:
        raise InputError(where, value, f"must be one number from {least:g} to {most:g} {unit}".rstrip(), fix)
    return float(number)


def whole(where: str, value: Any, least: int, most: int, fix: str = "") -> int:
    """One whole number inside its range.

    >>> whole("clip", 3, 1, 5)
    3
    """
    number = one(where, value, least, most, "", fix)
    if not number.is_integer():
        raise InputError(where, value, f"must be a whole number from {least} to {most}", fix)
    return int(number)


def several(
    where: str, values: Any, least: float, most: float, unit: str, *, longest: int, fix: str
) -> tuple[float, ...]:
    """A list of one to `longest` numbers, each inside its range.

    >>> several("jets", [120, 125], 5, 1000, "", longest=10, fix="List the jets.")
    (120.0, 125.0)
    """
    if isinstance(values, str | bytes) or not (isinstance(values, Sequence) or getattr(values, "ndim", 0) == 1):
        raise InputError(where, values, "is not a list of numbers", fix)
    if not 0 < len(values) <= longest:
        raise InputError(where, None, f"has {len(values)} entries and must have 1 to {longest}", fix)
    return tuple(one(f"{where}[{index}]", value, least, most, unit, fix) for index, value in enumerate(values))


def word(where: str, value: Any, known: tuple[str, ...]) -> str:
    """One of a few words.

    >>> word("jet.numbering", "bore", ("bore", "flow"))
    'bore'
    """
    if not isinstance(value, str) or value not in known:
        raise InputError(where, value, "is not one of " + ", ".join(map(repr, known)), did_you_mean(value, known))
    return value


def _single(value: Any) -> bool:
    return not isinstance(value, str | bytes | Sequence) and getattr(value, "ndim", 0) == 0
