"""What the answers carry, and what they say when a thing does not happen."""

from __future__ import annotations

import re
from dataclasses import replace

import pytest

from dashboard.queries import OF_CRUISE
from ridesim import reference
from ridesim.answers import QUESTIONS, contract, everything, ride_with, solve, tune_gain
from ridesim.answers.text import sentence
from ridesim.bike import make_bike
from ridesim.buildfile.io import parse, read

DEMO = reference.DATA / "demo"


@pytest.fixture(scope="module")
def stock():
    return solve(make_bike(read(DEMO / "coast-single.toml")))


@pytest.mark.parametrize("ask", QUESTIONS, ids=lambda f: f.__name__)
@pytest.mark.parametrize("system", ["metric", "us"])
def test_every_answer_has_words_figures_steps_and_assumptions(ask, system, stock):
    answer = ask(stock)
    words = sentence(answer, system)
    assert words.endswith(".") and "{" not in words and "None" not in words
    assert answer.figures and answer.tables and answer.assumptions and answer.steps
    assert all(str(step) for step in answer.steps)
    for table in answer.tables:
        for row in table.rows:
            assert {column.key for column in table.columns} <= set(row)


@pytest.mark.parametrize("ask", QUESTIONS, ids=lambda f: f.__name__)
def test_what_goes_by_the_cruising_speed_is_what_the_app_asks_anew(ask, stock):
    slow, fast = (repr(ask(solve(stock.bike, replace(stock.ride, cruise_m_s=v))).__dict__) for v in (20.0, 35.0))
    assert (slow != fast) == (ask.__name__ in OF_CRUISE)


def test_low_and_high_hold_the_value(stock):
    banded = [f for answer in everything(stock) for f in answer.figures.values() if f.low is not None]
    assert len(banded) > 20
    assert all(f.low <= f.value <= f.high for f in banded)


def test_another_pair_shows_its_gain_in_fuel_from_one_consumption_figure(stock):
    other = solve(make_bike(stock.bike.build, front=17))
    assert other.bike.raw["indicated_efficiency"] == stock.bike.raw["indicated_efficiency"]
    assert contract(other)["cruise"][-1]["fuel_l_per_100km"] < contract(stock)["cruise"][-1]["fuel_l_per_100km"]


def test_curves_that_share_no_engine_speed_cannot_be_compared(stock):
    text = (DEMO / "coast-single.toml").read_text(encoding="utf-8")
    high = re.sub(r"rev_limit = .*", "rev_limit = 9900", text)
    high = re.sub(r"points = .*", "points = [[8000, 30], [9900, 25]]", high)
    other = solve(make_bike(parse(high)))
    assert "share no engine speed" in sentence(tune_gain(stock, other))


def test_on_a_wall_nothing_happens_and_everything_says_so(stock):
    wall = solve(stock.bike, ride_with(stock.bike, grade="95 %", headwind="40 m/s"))
    answer = contract(wall)
    assert answer["top_speed_kmh"] is None and answer["cruise"] == []
    assert answer["acceleration"] == {"0_60_kmh_s": None, "0_100_kmh_s": None, "400_m_s": None}
    for one in everything(wall):
        assert "None" not in sentence(one)
