"""Logs that are handed over: read or refused in words, kept in memory for a stated time and number, and let go then."""

from __future__ import annotations

import json
from types import SimpleNamespace

import numpy as np
import pytest
from support.posted import texts

from dashboard import log_cache, open_logs
from dashboard.log_cache import LONGEST_S, MOST_BYTES, MOST_LOGS, MOST_REMEMBERED, LogCache, size_of
from dashboard.pages.road import log_opening, log_upload
from dashboard.security import checks
from ridesim.logs.log import Log
from ridesim.plots.log import MOST_DRAWN


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


def asked(posted, page, kept, **fields):
    told = {"query.data": "", "theme.data": "light", f"{page}-kept.data": kept}
    told |= {f"{page}-{name.replace('_', '-')}.value": value for name, value in fields.items()}
    return posted.post(f"{page}-says.children", values=told)["response"]


def said(answer, page):
    return " ".join(texts(answer[f"{page}-says"]["children"]))


SHORT = b"time [s],speed [km/h]\n" + b"\n".join(b"%d,%d" % (n, 40 + n % 9) for n in range(60))


def test_a_stretch_dragged_out_of_the_chart_fills_the_two_fields():
    assert log_opening.chosen({"range": {"x": [81.234, 12.31]}}, whole=False) == [12.3, 81.2]
    assert log_opening.chosen(None, whole=True) == ["", ""]
    for odd in (None, {"range": {}}, {"range": {"x": [1]}}, {"range": {"x": ["a", "b"]}}, {"range": {"x": [3, 3]}}):
        assert all(not isinstance(end, float) for end in log_opening.chosen(odd, whole=False))


def day_log(samples=86_400):
    """A whole day at one sample a second, as a phone writes it: some 5 MB."""
    head = "time [s],speed [km/h],latitude,longitude,elevation [m],accuracy [m],heading [deg]\n"
    row = "{0}.000,{1}.50,{2:.7f},11.5000000,512.40,3.90,181.20\n"
    return (head + "".join(row.format(n, 30 + n % 61, 48 + n * 1e-5) for n in range(samples))).encode()


def test_a_log_of_a_whole_day_is_taken_and_kept_once(app, posted, sent):
    raw = day_log()
    assert 4_000_000 < len(raw) < open_logs.LARGEST
    entry = sent(raw, "day.csv")
    assert entry["name"] == "day.csv" and len(json.dumps(entry)) < 200, "the browser keeps a word, not the log"
    with app.server.app_context():
        (one,) = open_logs.opened_by([entry])
    assert one.log.time_s.size == 86_400
    answer = asked(posted, "own-ride", [entry], from_s=1000, to_s=3000)
    assert not answer["own-ride-fault"]["children"]
    drawn = answer["own-ride-log-graph"]["figure"]["data"][0]
    assert len(drawn["x"]) <= MOST_DRAWN, "no more is drawn than a screen can show"


@pytest.mark.parametrize(
    "kept",
    [{"packed": "x"}, [{"demo": "../../etc/passwd"}], [{"demo": 5}], [{"kept": "no-such-word", "name": "mine.csv"}],
     [{"kept": 5, "name": ["x"]}], [{"kept": "x" * 100_000, "name": "y" * 100_000}],
     [open_logs.demo("coast-down"), {"kept": "gone", "name": "gone.csv"}], [[]], [], "text", 7],
    ids=range(11),
)  # fmt: skip
def test_what_is_not_kept_is_told_and_asked_for(posted, kept):
    answer = asked(posted, "coast-down", kept)
    assert "Open a log" in said(answer, "coast-down") and answer["coast-down-opened"]["hidden"]
    told = " ".join(texts(answer["coast-down-named"]["children"]))
    ours = [one for one in kept if isinstance(one, dict)] if isinstance(kept, list) else []
    assert ("is no longer here" in told) == bool(ours)
    assert len(told) < 600


def test_a_log_is_found_by_its_word_alone(posted, sent):
    """What one browser sent is not there for the next, whatever it asks."""
    one, other = (sent(SHORT, "secret-name.csv")["kept"] for _ in range(2))
    assert one != other and len(one) >= 24, "it cannot be guessed"
    asked(posted, "own-ride", [{"kept": one, "name": "secret-name.csv"}])
    assert "secret-name" not in json.dumps(asked(posted, "own-ride", None))
    assert open_logs._demo.cache_info().maxsize == len(open_logs.DEMOS)


def test_a_log_of_twelve_megabytes_is_taken_and_one_byte_more_is_pointed_to_the_command_line(posted, sent):
    row = "{0},{1}," + "x" * 60 + "\n"
    text = "time [s],speed [km/h],note\n" + "".join(row.format(n, 30 + n % 40) for n in range(175_000))
    raw = text.encode()[: open_logs.LARGEST - 1] + b"\n"
    assert len(raw) == open_logs.LARGEST
    assert "kept" in sent(raw)
    answer = posted.client.post(log_upload.PATH, query_string={"name": "long.csv"}, data=raw + b"\n")
    assert answer.status_code == 413
    for word in ("long.csv", "larger than 12 MB", "(12.0 MB)", "ridesim log"):
        assert word in answer.json["error"]


def test_only_the_address_of_logs_takes_more_than_the_small_limit(posted):
    body = b"x" * (checks.LARGEST_REQUEST + 1)
    refusals = {"/_dash-update-component": (413,), "/": (405, 413), "/log-file/more": (404, 405, 413)}
    for path, wanted in (refusals | {log_upload.PATH: (200,)}).items():
        assert posted.client.post(path, data=body, content_type="application/json").status_code in wanted


def test_columns_by_hand(sent):
    raw = ("alpha;beta;gamma\n" + "\n".join(f"{n};{n};{30 + n % 7}" for n in range(40))).encode()
    error = sent(raw, "odd.csv")["error"]
    assert "Name the columns yourself" in error and "columns=" not in error and "alpha" in error
    hand = {"time": "alpha", "speed": "gamma", "speed-unit": "km/h"}
    told = sent(raw, "odd.csv", **hand)
    assert "kept" in told or "time" in told["error"]


@pytest.mark.parametrize(
    ("raw", "name"),
    [(b"", "x"), (b"", "x" * 5000), (b"no log at all\n" * 20, "notes.csv"), (b"\0" * 4000, "<script>"),
     (b"A" * 3_000_000, "large.csv"), (b"<!DOCTYPE a [<!ENTITY b 'c'>]><gpx/>", "a.gpx")],
    ids=range(6),
)  # fmt: skip
def test_what_is_no_log_is_refused_in_a_sentence(sent, raw, name):
    told = sent(raw, name)
    assert list(told) == ["error"] and len(told["error"]) > 10 and "Traceback" not in told["error"]


def test_a_log_that_is_taken_off_is_let_go(app, sent):
    entries = [sent(SHORT, "a.csv"), sent(SHORT, "b.csv")]
    with app.server.app_context():
        told = log_opening.removed(entries, 0)
        assert [one["name"] for one in told["kept"]] == ["b.csv"] and told["ends"] != ["", ""]
        assert [one.log is None for one in open_logs.opened_by(entries)] == [True, False]
        told = log_opening.removed(told["kept"], 0)
        assert told == {"kept": None, "ends": ["", ""]}
        assert open_logs.opened_by(entries)[1].log is None
