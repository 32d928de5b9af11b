"""The errors a rider can mend, each with where, what was found, what is wrong and what to do; and the one check of figures."""

from __future__ import annotations

import difflib
import re
from collections.abc import Iterable, Iterator, Mapping, Sequence
from contextlib import contextmanager
from types import MappingProxyType
from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from numpy.typing import NDArray  # numpy is imported where a figure is checked: errors alone must start fast

LONGEST_PLACE, LONGEST_VALUE, LONGEST_LIST = 200, 60, 130  # characters of the rider's own text
LEAST_PLACE, LONGEST_TEXT = 110, 300  # what a place has beside a long value and a long list, and what all of it has
MOST_TOLD = 50  # errors of one input that are told


def short(value: object, limit: int = LONGEST_VALUE) -> str:
    """Any value as it was written, cut short, printable.

    >>> short("88 km"), short("x" * 500)[-4:], short("a\\tb")
    ('88 km', 'x...', 'a\\\\tb')
    >>> import numpy as np
    >>> short(np.array([1.0, 2.5])), short(10**5000)
    ('[1.0, 2.5]', 'a number of thousands of digits')
    """
    value = getattr(value, "written", value)  # a quantity as the rider wrote it
    if hasattr(value, "tolist"):  # an array
        value = value.tolist()
    if isinstance(value, list | tuple):
        value = value[:limit]
    try:
        text = value if isinstance(value, str) else repr(value)
    except ValueError:  # Python refuses to write out whole numbers of thousands of digits
        text = "a number of thousands of digits"
    text = _spelt(text[: limit + 1])  # what is escaped grows: so it is cut afterwards
    return text if len(text) <= limit else text[: limit - 3] + "..."


def _spelt(text: str) -> str:
    """A text with the signs that cannot be printed spelt out."""
    return "".join(c if c.isprintable() else repr(c)[1:-1] for c in text)


def shown(value: object, limit: int = LONGEST_VALUE) -> str:
    """The same, a text in quotes.

    >>> shown("88 km"), shown(88)
    ("'88 km'", '88')
    """
    text = short(value, limit)
    return f"'{text}'" if isinstance(getattr(value, "written", value), str) else text


class InputError(ValueError):
    """One thing the rider gave that cannot be used, and how to mend it.

    Parameters
    ----------
    where : str
        Path of the value in the build file, name of the option, or file and line.
    got : object
        The value as it was given.
    problem : str
        What is wrong with it, as the end of a sentence that starts with the value.
    fix : str
        What to do about it, as a whole sentence.

    Examples
    --------
    >>> print(InputError("final_drive.front", 0, "must be at least 6", "Count the teeth again."))
    final_drive.front = 0: must be at least 6. Count the teeth again.

    Of a long place the middle is left out: its end says which value it is.

    >>> str(InputError("folder/" * 1000 + "bike.toml: final_drive.front", 0, "must be at least 6"))[-53:]
    'bike.toml: final_drive.front = 0: must be at least 6.'
    """

    def __init__(self, where: str, got: object, problem: str, fix: str = "") -> None:
        self.where, self.got, self.problem, self.fix = where, got, problem, fix
        super().__init__(where, got, problem, fix)

    def __str__(self) -> str:
        fix = f" {self.fix}" if self.fix else ""
        got = "" if self.got is None else f" = {shown(self.got)}"
        place, told = _spelt(self.where), f"{got}: {self.problem.rstrip('.')}.{fix}"
        most = min(LONGEST_PLACE, max(LEAST_PLACE, LONGEST_TEXT - len(told)))
        half = most // 2
        if len(place) > most:
            place = f"{place[:half]}...{place[3 - half :]}"
        return place + told


class InputErrors(InputError):  # noqa: N818 - it is many of them
    """Everything wrong with one input, reported together.

    >>> both = InputErrors([InputError("a", 1, "too small"), InputError("b", 2, "too large")])
    >>> print(both)
    a = 1: too small.
    b = 2: too large.
    """

    def __init__(self, errors: Iterable[InputError]) -> None:
        self.errors = tuple(errors)
        first = self.errors[0]
        super().__init__(first.where, first.got, first.problem, first.fix)

    def __str__(self) -> str:
        more = len(self.errors) - MOST_TOLD
        told = [*map(str, self.errors[:MOST_TOLD]), *([f"and {more} more"] if more > 0 else [])]
        return "\n".join(told)


def each(error: InputError) -> tuple[InputError, ...]:
    """The single errors inside an error, whether it holds one or many."""
    return error.errors if isinstance(error, InputErrors) else (error,)


