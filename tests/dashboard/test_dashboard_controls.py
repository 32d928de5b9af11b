"""The fields of the set-ups: filled from a state, read back into the same one, and errors at their own field."""

from __future__ import annotations

import re
from dataclasses import asdict

import pytest

from dashboard import pages, queries, uploads
from dashboard.forms import build_form, curve, set_ups
from dashboard.forms.curve import cells_of, drawn, put, text_of
from dashboard.url_state import DEMO, SetUp, State, from_query, to_query
from ridesim.buildfile.first import first_build

STATES = [
    State(),
    State(planned=SetUp(front=16)),
    State(demo="plateau-single", now=SetUp(tune="stock"), planned=SetUp(tune="rejetted")),
    State(demo="road-twin", units="us", cruise="65 mph", grade="5 %", head_wind="4 m/s", surface="gravel"),
    State(now=SetUp(front=13, luggage="12 kg"), planned=SetUp(rear_tire="130/90-17", luggage="30 lb")),
]
# a first bike as it is typed in, its gearbox unknown
FIRST = {
    "bike": "172",
    "rider": "79",
    "tire": "120/90-17",
    "front": "14",
    "rear": "41",
    "power": "26",
    "power_at": "6200",
}


@pytest.mark.parametrize("state", STATES, ids=to_query)
def test_fields_left_alone_change_nothing(state):
    assert set_ups.taken(set_ups.shown(state), state) == (state, ())


@pytest.mark.parametrize(
    ("key", "typed", "wanted"),
    [("planned-front", 16, State(planned=SetUp(front=16))),
     ("front", 15, State(now=SetUp(front=15), planned=SetUp(front=14))), ("cruise", "110", State(cruise="110 km/h")),
     ("cruise", "65 mph", State(cruise="65 mph")), ("planned-luggage", "10", State(planned=SetUp(luggage="10 kg"))),
     ("head-wind", "5 m/s", State(head_wind="5 m/s")), ("surface", "gravel", State(surface="gravel"))],
)  # fmt: skip
def test_what_is_typed_goes_into_the_state(key, typed, wanted):
    assert set_ups.taken(set_ups.shown(State()) | {key: typed}, State()) == (wanted, ())


def test_another_cruising_speed_runs_and_climbs_nothing_anew():
    one, other = (queries.planned(State(cruise=speed)).performance for speed in ("97 km/h", "98 km/h"))
    assert one.gears is other.gears and one.run is other.run and one.cruise is not other.cruise


def test_a_field_put_back_leaves_no_trace():
    changed = State(planned=SetUp(front=16))
    assert set_ups.taken(set_ups.shown(changed) | {"planned-front": 14}, changed) == (State(), ())


@pytest.mark.parametrize(
    ("key", "typed"),
    [("front", 3), ("front", ""), ("planned-rear", 400), ("rear-tire", "round"), ("cruise", "fast"),
     ("cruise", "5000"), ("luggage", "-3"), ("grade", "steep")],
)  # fmt: skip
def test_an_error_stands_at_its_field_and_the_state_stays(key, typed):
    state, problems = set_ups.taken(set_ups.shown(State()) | {key: typed}, State())
    assert state == State() and [p.key for p in problems] == [key]
    assert set_ups.errors(problems)[key] and sum(e is not None for e in set_ups.errors(problems).values()) == 1


def test_a_fault_only_the_library_sees_stands_at_its_field_too():
    wanted = State(planned=SetUp(tune="nothing"))
    assert [p.key for p in queries.troubles(wanted)] == ["planned-tune"]


@pytest.mark.parametrize("state", STATES, ids=to_query)
def test_swapping_twice_is_no_change_of_the_figures(state):
    once = set_ups.swapped(state)
    assert queries.now(once).performance.top_speed_m_s[0] == queries.planned(state).performance.top_speed_m_s[0]
    twice = set_ups.swapped(once)
    assert queries.now(twice).performance.top_speed_m_s[0] == queries.now(state).performance.top_speed_m_s[0]


