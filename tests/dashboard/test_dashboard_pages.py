"""Every page shows what is the library's, in both unit systems, and a rider's own texts as they were written: callbacks posted, and compared."""

from __future__ import annotations

import json
import re
from dataclasses import replace
from functools import cache

import pytest
from support.ledger.rows import printed
from support.own_texts import HOSTILE, same_but_for, strings
from support.posted import figures_of, texts
from support.small_build import small

from dashboard import behind, pages
from dashboard.forms import set_ups
from dashboard.pages import how_we_know
from dashboard.url_state import SetUp, State, from_query, to_query
from ridesim import answers, proof, reference
from ridesim.answers.text import sentence
from ridesim.bike import make_bike
from ridesim.buildfile.io import read
from ridesim.plots.style import verbatim
from ridesim.reference import sources
from ridesim.report.sheet import sheet

ASKED = {
    "gears": answers.speeds,
    "cruise": answers.cruising,
    "tires": answers.tires,
    "engine": answers.power,
    "pull": answers.pull,
    "hills": answers.climbing,
    "lift": answers.front_lift,
    "run": answers.standing_run,
    "chain": answers.chain,
}
CHANGED = State(planned=SetUp(front=16, rear_tire="130/90-17 M/C 68S"), cruise="112 km/h", grade="2 %")


@cache
def direct(system: str = "metric") -> tuple[answers.Solved, answers.Solved]:
    """Both set-ups of CHANGED, asked of the library without the app."""
    build = read(reference.DATA / "demo" / "coast-single.toml")
    solved = []
    for more in ({}, {"front": 16, "rear_tire": "130/90-17 M/C 68S"}):
        bike = make_bike(build, **more)
        solved.append(answers.solve(bike, answers.ride_with(bike, cruise="112 km/h", grade="2 %", units=system)))
    return solved[0], solved[1]


@pytest.mark.parametrize("system", ["metric", "us"])
@pytest.mark.parametrize("page", ASKED)
def test_the_sentence_is_the_librarys_and_units_are_never_mixed(posted, page, system):
    filled = posted.page(page, to_query(replace(CHANGED, units=system)))
    said, changes = (" ".join(texts(filled[f"{page}-{name}"]["children"])) for name in ("says", "changes"))
    for solved in direct(system):
        assert sentence(ASKED[page](solved), system) in said
    other = (" mph", " lbf", " hp", " mpg") if system == "metric" else (" km/h", " N ", " kW", " l/100 km")
    named = re.sub(r"Standstill to \d+ km/h|at a true 100 km/h", "", said + changes)
    assert not [unit for unit in other if unit in named]


@pytest.mark.parametrize("page", [*ASKED, "sheet", "sprockets"])
def test_every_figure_is_one_the_chart_library_knows(posted, page):
    for figure in figures_of(posted.page(page, to_query(CHANGED), "dark")):
        assert figure.data[0].type == "heatmap" or "[" in figure.layout.xaxis.title.text


def test_one_set_up_is_shown_once(posted):
    said = list(texts(posted.page("gears", "")["gears-says"]["children"]))
    assert len(said) == 1 and "Planned" not in said
    filled = posted.page("pull", "")
    assert not filled["pull-gained"]["children"] and not filled["pull-map-caption"]["children"]


def test_the_sheet_is_the_librarys(posted):
    filled = posted.page("sheet", to_query(CHANGED))
    page = sheet(*direct())
    shown = " ".join(texts(filled["sheet-figures"]["children"]))
    assert all(line.now in shown and line.change in shown for line in page.lines)
    assert all(caution in " ".join(texts(filled["sheet-lists"]["children"])) for caution in page.cautions)


def test_the_comparison_moves_the_rider_as_the_library_does(posted):
    filled = posted.page("pull", to_query(State(back="120 mm")))
    build = read(reference.DATA / "demo" / "coast-single.toml")
    bike = make_bike(build.changed({"chassis.rider_cg_ahead_of_rear_axle": "0.37 m"}))
    answer = answers.front_lift(answers.solve(bike, bands=False))
    assert sentence(answer) in " ".join(texts(filled["pull-moved"]["children"]))


def test_cautions_stand_where_the_work_can_hurt(posted):
    for page in ("lift", "gears", "chain", "tires", "run", "cruise"):
        assert next(texts(posted.page(page, "")[f"{page}-cautions"]["children"])).startswith("Take care ("), page
    everything = posted.client.get("/_dash-layout").get_data(as_text=True)
    assert everything.count("the maker's manual, local law and a qualified mechanic decide") == 1, "in one place"


