"""Pages about logs: they show the library's numbers, refuse in words, keep nothing, and take a result into the link's build."""

from __future__ import annotations

import json
import random
from dataclasses import replace

import plotly.graph_objects as go
import pytest
from dash import dcc
from plotly.utils import PlotlyJSONEncoder
from support.hostile import csv_logs
from support.posted import texts

from dashboard import open_logs
from dashboard.forms import log_fields
from dashboard.pages import road
from dashboard.pages.road import log_opening, log_upload
from dashboard.security import checks
from dashboard.url_state import SetUp, State, from_query, to_query
from dashboard.url_state.fields import ROAD, place
from ridesim import answers
from ridesim.answers.text import sentence, shown
from ridesim.bike import make_bike
from ridesim.buildfile.io import read
from ridesim.logs.coast_down import coasted
from ridesim.logs.gears import geared
from ridesim.logs.log import directions_of, part_of
from ridesim.logs.pull import compared, pull_speeds, pulled
from ridesim.logs.reader import read_log
from ridesim.logs.ride import ridden
from ridesim.logs.runs import coast_speeds, runs_of
from ridesim.plots.log import MOST_DRAWN
from ridesim.units import quantity

DEMO = open_logs.FOLDER.parent / "coast-single.toml"
SIXTEEN = State(planned=SetUp(front=16))
SYSTEMS = ("metric", "us")
PAGES = road.PAGE.sections


def bike_of(**changes):
    return make_bike(read(DEMO), **changes)


def log_of(key):
    return read_log(open_logs.FOLDER / open_logs.DEMOS[key])


def coast(bike=None, **speeds):
    log = log_of("coast-down")
    fast, slow = coast_speeds([log])
    runs = runs_of([log], "coast-down", from_m_s=speeds.get("fast", fast), to_m_s=speeds.get("slow", slow))
    return coasted(bike or bike_of(), runs)


def curve(key, gear=3):
    low, high = pull_speeds(bike_of(), gear)
    runs = runs_of([log_of(key)], "pull", from_m_s=low, to_m_s=high)
    return pulled(bike_of(), runs, gear=gear)


def values(page, query, fields, theme="light", **kept):
    """What the browser would send: the query, the theme, the log it keeps, its fields."""
    told = {"query.data": query, "theme.data": theme}
    told |= {f"{page}-{name}.value": value for name, value in fields.items()}
    return told | {f"{page}-{which}.data": data for which, data in kept.items()}


def asked(posted, page, state=State(), fields=(), theme="light", **kept):  # noqa: B008 - a frozen record
    told = values(page, to_query(state), dict(fields), theme, **{k.replace("_", "-"): v for k, v in kept.items()})
    return posted.post(f"{page}-says.children", values=told)["response"]


def said(answer, page):
    return " ".join(texts(answer[f"{page}-says"]["children"]))


def sent(posted, raw: bytes, name="ride.csv", **hand):
    """What the app answers to a file that is handed over."""
    answer = posted.client.post(log_upload.PATH, query_string={"name": name, **hand}, data=raw)
    assert answer.status_code == 200
    return answer.json


def opened(posted, raw: bytes, name="ride.csv"):
    """What a browser keeps of a file that reads well."""
    entry = sent(posted, raw, name)
    assert set(entry) == {"kept", "name"}, entry
    return [entry]


# ---- the page's number is the library's


@pytest.mark.parametrize("system", SYSTEMS)
def test_coast_down_says_the_librarys_figures(posted, system):
    answer = asked(posted, "coast-down", State(units=system), kept=[open_logs.demo("coast-down")])
    assert sentence(coast().answer, system) in said(answer, "coast-down")
    assert not answer["coast-down-fault"]["children"]


@pytest.mark.parametrize("system", SYSTEMS)
def test_a_log_of_ones_own_says_the_same_as_the_one_that_comes_along(posted, system):
    raw = (open_logs.FOLDER / open_logs.DEMOS["coast-down"]).read_bytes()
    answer = asked(posted, "coast-down", State(units=system), kept=opened(posted, raw))
    assert sentence(coast().answer, system) in said(answer, "coast-down")


