"""Pages about logs: they show the library's numbers, refuse in words, keep nothing, and take a result into the link's build."""

from __future__ import annotations

import base64
import json
import random
import zlib
from dataclasses import replace

import plotly.graph_objects as go
import pytest
from support.hostile import csv_logs
from support.posted import outputs_of as grouped
from support.posted import texts

from dashboard import log_open, logs
from dashboard.pages import coastdown, own_ride, pull_log, ratios
from dashboard.state import SetUp, State, from_query, to_query
from ridesim import answers, roadtest
from ridesim.answers.words import sentence, shown
from ridesim.bike import make_bike
from ridesim.build import read
from ridesim.errors import InputError
from ridesim.roadlog import read_log
from ridesim.units import quantity

DEMO = logs.tables.DATA / "demo" / "trail-single.toml"
SIXTEEN = State(might=SetUp(front=16))
SYSTEMS = ("metric", "us")


def bike_of(**changes):
    return make_bike(read(DEMO), **changes)


def log_of(key):
    return read_log(logs.FOLDER / logs.DEMOS[key])


def coast(bike=None, **speeds):
    log = log_of("coast-down")
    fast, slow = roadtest.coast_speeds([log])
    runs = roadtest.runs_of([log], "coast-down", from_m_s=speeds.get("fast", fast), to_m_s=speeds.get("slow", slow))
    return roadtest.coasted(bike or bike_of(), runs)


def curve(key, gear=3):
    low, high = roadtest.pull_speeds(bike_of(), gear)
    runs = roadtest.runs_of([log_of(key)], "pull", from_m_s=low, to_m_s=high)
    return roadtest.pulled(bike_of(), runs, gear=gear)


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


def opened(raw: bytes, name="ride.csv"):
    """What a browser keeps of an opened file."""
    contents = "data:text/csv;base64," + base64.b64encode(raw).decode()
    return logs.opened(contents, name, {})


# ---- the page's number is the library's


@pytest.mark.parametrize("system", SYSTEMS)
def test_coast_down_says_the_librarys_figures(posted, system):
    answer = asked(posted, "coast-down", State(units=system), kept=logs.demo("coast-down"))
    assert sentence(coast().answer, system) in said(answer, "coast-down")
    assert not answer["coast-down-fault"]["children"]


@pytest.mark.parametrize("system", SYSTEMS)
def test_a_log_of_ones_own_says_the_same_as_the_one_that_comes_along(posted, system):
    raw = (logs.FOLDER / logs.DEMOS["coast-down"]).read_bytes()
    answer = asked(posted, "coast-down", State(units=system), kept=opened(raw))
    assert sentence(coast().answer, system) in said(answer, "coast-down")


def test_the_air_of_the_day_and_the_speeds_are_those_of_the_fields(posted):
    fields = {"altitude": "1200", "temperature": "5", "from-speed": "95", "to-speed": "45 km/h"}
    answer = asked(posted, "coast-down", fields=fields.items(), kept=logs.demo("coast-down"))
    build = read(DEMO).changed({"air.altitude": "1200 m", "air.temperature": "5 degC"})
    found = coast(make_bike(build), fast=95 / 3.6, slow=45 / 3.6)
    assert sentence(found.answer) in said(answer, "coast-down")
    fields = {"altitude": "1200", "from-speed": "60", "to-speed": "30"}
    us = asked(posted, "coast-down", State(units="us"), fields.items(), kept=logs.demo("coast-down"))
    build = read(DEMO).changed({"air.altitude": "1200 ft"})
    found = coast(make_bike(build), fast=60 * 0.44704, slow=30 * 0.44704)
    assert sentence(found.answer, "us") in said(us, "coast-down")


@pytest.mark.parametrize("system", SYSTEMS)
def test_pulls_say_the_librarys_figures_and_what_changed(posted, system):
    shared = {"gear": 3, "standard": "SAE J1349"}
    one = asked(posted, "road-pull", State(units=system), shared.items(), before_kept=logs.demo("before"))
    before, after = curve("before"), curve("after")
    assert sentence(before.answer, system) in said(one, "road-pull")
    both = asked(
        posted,
        "road-pull",
        State(units=system),
        shared.items(),
        before_kept=logs.demo("before"),
        after_kept=logs.demo("after"),
    )
    told = said(both, "road-pull")
    for answer in (before.answer, after.answer, roadtest.compared(before, after).answer):
        assert sentence(answer, system) in told