@contextmanager
def placed(place: Mapping[str, str] | str, written: Mapping[str, object] = MappingProxyType({})) -> Iterator[None]:
    """Name the option in an error that the library names by its own field; a text goes before the library's name.

    written has what stood at a place before it was read, which is shown in place of the figure that was read.
    """
    try:
        yield
    except InputError as error:
        found = []
        for one in each(error):
            where = _place(place, one.where)
            found.append(InputError(where, written.get(where, one.got), one.problem, one.fix))
        raise (found[0] if len(found) == 1 else InputErrors(found)) from None


def _place(place: Mapping[str, str] | str, where: str) -> str:
    if isinstance(place, str):
        return f"{place}{where}"
    return place.get(where) or place.get(
        re.sub(r"\[\d+\]$", "", where), where
    )  # an entry of a list is written in one option


def near_names(name: object, known: Iterable[str]) -> list[str]:
    """The known name of the same letters, else the two nearest, else none.

    >>> near_names("wheelbse", ["wheelbase", "rake"]), near_names("NM", ["mm", "Nm"]), near_names("x", ["rake"])
    (['wheelbase'], ['Nm'], [])
    """
    names, asked = list(known), str(name)[:80]
    same = [one for one in names if one.casefold() == asked.casefold()]
    return same[:1] or difflib.get_close_matches(asked, names, n=2, cutoff=0.6)


def did_you_mean(name: object, known: Iterable[str]) -> str:
    """A sentence with the name of the same letters, else with the nearest known names, or with all of them when none is near.

    >>> did_you_mean("wheelbse", ["wheelbase", "rake"]), did_you_mean("NM", ["mm", "Nm"])
    ("Did you mean 'wheelbase'?", "Did you mean 'Nm'?")
    """
    names = list(known)
    near = near_names(name, names)
    if near:
        return "Did you mean " + " or ".join(map(shown, near)) + "?"
    return short("Known here: " + ", ".join(names[:24]), LONGEST_LIST) + "."


def within(where: str, value: Any, least: float, most: float, unit: str = "", fix: str = "", problem: str = "") -> Any:
    """The value as a float or array of floats; InputError unless all of it is a number from least to most [unit].

    nan passes no comparison, infinity only an infinite bound. Of an array the error tells the first that is wrong; `problem` stands
    for the usual words.

    >>> within("air.humidity", 0.5, 0, 1)
    0.5
    >>> within("air.humidity", [0.5, float("nan")], 0, 1)
    Traceback (most recent call last):
    ridesim.errors.InputError: air.humidity = nan: must be a number from 0 to 1.
    """
    import numpy as np

    try:
        number = np.asarray(value)
    except ValueError:  # lists of different lengths
        number = np.asarray("")
    if number.dtype.kind in "iuf" and number.size:
        right = (number >= least) & (number <= most)
        if right.all():
            return number.astype(float) if number.ndim else float(number)
        value = number[~right].flat[0].item() if number.ndim else value
    raise InputError(where, value, problem or f"must be a number from {least:g} to {most:g} {unit}".rstrip(), fix)


def one(where: str, value: Any, least: float, most: float, unit: str = "", fix: str = "", problem: str = "") -> float:
    """As `within`, for a figure of which there is only one: a list is refused too.

    >>> one("masses", [200.0, 300.0], 1, 5000, "kg")
    Traceback (most recent call last):
    ridesim.errors.InputError: masses = [200.0, 300.0]: must be one number from 1 to 5000 kg.
    """
    if isinstance(value, list | tuple) or getattr(value, "ndim", 0) > 0:
        raise InputError(where, value, f"must be one number from {least:g} to {most:g} {unit}".rstrip(), fix)
    return float(within(where, value, least, most, unit, fix, problem))


def whole(where: str, value: Any, least: int, most: int, fix: str = "") -> int:
    """One whole number.

    >>> whole("clip", 3, 1, 5)
    3
    """
    return int(wholes(where, one(where, value, least, most, "", fix), least, most, fix))


def wholes(where: str, value: Any, least: int, most: int, fix: str = "") -> NDArray[Any]:
    """Whole numbers as an array of integers.

    >>> wholes("final_drive.front", [15, 16], 6, 40).tolist()
    [15, 16]
    """
    import numpy as np

    problem = f"must be a whole number from {least} to {most}"
    numbers = np.asarray(within(where, value, least, most, "", fix, problem))
    broken = numbers[numbers != np.round(numbers)]
    if broken.size:
        raise InputError(where, broken.flat[0].item(), problem, fix)
    return numbers.astype(np.int64)


def several(
    where: str, values: Any, least: float, most: float, unit: str = "", *, longest: int, fix: str
) -> tuple[float, ...]:
    """A list of one to `longest` numbers.

    >>> several("jets", [120, 125], 5, 1000, longest=10, fix="List the jets.")
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