def test_what_is_invented_is_marked_and_stays_out_of_a_riders_own_bike(posted):
    own, demo = State(own=read(DEMO).text), [open_logs.demo("coast-down")]
    raw = (open_logs.FOLDER / open_logs.DEMOS["coast-down"]).read_bytes()
    for state, kept, why in (
        (own, demo, "log is invented"),
        (State(), opened(posted, raw), "bike that is open is invented"),
    ):
        answer = asked(posted, "coast-down", state, kept=kept)
        assert said(answer, "coast-down").startswith("Example") and why in said(answer, "coast-down")
        assert answer["coast-down-opened"]["className"] == "page example"
    answer = asked(posted, "coast-down", own, kept=opened(posted, raw))
    assert "Example" not in said(answer, "coast-down") and answer["coast-down-opened"]["className"] == "page"
    query, response = taken(posted, "coast-down", own, {}, kept=demo)
    assert query is None and "invented" in response["coast-down-take-error"]["children"]


def test_the_air_of_the_day_and_the_speeds_are_those_of_the_fields(posted):
    fields = {"altitude": "1200", "temperature": "5", "from-speed": "95", "to-speed": "45 km/h"}
    answer = asked(posted, "coast-down", fields=fields.items(), kept=[open_logs.demo("coast-down")])
    build = read(DEMO).changed({"air.altitude": "1200 m", "air.temperature": "5 degC"})
    found = coast(make_bike(build), fast=95 / 3.6, slow=45 / 3.6)
    assert sentence(found.answer) in said(answer, "coast-down")
    fields = {"altitude": "1200", "from-speed": "60", "to-speed": "30"}
    us = asked(posted, "coast-down", State(units="us"), fields.items(), kept=[open_logs.demo("coast-down")])
    build = read(DEMO).changed(
        {"air.altitude": "1200 ft", "air.temperature": None}
    )  # a thermometer that stood elsewhere
    found = coast(make_bike(build), fast=60 * 0.44704, slow=30 * 0.44704)
    assert sentence(found.answer, "us") in said(us, "coast-down")


@pytest.mark.parametrize("system", SYSTEMS)
def test_pulls_say_the_librarys_figures_and_what_changed(posted, system):
    shared = {"gear": 3, "standard": "SAE J1349"}
    one = asked(posted, "road-pull", State(units=system), shared.items(), before_kept=[open_logs.demo("before")])
    before, after = curve("before"), curve("after")
    assert sentence(before.answer, system) in said(one, "road-pull")
    both = asked(
        posted,
        "road-pull",
        State(units=system),
        shared.items(),
        before_kept=[open_logs.demo("before")],
        after_kept=[open_logs.demo("after")],
    )
    told = said(both, "road-pull")
    for answer in (before.answer, after.answer, compared(before, after).answer):
        assert sentence(answer, system) in told


@pytest.mark.parametrize("system", SYSTEMS)
def test_ratios_say_the_librarys_figures(posted, system):
    answer = asked(posted, "ratios", State(units=system), kept=[open_logs.demo("gears")])
    found = geared(log_of("gears"), bike=bike_of())
    assert sentence(found.answer, system) in said(answer, "ratios")
    table = " ".join(texts(answer["ratios-rays-table"]["children"]))
    assert all(shown(g.overall_ratio.value, "ratio", system) in table for g in found.found.gears)


@pytest.mark.parametrize("system", SYSTEMS)
def test_own_ride_says_the_librarys_figures_for_both_set_ups(posted, system):
    answer = asked(posted, "own-ride", replace(SIXTEEN, units=system), kept=[open_logs.demo("ride")])
    for bike in (bike_of(), bike_of(front=16)):
        assert sentence(ridden(bike, log_of("ride")).answer, system) in said(answer, "own-ride")
    listed = list(texts(answer["own-ride-listed"]["children"]))
    assert {"14/41", "16/41", "15/43", "13/38"} <= set(listed)
    assert {trace["name"] for trace in answer["own-ride-shares-graph"]["figure"]["data"]} == {"Now", "Planned"}


