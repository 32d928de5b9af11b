"""Pages about logs: they show the library's numbers, refuse in words, keep nothing, and take a result into the link's build."""

from __future__ import annotations

import json
import tomllib
from dataclasses import replace
from functools import cache

import pytest
from dash import dcc
from plotly.utils import PlotlyJSONEncoder
from support.posted import figures_of, texts

from dashboard import open_logs
from dashboard.forms import log_fields
from dashboard.pages import road
from dashboard.url_state import SetUp, State, from_query, to_query
from dashboard.url_state.fields import ROAD, place
from ridesim import answers
from ridesim.answers.text import sentence, shown
from ridesim.bike import make_bike
from ridesim.buildfile.io import parse, read
from ridesim.logs.coast_down import coasted
from ridesim.logs.gears import geared
from ridesim.logs.log import directions_of, part_of
from ridesim.logs.pull import compared, pull_speeds, pulled
from ridesim.logs.reader import read_log
from ridesim.logs.ride import ridden
from ridesim.logs.runs import coast_speeds, runs_of
from ridesim.units import quantity

DEMO = open_logs.FOLDER.parent / "coast-single.toml"
SIXTEEN = State(planned=SetUp(front=16))
SYSTEMS = ("metric", "us")
PAGES = road.PAGE.sections
DEMO_LOGS = {key: [open_logs.demo(key)] for key in open_logs.DEMOS}
OPEN = {
    "coast-down": {"kept": DEMO_LOGS["coast-down"]},
    "road-pull": {"before_kept": DEMO_LOGS["before"], "after_kept": DEMO_LOGS["after"]},
    "ratios": {"kept": DEMO_LOGS["gears"]},
    "own-ride": {"kept": DEMO_LOGS["ride"]},
}
PULL = {"gear": 3, "standard": "SAE J1349"}
MINDED = ("closed track", "speed limits", "Eyes on the road", "nothing is to be read")


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


def values(page, state, fields, theme="light", **kept):
    """What the browser would send: the query, the theme, the log it keeps, its fields."""
    told = {"query.data": to_query(state), "theme.data": theme}
    told |= {f"{page}-{name}.value": value for name, value in fields.items()}
    return told | {f"{page}-{which.replace('_', '-')}.data": data for which, data in kept.items()}


def asked(posted, page, state=State(), fields=None, theme="light", **kept):  # noqa: B008 - a frozen record
    return posted.post(f"{page}-says.children", values=values(page, state, fields or {}, theme, **kept))["response"]


def said(answer, page):
    return " ".join(texts(answer[f"{page}-says"]["children"]))


# ---- the page's number is the library's


@pytest.fixture(scope="module")
def raw():
    """The coast-downs that come along, as a file of the rider's own."""
    return (open_logs.FOLDER / open_logs.DEMOS["coast-down"]).read_bytes()


@cache
def library(page):
    """What the library says of the logs that a page has open, asked without the app."""
    if page == "coast-down":
        return (coast().answer,)
    if page == "ratios":
        return (geared(log_of("gears"), bike=bike_of()).answer,)
    if page == "own-ride":
        return tuple(ridden(bike, log_of("ride")).answer for bike in (bike_of(), bike_of(front=16)))
    before, after = curve("before"), curve("after")
    return (before.answer, after.answer, compared(before, after).answer)


@pytest.mark.parametrize("system", SYSTEMS)
@pytest.mark.parametrize("page", OPEN)
def test_the_figures_are_the_librarys_drawn_with_their_tables_and_the_road_is_minded(posted, page, system):
    """Before a log is open the guide minds the road: see test_no_chart_stands_there_before_a_log_is_open."""
    state, fields = replace(SIXTEEN, units=system), PULL if page == "road-pull" else {}
    answer = asked(posted, page, state, fields, "dark", **OPEN[page])
    assert all(sentence(one, system) in said(answer, page) for one in library(page))
    assert answer[f"{page}-opened"]["hidden"] is False and answer[f"{page}-guide"]["hidden"] is True
    words = " ".join(texts(answer[f"{page}-cautions"]["children"]))
    assert all(text in words for text in (*MINDED, "maker's manual"))
    figures = figures_of(answer)
    assert len(figures) >= 2
    assert all("[" in axis.title.text for one in figures for axis in (one.layout.xaxis, one.layout.yaxis))
    told = said(answer, page) + " ".join(texts(answer[f"{page}-changes"]["children"]))
    other = (" mph", " lbf", " ft²", " mpg", " mi ") if system == "metric" else (" km", " N ", " m²", " l/100")
    assert not [unit for unit in other if unit in told], "units are never mixed"


