"""The choice of sprockets: the library's, held to what is typed, in the link whole, and one of them picked."""

from __future__ import annotations

import math
import re
from dataclasses import replace
from itertools import groupby, product

import pytest
from support.posted import texts

from dashboard import queries
from dashboard.forms import limits_card
from dashboard.queries import selection
from dashboard.queries.selection_rows import MOST_TOLD
from dashboard.url_state import SetUp, State, from_query, to_query
from dashboard.url_state.limits_form import CHAINS, KEYS, LIMITS, NO_LIMIT, LimitsForm
from ridesim import answers, reference
from ridesim import selection as choosing
from ridesim.answers.text import sentence
from ridesim.bike import make_bike
from ridesim.buildfile.io import read
from ridesim.selection import choose, held_to
from ridesim.units import quantity

BUILD = read(reference.DATA / "demo" / "coast-single.toml")
NONE = State(limits_form=LimitsForm(top_least="170 km/h", revs_most="4000 rev/min"))
CHANGED = State(planned=SetUp(front=16), cruise="112 km/h", grade="2 %")
MANY = LimitsForm(
    fronts="13:19",
    rears="38:52",
    tires="120/90-17, 130/90-17, 140/80-17, 4.60-17, 110/90-17, 120/80-17",
    tunes="stock\nrejetted",
)


def filled(posted, state: State, before=None, folds=1):
    """What the page fills in: the sentence and the drawing first, then the table that follows them, its misses unfolded."""
    values = {"query.data": to_query(state), "theme.data": "light"}
    first = posted.post("sprockets-says.children", values=values | {"sprockets-drawn.data": before})["response"]
    if "sprockets-drawn" not in first:
        return first
    drawn = {"sprockets-drawn.data": first["sprockets-drawn"]["data"], "sprockets-listed.data": before}
    values |= drawn | {"sprockets-missed.n_clicks": folds}
    return first | posted.post("sprockets-grid.rowData", values=values)["response"]


def direct(state: State):
    """The bike of a state, asked of the library without the app."""
    bike = make_bike(BUILD)
    return answers.solve(bike, answers.ride_with(bike, cruise=state.cruise, grade=state.grade))


def said(component) -> str:
    return " ".join(texts(component["children"]))


def test_the_choice_is_the_librarys(posted):
    now = direct(CHANGED)
    shown = filled(posted, CHANGED)
    choice = choose(BUILD, rear_tires=(now.bike.rear_tire.marking.written,), ride=now.ride)
    assert choice.sentence in said(shown["sprockets-says"])
    drawn = {trace["name"]: trace for trace in shown["sprockets-choice-graph"]["figure"]["data"]}
    turning = [c for c in choice.candidates if None not in (c.figures["cruise_speed"], c.figures["first_force"])]
    kinds = ("Misses a limit", "Meets every limit", "Best trade-offs")
    assert sum(len(drawn[name]["x"]) for name in kinds) == len(turning) > 50
    assert drawn["Best trade-offs"]["text"] == [f"{c.front}/{c.rear}" for c in choice.candidates if c.unbeaten]
    assert (drawn["Now"]["text"], drawn["Planned"]["text"]) == (["14/41"], ["16/41"])
    assert len(drawn) == 5


@pytest.mark.parametrize(("system", "now"), [("metric", SetUp()), ("us", SetUp(rear=39))])
def test_the_page_opens_with_the_librarys_verdict_on_what_is_fitted_now(posted, system, now):
    state = replace(CHANGED, units=system, now=now)
    values = {"query.data": to_query(state), "theme.data": "light", "sprockets-drawn.data": {"choice": "drawn"}}
    shown = posted.post("sprockets-verdict.children", values=values)["response"]["sprockets-verdict"]
    own = make_bike(BUILD)
    rear, tire = now.rear or own.rear_teeth, own.rear_tire.marking.written
    fitted = choosing.OnBike(front=own.front_teeth, rear=rear, rear_tire=tire, tune=own.tune)
    choice = choose(BUILD, fronts=range(11, 18), rears=range(fitted.rear - 6, fitted.rear + 7), ride=direct(state).ride)
    decided = choosing.verdict(choice, on_bike=fitted)
    assert choosing.verdict_words.sentence(decided, system) in said(shown)
    assert all(part.rstrip(".") in said(shown) for part in choosing.verdict_words.runners_up(decided, system))


