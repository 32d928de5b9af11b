"""The link is the state: it comes back the same, and what of it cannot be used is left out and told."""

from __future__ import annotations

import base64
import zlib

import pytest
from hypothesis import given
from hypothesis import strategies as st

from dashboard import layout
from dashboard.url_state import DEMO, SetUp, State, demos, from_query, teeth_limits, to_query
from dashboard.url_state.packed import LARGEST_TEXT, pack, unpack
from ridesim import reference
from ridesim.environment.road import surfaces
from ridesim.errors import InputError

TIRES = st.sampled_from(["120/90-17 M/C 64S", "130/90-17", "180/55 ZR17 M/C (73W)", "4.60-17 4PR", "MT90-16"])
WORDS = st.text(st.characters(exclude_categories=("C", "Z")), min_size=1, max_size=30)
SPEEDS = st.builds("{} {}".format, st.integers(20, 200), st.sampled_from(["km/h", "mph"]))


def set_ups() -> st.SearchStrategy[SetUp]:
    return st.builds(
        SetUp,
        front=st.none() | st.integers(*teeth_limits("front")),
        rear=st.none() | st.integers(*teeth_limits("rear")),
        rear_tire=st.none() | TIRES,
        front_tire=st.none() | TIRES,
        tune=st.none() | WORDS,
        luggage=st.none() | st.builds("{} kg".format, st.integers(0, 100)),
    )


def states() -> st.SearchStrategy[State]:
    text = (reference.DATA / "demo" / f"{DEMO}.toml").read_text(encoding="utf-8")
    return st.builds(
        State,
        demo=st.sampled_from(demos()),
        own=st.none() | st.text(st.characters(exclude_categories=("Cs",)), max_size=400).filter(bool) | st.just(text),
        now=set_ups(),
        planned=set_ups(),
        cruise=st.none() | SPEEDS,
        grade=st.none() | st.builds("{} %".format, st.integers(-20, 60)),
        head_wind=st.none() | st.builds("{} m/s".format, st.integers(-30, 40)),
        surface=st.none() | st.sampled_from(list(surfaces())),
        back=st.none() | st.builds("{} mm".format, st.integers(0, 250)),
        gear=st.none() | st.integers(1, 10),
        units=st.sampled_from(["metric", "us"]),
    )


@given(states())
def test_a_link_brings_the_state_back_whole(state):
    assert from_query(to_query(state)) == (state, ())


def test_the_plain_state_needs_no_words():
    assert to_query(State()) == "" and from_query("") == (State(), ()) and from_query(None) == (State(), ())


@pytest.mark.parametrize(
    "query",
    ["?front=fifteen", "?front=99", "?front=-3", "?front=", "?front=1e3", "?planned-rear=NaN", "?rear-tire=round",
     "?cruise=fast", "?cruise=9999+km/h", "?cruise=nan", "?grade=900+%25", "?units=furlongs",
     "?build=../../etc/passwd", "?own=!!!", "?own=" + "A" * 50_000, "?surface=lava", "?back=3+furlongs", "?gear=0",
     "?no-such-thing=1", "?luggage=-5+kg", "?tune=%00", "?technique=loop",
     "?jet=nonsense", "?go-altitude=high", "?numbering=mine", "?coast-down-from-s=soon", "?road-pull-standard=mine"],
)  # fmt: skip
def test_a_bad_value_falls_back_and_is_told(query):
    state, problems = from_query(query)
    assert state == State()
    assert len(problems) == 1 and problems[0].text and len(problems[0].text) < 400


def test_what_is_good_in_a_link_with_a_bad_value_still_counts():
    state, problems = from_query("?front=fifteen&planned-front=16&units=us")
    assert state == State(planned=SetUp(front=16), units="us") and [p.key for p in problems] == ["front"]


@given(st.text(max_size=120))
def test_any_text_at_all_makes_a_state(text):
    from_query("?" + text)


def test_a_word_that_unpacks_to_more_than_a_build_is_refused_without_unpacking_it():
    bomb = base64.urlsafe_b64encode(zlib.compress(b"a" * 30_000_000, 9)).decode().rstrip("=")
    with pytest.raises(InputError, match="200 kB"):
        unpack(bomb[:40_000])
    assert unpack(pack("x" * (LARGEST_TEXT - 1))) == "x" * (LARGEST_TEXT - 1)


@pytest.mark.parametrize(
    "query", ["?tune=nothing", "?planned-tune=nothing&front=16", "?own=" + pack("name = 3"), "?own=" + pack("[[[")]
)
def test_a_link_the_library_cannot_answer_opens_without_the_fault_and_says_so(query):
    state, problems = layout.opened(query)
    assert problems and state.own is None
    assert layout.summary(state).content


def test_an_own_build_travels_in_the_link():
    text = (reference.DATA / "demo" / "road-twin.toml").read_text(encoding="utf-8")
    link = to_query(State(own=text, planned=SetUp(front=17)))
    assert len(link) < 4000
    state, problems = layout.opened(link)
    assert state.own == text and not problems


def test_a_link_written_with_the_old_keys_still_opens():
    state, problems = from_query("?front=15&might-front=16&might-rear-tire=130%2F90-17")
    assert not problems and state.planned == SetUp(front=16, rear_tire="130/90-17")
    assert "might" not in to_query(state)
