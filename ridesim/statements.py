"""What is said beside an answer: what was assumed and what to know, each a text that knows what it is about.

Nothing reads a sentence to decide anything: it asks `path` or `about`.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable
from typing import Self, TypeVar


class BothWays(str):
    """A text with figures in it, in metric units, that knows how it reads in US units.

    >>> one = BothWays("10 km/h too fast", "6 mph too fast")
    >>> in_units(one, "metric"), in_units(one, "us"), in_units("no figure", "us")
    ('10 km/h too fast', '6 mph too fast', 'no figure')
    >>> ("by " + BothWays("9 mm", "0.35 in") + " back").us
    'by 0.35 in back'
    """

    us: str

    def __new__(cls, metric: str, us: str) -> Self:
        one = str.__new__(cls, metric)
        one.us = us
        return one

    @classmethod
    def of(cls, say: Callable[..., str], *about: object) -> Self:
        """What a function says of something, its last argument the system of units."""
        return cls(say(*about, "metric"), say(*about, "us"))

    def __add__(self, other: str) -> BothWays:
        """A longer text, which reads both ways too."""
        return BothWays(str.__add__(self, other), self.us + in_units(other, "us"))

    def __radd__(self, other: str) -> BothWays:
        return BothWays(str.__add__(other, self), in_units(other, "us") + self.us)

    def __getnewargs__(self) -> tuple[str, str]:  # type: ignore[override]
        return str(self), self.us


def in_units(text: str, system: str) -> str:
    """A text as it reads in "metric" or "us" units."""
    return getattr(text, "us", text) if system == "us" else text


class Assumption(BothWays):
    """What was assumed, and the key of the build file by which the rider can say it otherwise; "" where there is none.

    >>> one = Assumption("gearbox.efficiency", "gearbox.efficiency assumed 0.93 (one chain, one gear mesh)")
    >>> one.path, one.endswith("mesh)")
    ('gearbox.efficiency', True)
    """

    path: str

    def __new__(cls, path: str, text: str) -> Self:
        one = super().__new__(cls, text, in_units(text, "us"))
        one.path = path
        return one

    def __getnewargs__(self) -> tuple[str, str]:  # type: ignore[override]
        return self.path, BothWays(str(self), self.us)


class Note(BothWays):
    """What to know beside an answer, with what it is about before it; `text` is without that.

    >>> one = Note("rear tire", "measure the roll-out again")
    >>> one, one.about, one.text
    ('rear tire: measure the roll-out again', 'rear tire', 'measure the roll-out again')
    """

    about: str
    text: str

    def __new__(cls, about: str, text: str) -> Self:
        whole = about + ": " + text if about else text
        one = super().__new__(cls, whole, in_units(whole, "us"))
        one.about, one.text = about, text
        return one

    def __getnewargs__(self) -> tuple[str, str]:  # type: ignore[override]
        return self.about, self.text


def many(count: int, what: str) -> str:
    """So many of a thing.

    >>> many(1, "bike"), many(0, "bike")
    ('1 bike', '0 bikes')
    """
    return f"{count} {what}{'s' if count != 1 else ''}"


Said = TypeVar("Said", Assumption, Note)


def distinct(kind: type[Said], texts: Iterable[str]) -> tuple[Said, ...]:
    """Each text once; one that does not say what it is about is about nothing in particular.

    >>> [one.path for one in distinct(Assumption, ["a guess", Assumption("fuel.tank", "fuel.tank assumed"), "a guess"])]
    ['', 'fuel.tank']
    """
    return tuple(dict.fromkeys(one if isinstance(one, kind) else kind("", one) for one in texts))