@pytest.mark.parametrize("system", ["metric", "us"])
def test_every_row_of_the_table_is_the_librarys(posted, system):
    state = replace(CHANGED, units=system)
    shown = filled(posted, state)["sprockets-grid"]
    choice = choose(BUILD, ride=direct(state).ride)
    heads = {column["field"]: column["headerName"] for column in shown["columnDefs"]}
    assert ("[mph]" if system == "us" else "[km/h]") in heads["top_speed"]
    per = {"us": (0.44704, 4.4482216152605), "metric": (1 / 3.6, 1.0)}[system]
    rows = {row["pair"]: row for row in shown["rowData"]}
    assert len(rows) == len(choice.candidates) == len({row["id"] for row in shown["rowData"]})
    for c in choice.candidates:
        row = rows[f"{c.front}/{c.rear}"]
        assert row["top_speed"] == pytest.approx(c.figures["top_speed"] / per[0], abs=0.0501)
        assert row["first_force"] == pytest.approx(c.figures["first_force"] / per[1], abs=0.501)
        time = c.figures["time_0_100"]
        assert row["time_0_100"] == (None if time is None else pytest.approx(time, abs=0.00501))
        assert (row["verdict"] == "misses a limit") == (not c.meets_limits)
        assert (row["verdict"] == "best trade-off") == c.unbeaten
        assert bool(row["misses"]) == bool(c.falls)
        assert row["miss"] == (pytest.approx(100 * c.miss, abs=0.0501) if math.isfinite(c.miss) else None)
        assert row["links"] == c.answer["chain"]["links_to_order"]
        for fall in c.falls:
            assert choosing.limit_label(fall.limit) in row["misses"]
    order = [row["verdict"] for row in shown["rowData"]]
    assert order == sorted(order, key=["best trade-off", "meets all", "misses a limit"].index)
    missed = [row["miss"] for row in shown["rowData"] if row["verdict"] == "misses a limit" and row["miss"] is not None]
    assert missed == sorted(missed)


def test_where_nothing_meets_the_limits_the_nearest_miss_comes_first_and_nothing_is_best(posted):
    shown = filled(posted, NONE, folds=None)
    assert said(shown["sprockets-says"]).startswith("None of") and shown["sprockets-fold"]["hidden"]
    rows = shown["sprockets-grid"]["rowData"]
    assert {row["verdict"] for row in rows} == {"misses a limit"}
    assert rows[0]["miss"] == min(row["miss"] for row in rows if row["miss"] is not None)
    falls, meets, best = shown["sprockets-choice-graph"]["figure"]["data"][:3]
    assert falls["x"] and not meets["x"] and not best["x"]


def test_what_misses_a_limit_is_folded_away_and_counted(posted):
    choice, shown = choose(BUILD, ride=direct(CHANGED).ride), filled(posted, CHANGED, folds=2)
    rows, whole = (one["sprockets-grid"]["rowData"] for one in (shown, filled(posted, CHANGED)))
    assert {row["pair"] for row in rows} == {f"{c.front}/{c.rear}" for c in choice.candidates if c.meets_limits}
    assert rows == whole[: len(rows)] and not shown["sprockets-fold"]["hidden"]
    assert shown["sprockets-missed"]["children"] == f"{len(whole) - len(rows)} that miss a limit"


def test_what_cannot_be_told_apart_stands_together_as_a_group(posted):
    state = State(demo="plateau-single", limits_form=MANY)
    of = {row["id"]: row["alike"] for row in filled(posted, state, folds=None)["sprockets-grid"]["rowData"]}
    close = [set(map(selection.name, both)) for both in choosing.indistinguishable(selection.choice(state))]
    runs = [[one for one, _ in run] for group, run in groupby(of.items(), key=lambda item: item[1]) if group]
    assert len(runs) == len({of[run[0]] for run in runs}) > 1
    assert all({run[0], other} in close for run in runs for other in run[1:])
    assert all(any(of[one] for one in both) for both in close)


def test_what_the_browser_has_is_not_sent_again(posted):
    first = filled(posted, CHANGED)
    had = first["sprockets-listed"]["data"]
    for change, sent in (
        ({"planned": SetUp(front=15)}, {"selectedRows"}),
        ({"cruise": "100 km/h"}, {"selectedRows", "rowData"}),
        ({"limits_form": LimitsForm(top_least="150 km/h")}, {"selectedRows", "rowData"}),
        ({"units": "us"}, {"selectedRows", "rowData", "columnDefs"}),
    ):
        again = filled(posted, replace(CHANGED, **change), had)["sprockets-grid"]
        assert set(again) == sent, change
        assert "planned" not in change or again["selectedRows"]["ids"] == ["15/41/0/0"]


