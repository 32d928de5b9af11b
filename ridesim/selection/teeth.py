"""Tooth counts as a rider writes them."""

from __future__ import annotations

from ridesim.errors import InputError


def teeth(text: str, where: str, least: int = 6, most: int = 100) -> tuple[int, ...]:
    """Tooth counts written as least:most ("13:18") or one by one ("14, 15, 16").

    Raises
    ------
    InputError
        Anything else, counts outside `least` to `most`, or a range from more to fewer.

    >>> teeth("13:15", "--front"), teeth("13, 16", "--front"), teeth("15", "--front")
    ((13, 14, 15), (13, 16), (15,))
    """
    fix = "Write least:most, such as 13:18, or counts with commas."
    ends = [end.strip() for end in text.split(":")]
    counts = ends if len(ends) == 2 else text.replace(",", " ").split()
    if not counts or not all(count.isascii() and count.isdigit() and len(count) <= 3 for count in counts):
        raise InputError(where, text, "is not a list of tooth counts", fix)
    numbers = [int(count) for count in counts]
    if not all(least <= number <= most for number in numbers):
        raise InputError(where, text, f"must be whole numbers of teeth from {least} to {most}", fix)
    if len(ends) != 2:
        return tuple(dict.fromkeys(numbers))
    if numbers[0] > numbers[1]:
        raise InputError(where, text, "goes from more to fewer teeth", "Write least:most, such as 13:18.")
    return tuple(range(numbers[0], numbers[1] + 1))
