"""What the answers carry, and what they say when a thing does not happen."""

from __future__ import annotations

import re
from dataclasses import replace

import numpy as np
import pytest

from dashboard.queries import OF_CRUISE
from ridesim import reference
from ridesim.answers import QUESTIONS, contract, everything, ride_with, solve, tire_swap, tune_gain, wanted_ratio
from ridesim.answers.text import sentence
from ridesim.bike import make_bike
from ridesim.buildfile.io import parse, read
from ridesim.errors import InputError
from ridesim.units import rad_s

DEMO = reference.DATA / "demo"


@pytest.fixture(scope="module")
def stock():
    return solve(make_bike(read(DEMO / "coast-single.toml")))


@pytest.fixture(scope="module")
def plateau():
    return solve(make_bike(read(DEMO / "plateau-single.toml")))


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


def test_the_known_consumption_comes_true(stock):
    used, speed = stock.bike.build.record.fuel.known_consumption
    there = solve(stock.bike, ride_with(stock.bike, cruise=f"{float(speed)} m/s"))
    assert contract(there)["cruise"][-1]["fuel_l_per_100km"] == pytest.approx(float(used) * 1e8, rel=1e-9)


def test_a_taller_tire_is_told_as_teeth_and_the_speedometer_reads_low(stock):
    other = solve(make_bike(stock.bike.build, rear_tire="150/80-17", front_tire="110/90-19"))
    swap = tire_swap(stock, other)
    assert swap.figures["gearing"].value > 0 and swap.figures["teeth"].value < stock.bike.rear_teeth
    assert swap.figures["speedometer_within"].value is False
    assert any("UN R39" in note for note in swap.notes)


def test_wanted_inverts_speeds(stock):
    turns = contract(stock)["cruise"][-1]
    answer = wanted_ratio(stock, engine_speed=float(rad_s(turns["engine_rpm"])), speed_m_s=turns["speed_kmh"] / 3.6)
    fitted = (stock.bike.front_teeth, stock.bike.rear_teeth)
    assert (answer.figures["nearest_front"].value, answer.figures["nearest_rear"].value) == fitted
    with pytest.raises(InputError):
        wanted_ratio(stock, engine_speed=float("nan"), speed_m_s=1.0)


def test_a_tune_gain_of_nothing_is_nothing(stock):
    gain = tune_gain(stock, stock)
    assert gain.figures["mean"].value == 0.0 and np.all(gain.series["force_change_n"] == 0.0)


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


def test_road_load_three_ways(stock):
    text = (DEMO / "coast-single.toml").read_text(encoding="utf-8")
    start, rest = text.split("[road_load]")
    after = rest.split("[surface]")[1]
    for way in ('coast_down = ["48 N", 0, "0.391 N/(m/s)^2"]', 'standard = "40 CFR 86.529-98"'):
        solved = solve(make_bike(parse(f"{start}[road_load]\n{way}\n[surface]{after}")))
        assert contract(solved)["top_speed_kmh"] == pytest.approx(contract(stock)["top_speed_kmh"], rel=0.06)


def test_thin_air_takes_power_and_drag_alike(stock, plateau):
    """A quarter of the power is gone, the top speed hardly: what the plateau and the load cost is the hills."""
    a, b = contract(stock), contract(plateau)
    assert b["gears"][0]["peak_wheel_force_n"] < 0.85 * a["gears"][0]["peak_wheel_force_n"]
    assert b["top_speed_kmh"] > 0.95 * a["top_speed_kmh"]
    assert b["cruise"][-1]["grade_held_percent"] < 0.75 * a["cruise"][-1]["grade_held_percent"]
