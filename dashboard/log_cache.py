"""Logs while they are looked at: in memory alone, bounded in number, size and time, each under a word nobody can guess."""

from __future__ import annotations

import secrets
import threading
import time
from collections import OrderedDict
from collections.abc import Callable, Hashable, Sequence
from dataclasses import dataclass, field
from typing import Any

import numpy as np

from ridesim.logs.log import Log

MOST_LOGS = 24
MOST_BYTES = 200_000_000  # of samples, all logs together
LONGEST_S = 2 * 3600  # since a log was last used
MOST_REMEMBERED = 8  # results of one log
TOLD = f"a log is kept for {LONGEST_S // 3600} hours after its last use, and {MOST_LOGS} at most"


@dataclass(kw_only=True)
class _Kept:
    log: Log
    size: int
    used_s: float
    remembered: OrderedDict[Hashable, Any] = field(default_factory=OrderedDict)


class LogCache:
    """The logs of everyone who uses this app; the one used longest ago makes room.

    Parameters
    ----------
    clock : callable
        Seconds that never run backwards.
    """

    def __init__(self, clock: Callable[[], float] = time.monotonic) -> None:
        self._clock = clock
        self._kept: OrderedDict[str, _Kept] = OrderedDict()
        self._lock = threading.RLock()
        self._timer: threading.Timer | None = None

    def __len__(self) -> int:
        return len(self._kept)

    def put(self, log: Log) -> str:
        """Keep a log; the word to ask for it by."""
        word = secrets.token_urlsafe(18)
        with self._lock:
            self._kept[word] = _Kept(log=log, size=size_of(log), used_s=self._clock())
            self.sweep()
        return word

    def get(self, word: str) -> Log | None:
        """The log of a word; None when it is kept no longer, or never was."""
        with self._lock:
            self.sweep()
            kept = self._kept.get(word)
            if kept is None:
                return None
            kept.used_s = self._clock()
            self._kept.move_to_end(word)
            return kept.log

    def drop(self, word: str) -> None:
        """Let go of a log and of all that was made of it."""
        with self._lock:
            self._kept.pop(word, None)

    def sweep(self) -> None:
        """Let go of what was not used for long, and of the oldest where there is too much."""
        with self._lock:
            oldest = self._clock() - LONGEST_S
            for word in [word for word, kept in self._kept.items() if kept.used_s < oldest]:
                del self._kept[word]
            while len(self._kept) > MOST_LOGS or self.size() > MOST_BYTES:
                self._kept.popitem(last=False)
            self._sweep_later()

    def size(self) -> int:
        """Bytes of samples kept."""
        return sum(kept.size for kept in self._kept.values())

    def remembered(self, words: Sequence[str], question: Hashable, make: Callable[[], Any]) -> Any:
        """What was made of some logs, made once; it goes when the first of them goes."""
        with self._lock:
            kept = self._kept.get(words[0]) if words else None
            key = (tuple(words), question)
            if kept is not None and key in kept.remembered:
                kept.remembered.move_to_end(key)
                return kept.remembered[key]
        made = make()
        with self._lock:
            if kept is not None:
                kept.remembered[key] = made
                while len(kept.remembered) > MOST_REMEMBERED:
                    kept.remembered.popitem(last=False)
        return made

    def _sweep_later(self) -> None:
        """Memory is freed although nobody asks for anything any more."""
        if self._timer is None and self._kept:
            self._timer = threading.Timer(LONGEST_S / 4, self._sweep_again)
            self._timer.daemon = True
            self._timer.start()

    def _sweep_again(self) -> None:
        with self._lock:
            self._timer = None
            self.sweep()


def size_of(log: Log) -> int:
    """Bytes of the samples of a log."""
    return sum(part.nbytes for part in vars(log).values() if isinstance(part, np.ndarray))
