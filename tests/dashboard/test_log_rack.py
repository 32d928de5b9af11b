"""Logs are kept in memory for a stated time and in a stated number, and let go then."""

from __future__ import annotations

from types import SimpleNamespace

import numpy as np
import pytest

from dashboard import log_cache
from dashboard.log_cache import LONGEST_S, MOST_BYTES, MOST_LOGS, MOST_REMEMBERED, LogCache, size_of
from ridesim.logs.log import Log


def log(name="x.csv", samples=5):
    t = np.arange(float(samples))
    return Log(name=name, time_s=t, speed_m_s=t, distance_m=t)


def test_a_log_is_let_go_two_hours_after_its_last_use():
    clock = SimpleNamespace(now=0.0)
    rack = LogCache(lambda: clock.now)
    word, other = rack.put(log()), rack.put(log())
    clock.now = LONGEST_S - 1
    assert rack.get(word) is not None
    clock.now = 2 * LONGEST_S - 2
    assert rack.get(word) is not None and rack.get(other) is None
    clock.now += LONGEST_S + 1
    rack.sweep()
    assert len(rack) == 0 and rack.size() == 0
    assert LONGEST_S == 2 * 3600 and "2 hours" in log_cache.TOLD and "24 at most" in log_cache.TOLD


def test_the_one_used_longest_ago_makes_room():
    rack = LogCache()
    words = [rack.put(log(f"{n}")) for n in range(MOST_LOGS)]
    assert rack.get(words[0]) is not None
    rack.put(log("one more"))
    assert len(rack) == MOST_LOGS and rack.get(words[0]) is not None and rack.get(words[1]) is None


def test_the_samples_of_all_logs_stay_under_the_limit():
    rack = LogCache()
    one = log(samples=2_000_000)
    assert size_of(one) == 3 * 8 * 2_000_000
    for _ in range(12):
        rack.put(one)
        assert rack.size() <= MOST_BYTES
    assert len(rack) == MOST_BYTES // size_of(one)


def test_what_was_made_of_a_log_goes_with_it():
    rack, made = LogCache(), []

    def make():
        made.append(1)
        return len(made)

    word = rack.put(log())
    assert [rack.remembered([word], "a", make) for _ in range(3)] == [1, 1, 1]
    assert rack.remembered([word, "other"], "a", make) == 2, "other logs, another result"
    for n in range(MOST_REMEMBERED):
        rack.remembered([word], n, make)
    assert rack.remembered([word], "a", make) == MOST_REMEMBERED + 3, "only so many are kept"
    rack.drop(word)
    before = len(made)
    rack.remembered([word], "a", make)
    rack.remembered([word], "a", make)
    assert len(made) == before + 2, "nothing is kept of a log that is gone"


def test_memory_is_freed_although_nobody_asks(monkeypatch):
    started = []

    class Timer:
        daemon = False

        def __init__(self, seconds, call):
            started.append((seconds, call))

        def start(self):
            assert self.daemon, "it must not hold up the end of the program"

    monkeypatch.setattr(log_cache.threading, "Timer", Timer)
    clock = SimpleNamespace(now=0.0)
    rack = LogCache(lambda: clock.now)
    rack.put(log())
    rack.put(log())
    assert len(started) == 1 and started[0][0] <= LONGEST_S
    clock.now = LONGEST_S + 1
    started[0][1]()
    assert len(rack) == 0 and len(started) == 1, "nothing to wait for any more"


def test_words_cannot_be_guessed():
    rack = LogCache()
    words = {rack.put(log()) for _ in range(MOST_LOGS)}
    assert len(words) == MOST_LOGS and min(map(len, words)) >= 24
    for guess in ("", "0", "x" * 24):
        assert rack.get(guess) is None
    with pytest.raises(TypeError):
        rack.get(["x"])
