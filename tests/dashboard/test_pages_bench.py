"""The pages of the bench show the library's numbers, keep them in the link, and say what is wrong beside its field."""

from __future__ import annotations

import json
import re
from dataclasses import replace
from urllib.parse import urlencode

import pytest
from support.hostile import RUBBISH
from support.posted import figures_of, texts

from dashboard.forms import link_fields
from dashboard.pages import carburetor
from dashboard.queries import fueling
from dashboard.url_state import State, from_query, to_query
from dashboard.url_state.fields import EXAMPLES, NEEDED, SPECS
from dashboard.url_state.limits_form import LimitsForm
from ridesim.answers.text import sentence, shown
from ridesim.bike import make_bike
from ridesim.buildfile.io import read
from ridesim.environment.air import air
from ridesim.environment.climb import stated_climb
from ridesim.fueling import altitude, circuits, intake, jets, mixture, needle, openings
from ridesim.fueling.jet_answers import jet_air_answer, jet_change
from ridesim.fueling.needle_answers import change_answer
from ridesim.logs.reader import read_climb
from ridesim.reference import DATA
from ridesim.units import rad_s

BENCH = [one.key for one in carburetor.PAGE.sections if one.key != "trials"]
OF_FIELDS = [key for key in BENCH if key != "idle"]  # which has a grid of its own
SYSTEMS = ("metric", "us")
FIRST = {"jets": "jet", "altitude": "climb-from", "symptoms": "opening", "needle": "needle-jet", "intake": "saws"}
NEEDLE = {"taper_start_m": 0.03, "length_m": 0.07}  # those of the example
SEAT = {"main_jet_bore_m": 1.25e-3, "seat_to_jet_m": 0.026, "full_lift_m": 0.036}
READINGS = [(0.5, 1010), (1.0, 1095), (1.5, 1150), (2.0, 1165), (2.5, 1135), (3.0, 1080), (3.5, 1000)]


def asked(page: str = "", **given: str) -> str:
    """A link with what is given, and the example of a page where nothing is."""
    return "?" + urlencode(EXAMPLES.get(page, {}) | {key.replace("_", "-"): value for key, value in given.items()})


def said(posted, page: str, query: str) -> str:
    return " ".join(texts(posted.page(page, query)[f"{page}-says"]["children"]))


def taken(posted, page: str, query: str, **typed: str) -> dict:
    """What the callback of a page's fields answers when the fields are as the link has them, but for what is typed."""
    state = from_query(query)[0]
    one = posted.find(f"{page}-trouble.children")
    values = {"query.data": query}
    for w in one["inputs"]:
        key = w["id"].removeprefix(f"{page}-")
        values[f"{w['id']}.value"] = typed.get(key.replace("-", "_"), link_fields.shown(state, key))
    return posted.post(f"{page}-trouble.children", values=values)["response"]


@pytest.mark.parametrize("units", SYSTEMS)
def test_the_jet_for_other_air_is_the_librarys(posted, units):
    given = {"metric": ("2500 m", "10 degC"), "us": ("8202.1 ft", "50 degF")}[units]
    query = asked(jet="120", jet_to="125", jet_step="2", set_altitude="0 m", set_temperature="20 degC", set_humidity="50 %",
                  go_altitude=given[0], go_temperature=given[1], go_humidity="30 %", units=units)  # fmt: skip
    right = air(altitude_m=0.0, temperature_k=293.15, relative_humidity=0.5)
    come = air(altitude_m=2500.0, temperature_k=283.15, relative_humidity=0.3)
    metering = {
        "reference_metering_density_kg_m3": right.metering_density_kg_m3,
        "metering_density_kg_m3": come.metering_density_kg_m3,
    }
    found = jets.jet_for_air(120, numbering="bore", step=2, **metering)
    words = said(posted, "jets", query)
    assert str(jet_air_answer(found, right, come)) in words
    assert str(jet_change(120, 125, numbering="bore")) in words
    figures = " ".join(texts(posted.page("jets", query)["jets-changes"]["children"]))
    assert shown(come.density_kg_m3, "density", units) in figures


def test_jets_by_flow_and_from_a_list(posted):
    query = asked("jets", jet="120", jet_to="126", numbering="flow", jet_sizes="110, 115, 120")
    words = said(posted, "jets", query)
    assert str(jet_change(120, 126, numbering="flow")) in words and "5.0 % more" in words
    assert "Nearest is 110" in words


@pytest.mark.parametrize(("opening", "verdict"), [(1.0, "lean"), (0.05, "rich")])
def test_a_symptom_is_answered_as_in_the_library(posted, opening, verdict):
    words = said(posted, "symptoms", asked(opening=f"{100 * opening:g} %", verdict=verdict))
    assert str(circuits.circuit_answer(opening, verdict)) in words