def test_a_log_of_ones_own_and_pulls_of_one_side_are_answered_alike(posted, sent, raw):
    answer = asked(posted, "coast-down", kept=[sent(raw)])
    assert sentence(library("coast-down")[0]) in said(answer, "coast-down")
    assert not answer["coast-down-fault"]["children"]
    one = asked(posted, "road-pull", State(), PULL, before_kept=DEMO_LOGS["before"])
    assert sentence(library("road-pull")[0]) in said(one, "road-pull")


def test_every_gear_and_every_pair_stand_in_their_tables(posted):
    table = " ".join(texts(asked(posted, "ratios", **OPEN["ratios"])["ratios-rays-table"]["children"]))
    found = geared(log_of("gears"), bike=bike_of()).found
    assert all(shown(g.overall_ratio.value, "ratio", "metric") in table for g in found.gears)
    answer = asked(posted, "own-ride", SIXTEEN, **OPEN["own-ride"])
    assert {"14/41", "16/41", "15/43", "13/38"} <= set(texts(answer["own-ride-listed"]["children"]))
    assert {trace["name"] for trace in answer["own-ride-shares-graph"]["figure"]["data"]} == {"Now", "Planned"}


def test_what_is_invented_is_marked_and_stays_out_of_a_riders_own_bike(posted, sent, raw):
    own, demo = State(own=read(DEMO).text), DEMO_LOGS["coast-down"]
    for state, kept, why in ((own, demo, "log is invented"), (State(), [sent(raw)], "bike that is open is invented")):
        answer = asked(posted, "coast-down", state, kept=kept)
        assert said(answer, "coast-down").startswith("Example") and why in said(answer, "coast-down")
        assert answer["coast-down-opened"]["className"] == "page example"
    answer = asked(posted, "coast-down", own, kept=[sent(raw)])
    assert "Example" not in said(answer, "coast-down") and answer["coast-down-opened"]["className"] == "page"
    query, response = taken(posted, "coast-down", own, {}, kept=demo)
    assert query is None and "invented" in response["coast-down-take-error"]["children"]


def test_the_air_of_the_day_and_the_speeds_are_those_of_the_fields(posted):
    fields = {"altitude": "1200", "temperature": "5", "from-speed": "95", "to-speed": "45 km/h"}
    answer = asked(posted, "coast-down", fields=fields, kept=DEMO_LOGS["coast-down"])
    build = read(DEMO).changed({"air.altitude": "1200 m", "air.temperature": "5 degC"})
    found = coast(make_bike(build), fast=95 / 3.6, slow=45 / 3.6)
    assert sentence(found.answer) in said(answer, "coast-down")
    fields = {"altitude": "1200", "from-speed": "60", "to-speed": "30"}
    us = asked(posted, "coast-down", State(units="us"), fields, kept=DEMO_LOGS["coast-down"])
    # the thermometer stood elsewhere
    build = read(DEMO).changed({"air.altitude": "1200 ft", "air.temperature": None})
    found = coast(make_bike(build), fast=60 * 0.44704, slow=30 * 0.44704)
    assert sentence(found.answer, "us") in said(us, "coast-down")


def test_a_stretch_is_a_stretch_of_the_log(posted):
    fields = {"from-s": 0, "to-s": 170}
    answer = asked(posted, "coast-down", fields=fields, kept=DEMO_LOGS["coast-down"])
    log = part_of(log_of("coast-down"), 0, 170)
    fast, slow = coast_speeds([log])
    found = coasted(bike_of(), runs_of([log], "coast-down", from_m_s=fast, to_m_s=slow))
    assert len(found.found.rows) == 2 and sentence(found.answer) in said(answer, "coast-down")


# ---- errors


