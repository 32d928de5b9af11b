"""What the answers carry, and what they say in odd cases: no figure outside what it rests on without a word, and no empty place."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from support.evidence import SINGLE

from dashboard.queries import OF_CRUISE
from ridesim import answers, reference
from ridesim.answers import QUESTIONS, contract, everything, ride_with, solve, tune_gain, wanted_ratio
from ridesim.answers.answer import Figure, changed
from ridesim.answers.text import sentence
from ridesim.answers.tires.speedometer import speedometer
from ridesim.bike import make_bike
from ridesim.buildfile.io import read
from ridesim.errors import InputError
from ridesim.mechanics.fuel import consumption_m3_per_m, friction_power_w
from ridesim.uncertainty.tolerances import quadrature
from ridesim.units import rad_s

WHEEL = read(reference.DATA / "demo" / "plateau-single.toml")
CURVE, ROLLS = "tune.stock.points", "tires.rear.rollout"


def solved(build=SINGLE, changes=None, bands=False, **ride: str):
    """A build with keys written anew, on a ride."""
    bike = make_bike(build.changed(changes or {}))
    return solve(bike, ride_with(bike, **ride), bands=bands)


@pytest.fixture(scope="module")
def stock():
    return solved(bands=True)


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
    other = solved(changes={"engine.rev_limit": 9900, CURVE: [[8000, 30], [9900, 25]]})
    assert "share no engine speed" in sentence(tune_gain(stock, other))


WITHOUT_DRAG = {
    "road_load.drag_area": None,
    "road_load.rolling_resistance": None,
    "road_load.coast_down": ["60 N", 0, 0],
}


def test_a_start_that_the_rear_tire_cannot_hold_has_no_times():
    slips = contract(solved(changes=WITHOUT_DRAG | {"surface.friction": 0.2}, grade="60 %"))
    assert set(slips["acceleration"].values()) == {None}


def test_on_a_wall_nothing_happens_and_everything_says_so():
    wall = solved(grade="95 %", headwind="40 m/s")
    answer = contract(wall)
    assert answer["top_speed_kmh"] is None and answer["cruise"] == []
    assert answer["acceleration"] == {"0_60_kmh_s": None, "0_100_kmh_s": None, "400_m_s": None}
    assert not any("None" in sentence(one) for one in everything(wall))


def test_the_band_of_a_change_adds_its_moves_in_one_order():
    """A sum in the order of a set of names would change its last digit from run to run."""
    rng = np.random.default_rng(1)
    for _ in range(30):
        names = [f"tolerance {n}" for n in rng.permutation(12)]
        ends = rng.normal(size=(2, 12, 2))
        now, planned = (
            Figure(key="k", label="k", value=1.0, reading="ratio", moves=dict(zip(names, map(tuple, one), strict=True)))
            for one in ends
        )
        down, up = quadrature({name: (b[0] - a[0], b[1] - a[1]) for name, a, b in zip(names, *ends, strict=True)})
        change = changed(now, planned)
        assert (change.low, change.high) == (down, up)


def test_a_roll_out_keeps_the_tolerance_it_was_written_with():
    wide, bare = (make_bike(SINGLE.changed({ROLLS: text})).rear_tire for text in ("1.996 +- 0.020 m", "1.996 m"))
    assert (wide.low_m, wide.high_m) == pytest.approx((1.976, 2.016))
    assert not any("assumed good" in text for text in wide.assumptions)
    assert any("assumed good to +-0.3 %" in text for text in bare.assumptions)
    paths = [make_bike(build).tolerances[0].path for build in (SINGLE, WHEEL)]
    assert paths == [ROLLS, "tires.rear.size"]


@pytest.mark.parametrize(("build", "expected"), [(SINGLE, 0.02 / 0.92), (WHEEL, 0.0)], ids=["crank", "wheel"])
def test_losses_in_doubt_do_not_blur_what_was_measured_at_the_wheel(build, expected):
    """A wheel figure is what reaches the road; only a crank figure still has the losses to go through."""
    force = answers.pull(solved(build, bands=True)).figures["first_force"]
    up, down = next(ends for name, ends in force.moves.items() if name.cause[0] == "gearbox.efficiency")
    assert (up / force.value, down / force.value) == pytest.approx((expected, -expected), abs=1e-12)


def test_every_null_of_a_cruise_has_its_reason():
    answer = contract(solved(changes={CURVE: [[2000, 160], [5000, 160], [7200, 140]]}, cruise="40 km/h"))
    assert any(row["grade_held_percent"] is None for row in answer["cruise"])
    assert any("above the weight" in note and "goes light" in note for note in answer["notes"])
    still = solved(changes=WITHOUT_DRAG, cruise="60 km/h")
    answer = contract(still)
    assert {row["headwind_held_kmh"] for row in answer["cruise"]} == {None}
    assert any("no air drag" in note for note in answer["notes"])
    assert sentence(answers.cruising(still)).endswith(" %.")


def test_on_the_overrun_the_fuel_is_explained_and_what_is_held_is_told_the_right_way_round():
    downhill = solved(grade="-12 %", cruise="50 km/h")
    row = contract(downhill)["cruise"][-1]
    assert row["power_needed_kw"] < 0 < row["fuel_l_per_100km"]
    s, turns, v = downhill.bike.setups, rad_s(row["engine_rpm"]), downhill.ride.cruise_m_s
    friction = float(friction_power_w(s.displacement_m3[0], turns, s.cycle) / s.indicated_efficiency[0])
    burnt = 1e8 * float(consumption_m3_per_m(friction, v, s.fuel_density_kg_m3[0]))
    assert row["fuel_l_per_100km"] == pytest.approx(burnt, rel=1e-9)  # its own friction and nothing more
    assert any("turn without load" in note for note in contract(downhill)["notes"])
    held = sentence(answers.cruising(solved(grade="9 %", headwind="-12 m/s", cruise="122 km/h")))
    assert "a tail wind of" in held and "−" not in held.split("in hand")[1]


def test_slippery_ground_is_told_beside_figures_of_the_engine_alone():
    notes = contract(solved(changes={"surface.name": "wet grass", "surface.friction": 0.12}))["notes"]
    for words in (
        "top speed is that of the engine alone",
        "power and fuel are those of the engine alone",
        "the grade held is that of the engine",
    ):
        assert any(words in note and "wet grass" in note for note in notes)
    assert any("roll-on times are those of the engine alone" in note and "spin on wet grass" in note for note in notes)
    assert not any("alone" in note and "throttle alone" not in note for note in contract(solved())["notes"])


def test_a_roll_on_that_lifts_the_front_says_so_and_only_in_its_gears():
    strong = solved(changes={CURVE: [[2000, 125], [5000, 130], [7200, 115]]})
    notes = [n for n in contract(strong)["notes"] if "front wheel would lift" in n]
    assert len(notes) == 1 and "fourth" in notes[0] and "third" not in notes[0]  # up to third none reaches 100 km/h


def test_tires_asked_for_more_than_their_marking_allows_are_named():
    notes = contract(solved(changes={"tires.rear.size": "120/90-17 40B", "masses.bike": "230 kg"}))["notes"]
    assert any("of its load index" in note and note.startswith("rear tire") for note in notes)
    assert any("50 km/h its speed symbol allows" in note for note in notes)
    assert not any("its speed symbol" in note or "load index" in note for note in contract(solved())["notes"])


def test_peaks_are_those_below_the_rev_limit():
    power = answers.power(solved(changes={"engine.rev_limit": 5000}))
    assert power.figures["power_at"].value == pytest.approx(float(rad_s(5000.0)))
    assert any("above the rev limit of 5000" in note for note in power.notes)
    assert not any("above the rev limit" in note for note in answers.power(solved()).notes)


def test_a_gear_that_holds_no_speed_is_not_ended_by_its_power():
    one = solved(changes={CURVE: [[2000, 2.0], [7200, 2.0]]}, grade="5 %")
    for ask in (answers.pull, answers.standing_run):
        assert all(row["ends_by"] is None for row in ask(one).tables[0].rows if row["top_speed"] is None)
    said = sentence(answers.climbing(one))
    assert said.count("descent") == 1 and "−" not in said


def test_an_engine_speed_out_of_reach_is_told():
    one = solved()
    above, below = (
        wanted_ratio(one, engine_speed=float(rad_s(speed)), speed_m_s=30.0).notes for speed in (9000.0, 1500.0)
    )
    assert any("above the rev limit" in note for note in above)
    assert any("do not reach to 1500" in note for note in below)
    with pytest.raises(InputError):
        wanted_ratio(one, engine_speed=float("nan"), speed_m_s=1.0)
    assert "would have to turn" in sentence(answers.speeds(solved(cruise="200 km/h")))


def test_a_speedometer_made_for_the_fitted_tire_reads_true_on_it():
    """Stated or not, the tire it was made for is the fitted one: a roll-out is no reason for it to read high."""
    made_for = {"speedometer.sensor": "rear wheel", "speedometer.calibrated_rear_tire": "120/90-17"}
    new, worn = (make_bike(SINGLE.changed(made_for | more)) for more in ({}, {"tires.rear.worn": "4 mm"}))
    assert speedometer(new).indicated_over_true == pytest.approx(1.0, abs=1e-14)
    assert 1.009 < speedometer(worn).indicated_over_true < 1.015


def test_a_tire_that_is_worked_out_is_told_beside_one_that_was_measured():
    """Another tire by the model alone is off by what the model misses of the fitted one."""
    other, unmeasured = make_bike(SINGLE, rear_tire="130/90-17"), SINGLE.changed({ROLLS: None})
    (told,) = (note for note in other.notes if "chord model" in note)
    own = make_bike(unmeasured).rear_tire.circumference_m
    assert f"{100 * abs(1 - 1.996 / own):.1f} % {'below' if own > 1.996 else 'above'} that model" in told
    assert f"it rolls {other.rear_tire.circumference_m * 1.996 / own:.3f} m" in told
    for bike in (make_bike(SINGLE), make_bike(unmeasured, rear_tire="130/90-17")):
        assert not any("chord model" in note for note in bike.notes)