TYPED = {
    "revs_most": "4800 rev/min",
    "climb_least": "55 %",
    "lift_least": "1.05",
    "walk_most": "7 km/h",
    "walk_at": "1600 rev/min",
    "top_least": "110 km/h",
    "time_most": "9.5 s",
    "roll_on_most": "11 s",
}


@pytest.mark.parametrize("key", [*TYPED, "none", *CHAINS])
def test_every_limit_typed_is_held_as_the_library_holds_it(posted, key):
    if key in CHAINS:
        typed, limits = {"chain": key}, CHAINS[key]
    elif key == "none":
        typed, limits = {"revs_most": NO_LIMIT}, {"cruise_engine_speed_most": ""}
    else:
        typed, limits = {key: TYPED[key]}, {LIMITS[key.replace("_", "-")].of: TYPED[key]}
    wanted = choose(BUILD, limits=held_to(BUILD.record.limits, **limits))
    assert wanted.sentence in said(filled(posted, State(limits_form=LimitsForm(**typed)))["sprockets-says"])


def test_what_can_be_had_and_the_figures_to_trade(posted):
    some = {"fronts": "14, 16", "rears": "44:46", "tires": "120/90-17, 130/90-17", "tunes": "stock\nrejetted"}
    goals = {"across": "top_speed", "up": "first_lift"}
    state = State(demo="plateau-single", limits_form=LimitsForm(**some, **goals))
    there = {"rear_tires": ["120/90-17", "130/90-17"], "tunes": ["stock", "rejetted"]}
    build = read(reference.DATA / "demo" / "plateau-single.toml")
    wanted = choose(build, fronts=[14, 16], rears=[44, 45, 46], **there, goals=[*goals.values()])
    shown = filled(posted, state)
    assert wanted.sentence in said(shown["sprockets-says"]) and "24 set-ups" in wanted.sentence
    figure = shown["sprockets-choice-graph"]["figure"]
    assert figure["layout"]["xaxis"]["title"]["text"] == "Top speed [km/h]"
    assert figure["layout"]["yaxis"]["title"]["text"].startswith("Lift ratio in first")
    names = {name for trace in figure["data"][:3] for name in trace["text"]}
    assert len(names) == 24 and "14/44 130/90-17 M/C 68S rejetted" in names
    heads = {column["field"]: column for column in shown["sprockets-grid"]["columnDefs"]}
    assert not heads["tire"]["hide"] and not heads["tune"]["hide"]
    rows = {(row["tire"], row["tune"]) for row in shown["sprockets-grid"]["rowData"]}
    assert rows == {*product(("120/90-17", "130/90-17 M/C 68S"), ("stock", "rejetted"))}
    twin = said(shown["sprockets-choice-table"])
    assert all(f"{c.front}/{c.rear}" in twin for c in wanted.unbeaten[:MOST_TOLD])


EVERY = LimitsForm(
    **TYPED,
    above_most=NO_LIMIT,
    above_at="4500 rpm",
    shifts_most="20",
    fuel_most="60 mpg",
    range_least="200 km",
    ride="made-up-word-of-an-open-log",
    chain="keep",
    fronts="14, 15",
    rears="40:50",
    tires="120/90-17 M/C 64S, 4.60-17",
    tunes="stock\nre-jetted & {=é}",
    across="fuel",
    up="top_speed",
    revs="5000 rev/min",
)


def test_all_that_is_typed_comes_back_by_the_link():
    assert all(vars(EVERY).values()) and len(vars(EVERY)) == len(KEYS)
    assert from_query(to_query(State(limits_form=EVERY))) == (State(limits_form=EVERY), ())


@pytest.mark.parametrize(
    ("key", "typed", "wanted"),
    [("revs-most", "4800", {"revs_most": "4800 rev/min"}), ("top-least", "80 mph", {"top_least": "80 mph"}),
     ("lift-least", "1.1", {"lift_least": "1.1"}), ("climb-least", "None", {"climb_least": "none"}),
     ("tunes", ["stock"], {"tunes": "stock"}), ("chain", "keep", {"chain": "keep"}),
     ("across", "fuel", {"across": "fuel"}), ("across", "cruise_speed", {}), ("fronts", "14:16", {"fronts": "14:16"})],
)  # fmt: skip
def test_what_is_typed_goes_into_the_state_and_stays_in_its_field(key, typed, wanted):
    state, errors = limits_card.taken(limits_card.shown(State()) | {key: typed}, State())
    assert (state, errors) == (State(limits_form=LimitsForm(**wanted)), {})
    assert limits_card.taken(limits_card.shown(state), state) == (state, {})
    assert limits_card.taken(limits_card.shown(State()), state) == (State(), {})