@pytest.mark.parametrize(
    ("field", "value", "words"),
    [("from-s", 900, "fewer than five samples"), ("ways", "up", "not a list of out and back"),
     ("from-speed", "fast", "cannot be read"), ("to-speed", "99", "too narrow"), ("altitude", "9e9 km", ""),
     ("humidity", "abc", "cannot be read"), ("wind", "x", "cannot be read")],
)  # fmt: skip
def test_an_error_stands_beside_its_field_and_the_last_chart_stays(posted, field, value, words):
    answer = asked(posted, "coast-down", fields={field: value}, kept=DEMO_LOGS["coast-down"])
    beside = {name: props["error"] for name, props in answer.items() if props.get("error")}
    place = "coast-down-from-speed" if field == "to-speed" and words else f"coast-down-{field}"
    assert list(beside) == [place] and words in beside[place]
    assert "coast-down-force-graph" not in answer and "coast-down-says" not in answer
    assert "dim" in answer["coast-down-dim"]["className"]
    assert answer["coast-down-log-graph"]["figure"]["data"], "the log itself stays in sight"


def test_the_errors_of_two_logs_stand_apart(posted):
    answer = asked(posted, "road-pull", fields=PULL | {"after-ways": "up", "before-altitude": "x"}, **OPEN["road-pull"])
    beside = {name for name, props in answer.items() if props.get("error")}
    assert beside == {"road-pull-after-ways", "road-pull-before-altitude"}
    answer = asked(posted, "road-pull", fields={"gear": 9}, before_kept=DEMO_LOGS["before"])
    assert "5 gears" in answer["road-pull-gear"]["error"]


def test_a_log_without_engine_speed_is_told(posted):
    answer = asked(posted, "ratios", kept=DEMO_LOGS["coast-down"])
    assert "holds no engine speed" in " ".join(texts(answer["ratios-fault"]["children"]))


# ---- several logs for one question


def halves(raw, at_s):
    """A log cut in two files."""
    lines = raw.decode().splitlines()
    start = next(n for n, line in enumerate(lines) if line.startswith("time"))
    head, rows = lines[start], lines[start + 1 :]
    first = [row for row in rows if float(row.split(",")[0]) <= at_s]
    return ["\n".join([head, *part]).encode() for part in (first, rows[len(first) :])]


def test_coast_downs_in_several_files_make_one_answer(posted, sent, tmp_path, raw):
    """The page does with several logs what the command line does: the same runs, named by their log."""
    kept, paths = [], [tmp_path / f"part-{n}.csv" for n in range(2)]
    for path, part in zip(paths, halves(raw, 140), strict=True):
        kept.append(sent(part, path.name))
        path.write_bytes(part)
    answer = asked(posted, "coast-down", fields={"ways": "out, back, out, back"}, kept=kept)
    read_logs = [read_log(path) for path in paths]
    fast, slow = coast_speeds(read_logs)
    ways = directions_of("out, back, out, back")
    runs = runs_of(read_logs, "coast-down", from_m_s=fast, to_m_s=slow, directions=ways)
    found = coasted(bike_of(), runs)
    assert sentence(found.answer) in said(answer, "coast-down")
    assert len(runs) > 2 and {run.name.rpartition(" of ")[2] for run in runs} == {"part-0.csv", "part-1.csv"}
    listed = list(texts(answer["coast-down-named"]["children"]))
    assert listed.count("Remove") == 2 and any("part-1.csv" in text for text in listed)
    names = [trace["name"] for trace in answer["coast-down-log-graph"]["figure"]["data"]]
    assert names[:2] == ["1. part-0.csv", "2. part-1.csv"]


def test_a_stretch_that_one_of_several_logs_has_not_names_that_log(posted, sent, raw):
    kept = [*DEMO_LOGS["coast-down"], sent(halves(raw, 60)[0], "short.csv")]
    answer = asked(posted, "coast-down", fields={"from-s": 100, "to-s": 170}, kept=kept)
    assert "of short.csv" in answer["coast-down-from-s"]["error"]