def test_a_stretch_is_a_stretch_of_the_log(posted):
    fields = {"from-s": 0, "to-s": 170}
    answer = asked(posted, "coast-down", fields=fields.items(), kept=[open_logs.demo("coast-down")])
    log = part_of(log_of("coast-down"), 0, 170)
    fast, slow = coast_speeds([log])
    found = coasted(bike_of(), runs_of([log], "coast-down", from_m_s=fast, to_m_s=slow))
    assert len(found.runs) == 2 and sentence(found.answer) in said(answer, "coast-down")


def test_a_stretch_dragged_out_of_the_chart_fills_the_two_fields():
    assert log_opening.chosen({"range": {"x": [81.234, 12.31]}}, whole=False) == [12.3, 81.2]
    assert log_opening.chosen(None, whole=True) == ["", ""]
    for odd in (None, {}, {"range": {}}, {"range": {"x": [1]}}, {"range": {"x": ["a", "b"]}}, {"range": {"x": [3, 3]}}):
        assert all(not isinstance(end, float) for end in log_opening.chosen(odd, whole=False))


# ---- what is drawn


@pytest.mark.parametrize("theme", ["light", "dark"])
@pytest.mark.parametrize(
    ("page", "kept"),
    [
        ("coast-down", {"kept": "coast-down"}),
        ("road-pull", {"before_kept": "before", "after_kept": "after"}),
        ("ratios", {"kept": "gears"}),
        ("own-ride", {"kept": "ride"}),
    ],
)
def test_every_chart_is_valid_named_and_has_its_table(posted, page, kept, theme):
    fields = {"gear": 3, "standard": "SAE J1349"} if page == "road-pull" else {}
    answer = asked(posted, page, SIXTEEN, fields.items(), theme, **{k: [open_logs.demo(v)] for k, v in kept.items()})
    figures = {name: value["figure"] for name, value in answer.items() if "figure" in value}
    assert len(figures) >= 2
    for name, figure in figures.items():
        checked = go.Figure(figure)  # raises on anything that is not in its schema
        assert "[" in checked.layout.xaxis.title.text and "[" in checked.layout.yaxis.title.text, name
        stem = name.removesuffix("-graph")
        assert len(answer[f"{stem}-caption"]["children"]) > 20
        assert list(texts(answer[f"{stem}-table"]["children"]))


@pytest.mark.parametrize("page", ["coast-down", "road-pull", "ratios", "own-ride"])
def test_the_road_is_minded_once_a_log_is_open(posted, page):
    """Before one is open the guide says it: see test_no_chart_stands_there_before_a_log_is_open."""
    keys = {"coast-down": "coast-down", "road-pull": "before", "ratios": "gears", "own-ride": "ride"}
    kept = {"before_kept" if page == "road-pull" else "kept": [open_logs.demo(keys[page])]}
    answer = asked(posted, page, fields={"gear": 3}.items() if page == "road-pull" else (), **kept)
    assert answer[f"{page}-opened"]["hidden"] is False and answer[f"{page}-guide"]["hidden"] is True
    words = " ".join(texts(answer[f"{page}-cautions"]["children"]))
    for text in ("closed track", "speed limits", "Eyes on the road", "nothing is to be read", "maker's manual"):
        assert text in words


@pytest.mark.parametrize("system", SYSTEMS)
def test_units_are_never_mixed(posted, system):
    for page, kept in (("coast-down", {"kept": "coast-down"}), ("own-ride", {"kept": "ride"})):
        answer = asked(posted, page, State(units=system), **{k: [open_logs.demo(v)] for k, v in kept.items()})
        words = said(answer, page) + " ".join(texts(answer[f"{page}-changes"]["children"]))
        other = (" mph", " lbf", " ft²", " mpg", " mi ") if system == "metric" else (" km", " N ", " m²", " l/100")
        assert not [unit for unit in other if unit in words]