@pytest.mark.parametrize("system", SYSTEMS)
def test_ratios_say_the_librarys_figures(posted, system):
    answer = asked(posted, "ratios", State(units=system), kept=logs.demo("gears"))
    found = roadtest.geared(log_of("gears"), bike=bike_of())
    assert sentence(found.answer, system) in said(answer, "ratios")
    table = " ".join(texts(answer["ratios-rays-table"]["children"]))
    assert all(shown(g.overall_ratio.value, "ratio", system) in table for g in found.found.gears)


@pytest.mark.parametrize("system", SYSTEMS)
def test_own_ride_says_the_librarys_figures_for_both_set_ups(posted, system):
    answer = asked(posted, "own-ride", replace(SIXTEEN, units=system), kept=logs.demo("ride"))
    for bike in (bike_of(), bike_of(front=16)):
        assert sentence(roadtest.ridden(bike, log_of("ride")).answer, system) in said(answer, "own-ride")
    listed = list(texts(answer["own-ride-listed"]["children"]))
    assert {"15/45", "16/45", "14/42", "17/48"} <= set(listed)
    assert {trace["name"] for trace in answer["own-ride-shares-graph"]["figure"]["data"]} == {"Now", "Might be"}


def test_a_stretch_is_a_stretch_of_the_log(posted):
    fields = {"from-s": 0, "to-s": 170}
    answer = asked(posted, "coast-down", fields=fields.items(), kept=logs.demo("coast-down"))
    log = roadtest.part_of(log_of("coast-down"), 0, 170)
    fast, slow = roadtest.coast_speeds([log])
    found = roadtest.coasted(bike_of(), roadtest.runs_of([log], "coast-down", from_m_s=fast, to_m_s=slow))
    assert len(found.runs) == 2 and sentence(found.answer) in said(answer, "coast-down")


def test_a_stretch_dragged_out_of_the_chart_fills_the_two_fields():
    assert log_open.chosen({"range": {"x": [81.234, 12.31]}}, whole=False) == [12.3, 81.2]
    assert log_open.chosen(None, whole=True) == ["", ""]
    for odd in (None, {}, {"range": {}}, {"range": {"x": [1]}}, {"range": {"x": ["a", "b"]}}, {"range": {"x": [3, 3]}}):
        assert all(not isinstance(end, float) for end in log_open.chosen(odd, whole=False))


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
    answer = asked(posted, page, SIXTEEN, fields.items(), theme, **{k: logs.demo(v) for k, v in kept.items()})
    figures = {name: value["figure"] for name, value in answer.items() if "figure" in value}
    assert len(figures) >= 2
    for name, figure in figures.items():
        checked = go.Figure(figure)  # raises on anything that is not in its schema
        assert "[" in checked.layout.xaxis.title.text and "[" in checked.layout.yaxis.title.text, name
        stem = name.removesuffix("-graph")
        assert len(answer[f"{stem}-image"]["aria-label"]) > 20
        assert list(texts(answer[f"{stem}-table"]["children"]))


@pytest.mark.parametrize("page", ["coast-down", "road-pull", "ratios", "own-ride"])
@pytest.mark.parametrize("open_", [False, True])
def test_the_road_is_minded_before_and_after_a_log_is_opened(posted, page, open_):
    keys = {"coast-down": "coast-down", "road-pull": "before", "ratios": "gears", "own-ride": "ride"}
    kept = {"before_kept" if page == "road-pull" else "kept": logs.demo(keys[page])} if open_ else {}
    answer = asked(posted, page, fields={"gear": 3}.items() if page == "road-pull" else (), **kept)
    words = " ".join(texts(answer[f"{page}-cautions"]["children"]))
    for text in ("closed track", "speed limits", "Eyes on the road", "nothing is to be read", "maker's manual"):
        assert text in words


@pytest.mark.parametrize("system", SYSTEMS)
def test_units_are_never_mixed(posted, system):
    for page, kept in (("coast-down", {"kept": "coast-down"}), ("own-ride", {"kept": "ride"})):
        answer = asked(posted, page, State(units=system), **{k: logs.demo(v) for k, v in kept.items()})
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
    answer = asked(posted, "coast-down", fields={field: value}.items(), kept=logs.demo("coast-down"))
    beside = {name: props["error"] for name, props in answer.items() if props.get("error")}
    place = "coast-down-from-speed" if field == "to-speed" and words else f"coast-down-{field}"
    assert list(beside) == [place] and words in beside[place]
    assert "coast-down-force-graph" not in answer and "coast-down-says" not in answer
    assert "dim" in answer["coast-down-dim"]["className"]
    assert answer["coast-down-log-graph"]["figure"]["data"], "the log itself stays in sight"


