"""What is said beside an answer: what was assumed and what to know, each a text that knows what it is about.

Nothing reads a sentence to decide anything: it asks `path` or `about`.
"""

from __future__ import annotations

from collections.abc import Iterable
from typing import TypeVar


class Assumption(str):
    """What was assumed, and the key of the build file by which the rider can say it otherwise; "" where there is none.

    >>> one = Assumption("gearbox.efficiency", "gearbox.efficiency assumed 0.93 (one chain, one gear mesh)")
    >>> one.path, one.endswith("mesh)")
    ('gearbox.efficiency', True)
    """

    path: str

    def __new__(cls, path: str, text: str) -> Assumption:
        one = super().__new__(cls, text)
        one.path = path
        return one

    def __getnewargs__(self) -> tuple[str, str]:  # type: ignore[override]
        return self.path, str(self)


class Note(str):
    """What to know beside an answer, with what it is about before it; `text` is without that.

    >>> one = Note("rear tire", "measure the roll-out again")
    >>> one, one.about, one.text
    ('rear tire: measure the roll-out again', 'rear tire', 'measure the roll-out again')
    """

    about: str
    text: str

    def __new__(cls, about: str, text: str) -> Note:
        one = super().__new__(cls, f"{about}: {text}" if about else text)
        one.about, one.text = about, text
        return one

    def __getnewargs__(self) -> tuple[str, str]:  # type: ignore[override]
        return self.about, self.text


Said = TypeVar("Said", Assumption, Note)


def distinct(kind: type[Said], texts: Iterable[str]) -> tuple[Said, ...]:
    """Each text once; one that does not say what it is about is about nothing in particular.

    >>> [one.path for one in distinct(Assumption, ["a guess", Assumption("fuel.tank", "fuel.tank assumed"), "a guess"])]
    ['', 'fuel.tank']
    """
    return tuple(dict.fromkeys(one if isinstance(one, kind) else kind("", one) for one in texts))