def test_a_figure_of_the_riders_own_takes_the_place_of_an_assumed_one():
    state = State(own=first_build(FIRST).text)
    texts = queries.now(state).bike.assumptions
    paths = {set_ups.assumption_path(text) for text in texts} - {None}
    assert {"chassis.wheelbase", "road_load.drag_area", "tires.front.size", "inertia.crank"} <= paths
    mended, errors = set_ups.mended({"chassis.wheelbase": "1480 mm"}, state)
    assert not errors and float(queries.now(mended).bike.raw["wheelbase_m"]) == 1.48
    assert not [t for t in queries.now(mended).bike.assumptions if t.startswith("chassis.wheelbase")]
    assert from_query(to_query(mended))[0] == mended
    assert set_ups.mended({"chassis.wheelbase": "1480 kg"}, state)[1]["chassis.wheelbase"]


def test_every_field_of_a_build_comes_back_as_typed_and_is_edited_alone():
    build = queries.build_of(DEMO, None)
    values = build_form.typed(build.text)
    assert build_form.edited(build, values) == (build, {})
    new = {"masses.bike": "350 lb", "gearbox.gears": "2.4, 29/17", "surface.friction": ""}
    changed, errors = build_form.edited(build, values | new)
    assert not errors and changed.record.gearbox.gears == (2.4, 29 / 17)
    assert "weighed on two bathroom scales" in changed.text, "comments stay"
    touched = dict.fromkeys(("masses.bike", "gearbox.gears", "surface.friction"), "")
    assert build_form.typed(changed.text) | touched == values | touched


def test_fields_still_laid_out_from_another_build_change_nothing_of_the_one_that_is_open(posted):
    """What they tell when they have rested is no change of the text they show, whatever has been opened meanwhile."""
    text = queries.build_of(DEMO, None).text
    laid = {"mark": "these fields", "text": text}

    def told(formed=None, **changed):
        values = {"query.data": "?build=road-twin", "bike-laid.data": laid, "bike-formed.data": formed}
        fields = [({"kind": "build", "path": path}, v) for path, v in (build_form.typed(text) | changed).items()]
        return posted.post("link.data", "bike-formed.data", values=values, patterns={"build": fields})["response"]

    lighter = told(**{"masses.bike": "168 kg"})
    own = from_query(lighter["link"]["data"])[0].own
    assert own.startswith(text[:40])
    assert lighter["bike-formed"]["data"] == {"mark": "these fields", "text": own}
    twin = queries.build_of("road-twin", None).text
    for formed in (None, {"mark": "fields that have gone", "text": twin}):
        said = told(formed)
        assert "link" not in said and "bike-formed" not in said
    assert "link" in told({"mark": "these fields", "text": own}), "168 kg are taken back"


def test_fields_that_show_another_build_are_laid_out_anew(posted):
    text, twin = (queries.build_of(demo, None).text for demo in (DEMO, "road-twin"))
    laid = {"mark": "these fields", "text": text}

    def told(query, formed):
        values = {"query.data": query, "bike-laid.data": laid, "bike-formed.data": formed}
        return posted.post("bike-said.children", "bike-form.children", values=values)["response"]

    for formed in (None, {"mark": "fields that have gone", "text": twin}):
        assert "bike-form" not in told("?", formed)
        store = told("?build=road-twin", formed)["bike-form"]["children"][0]["props"]
        assert store["id"] == "bike-laid" and store["data"]["text"] == twin and store["data"]["mark"]
    assert "bike-form" not in told("?build=road-twin", {"mark": "these fields", "text": twin})


def test_the_curve_of_another_build_goes_into_the_fields(posted):
    """Else it would be put into a bike that has another."""
    at = asdict(curve.of(from_query("?")[0]))
    values = {"bike-curve.data": at}
    assert not posted.post("bike-curve.data", values=values | {"query.data": "?cruise=100+km/h"})
    said = posted.post("bike-curve.data", values=values | {"query.data": "?build=road-twin"})["response"]
    twin = curve.of(from_query("?build=road-twin")[0])
    assert said["bike-points"]["value"] == twin.text != at["text"]
    assert said["bike-unit"]["value"] == twin.unit and twin.unit in said["bike-unit"]["data"]
    assert said["bike-curve"]["data"] == asdict(twin) and said["bike-tune"]["value"] == twin.name