def test_the_errors_of_two_logs_stand_apart(posted):
    fields = {"gear": 3, "after-ways": "up", "before-altitude": "x"}
    answer = asked(
        posted, "road-pull", fields=fields.items(), before_kept=logs.demo("before"), after_kept=logs.demo("after")
    )
    beside = {name for name, props in answer.items() if props.get("error")}
    assert beside == {"road-pull-after-ways", "road-pull-before-altitude"}
    answer = asked(posted, "road-pull", fields={"gear": 9}.items(), before_kept=logs.demo("before"))
    assert "5 gears" in answer["road-pull-gear"]["error"]


def test_a_log_without_engine_speed_is_told(posted):
    answer = asked(posted, "ratios", kept=logs.demo("coast-down"))
    assert "holds no engine speed" in " ".join(texts(answer["ratios-fault"]["children"]))


# ---- opening


def test_opening_answers_with_what_the_browser_keeps(posted):
    raw = (logs.FOLDER / logs.DEMOS["coast-down"]).read_bytes()
    contents = "data:text/csv;base64," + base64.b64encode(raw).decode()
    asks = next(d for d in posted.dependencies if any(i["id"] == "coast-down-raw" for i in d["inputs"]))
    raw_value = {"contents": contents, "name": "ride.csv"}
    body = {
        "output": asks["output"],
        "outputs": grouped(asks["output"]),
        "inputs": [{**one, "value": raw_value if one["id"] == "coast-down-raw" else None} for one in asks["inputs"]],
        "state": [{**one, "value": None} for one in asks["state"]],
        "changedPropIds": ["coast-down-raw.data"],
    }
    answer = posted.client.post("/_dash-update-component", json=body).json["response"]
    kept = answer["coast-down-kept"]["data"]
    assert zlib.decompress(base64.b64decode(kept["packed"])) == raw
    assert not answer["coast-down-open-error"]["children"]


def test_columns_by_hand():
    raw = ("alpha;beta;gamma\n" + "\n".join(f"{n};{n};{30 + n % 7}" for n in range(40))).encode()
    contents = "data:text/csv;base64," + base64.b64encode(raw).decode()
    told = log_open.opened({"contents": contents, "name": "odd.csv"}, {})
    assert "Columns by hand" in told["error"] and "columns=" not in told["error"] and "alpha" in told["error"]
    hand = {"time": "alpha", "speed": "gamma", "speed-unit": "km/h"}
    told = log_open.opened({"contents": contents, "name": "odd.csv"}, hand)
    assert told["error"] == "" or "time" in told["error"]


@pytest.mark.parametrize(
    "raw",
    [
        None,
        "text",
        {},
        {"contents": 5},
        {"contents": "data:,%%%", "name": "x"},
        {"contents": "data:;base64,AAA", "name": 7},
        {"contents": "data:;base64,", "name": "x" * 5000},
        {"contents": "data:;base64," + "A" * 3_000_000, "name": "large.csv"},
        {"contents": "data:;base64," + base64.b64encode(b"\0" * 4000).decode(), "name": "<script>"},
        {
            "contents": "data:;base64," + base64.b64encode(b"<!DOCTYPE a [<!ENTITY b 'c'>]><gpx/>").decode(),
            "name": "a.gpx",
        },
    ],
)
def test_what_is_no_log_is_refused_in_a_sentence(raw):
    told = log_open.opened(raw, {})
    assert isinstance(told["error"], str) and len(told["error"]) > 10 and "Traceback" not in told["error"]
    assert not isinstance(told["kept"], dict)


@pytest.mark.parametrize(
    "kept",
    [
        {"packed": "x"},
        {"demo": "../../etc/passwd"},
        {"name": "a", "packed": "!!", "columns": {}, "units": {}},
        {"name": "a", "packed": base64.b64encode(zlib.compress(b"a,b\n")).decode(), "columns": [1], "units": {}},
        {
            "name": "a",
            "packed": base64.b64encode(zlib.compress(b"a,b\n")).decode(),
            "columns": {"time": 1},
            "units": {},
        },
        {
            "name": "a",
            "packed": base64.b64encode(zlib.compress(b"1," * 5_000_000)).decode(),
            "columns": {},
            "units": {},
        },
        [],
        "text",
        7,
    ],
    ids=range(9),
)
def test_a_kept_log_that_was_tampered_with_is_refused(posted, kept):
    answer = asked(posted, "coast-down", kept=kept)
    told = " ".join(texts(answer["coast-down-fault"]["children"] or ""))
    assert told or not kept
    assert answer["coast-down-says"]