# ---- errors


@pytest.mark.parametrize(
    ("field", "value", "words"),
    [
        ("from-s", 900, "fewer than five samples"),
        ("ways", "up", "not a list of out and back"),
        ("from-speed", "fast", "cannot be read"),
        ("to-speed", "99", "too narrow"),
        ("altitude", "9e9 km", ""),
        ("humidity", "abc", "cannot be read"),
        ("wind", "x", "cannot be read"),
    ],
)
def test_an_error_stands_beside_its_field_and_the_last_chart_stays(posted, field, value, words):
    answer = asked(posted, "coast-down", fields={field: value}.items(), kept=[open_logs.demo("coast-down")])
    beside = {name: props["error"] for name, props in answer.items() if props.get("error")}
    place = "coast-down-from-speed" if field == "to-speed" and words else f"coast-down-{field}"
    assert list(beside) == [place] and words in beside[place]
    assert "coast-down-force-graph" not in answer and "coast-down-says" not in answer
    assert "dim" in answer["coast-down-dim"]["className"]
    assert answer["coast-down-log-graph"]["figure"]["data"], "the log itself stays in sight"


def test_the_errors_of_two_logs_stand_apart(posted):
    fields = {"gear": 3, "after-ways": "up", "before-altitude": "x"}
    answer = asked(
        posted,
        "road-pull",
        fields=fields.items(),
        before_kept=[open_logs.demo("before")],
        after_kept=[open_logs.demo("after")],
    )
    beside = {name for name, props in answer.items() if props.get("error")}
    assert beside == {"road-pull-after-ways", "road-pull-before-altitude"}
    answer = asked(posted, "road-pull", fields={"gear": 9}.items(), before_kept=[open_logs.demo("before")])
    assert "5 gears" in answer["road-pull-gear"]["error"]


def test_a_log_without_engine_speed_is_told(posted):
    answer = asked(posted, "ratios", kept=[open_logs.demo("coast-down")])
    assert "holds no engine speed" in " ".join(texts(answer["ratios-fault"]["children"]))


# ---- opening


def day_log(samples=86_400):
    """A whole day at one sample a second, as a phone writes it: some 5 MB."""
    head = "time [s],speed [km/h],latitude,longitude,elevation [m],accuracy [m],heading [deg]\n"
    row = "{0}.000,{1}.50,{2:.7f},11.5000000,512.40,3.90,181.20\n"
    return (head + "".join(row.format(n, 30 + n % 61, 48 + n * 1e-5) for n in range(samples))).encode()


def test_a_log_of_a_whole_day_is_taken_and_kept_once(app, posted):
    raw = day_log()
    assert 4_000_000 < len(raw) < open_logs.LARGEST
    entry = sent(posted, raw, "day.csv")
    assert entry["name"] == "day.csv" and len(json.dumps(entry)) < 200, "the browser keeps a word, not the log"
    with app.server.app_context():
        (one,) = open_logs.opened_by([entry])
    assert one.log.time_s.size == 86_400
    answer = asked(posted, "own-ride", fields={"from-s": 1000, "to-s": 3000}.items(), kept=[entry])
    assert "your ride" in said(answer, "own-ride").lower() or not answer["own-ride-fault"]["children"]
    drawn = answer["own-ride-log-graph"]["figure"]["data"][0]
    assert len(drawn["x"]) <= MOST_DRAWN, "no more is drawn than a screen can show"