def test_a_bare_number_takes_the_unit_that_is_shown():
    us = State(units="us")
    state, _ = limits_card.taken(limits_card.shown(us) | {"top-least": "80"}, us)
    assert state.limits_form == LimitsForm(top_least="80 mph")


@pytest.mark.parametrize(
    ("key", "typed"),
    [("revs-most", "fast"), ("revs-most", "48"), ("revs-most", "4800 km/h"), ("climb-least", "nan"),
     ("climb-least", "-5"), ("lift-least", "1 kg"), ("time-most", "0"), ("fronts", "3:5"), ("rears", "x"),
     ("tires", "round"), ("tires", "120/90-17, banana"), ("tunes", ["no such tune"]), ("up", "cruise_speed"),
     ("up", "ride_fuel"), ("tires", ", ".join(f"{w}/80-17" for w in range(90, 200)))],
)  # fmt: skip
def test_an_error_stands_beside_its_field_and_the_last_good_answer_stays(posted, key, typed):
    values = limits_card.shown(State()) | {key: typed}
    answer = limits_card.told(values, "")
    assert answer["errors"][key] and sum(text is not None for text in answer["errors"].values()) == 1
    assert answer["dim"] == "page dim" and not isinstance(answer["query"], str)
    again = limits_card.told(limits_card.shown(State()), "")
    assert not any(again["errors"].values()) and again["dim"] == "page" and not again["trouble"]


def test_what_belongs_to_no_field_is_told_beside_them():
    needs = {"fronts": "6:40", "rears": "12:100", "tires": ", ".join(f"{w}/80-17" for w in range(90, 130))}
    answer = limits_card.told(limits_card.shown(State()) | needs, "")
    assert answer["dim"] == "page dim" and "100000" in str(answer["trouble"][0])


def test_a_link_that_cannot_be_answered_says_so_and_draws_nothing(posted):
    shown = filled(posted, State(limits_form=LimitsForm(tunes="no such tune")))
    assert "no such tune" in said(shown["sprockets-says"]) and "sprockets-choice-graph" not in shown
    page = str(limits_card.layout(State(limits_form=LimitsForm(tunes="no such tune"))))
    assert "is not a tune of this build" in page


def test_empty_fields_show_what_the_build_file_says(posted):
    hints = limits_card.placeholders(State())
    shown = [hints[key] for key in ("revs-most", "lift-least", "walk-at")]
    assert shown == ["4700 rev/min", "no limit", "1350 rev/min"]
    assert (hints["fronts"], hints["rears"]) == ("11:17", "35:47") and hints["tires"] == "120/90-17 M/C 64S"
    assert limits_card.placeholders(State(units="us"))["top-least"].endswith(" mph")
    shown = filled(posted, State(now=SetUp(front=13)))
    assert shown["sprockets-fronts"]["placeholder"] == "10:16"


def picked(posted, state: State, source: str, told) -> State:
    links = (one for one in posted.dependencies if one["output"].startswith("link.data"))
    [output] = (one["output"] for one in links if "{id}.{property}".format(**one["inputs"][0]) == source)
    answer = posted.post(output, values={source: told, "query.data": to_query(state)})
    return from_query(next(iter(answer["response"].values()))["data"])[0] if answer else state


@pytest.mark.parametrize(("source", "told"), [("sprockets-point.data", "name"), ("sprockets-grid.eventData", "data")])
def test_a_point_or_a_row_is_planned_on_every_page(posted, source, told):
    state = State(demo="plateau-single", limits_form=MANY, planned=SetUp(luggage="10 kg"))
    found = picked(posted, state, source, {told: "15/44/5/0"})
    assert found.planned == SetUp(front=15, rear=44, rear_tire="120/80-17", tune="stock", luggage="10 kg")
    assert replace(found, planned=state.planned) == state
    assert picked(posted, State(), source, {told: "14/41/0/0"}) == State(), "what is fitted now leaves no trace"
    with pytest.raises(ValueError, match="not among the combinations"):
        selection.pick(State(), "99/99/9/9")
    shown = filled(posted, found)
    assert "15/44 120/80-17 stock" in said(shown["sprockets-chosen"])
    assert shown["sprockets-grid"]["selectedRows"]["ids"] == ["15/44/5/0"]