@pytest.mark.parametrize("units", SYSTEMS)
def test_a_groove_is_the_librarys(posted, units):
    bore = "2.7 mm" if units == "metric" else "0.1062992126 in"
    query = asked("needle", needle_jet=bore, one_clip="2", two_clip="4", units=units)
    one = needle.Needle(**NEEDLE, straight_diameter_m=2.5e-3, end_diameter_m=1.5e-3)
    seat = needle.NeedleSeat(needle_jet_bore_m=2.7e-3, **SEAT)
    change = needle.needle_change(one, seat, clip=2, new_clip=4)
    assert said(posted, "needle", query) == str(change_answer(change))
    table = " ".join(texts(posted.page("needle", query)["needle-area-table"]["children"]))
    assert shown(change.after.effective_area_m2[4], "bore area", units, unit=False) in table


def test_another_needle_by_its_taper(posted):
    query = asked("needle", two_straight="2.48 mm", two_end="1.4 deg", two_clip="3")
    one = needle.Needle(name="needle one", **NEEDLE, straight_diameter_m=2.5e-3, end_diameter_m=1.5e-3)
    two = needle.Needle(name="needle two", **NEEDLE, straight_diameter_m=2.48e-3, taper_angle_rad=0.0244346)
    seat = needle.NeedleSeat(needle_jet_bore_m=2.6e-3, **SEAT)
    change = needle.needle_change(one, seat, clip=3, new_clip=3, new_needle=two)
    assert said(posted, "needle", query) == str(change_answer(change))


@pytest.mark.parametrize("units", SYSTEMS)
def test_the_holes_are_the_librarys(posted, units):
    query = asked(stock_opening="1 slot of 60 x 20 mm, 2 round of 25 mm", wanted="1.4 times stock",
                  saws="3 of 20 mm, 2 of 32 mm", near="5 %", coefficients="0.7 to 0.8", units=units)  # fmt: skip
    stock = [openings.Opening(shape="slot", length_m=0.06, width_m=0.02), openings.circle(diameter_m=0.025, count=2)]
    saws = [intake.HoleSaw(diameter_m=0.020, most=3), intake.HoleSaw(diameter_m=0.032, most=2)]
    plan = intake.plan_intake(stock, saws, wanted_over_stock=1.4, tolerance=0.05, stock_coefficients=(0.7, 0.8))
    words = said(posted, "intake", query)
    best = plan.nearest
    for value, reading in (
        (plan.wanted_area_m2, "small area"),
        (best.total_area_m2, "small area"),
        (best.holes[0][0], "small length"),
    ):
        assert shown(value, reading, units) in words
    assert f"{best.flow_ratio_low:.2f} to {best.flow_ratio_high:.2f} times the stock flow" in words
    table = " ".join(texts(posted.page("intake", query)["intake-view-table"]["children"]))
    assert shown(plan.plugging[-1].total_area_m2, "small area", units, unit=False) in table


@pytest.mark.parametrize("screw", ["fuel", "air"])
def test_the_screw_is_the_librarys(posted, screw):
    query = asked(readings=" ".join(f"{t}:{n}" for t, n in READINGS), screw=screw, useful="0.5 to 3.5")
    turns, speeds = zip(*((t, rad_s(n)) for t, n in READINGS), strict=True)
    found = mixture.best_mixture_setting(turns, speeds, screw=screw, useful_turns=(0.5, 3.5))
    assert said(posted, "idle", query) == str(mixture.idle_answer(found))


@pytest.mark.parametrize("units", SYSTEMS)
def test_a_climb_is_the_librarys_and_an_own_ride_stands_in_for_heights(posted, units):
    own = (DATA / "demo" / "coast-single.toml").read_text(encoding="utf-8")
    query = to_query(from_query(asked(climb_from="100 m", climb_to="2200 m", climb_grade="8 %", climb_jet="125"))[0])
    state = replace(from_query(query)[0], own=own, units=units)
    bike = make_bike(read(DATA / "demo" / "coast-single.toml"))
    expected = altitude.altitude(bike, stated_climb(100.0, 2200.0, 0.08), jet=altitude.JetFitted(size=125))
    assert sentence(expected, units) in said(posted, "altitude", to_query(state))
    ridden = replace(State(own=own, units=units), limits_form=LimitsForm(ride="demo ride"))
    road = altitude.altitude(bike, read_climb(DATA / "demo" / "logs" / "ride.gpx"))
    assert sentence(road, units) in said(posted, "altitude", to_query(ridden))


@pytest.mark.parametrize("page", BENCH)
def test_every_figure_is_one_the_chart_library_knows_and_cautions_stand_there(posted, page):
    filled = posted.page(page, asked(page), "dark")
    figures_of(filled)
    words = " ".join(texts(filled[f"{page}-cautions"]["children"]))
    assert words.startswith("Take care (") and "maker's manual" in words