def test_a_log_of_twelve_megabytes_is_taken_and_one_byte_more_is_pointed_to_the_command_line(app, posted):
    row = "{0},{1}," + "x" * 60 + "\n"
    text = "time [s],speed [km/h],note\n" + "".join(row.format(n, 30 + n % 40) for n in range(175_000))
    raw = text.encode()[: open_logs.LARGEST - 1] + b"\n"
    assert len(raw) == open_logs.LARGEST
    assert "kept" in sent(posted, raw)
    answer = posted.client.post(log_upload.PATH, query_string={"name": "long.csv"}, data=raw + b"\n")
    assert answer.status_code == 413
    for word in ("long.csv", "larger than 12 MB", "(12.0 MB)", "ridesim log"):
        assert word in answer.json["error"]


def test_only_the_address_of_logs_takes_more_than_the_small_limit(posted):
    body = b"x" * (checks.LARGEST_REQUEST + 1)
    for path in ("/_dash-update-component", "/", "/log-file/more"):
        assert posted.client.post(path, data=body, content_type="application/json").status_code in (404, 405, 413)
    assert posted.client.post("/_dash-update-component", data=body, content_type="application/json").status_code == 413
    assert posted.client.post(log_upload.PATH, data=body).status_code == 200


def test_columns_by_hand(posted):
    raw = ("alpha;beta;gamma\n" + "\n".join(f"{n};{n};{30 + n % 7}" for n in range(40))).encode()
    error = sent(posted, raw, "odd.csv")["error"]
    assert "Name the columns yourself" in error and "columns=" not in error and "alpha" in error
    hand = {"time": "alpha", "speed": "gamma", "speed-unit": "km/h"}
    told = sent(posted, raw, "odd.csv", **hand)
    assert "kept" in told or "time" in told["error"]


@pytest.mark.parametrize(
    ("raw", "name"),
    [
        (b"", "x"),
        (b"", "x" * 5000),
        (b"no log at all\n" * 20, "notes.csv"),
        (b"\0" * 4000, "<script>"),
        (b"A" * 3_000_000, "large.csv"),
        (b"<!DOCTYPE a [<!ENTITY b 'c'>]><gpx/>", "a.gpx"),
    ],
    ids=range(6),
)
def test_what_is_no_log_is_refused_in_a_sentence(posted, raw, name):
    told = sent(posted, raw, name)
    assert list(told) == ["error"] and len(told["error"]) > 10 and "Traceback" not in told["error"]


@pytest.mark.parametrize(
    "kept",
    [
        {"packed": "x"},
        [{"demo": "../../etc/passwd"}],
        [{"demo": 5}],
        [{"kept": "no-such-word", "name": "mine.csv"}],
        [{"kept": 5, "name": ["x"]}],
        [{"kept": "x" * 100_000, "name": "y" * 100_000}],
        [open_logs.demo("coast-down"), {"kept": "gone", "name": "gone.csv"}],
        [[]],
        [],
        "text",
        7,
    ],
    ids=range(11),
)
def test_what_is_not_kept_is_told_and_asked_for(posted, kept):
    answer = asked(posted, "coast-down", kept=kept)
    assert "Open a log" in said(answer, "coast-down") and answer["coast-down-opened"]["hidden"]
    told = " ".join(texts(answer["coast-down-named"]["children"]))
    ours = [one for one in kept if isinstance(one, dict)] if isinstance(kept, list) else []
    assert ("is no longer here" in told) == bool(ours)
    assert len(told) < 600


def test_two_hundred_spoilt_logs_are_opened_or_refused_in_words(app):
    rng = random.Random(4)
    with app.server.app_context():
        for good in csv_logs():
            for _ in range(20):
                raw = bytearray(good)
                for _ in range(rng.randint(1, 12)):
                    raw[rng.randrange(len(raw))] = rng.randrange(256)
                told = log_upload.taken(bytes(raw), "spoilt.csv", {})
                assert told.get("error") or open_logs.opened_by([told])[0].log.time_s.size