@pytest.mark.parametrize("kind", ["shaft", "belt"])
def test_every_page_of_a_bike_without_a_chain_is_shown(posted, kind):
    own = {"shaft": 'kind = "shaft"\nratio = 3.0', "belt": 'kind = "belt"\nfront = 28\nrear = 70'}[kind]
    text = small().text.replace("front = 14\nrear = 44", own)
    query = to_query(State(own=text, planned=SetUp(rear_tire="120/90-17")))
    state = from_query(query)[0]
    assert set_ups.taken(set_ups.shown(state), state) == (state, ())  # no field finds fault with what it shows
    for page in pages.PAGES:
        first = posted.client.get(f"{page.path}?{query.lstrip('?')}")  # as it is first painted
        assert first.status_code == 200
        for section in page.sections:
            assert page.layout(state, section.key) is not None
    said = {
        page: posted.page(page, query)
        for page in ("start", "bike", "sprockets", *ASKED)
        if page != "sprockets" or kind == "belt"
    }
    assert f"No chain: a {kind} drives the rear wheel" in " ".join(texts(said["chain"]["chain-says"]["children"]))


def test_the_comparison_stands_gear_by_gear_as_the_library_has_it(posted):
    state = State(demo="plateau-single", now=SetUp(tune="stock"), planned=SetUp(tune="rejetted"))
    filled = posted.page("pull", to_query(state))
    said = " ".join(texts(filled["pull-gears"]["children"]))
    build = read(reference.DATA / "demo" / "plateau-single.toml")
    solved = [answers.solve(make_bike(build, tune=tune)) for tune in ("stock", "rejetted")]
    for one in solved:
        force = answers.pull(one).tables[0].rows[0]["peak_force"]
        ratio = answers.front_lift(one).tables[0].rows[0]["ratio"]
        assert f"{force:,.0f}" in said and f"{ratio:.2f}" in said
    assert sentence(answers.tune_gain(*solved), "metric") in " ".join(texts(filled["pull-gained"]["children"]))


def test_every_outside_figure_stands_on_the_page_with_its_document():
    shown = list(strings(how_we_know.layout(State()).plan))
    whole, page = set(shown), "\n".join(dict.fromkeys(shown))
    for case in printed():
        written = (case.given, case.printed, sources()[case.source]["title"], case.locator)
        assert all(text in whole or text in page for text in written), case.id
    total = next(text for text in shown if text.endswith(" outside figures"))
    assert int(total.split()[0]) > len(printed()), "and those of the libraries"
    assert {"14.696 psi", "14.69595 psi"} <= whole, "ours stands there to two digits more than theirs"


def test_every_page_that_shows_its_working_leads_to_what_is_behind_it():
    titles = {topic.key for topic in proof.TOPICS}
    assert titles == {key for keys in behind.BEHIND.values() for key in keys} | {"units"}
    for page in pages.SECTIONS.values():
        shown = json.dumps(page.layout(State()).to_plotly_json(), default=lambda one: one.to_plotly_json())
        assert ("The working, step by step" in shown) == (behind.PATH + "#" in shown), page.key


POSTED = ("start", "bike", *(s.key for page in pages.PAGES[1:4] for s in page.sections), "sheet")


def state(build) -> State:
    return State(own=build.text, planned=SetUp(front=16, rear_tire="130/90-17", tune=next(iter(build.record.tune))))


def shown(told, packed):
    """What is shown, but for links, which hold the build itself, and digests."""
    if isinstance(told, dict):
        return {key: shown(one, packed) for key, one in told.items()}
    if isinstance(told, list):
        return [shown(one, packed) for one in told]
    hidden = isinstance(told, str) and ("own=" in told or packed in told or re.fullmatch("-?[0-9a-f]{12,16}", told))
    return "" if hidden else told


@pytest.mark.parametrize("hostile", [HOSTILE[0] + HOSTILE[2] + HOSTILE[4], HOSTILE[1] + HOSTILE[5]])
def test_every_page_holds_it_as_it_was_written(posted, hostile):
    def told(build):
        query = to_query(state(build))
        said = [posted.page(page, query) for page in POSTED]
        return json.loads(
            json.dumps(shown(said, build.text)).replace(json.dumps(verbatim(hostile))[1:-1], json.dumps(hostile)[1:-1])
        )

    assert same_but_for(told, hostile) > 20
