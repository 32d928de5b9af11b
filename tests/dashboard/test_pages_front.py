"""The section of the front wheel in motion: what it draws, what it says, and what its fields put into the link."""

from __future__ import annotations

import pytest
from support.posted import texts

from dashboard import queries
from dashboard.pages.power import front
from dashboard.url_state import SetUp, State, to_query

STATE = State(demo="plateau-single", planned=SetUp(front=13), gear=2, technique="clutch")


@pytest.fixture(scope="module")
def filled(posted):
    return posted.page("front", to_query(STATE))


def test_the_caution_comes_first_and_both_set_ups_are_told(filled):
    said = " ".join(" ".join(texts(filled["front-says"]["children"])).split())
    assert said.startswith("Now Wheelies hurt people") and "Planned Wheelies hurt people" in said
    assert "closed ground" in " ".join(texts(filled["front-cautions"]["children"]))
    moved = " ".join(texts(filled["front-moves"]["children"]))
    assert "What moves it in gear 2" in moved and "tune stock" in moved and "on gravel" in moved


@pytest.mark.parametrize("name", ["still", *front.MOTIONS])
def test_every_chart_shows_both(filled, name):
    drawn = filled[f"front-{name}-graph"]["figure"]
    assert {"Now", "Planned"} <= {line["name"] for line in drawn["data"] if line.get("showlegend")}


def test_the_gear_and_the_technique_are_those_asked_for(filled):
    series = queries.pair("front_wheel", STATE).now.series
    drawn = next(line for line in filled["front-load-graph"]["figure"]["data"] if line["name"] == "Now")
    assert drawn["y"][-1] == pytest.approx(float(series["front_load_n"][1, 3, -1]), rel=1e-3, abs=0.1)


def test_the_fields_go_into_the_link_and_come_out_of_it():
    asked = front.taken(State(), "2", "clutch")
    assert to_query(asked) == "?gear=2&technique=clutch"
    assert front.shown(asked) == {"gear": "2", "technique": "clutch"}
    assert front.taken(asked, "1", front.GENTLEST) == front.taken(State(), None, "a wheel in the sky") == State()
    assert front.shown(State()) == {"gear": "1", "technique": "gentlest"}