def test_a_log_is_found_by_its_word_alone(posted):
    """What one browser sent is not there for the next, whatever it asks."""
    raw = b"time [s],speed [km/h]\n" + b"\n".join(b"%d,%d" % (n, 40 + n % 9) for n in range(60))
    one, other = (opened(posted, raw, "secret-name.csv")[0]["kept"] for _ in range(2))
    assert one != other and len(one) >= 24
    asked(posted, "own-ride", kept=[{"kept": one, "name": "secret-name.csv"}])
    assert "secret-name" not in json.dumps(asked(posted, "own-ride"))
    assert open_logs._demo.cache_info().maxsize == len(open_logs.DEMOS)


def test_a_log_that_is_taken_off_is_let_go(app, posted):
    raw = b"time [s],speed [km/h]\n" + b"\n".join(b"%d,%d" % (n, 40 + n % 9) for n in range(60))
    entries = [*opened(posted, raw, "a.csv"), *opened(posted, raw, "b.csv")]
    with app.server.app_context():
        told = log_opening.removed(entries, 0)
        assert [one["name"] for one in told["kept"]] == ["b.csv"] and told["ends"] != ["", ""]
        assert [one.log is None for one in open_logs.opened_by(entries)] == [True, False]
        told = log_opening.removed(told["kept"], 0)
        assert told == {"kept": None, "ends": ["", ""]}
        assert open_logs.opened_by(entries)[1].log is None


# ---- several logs for one question


def halves(key, at_s, name="log"):
    """A log that comes along, cut in two files."""
    lines = (open_logs.FOLDER / open_logs.DEMOS[key]).read_text().splitlines()
    start = next(n for n, line in enumerate(lines) if line.startswith("time"))
    head, rows = lines[start], lines[start + 1 :]
    first = [row for row in rows if float(row.split(",")[0]) <= at_s]
    return ["\n".join([head, *part]).encode() for part in (first, rows[len(first) :])]


@pytest.mark.parametrize("system", SYSTEMS)
def test_coast_downs_in_several_files_make_one_answer(posted, tmp_path, system):
    """The page does with several logs what the command line does: the same runs, named by their log."""
    parts = halves("coast-down", 140)
    kept = [one for n, raw in enumerate(parts) for one in opened(posted, raw, f"part-{n}.csv")]
    answer = asked(posted, "coast-down", State(units=system), {"ways": "out, back, out, back"}.items(), kept=kept)
    paths = [tmp_path / f"part-{n}.csv" for n in range(len(parts))]
    for path, raw in zip(paths, parts, strict=True):
        path.write_bytes(raw)
    read_logs = [read_log(path) for path in paths]
    fast, slow = coast_speeds(read_logs)
    ways = directions_of("out, back, out, back")
    runs = runs_of(read_logs, "coast-down", from_m_s=fast, to_m_s=slow, directions=ways)
    found = coasted(bike_of(), runs)
    assert sentence(found.answer, system) in said(answer, "coast-down")
    assert len(runs) > 2 and {run.name.rpartition(" of ")[2] for run in runs} == {"part-0.csv", "part-1.csv"}
    listed = list(texts(answer["coast-down-named"]["children"]))
    assert listed.count("Remove") == 2 and any("part-1.csv" in text for text in listed)
    names = [trace["name"] for trace in answer["coast-down-log-graph"]["figure"]["data"]]
    assert names[:2] == ["1. part-0.csv", "2. part-1.csv"]


def test_a_stretch_that_one_of_several_logs_has_not_names_that_log(posted):
    raw = halves("coast-down", 60)[0]
    kept = [open_logs.demo("coast-down"), *opened(posted, raw, "short.csv")]
    answer = asked(posted, "coast-down", fields={"from-s": 100, "to-s": 170}.items(), kept=kept)
    assert "of short.csv" in answer["coast-down-from-s"]["error"]