@pytest.mark.parametrize("key", sorted(SPECS))
def test_every_field_goes_into_the_link_and_comes_back(key):
    spec = SPECS[key]
    text = list(spec.options)[-1] if spec.options else spec.plain or "7"
    state, problems = from_query(f"?{urlencode({key: text})}")
    assert not problems and link_fields.text(state, key) == text
    assert from_query(to_query(state)) == (state, ())


@pytest.mark.parametrize(
    ("page", "typed", "at", "says"),
    [
        ("jets", {"jet": "0"}, "jet", "5"),
        ("jets", {"jet_step": ""}, "jet-step", "empty"),
        ("jets", {"go_humidity": "130 %"}, "go-humidity", "1"),
        ("jets", {"jet_sizes": "130, many"}, "jet-sizes", "number"),
        ("symptoms", {"opening": "150 %"}, "opening", "1"),
        ("needle", {"needle_jet": "2.4 mm"}, "one-straight", "“2.5 mm” is as thick"),
        ("needle", {"two_straight": "2.65 mm"}, "two-straight", "“2.65 mm” is as thick"),
        ("needle", {"two_length": "50 mm"}, "two-length", "out of its jet"),
        ("needle", {"two_clip": "9"}, "two-clip", "1 to 5"),
        ("needle", {"two_end": "3 mm"}, "two-end", "straight"),
        ("intake", {"wanted": "0.5 times stock"}, "wanted", "stock"),
        ("intake", {"saws": "many"}, "saws", "25 mm"),
        ("intake", {"saws": "50 of 20 mm, 50 of 21 mm, 50 of 22 mm, 50 of 23 mm"}, "saws", "sets"),
        ("intake", {"coefficients": "0.7 to 0.6"}, "coefficients", "before"),
    ],
)
def test_an_error_stands_beside_its_field_and_the_link_stays(posted, page, typed, at, says):
    answer = taken(posted, page, asked(page), **typed)
    assert says in answer[f"{page}-{at}"]["error"]
    assert "query" not in answer
    assert "dim" in answer[f"{page}-page"]["className"]


def test_fields_not_touched_since_they_were_filled_take_nothing_out_of_a_newer_link(posted):
    """A link opened meanwhile: what its fields still held of the older one was read as typed, and took the example's mark away."""
    newer = to_query(link_fields.with_example(State(), "jets"))
    names = {w["id"]: "" for w in posted.find("jets-trouble.children")["inputs"]}
    sent = {f"{name}.value": "" for name in names} | {"query.data": newer, "jets-page.className": "page"}
    stale = {name.removeprefix("jets-"): "" for name in names}
    answer = posted.post("jets-trouble.children", values=sent | {"jets-filled.data": stale})["response"]
    assert "query" not in answer and "jets-filled" not in answer
    sent["jets-jet.value"] = "110"
    answer = posted.post("jets-trouble.children", values=sent | {"jets-filled.data": stale})["response"]
    found = from_query(answer["query"]["data"])[0]
    assert found.fields.jet == "110"
    assert set(link_fields.exampled(found)) == {*link_fields.exampled(from_query(newer)[0])} - {"jet"}
    assert answer["jets-filled"]["data"]["jet"] == "110"


@pytest.mark.parametrize("page", OF_FIELDS)
def test_a_change_of_units_changes_nothing_that_is_asked(posted, page):
    query = asked(page, jet="117.5", go_altitude="1234.5 m", needle_jet="2.605 mm", near="4 %", opening="60 %")
    query, us = (to_query(from_query(one)[0]) for one in (query, query + "&units=us"))
    filled = posted.post(f"{page}-{FIRST[page]}.value", values={"link.data": us})["response"]
    filled = {name: one for name, one in filled.items() if "value" in one}
    typed = {name.removeprefix(f"{page}-").replace("-", "_"): value["value"] for name, value in filled.items()}
    assert "query" not in taken(posted, page, us, **typed)
    assert "query" not in taken(posted, page, query, **typed), "nor when the units arrive later than the fields"
    if page == "jets":
        assert typed["go_altitude"] == "4050 ft"


def test_the_grid_goes_into_the_link_and_names_its_bad_row(posted):
    values = {"idle-screw.value": "fuel", "idle-useful.value": "0.5 to 3", "query.data": ""}

    def post(*rows):
        cells = [*rows, *[("", "")] * (12 - len(rows))]
        grids = {
            what: [({"kind": "idle", "row": n, "what": what}, str(cell[place])) for n, cell in enumerate(cells)]
            for place, what in enumerate(("turns", "speed"))
        }
        return posted.post("idle-trouble.children", values=values, patterns=grids)["response"]

    def beside(row, *rows):
        return post(*rows)[json.dumps({"kind": "idle", "row": row, "what": "turns"}, separators=(",", ":"))]["error"]

    assert "readings=0.5%3A1010" in json.dumps(post(*READINGS))
    assert beside(2, *READINGS[:2], (1.5, 9000), *READINGS[3:]).startswith("“9000” rev/min is no idle speed")
    assert "both" in beside(7, *READINGS, (1, ""))
    assert "too few" in json.dumps(post(*READINGS[:3])["idle-trouble"])