def test_runs_of_a_long_log_are_looked_for_once(posted, sent, monkeypatch, raw):
    kept = [sent(raw)]
    first = asked(posted, "coast-down", kept=kept)
    monkeypatch.setattr("dashboard.queries.logs.runs_of", lambda *a, **k: pytest.fail("looked for again"))
    again = asked(posted, "coast-down", fields={"temperature": "5"}, kept=kept)
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
    answer = asked(posted, page.key, fields={"gear": 3})
    assert answer[f"{page.key}-opened"]["hidden"] is True and answer[f"{page.key}-guide"]["hidden"] is False
    assert not [name for name in answer if "figure" in answer[name]]
    guide = next(one for one in laid._traverse() if getattr(one, "id", None) == f"{page.key}-guide")
    words = " ".join(texts(json.loads(json.dumps(guide, cls=PlotlyJSONEncoder))["props"]["children"]))
    for text in ("What to record", "How to ride", *MINDED, "kept for 2 hours after its last use"):
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
    query = to_query(log_fields.taken(fields, SIXTEEN))
    state, problems = from_query(query)
    assert not problems and to_query(state) == query and state.planned == SIXTEEN.planned
    assert {key: log_fields.value(state, key) for key in fields} == fields
    laid = next(p for p in PAGES if p.key == page).layout(state)._traverse()
    shown = {one.id: one.value for one in laid if getattr(one, "id", None) in list(fields)}
    assert shown == fields, "the page comes back as it was left"
    gone = log_fields.taken(dict.fromkeys(fields), state)
    left = {key for key in fields if getattr(gone.fields, place(key))}
    assert left == {key for key in fields if ROAD[key].plain}, "an emptied field leaves the link"


def test_what_cannot_be_read_does_not_spoil_the_link():
    kept = to_query(log_fields.taken({"coast-down-ways": "out", "coast-down-temperature": "warm"}, State()))
    assert kept == "?coast-down-ways=out"


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
    told = values(page, state, fields, **kept) | {f"{page}-take.n_clicks": 1}
    response = posted.post(f"{page}-taken.children", values=told)["response"]
    return next(iter(response.get("link", {}).values()), None), response


def test_the_result_of_the_coast_downs_goes_into_the_link(posted):
    query, response = taken(posted, "coast-down", State(), {}, kept=DEMO_LOGS["coast-down"])
    state, problems = from_query(query)
    assert not problems
    found = coast().found
    area = quantity(tomllib.loads(state.own)["road_load"]["drag_area"], "area", "m^2", "")
    assert float(area) == pytest.approx(found.drag_area_m2.value, abs=5e-4)
    assert area.plus_minus == pytest.approx(found.drag_area_m2.high - found.drag_area_m2.value, abs=5e-4)
    assert "# INVENTED" in state.own and state.own != DEMO.read_text(encoding="utf-8")
    told = " ".join(texts(response["coast-down-taken"]["children"]))
    for text in (DEMO.read_text(), state.own):
        run = answers.standing_run(answers.solve(make_bike(parse(text))))
        assert shown(run.figures["top"].value, "speed") in told


def test_the_later_curve_goes_into_the_link_as_a_tune(posted):
    query, _ = taken(posted, "road-pull", State(), PULL | {"name": "re-jetted"}, **OPEN["road-pull"])
    state, problems = from_query(query)
    assert not problems and state.planned.tune == "re-jetted" and "[tune.re-jetted]" in state.own
    _, response = taken(posted, "road-pull", State(), PULL | {"name": "bad name"}, **OPEN["road-pull"])
    assert "usable name" in response["road-pull-take-error"]["children"]


def test_the_ratios_go_into_the_link(posted):
    query, _ = taken(posted, "ratios", State(), {}, kept=DEMO_LOGS["gears"])
    new = make_bike(parse(from_query(query)[0].own))
    found = geared(log_of("gears"), bike=bike_of())
    overall = [g.overall_ratio.value for g in found.found.gears]
    assert list(new.setups.ratios[0]) == pytest.approx(overall, rel=1e-4)


def test_nothing_is_taken_where_there_is_no_result(posted):
    query, response = taken(posted, "coast-down", State(), {})
    assert query is None and "Open a log first" in response["coast-down-take-error"]["children"]
    query, response = taken(posted, "coast-down", State(), {"ways": "up"}, kept=DEMO_LOGS["coast-down"])
    assert query is None and "no result" in response["coast-down-take-error"]["children"]
    query, response = taken(posted, "ratios", State(demo="road-twin"), {}, kept=DEMO_LOGS["gears"])
    assert query is None and "gears of the build" in response["ratios-take-error"]["children"]