def test_runs_of_a_long_log_are_looked_for_once(app, posted, monkeypatch):
    raw = (open_logs.FOLDER / open_logs.DEMOS["coast-down"]).read_bytes()
    kept = opened(posted, raw)
    first = asked(posted, "coast-down", kept=kept)
    monkeypatch.setattr("dashboard.queries.logs.runs_of", lambda *a, **k: pytest.fail("looked for again"))
    again = asked(posted, "coast-down", fields={"temperature": "5"}.items(), kept=kept)
    assert said(again, "coast-down") != said(first, "coast-down")


# ---- before a log is open


@pytest.mark.parametrize("page", PAGES, ids=lambda p: p.key)
def test_no_chart_stands_there_before_a_log_is_open(posted, page):
    """The layout hides what needs a log, and the callback leaves it hidden and draws nothing."""
    laid = page.layout(State())
    hidden = [one for one in laid._traverse() if getattr(one, "hidden", False)]
    graphs = [one for one in laid._traverse() if isinstance(one, dcc.Graph)]
    inside = {g.id for h in hidden for g in h._traverse() if isinstance(g, dcc.Graph)}
    assert graphs and {g.id for g in graphs} == inside
    answer = asked(posted, page.key, fields={"gear": 3}.items() if page.key == "road-pull" else ())
    assert answer[f"{page.key}-opened"]["hidden"] is True and answer[f"{page.key}-guide"]["hidden"] is False
    assert not [name for name in answer if "figure" in answer[name]]
    guide = next(one for one in laid._traverse() if getattr(one, "id", None) == f"{page.key}-guide")
    words = " ".join(texts(json.loads(json.dumps(guide, cls=PlotlyJSONEncoder))["props"]["children"]))
    for text in (
        "What to record",
        "How to ride",
        "closed track",
        "speed limits",
        "Eyes on the road",
        "nothing is to be read",
        "kept for 2 hours after its last use",
    ):
        assert text in words
    demos = [one for one in laid._traverse() if str(getattr(one, "id", "")).endswith("demo")]
    assert demos and all("invented" in one.children or "after it" in one.children for one in demos)


# ---- the link


CHOICES = {
    "coast-down": {"from-s": 10, "to-s": 170.5, "ways": "out, back", "temperature": "5 degC", "wind": "3 km/h"},
    "road-pull": {"gear": 2, "standard": "DIN 70020", "after-from-s": 4, "before-altitude": "900 m", "name": "new jet"},
    "ratios": {"to-s": 99, "gears": 5},
    "own-ride": {"from-s": 30, "up": "55 %", "down": "20 %", "lugging": "1800 rev/min"},
}


@pytest.mark.parametrize("page", CHOICES)
def test_the_choices_go_into_the_link_and_come_back(posted, page):
    fields = {f"{page}-{name}": value for name, value in CHOICES[page].items()}
    before = to_query(SIXTEEN)
    query = log_fields.kept(fields, before)
    state, problems = from_query(query)
    assert not problems and to_query(state) == query and state.planned == SIXTEEN.planned
    assert {key: log_fields.value(state, key) for key in fields} == fields
    laid = {
        getattr(one, "id", ""): one
        for one in next(p for p in PAGES if p.key == page).layout(state)._traverse()
        if isinstance(getattr(one, "id", ""), str)
    }
    assert {key: laid[key].value for key in fields} == fields, "the page comes back as it was left"
    gone = log_fields.taken(dict.fromkeys(fields), state)
    left = {key for key in fields if getattr(gone.fields, place(key))}
    assert left == {key for key in fields if ROAD[key].plain}, "an emptied field leaves the link"


def test_what_cannot_be_read_does_not_spoil_the_link():
    kept = to_query(log_fields.taken({"coast-down-ways": "out", "coast-down-temperature": "warm"}, State()))
    assert kept == "?coast-down-ways=out"
    assert from_query("?coast-down-from-s=soon")[1][0].key == "coast-down-from-s"
    assert from_query("?road-pull-standard=mine")[1][0].key == "road-pull-standard"


