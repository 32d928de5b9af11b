"""The page's choice passes what the command's does: the rider's own ride, its limits, and other ways from the garage."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from support.posted import Posted, texts

from dashboard.app import create_app
from dashboard.forms import limits_card
from dashboard.queries import logs, own_ride, selection
from dashboard.url_state import State, from_query, to_query
from dashboard.url_state.fields import FieldTexts
from dashboard.url_state.limits_form import RIDE_LIMITS, LimitsForm
from ridesim import reference
from ridesim.buildfile.io import read
from ridesim.garage import Garage
from ridesim.logs.reader import read_log
from ridesim.selection import choose, held_to, verdict, verdict_words
from ridesim.selection.goals import RIDE_GOALS

BUILD = read(reference.DATA / "demo" / "coast-single.toml")
RIDE = reference.DATA / "demo" / "logs" / "ride.gpx"
TYPED = {"above_at": "4500 rev/min", "above_most": "60 %", "range_least": "100 km"}
HELD = {"ride_engine_speed": "4500 rev/min", "ride_time_above_most": "60 %", "ride_range_least": "100 km"}
STRONG = '\n[tune.strong]\npoints = [[2000, 60], [4500, 70], [7200, 60]]\npoints_are = "N*m"\n'


@pytest.fixture
def garage(tmp_path):
    """With one ride."""
    where = tmp_path / "garage.sqlite3"
    with Garage.open(where) as kept:
        kept.save(BUILD.name, BUILD.text)
        kept.add_log(BUILD.name, "ride.gpx", RIDE, "gpx")
    return where


@pytest.fixture(scope="module")
def bare(tmp_path_factory):
    """An app whose garage holds the bike and no ride."""
    where = tmp_path_factory.mktemp("bare") / "garage.sqlite3"
    with Garage.open(where) as kept:
        kept.save(BUILD.name, BUILD.text)
    return Posted(create_app(garage=where))


def needs(ride=None, **typed) -> State:
    return State(limits_form=LimitsForm(fronts="14:15", rears="40:42", ride=ride, **typed))


def choose_by(state):
    return state.limits_form.limits(BUILD.record.limits)


def verdict_of(posted, state) -> str:
    values = {"query.data": to_query(state), "theme.data": "light", "sprockets-drawn.data": {"choice": "drawn"}}
    shown = posted.post("sprockets-verdict.children", values=values)["response"]
    return " ".join(texts(shown["sprockets-verdict"]["children"]))


def test_the_ride_decides_as_in_the_library(garage):
    held, posted = held_to(BUILD.record.limits, **HELD), Posted(create_app(garage=garage))
    choice = choose(BUILD, fronts=range(14, 16), rears=range(40, 43), limits=held, logs=[read_log(RIDE)])
    decided = verdict(choice)
    assert "on your ride" in verdict_words.reasons(decided)[-1].lower()
    for ride in ("demo ride", "garage"):
        state = needs(ride, **TYPED)
        told = verdict_of(posted, state)
        assert verdict_words.sentence(decided) in told and verdict_words.reasons(decided)[-1][1:] in told
        values = {"query.data": to_query(state), "sprockets-drawn.data": {"choice": "drawn"}}
        shown = posted.post("sprockets-grid.rowData", values=values)["response"]["sprockets-grid"]
        assert set(RIDE_GOALS) <= {column["field"] for column in shown["columnDefs"]}


def test_logs_that_are_added_to_the_garage_count_at_once(garage):
    with create_app(garage=garage).server.app_context():
        assert len(selection.choice(needs("garage")).crossing.logs) == 1
        with Garage.open(garage) as kept:
            kept.add_log(BUILD.name, "another.gpx", RIDE, "gpx")
        assert len(selection.choice(needs("garage")).crossing.logs) == 2
        assert limits_card.troubles(needs("garage")) == ({}, [])
        typed = limits_card.shown(needs("garage")) | {"shifts-most": "40", "fuel-most": "4.5", "above-most": "20"}
        state, errors = limits_card.taken(typed, needs("garage"))
        assert not errors and choose_by(state).ride_shifts_per_hour_most == 40
        assert float(choose_by(state).ride_fuel_most) == pytest.approx(4.5e-8)  # l/100 km are 1e-8 m3/m


@pytest.mark.parametrize(
    ("state", "key", "words"),
    [
        (needs("garage"), "ride", "keeps no log of this bike"),
        (needs("made-up-word-of-an-open-log"), "ride", "no longer here"),
        *((needs(**{key.replace("-", "_"): "10"}), key, "needs a ride of yours") for key in RIDE_LIMITS),
    ],
)
def test_a_ride_that_is_not_there_is_told_at_its_field(bare, state, key, words):
    with bare.client.application.app_context():
        errors, stray = limits_card.troubles(state)
    assert list(errors) == [key] and words in errors[key] and not stray


def test_the_road_page_hands_over_the_log_that_is_open(bare):
    with bare.client.application.app_context():
        found = logs.rides(State(), logs.held([{"demo": "ride"}]), {}).found
        state = from_query(logs.take_ride(State(), found).query)[0]
        assert state.limits_form.ride == "demo ride" and len(own_ride.rides(state)) == 1
        assert limits_card.layout(state)
        some = selection.choice(replace(state, fields=FieldTexts(own_ride_from_s="60", own_ride_to_s="300 s")))
        assert 239 < np.ptp(some.crossing.logs[0].time_s) <= 240 < np.ptp(own_ride.rides(state)[0].time_s)
        errors, _ = limits_card.troubles(replace(state, fields=FieldTexts(own_ride_from_s="300", own_ride_to_s="60")))
        assert list(errors) == ["ride"]


def test_figures_of_the_ride_stand_on_the_axes(bare):
    query = to_query(needs("demo ride", across="ride_time_above", up="ride_range"))
    shown = bare.post("sprockets-choice-graph.figure", values={"theme.data": "light", "query.data": query})["response"]
    axes = shown["sprockets-choice-graph"]["figure"]["layout"]
    assert "on your ride" in axes["xaxis"]["title"]["text"]
    assert axes["yaxis"]["title"]["text"].startswith("Range on your ride")


def test_where_no_pair_will_do_the_parts_of_the_garage_are_tried(garage):
    with Garage.open(garage) as kept:
        kept.save("Strong", BUILD.text + STRONG)
    posted = Posted(create_app(garage=garage))
    limited = needs(top_least="150 km/h", revs_most="none", climb_least="none", lift_least="none")
    assert "With the tune strong (Strong, revision 1)" in verdict_of(posted, limited)
    assert "Another way" not in verdict_of(posted, needs())


def test_the_empty_field_says_above_which_engine_speed_the_ride_counts():
    """That of the limit at the cruising speed, as the build has it or as it is typed."""
    plain, typed = State(), State(limits_form=LimitsForm(revs_most="4500 rev/min"))
    assert limits_card.placeholders(plain)["above-at"] == "4700 rev/min"
    assert limits_card.placeholders(typed)["above-at"] == "4500 rev/min"
