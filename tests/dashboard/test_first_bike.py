"""The first bike from a few figures: what is reconciled is said, what can hardly be meant is asked about."""

from __future__ import annotations

import pytest
from support.posted import texts

from dashboard import display, queries
from dashboard.url_state import State, to_query
from ridesim.units import rpm

SHEET = {
    "bike": "120 kg",
    "rider": "75 kg",
    "tire": "100/90-17",
    "front": "14",
    "rear": "44",
    "gears": "2.8 1.8 1.4 1.1 0.95",
    "primary": "3.3",
    "torque": "21 N*m",
    "torque_at": "6500",
    "power": "19 hp",
    "power_at": "8500",
}


def test_a_sheet_that_rounds_makes_a_bike_that_says_so(posted):
    build, errors = queries.first(SHEET)
    assert not errors
    state = State(own=build.text)
    solved = queries.now(state)
    assert float(solved.cells.peak[1]) == pytest.approx(20.815, abs=0.01)
    power = queries.pair("power", state).now.figures["power"]
    assert power.value == pytest.approx(19 * 745.69987, rel=1e-3)
    assert any("peak torque taken as 20.8 N·m" in note for note in solved.bike.notes)
    assert "peak torque taken as 20.8 N·m" in str(posted.page("start", to_query(state))["start-says"]["children"])
    assert solved.bike.rev_limit_rad_s == pytest.approx(1.08 * 8500 / rpm(1.0), rel=1e-3)


@pytest.mark.parametrize(
    ("typed", "fields", "asks"),
    [({"torque_at": "65"}, "torque_at", "digit missing"), ({"power_at": "85"}, "power_at", "digit missing"),
     ({"power_at": "85000"}, "power_at", "85,000 rev/min"), ({"power_at": "3000"}, "power_at", ""),
     ({"front": "13", "rear": "13"}, "rear", "front one twice"), ({"front": "2"}, "front", ""),
     ({"front": "44", "rear": "14"}, "rear", "front one twice"), ({"tire": "big"}, "tire", ""),
     ({"primary": "13/13"}, "primary", "same count twice"), ({"gears": "13/13 0.9"}, "gears", "same count twice"),
     ({"gears": "1 2 3"}, "gears", ""), ({"primary": "x"}, "primary", ""), ({"power": "900 hp"}, "power", ""),
     ({"torque": "41 kg"}, "torque", ""), ({"bike": "0"}, "bike", ""), ({"bike": "nan"}, "bike", ""),
     ({"rider": None}, "rider", ""), ({"gears": ""}, "gears", ""), ({"primary": ""}, "primary", ""),
     ({"torque": "", "torque_at": "", "power": "", "power_at": ""}, "torque torque_at", ""),
     ({"torque_at": "", "power": "", "power_at": ""}, "torque_at", ""), ({"power_at": ""}, "power_at", "")],
    ids=str,
)  # fmt: skip
def test_what_can_hardly_be_meant_or_is_missing_is_asked_about_at_its_field(typed, fields, asks):
    build, errors = queries.first(SHEET | typed)
    assert build is None and set(errors) == set(fields.split())
    assert all(asks in said for said in errors.values())


def test_a_top_gear_of_equal_wheels_is_a_gear():
    build, errors = queries.first(SHEET | {"gears": "34/13 29/16 22/22"})
    assert not errors and build.record.gearbox.gears[-1] == 1.0


def test_one_peak_and_no_gearbox_make_a_bike_that_says_what_was_guessed():
    gone = {"gears": "", "primary": "", "power": "", "power_at": ""}
    by_torque, errors = queries.first(SHEET | gone)
    assert not errors and len(by_torque.record.gearbox.gears) == 5
    solved = queries.now(State(own=by_torque.text))
    told = " ".join([*solved.bike.assumptions, *solved.bike.notes])
    assert "guess" in told and "one peak" in told
    assert float(solved.cells.peak[1]) == pytest.approx(21.0, rel=2e-3)
    by_power, errors = queries.first(SHEET | {"torque": "", "torque_at": ""})
    assert not errors
    assert queries.pair("power", State(own=by_power.text)).now.figures["power"].value == pytest.approx(
        19 * 745.69987, rel=2e-3
    )


def test_the_units_of_the_first_answer_are_as_typed():
    build, _ = queries.first(SHEET | {"rider": "174 lb"})
    assert build.record.masses.rider == pytest.approx(174 * 0.45359237)
    assert "guess" not in " ".join(queries.now(State(own=build.text)).bike.assumptions)


def test_the_answer_stands_where_the_form_stood(posted):
    build, _ = queries.first(SHEET)
    filled = posted.page("start", to_query(State(own=build.text)))
    assert filled["start-form"]["hidden"] and not filled["start-answer"]["hidden"]
    told = " ".join(texts(filled["start-says"]["children"]))
    pair = queries.pair("pull", State(own=build.text))
    assert display.figure_words(pair.now.figures["first_force"], "metric") in told
    assert posted.page("start", "")["start-answer"]["hidden"]