def test_a_bare_figure_goes_into_the_link_in_the_unit_shown():
    state = log_fields.taken({"coast-down-altitude": "1200", "coast-down-from-speed": "60"}, State(units="us"))
    assert "1200" in state.fields.coast_down_altitude and "ft" in state.fields.coast_down_altitude
    assert log_fields.value(replace(state, units="metric"), "coast-down-from-speed") == "96.6 km/h"


@pytest.mark.parametrize("page", CHOICES)
def test_a_link_without_the_log_says_so_and_asks_for_it(posted, page):
    fields = {f"{page}-{name}": value for name, value in CHOICES[page].items()}
    state = log_fields.taken(fields, State())
    words = said(asked(posted, page, state), page)
    assert "Open a log" in words and "never the log itself" in words
    assert "never the log itself" not in said(asked(posted, page), page)
    for value in CHOICES[page].values():
        assert str(value) in words


# ---- into the build


def taken(posted, page, state, fields, **kept):
    told = values(page, to_query(state), fields, **{k.replace("_", "-"): v for k, v in kept.items()})
    told[f"{page}-take.n_clicks"] = 1
    response = posted.post(f"{page}-taken.children", values=told)["response"]
    link = response.get("link", {})
    query = next((value for value in link.values()), None)
    return query, response


def test_the_result_of_the_coast_downs_goes_into_the_link(posted):
    query, response = taken(posted, "coast-down", State(), {}, kept=[open_logs.demo("coast-down")])
    state, problems = from_query(query)
    assert not problems
    found = coast().found
    build = make_bike(read(DEMO)).build  # the text before
    area = quantity(_load(state.own)["drag_area"], "area", "m^2", "")
    assert float(area) == pytest.approx(found.drag_area_m2.value, abs=5e-4)
    assert area.plus_minus == pytest.approx(found.drag_area_m2.high - found.drag_area_m2.value, abs=5e-4)
    assert "# INVENTED" in state.own and state.own != build.text
    told = " ".join(texts(response["coast-down-taken"]["children"]))
    for text in (DEMO.read_text(), state.own):
        from ridesim.buildfile.io import parse

        run = answers.standing_run(answers.solve(make_bike(parse(text))))
        assert shown(run.figures["top"].value, "speed") in told


def _load(text):
    import tomllib

    return tomllib.loads(text)["road_load"]


def test_the_later_curve_goes_into_the_link_as_a_tune(posted):
    fields = {"gear": 3, "standard": "SAE J1349", "name": "re-jetted"}
    kept = {"before_kept": [open_logs.demo("before")], "after_kept": [open_logs.demo("after")]}
    query, _ = taken(posted, "road-pull", State(), fields, **kept)
    state, problems = from_query(query)
    assert not problems and state.planned.tune == "re-jetted" and "[tune.re-jetted]" in state.own
    _, response = taken(posted, "road-pull", State(), fields | {"name": "bad name"}, **kept)
    assert "usable name" in response["road-pull-take-error"]["children"]


def test_the_ratios_go_into_the_link(posted):
    query, _ = taken(posted, "ratios", State(), {}, kept=[open_logs.demo("gears")])
    from ridesim.buildfile.io import parse

    new = make_bike(parse(from_query(query)[0].own))
    found = geared(log_of("gears"), bike=bike_of())
    overall = [g.overall_ratio.value for g in found.found.gears]
    assert list(new.setups.ratios[0]) == pytest.approx(overall, rel=1e-4)


def test_nothing_is_taken_where_there_is_no_result(posted):
    query, response = taken(posted, "coast-down", State(), {})
    assert query is None and "Open a log first" in response["coast-down-take-error"]["children"]
    query, response = taken(posted, "coast-down", State(), {"ways": "up"}, kept=[open_logs.demo("coast-down")])
    assert query is None and "no result" in response["coast-down-take-error"]["children"]
    query, response = taken(posted, "ratios", State(demo="road-twin"), {}, kept=[open_logs.demo("gears")])
    assert query is None and "gears of the build" in response["ratios-take-error"]["children"]
