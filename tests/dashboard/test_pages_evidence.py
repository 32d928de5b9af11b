"""What was measured: a reading goes into the build and out again, and what it changes is the library's."""

from __future__ import annotations

import pytest
from support.posted import texts

from dashboard.forms import reading_form
from dashboard.pages.my_bike.evidence import added
from dashboard.queries import evidence as asked
from dashboard.url_state import State, from_query, to_query
from ridesim import evidence
from ridesim.buildfile.io import parse, read, with_reading, without_reading
from ridesim.buildfile.readings import BY_KIND
from ridesim.evidence import report
from ridesim.reference import DATA

DEMO = read(DATA / "demo" / "coast-single.toml")
WEIGHT = {"axle": "rear", "with": "rider", "value": "150", "value-off": "1 kg"}
GIVEN = {
    "roll-out": {"value": "2,07 m", "value-off": "4 mm"},
    "axle weight": WEIGHT,
    "speed at engine speed": {"gear": "5", "engine_speed": "4500", "speed": "96.2", "speed-off": "0.5"},
    "consumption": {"value": "3.9", "value-off": "4 %", "speed": "95"},
    "coast-down": {
        "drag_area": "0,66",
        "drag_area-off": "4 %",
        "rolling_resistance": "0.019",
        "rolling_resistance-off": "6 %",
    },
    "timed run": {"gear": reading_form.THROUGH, "from": "0", "to": "100", "time": "9.4", "time-off": "0.4"},
    "top speed": {"value": "124", "value-off": "2", "note": "both ways"},
    "wheel power": {"engine_speed": "6000", "value": "16", "value-off": "3 %", "altitude": "200"},
}


def test_the_form_knows_every_kind_of_reading():
    assert set(reading_form.KINDS) == set(GIVEN) == set(BY_KIND)
    for kind, (_, parts) in reading_form.KINDS.items():
        fields = {one.alias or name for name, one in BY_KIND[kind].model_fields.items() if one.is_required()}
        assert fields - {"kind"} <= {one.key for one in parts}, kind
        assert reading_form.layout(kind, "us", 5, ["stock"])


@pytest.mark.parametrize("kind", GIVEN)
def test_every_kind_goes_into_the_build_and_out_again(kind):
    answer = added(kind, GIVEN[kind], State())
    state = from_query(answer["link"])[0]
    (reading,) = parse(state.own).record.evidence
    assert reading.kind == kind and not any(answer["errors"])
    assert parse(asked.take_out(state, 0).own).record == DEMO.record
    assert "# " not in DEMO.text or state.own.count("# ") == DEMO.text.count("# "), "comments stay"


def test_what_is_missing_or_wrong_stands_at_its_field():
    def beside(**typed):
        given = WEIGHT | {key.replace("_", "-"): text for key, text in typed.items()}
        return dict(zip(given, added("axle weight", given, State())["errors"], strict=True))

    errors = beside(value="", value_off="")
    assert "empty" in errors["value"] and "empty" in errors["value-off"] and errors["axle"] is None
    assert "at most" in beside(value="15000")["value"] and beside(value_off="much")["value-off"]


@pytest.mark.parametrize("system", ["metric", "us"])
def test_the_page_shows_what_the_fit_says_and_names_a_conflict(posted, system):
    build = with_reading(DEMO, {"kind": "axle weight", "axle": "rear", "with": "rider", "value": "150 +- 1 kg"})
    build = with_reading(build, {"kind": "top speed", "value": "112 +- 2 km/h"})
    found = evidence.fit(build)
    assert found.conflicts == (1,)
    filled = posted.page("evidence", to_query(State(own=build.text, units=system)))
    told = {name: " ".join(texts(filled[f"evidence-{name}"]["children"])) for name in ("says", "list", "moved-table")}
    assert "Reading 2 (top speed) does not fit the others" in told["says"]
    for n in range(2):
        assert all(words in told["list"] for words in report.shown(found, n, system))
    for one in report.parameters(found):
        assert all(words in told["moved-table"] for words in one.words(system)), one.path
    figure = filled["evidence-moved-graph"]["figure"]["data"]
    assert len(figure) == 2 and max(figure[1]["error_x"]["array"]) <= 1.0
    assert without_reading(build, 1).record.evidence == build.record.evidence[:1]


@pytest.mark.parametrize("figure", ["power_in_hand", "verdict"])
def test_what_to_measure_next_is_the_librarys(posted, figure):
    answer = posted.post("evidence-next.children", values={"query.data": "", "evidence-matters.value": figure})
    words = " ".join(texts(answer["response"]["evidence-next"]["children"]))
    best = evidence.measure_next(DEMO, figure).candidates[0]
    assert best.how in words and f"{100 * best.share_narrower:.0f} %" in words