@pytest.mark.parametrize(
    ("path", "typed"),
    [("masses.bike", "9000"), ("masses.bike", ""), ("gearbox.gears", "1, 2"), ("gearbox.gears", "x"),
     ("tires.rear.size", "round"), ("final_drive.axle_travel", "4 mm"), ("engine.rev_limit", "1600"),
     ("air.altitude", "1e9")],
)  # fmt: skip
def test_an_error_of_the_form_stands_at_its_field(path, typed):
    build = queries.build_of(DEMO, None)
    same, errors = build_form.edited(build, build_form.typed(build.text) | {path: typed})
    assert same is build and set(errors) == {path}


def test_the_grid_and_the_text_are_the_same_points():
    text = "2000\t28.0\n3000\t31.5"
    assert text_of([*cells_of(text), "", "", "", ""]) == text
    assert cells_of("2000;28,5\n3000,31.5\n4000 39,5") == ["2000", "28,5", "3000", "31.5", "4000", "39,5"]


def test_a_curve_is_drawn_as_typed_and_put_into_the_build():
    points = "2000\t12\n4000\t24\n6000\t30"
    figure = drawn(points, "hp", False, [])["figure"]
    assert figure["data"][0]["y"] == [12.0, 24.0, 30.0] and "hp" in figure["layout"]["yaxis"]["title"]["text"]
    given = {"tune": "bench day", "unit": "hp", "at": "wheel", "standard": "ISO 1585", "points": points}
    state, error = put(State(), given)
    assert not error and queries.planned(state).bike.tune == "bench day"
    assert queries.now(state).bike.tune == "stock", "the bike is still as it is"
    unnamed, error = put(State(), given | {"tune": ""})
    assert unnamed == State() and error
    bad = drawn("2000\tx", "hp", False, [])
    assert bad["error"] and "figure" in bad


@pytest.mark.parametrize(
    "contents",
    [None, "", "data:text/plain", "data:,!!!", "data:;base64,/////w==", "data:;base64," + "QUFB" * 400_000],
    ids=range(6),
)
def test_files_that_are_none_are_refused_in_words(contents):
    build, error = uploads.build_of(contents, "x.toml")
    assert build is None and error


def test_an_error_of_a_field_that_is_folded_away_is_told_all_the_same():
    build = queries.build_of(DEMO, None)
    shown = {path: text for path, text in build_form.typed(build.text).items() if path.startswith("masses.")}
    _, errors = build_form.edited(build, shown | {"engine.idle": "4900 rev/min", "engine.rev_limit": "4800 rev/min"})
    assert "engine.idle" in errors and "engine.idle" in build_form.elsewhere(errors, list(shown))
    assert build_form.elsewhere(errors, list(errors)) == ""


def test_only_open_sections_are_laid_out_at_first():
    text = queries.build_of(DEMO, None).text
    laid = [section for section in build_form.layout(text) if section.children[1].children]
    assert len(laid) == len(build_form.OPEN) and len(build_form.fields("chassis", text)) >= 10


@pytest.mark.parametrize("page", pages.SECTIONS.values(), ids=lambda page: page.key)
def test_a_field_that_a_button_reads_is_there_when_it_is_pressed(app, page):
    """A field that waits for the hand to rest would hand its last text to the button, not the one that stands there."""
    calls = app.callback_map.values()
    pressed = [one for one in calls if any(source["property"] == "n_clicks" for source in one["inputs"])]
    read = {part["id"] for one in pressed for part in one["state"] if part["property"] == "value"}
    read -= {part["id"] for one in calls for part in one["inputs"]}  # what is shown is what such a button takes
    with app.server.test_request_context():
        laid = [one for one in page.layout(State())._traverse() if isinstance(getattr(one, "id", None), str)]
    slow = [one.id for one in laid if one.id in read and one._type == "TextInput" and getattr(one, "debounce", False)]
    assert not slow


def test_a_build_that_is_taken_away_is_named_by_bike_and_day(posted):
    answer = posted.post("bike-download.data", values={"bike-save.n_clicks": 1, "query.data": ""})
    handed = answer["response"]["bike-download"]["data"]
    assert re.fullmatch(r"coast-single-invented-\d{4}-\d\d-\d\d\.toml", handed["filename"]) and handed["content"]
