"""A log on its way: read when it is opened, kept in memory, and asked for by what the browser keeps of it."""

from __future__ import annotations

from collections.abc import Callable, Hashable, Mapping, Sequence
from dataclasses import dataclass
from functools import lru_cache
from typing import Any

from flask import Flask, current_app

from dashboard.log_cache import MOST_REMEMBERED, TOLD, LogCache
from ridesim import reference
from ridesim.errors import InputError
from ridesim.logs.log import Log
from ridesim.logs.reader import ROLES, read_log, read_log_bytes

LARGEST = 12_000_000  # bytes: a day at one sample a second, or an hour at ten, is 2 to 10 MB
LARGEST_WORDS = "12 MB"
MOST_FILES = 8  # of one question
FOLDER = reference.DATA / "demo" / "logs"
DEMOS = {
    "coast-down": "coast-down.csv",
    "before": "pulls-before.csv",
    "after": "pulls-after.csv",
    "gears": "gears.csv",
    "ride": "ride.gpx",
}
UNITS = ("time", "speed")
_DEMO_WORDS = {f"demo {key}" for key in DEMOS}
_of_demos: dict[Hashable, Any] = {}
LONGEST_NAME = 80
_PLACE = "RIDESIM_LOGS"
Entry = Mapping[str, str]


@dataclass(frozen=True, kw_only=True, eq=False)
class Opened:
    """One log that a browser has open: the word it is kept under, its name, and the log while it is still kept."""

    word: str
    name: str
    log: Log | None
    demo: bool = False  # one that comes along


def stand(server: Flask) -> None:
    """Give an app the place for its logs."""
    server.config[_PLACE] = LogCache()


def rack() -> LogCache:
    """The logs of the app that is asked."""
    found: LogCache = current_app.config[_PLACE]
    return found


def named(name: str | None) -> str:
    """The name of a file as it is told."""
    return (name or "the log")[:LONGEST_NAME]


def too_large(name: str | None, size: int) -> InputError:
    """A log that does not fit into a page."""
    return InputError(
        named(name),
        None,
        f"is larger than {LARGEST_WORDS}, the most for a page ({size / 1e6:.1f} MB)",
        "Cut it to the ride you mean, or use the command line (ridesim log), which takes 200 MB.",
    )


def opened(raw: bytes, name: str | None, hand: Mapping[str, str | None]) -> dict[str, str]:
    """Read a log and keep it; what the browser keeps. `hand` are columns and units chosen by hand, by their field.

    Raises
    ------
    InputError
        With the line and the reason, for everything that is not a log.
    """
    if len(raw) > LARGEST:
        raise too_large(name, len(raw))
    columns = {role: str(hand[role]).strip()[:120] for role in ROLES if hand.get(role)}
    units = {role: str(hand[f"{role}-unit"]).strip()[:20] for role in UNITS if hand.get(f"{role}-unit")}
    log = read_log_bytes(raw, named(name), columns=columns or None, units=units or None)
    return {"kept": rack().put(log), "name": log.name}


def demo(key: str) -> dict[str, str]:
    """What the browser keeps of a log that comes along."""
    return {"demo": key}


def entries(data: Any) -> list[Entry]:
    """The list that a browser keeps, without what is none of ours."""
    if not isinstance(data, list):
        return []
    return [one for one in data[:MOST_FILES] if isinstance(one, Mapping) and ("demo" in one or "kept" in one)]


def opened_by(data: Any) -> tuple[Opened, ...]:
    """The logs of a list that a browser keeps, in its order."""
    return tuple(_opened(one) for one in entries(data))


def _opened(entry: Entry) -> Opened:
    key = entry.get("demo")
    if isinstance(key, str) and key in DEMOS:
        log = _demo(key)
        return Opened(word=f"demo {key}", name=log.name, log=log, demo=True)
    word, name = entry.get("kept"), entry.get("name")
    name = named(name if isinstance(name, str) else None)
    if not isinstance(word, str):
        return Opened(word="", name=name, log=None)
    return Opened(word=word, name=name, log=rack().get(word))


def gone(name: str) -> InputError:
    """A log that is kept no longer."""
    return InputError(name, None, "is no longer here", f"Remove it and open it again: {TOLD}.")


def close(entry: Any) -> None:
    """Let go of a log that a browser closes."""
    word = entry.get("kept") if isinstance(entry, Mapping) else None
    if isinstance(word, str):
        rack().drop(word)


def remembered(logs: Sequence[Opened], question: Hashable, make: Callable[[], Any]) -> Any:
    """What was made of some logs: long ones are not gone through again for every field that changes."""
    words = [one.word for one in logs]
    if all(word in _DEMO_WORDS for word in words):
        key = (tuple(words), question)
        made = _of_demos.get(key) or make()
        _of_demos[key] = made
        while len(_of_demos) > MOST_REMEMBERED:
            _of_demos.pop(next(iter(_of_demos)), None)
        return made
    return rack().remembered(words, question, make)


@lru_cache(maxsize=len(DEMOS))
def _demo(key: str) -> Log:
    return read_log(FOLDER / DEMOS[key])