@pytest.mark.parametrize("page", OF_FIELDS)
def test_hostile_text_is_refused_in_words(posted, page):
    one = posted.find(f"{page}-trouble.children")
    keys = [w["id"].removeprefix(f"{page}-").replace("-", "_") for w in one["inputs"]]
    for text in (one for one in RUBBISH if isinstance(one, str)):
        assert "Traceback" not in json.dumps(taken(posted, page, asked(page), **dict.fromkeys(keys, text)))


def test_an_impossible_link_says_so_in_the_place_of_the_answer(posted):
    words = said(posted, "needle", asked("needle", needle_jet="1 mm"))
    assert words.startswith("This can't be worked out:") and "thick" in words


@pytest.mark.parametrize("page", sorted(EXAMPLES))
def test_nothing_is_said_before_there_are_figures(posted, page):
    filled = posted.page(page, "")
    assert filled[f"{page}-answer"]["hidden"] and not any("figure" in one for one in filled.values())
    words = said(posted, page, "")
    assert words.startswith("Fill in ") and not re.search(r"\d", words)
    for key in NEEDED[page]:
        rest = {one: text for one, text in EXAMPLES[page].items() if one != key}
        label = SPECS[key].label
        assert said(posted, page, "?" + urlencode(rest)).startswith(f"Fill in {label}"), key


@pytest.mark.parametrize("page", sorted(EXAMPLES))
def test_an_example_is_marked_until_its_last_figure_is_replaced(posted, page):
    state = link_fields.with_example(State(), page)
    filled = posted.page(page, to_query(state))
    assert (
        said(posted, page, to_query(state)).startswith("Example") and "example" in filled[f"{page}-answer"]["className"]
    )
    assert all(SPECS[key].label in " ".join(texts(filled[f"{page}-example-note"]["children"])) for key in NEEDED[page])
    assert link_fields.with_example(state, page) == State(), "it is taken out again"
    for key, text in EXAMPLES[page].items():
        assert link_fields.marks(state, [key])[key].endswith("example-field") == (key in link_fields.exampled(state))
        own = (
            list(SPECS[key].options)[-1]
            if SPECS[key].options
            else re.sub(r"\d", lambda one: str((int(one[0]) + 1) % 10), text, count=1)
        )
        state, errors = link_fields.taken({key: own}, state)
        assert not errors and key not in link_fields.exampled(state)
    words = said(posted, page, to_query(state))
    assert not state.example and ("Example" in words) == (page == "altitude"), "its bike is invented too"


def test_the_air_of_an_invented_build_is_nobodys():
    own = State(own=read(DATA / "demo" / "coast-single.toml").text)
    assert link_fields.text(State(), "set-altitude") == "" and link_fields.text(own, "set-altitude") == "20 m"
    moved = from_query("?set-altitude=1000 m&set-pressure=900 hPa")[0]
    assert fueling.day_air(moved, "set").pressure_pa == pytest.approx(90000.0)


def test_the_temperature_of_a_place_is_that_of_its_altitude_until_another_is_typed(posted):
    """ISO 2533: 288.15 K less 6.5 K a kilometer, so 271.9 K at 2500 m and -1 degC in the field."""
    state = from_query(asked(jet="125", go_altitude="2500 m", set_altitude="0 m"))[0]
    assert (link_fields.shown(state, "go-temperature"), link_fields.shown(state, "set-temperature")) == (
        "-1 °C",
        "15 °C",
    )
    told = fueling.jet(state).answers[0]
    assert told.figures["come"].value == pytest.approx(air(altitude_m=2500.0, relative_humidity=0.5).density_kg_m3)
    assumed = [one for one in told.assumptions if "air.temperature assumed" in one]
    assert [one.split(":")[0] for one in assumed] == [
        "air it was right in",
        "air to come",
    ] and "; 18 °F more" in assumed[0].us
    day = from_query(asked(day_altitude="1000 m"))[0]
    assert fueling.worked_out(day, "day").temperature_k == pytest.approx(281.65)
    typed = from_query(asked("jets", go_altitude="2500 m", go_temperature="10 degC"))[0]
    assert link_fields.shown(typed, "go-temperature") == "10 degC"
    assert not any("air to come: air.temperature" in one for one in fueling.jet(typed).answers[0].assumptions)