def test_what_to_order_and_why_it_falls_are_told_for_what_is_planned(posted):
    state = State(planned=SetUp(front=13, rear=51), limits_form=LimitsForm(revs_most="4800 rev/min"), units="us")
    words = said(filled(posted, state)["sprockets-chosen"])
    held = held_to(BUILD.record.limits, cruise_engine_speed_most="4800 rev/min")
    one = choose(BUILD, fronts=[13], rears=[51], limits=held).candidates[0]
    assert one.falls and all(fall.says in words for fall in one.choice.falls(0, "us"))
    assert "Front sprocket, 13 teeth, 520" in words and f"Chain, {one.chain['links_to_order']} links, 520" in words
    assert all(check[1:] in words for check in choosing.CHECKS)
    outside = said(filled(posted, State(planned=SetUp(front=30, rear=20)))["sprockets-chosen"])
    assert "For 30/20" in outside and "30 teeth" in outside
    fitted = said(filled(posted, State())["sprockets-chosen"])
    assert fitted.startswith("Fitted now: 14/41") and "To order" not in fitted


def test_the_wanted_engine_speed_is_the_librarys_and_stands_in_the_link(posted):
    now = direct(CHANGED)
    speed = quantity("5000", "engine speed", "rev/min", "")
    wanted = answers.wanted_ratio(now, engine_speed=speed, speed_m_s=now.ride.cruise_m_s)
    values = {"query.data": to_query(CHANGED), "sprockets-settled.data": "x", "sprockets-wanted.value": "5000"}
    shown = posted.post("sprockets-wanted-says.children", values=values)["response"]
    assert sentence(wanted) in said(shown["sprockets-wanted-says"])
    unsaid = posted.post("sprockets-wanted-says.children", values=values | {"sprockets-wanted.value": ""})["response"]
    turns = unsaid["sprockets-wanted"]["placeholder"]
    assert turns == queries.wanted_words(CHANGED) == shown["sprockets-wanted"]["placeholder"]
    assert f"{turns} at" in said(unsaid["sprockets-wanted-says"]).replace(",", "")
    for asked, typed in (("", ""), ("?planned-front=16", ""), ("?need-revs=4700+rpm", "4700 rpm")):
        refilled = posted.post("sprockets-wanted.value", values={"link.data": asked})["response"]
        assert refilled["sprockets-wanted"]["value"] == typed
    values = {"place.pathname": "/gearing", "place.search": "?need-revs=4700+rpm"}
    assert "4700 rpm" in str(posted.post("page.children", values=values))


def test_of_many_marks_in_one_place_one_is_drawn_and_says_how_many_lie_there(posted):
    state = State(demo="plateau-single", limits_form=MANY)
    choice = selection.choice(state)
    best = choice.best & choice.held.meets
    data = filled(posted, state)["sprockets-choice-graph"]["figure"]["data"]
    for trace, rows in zip(data[:3], (~choice.held.meets, choice.held.meets & ~best, best), strict=True):
        drawn = [int(found[1]) + 1 if (found := re.search(r" and (\d+) more$", name)) else 1 for name in trace["text"]]
        assert sum(drawn) == rows.sum() and len(drawn) < 300
        assert len({(x, y) for x, y in zip(trace["x"], trace["y"], strict=True)}) == len(drawn)
    assert sum(len(trace["x"]) for trace in data[:3]) < 700


def test_notes_and_falls_are_in_the_units_shown(posted):
    state = State(limits_form=LimitsForm(top_least="300 km/h"), units="us")
    shown = filled(posted, state)
    words = said(shown["sprockets-notes"]) + said(shown["sprockets-chosen"])
    assert "mph" in words and "km/h" not in words.replace("100 km/h", "")


def test_a_bare_size_of_the_fitted_tire_orders_no_tire():
    demo = "plateau-single"
    bare = selection.picked(State(demo=demo, planned=SetUp(rear_tire="130/90-17")))
    other = selection.picked(State(demo=demo, planned=SetUp(rear_tire="140/80-17")))
    assert bare.alike and not any("rear tire" in line for line in bare.order)
    assert not other.alike and any("rear tire, 140/80-17" in line for line in other.order)