def test_two_hundred_spoilt_logs_are_opened_or_refused_in_words():
    rng = random.Random(4)
    for good in csv_logs():
        for _ in range(20):
            raw = bytearray(good)
            for _ in range(rng.randint(1, 12)):
                raw[rng.randrange(len(raw))] = rng.randrange(256)
            contents = "data:;base64," + base64.b64encode(bytes(raw)).decode()
            told = log_open.opened({"contents": contents, "name": "spoilt.csv"}, {})
            assert told["error"] or logs.log_of(told["kept"]).time_s.size


def test_nothing_of_a_log_stays_with_the_server(posted):
    """What one browser sent is not there for the next, whatever it asks."""
    raw = b"time [s],speed [km/h]\n" + b"\n".join(b"%d,%d" % (n, 40 + n % 9) for n in range(60))
    kept = opened(raw, "secret-name.csv")
    asked(posted, "own-ride", kept=kept)
    other = json.dumps(asked(posted, "own-ride"))
    assert "secret-name" not in other
    assert logs._demo.cache_info().maxsize == len(logs.DEMOS)


# ---- into the build


def taken(posted, page, state, fields, **kept):
    told = values(page, to_query(state), fields, **{k.replace("_", "-"): v for k, v in kept.items()})
    told[f"{page}-take.n_clicks"] = 1
    response = posted.post(f"{page}-taken.children", values=told)["response"]
    link = response.get("link", {})
    query = next((value for value in link.values()), None)
    return query, response


def test_the_result_of_the_coast_downs_goes_into_the_link(posted):
    query, response = taken(posted, "coast-down", State(), {}, kept=logs.demo("coast-down"))
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
        from ridesim.build import parse

        run = answers.standing_run(answers.solve(make_bike(parse(text))))
        assert shown(run.figure("top").value, "speed") in told


def _load(text):
    import tomllib

    return tomllib.loads(text)["road_load"]


def test_the_later_curve_goes_into_the_link_as_a_tune(posted):
    fields = {"gear": 3, "standard": "SAE J1349", "name": "re-jetted"}
    kept = {"before_kept": logs.demo("before"), "after_kept": logs.demo("after")}
    query, _ = taken(posted, "road-pull", State(), fields, **kept)
    state, problems = from_query(query)
    assert not problems and state.might.tune == "re-jetted" and "[tune.re-jetted]" in state.own
    _, response = taken(posted, "road-pull", State(), fields | {"name": "bad name"}, **kept)
    assert "usable name" in response["road-pull-take-error"]["children"]


def test_the_ratios_go_into_the_link(posted):
    query, _ = taken(posted, "ratios", State(), {}, kept=logs.demo("gears"))
    from ridesim.build import parse

    new = make_bike(parse(from_query(query)[0].own))
    found = roadtest.geared(log_of("gears"), bike=bike_of())
    overall = [g.overall_ratio.value for g in found.found.gears]
    assert list(new.setups.ratios[0]) == pytest.approx(overall, rel=1e-4)


def test_nothing_is_taken_where_there_is_no_result(posted):
    query, response = taken(posted, "coast-down", State(), {})
    assert query is None and "Open a log first" in response["coast-down-take-error"]["children"]
    query, response = taken(posted, "coast-down", State(), {"ways": "up"}, kept=logs.demo("coast-down"))
    assert query is None and "no result" in response["coast-down-take-error"]["children"]
    query, response = taken(posted, "ratios", State(demo="road-twin"), {}, kept=logs.demo("gears"))
    assert query is None and "gears of the build" in response["ratios-take-error"]["children"]


def test_the_pages_have_paths_of_their_own():
    assert {p.PAGE.path for p in (coastdown, pull_log, ratios, own_ride)} == {
        "/coast-down",
        "/road-pull",
        "/ratios",
        "/own-ride",
    }


def test_a_log_too_large_for_a_page_is_told_where_to_go():
    with pytest.raises(InputError, match="command line"):
        logs.raw_of("data:;base64," + base64.b64encode(b"1" * (logs.LARGEST + 1)).decode(), "x.csv")
