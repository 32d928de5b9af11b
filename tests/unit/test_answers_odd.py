"""What the answers say in odd cases: no figure outside what it rests on without a word, and no empty place in a sentence."""

from __future__ import annotations

import re

import numpy as np
import pytest

from ridesim import answers, reference
from ridesim.answers import contract, everything, ride_with, solve, wanted_ratio
from ridesim.answers.answer import Figure, changed
from ridesim.answers.text import sentence
from ridesim.answers.tires.speedometer import speedometer
from ridesim.bike import make_bike
from ridesim.buildfile.io import parse
from ridesim.errors import InputError
from ridesim.mechanics.fuel import consumption_m3_per_m, friction_power_w
from ridesim.uncertainty.tolerances import quadrature
from ridesim.units import rad_s

TEXT = (reference.DATA / "demo" / "coast-single.toml").read_text(encoding="utf-8")
WHEEL = (reference.DATA / "demo" / "plateau-single.toml").read_text(encoding="utf-8")


def solved(text: str = TEXT, bands: bool = False, **ride: str):
    bike = make_bike(parse(text))
    return solve(bike, ride_with(bike, **ride), bands=bands)


def changed_text(text: str = TEXT, **lines: str) -> str:
    """The file with whole lines written anew, by their key."""
    for key, value in lines.items():
        text, found = re.subn(rf"(?m)^{key} = .*$", f"{key} = {value}", text, count=1)
        assert found
    return text


def says(one, question: str) -> str:
    return sentence(next(a for a in everything(one) if a.question == question))


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
    wide = make_bike(parse(changed_text(rollout='"1.996 +- 0.020 m"'))).rear_tire
    assert (wide.low_m, wide.high_m) == pytest.approx((1.976, 2.016))
    assert not any("assumed good" in text for text in wide.assumptions)
    bare = make_bike(parse(changed_text(rollout='"1.996 m"'))).rear_tire
    assert any("assumed good to +-0.3 %" in text for text in bare.assumptions)
    assert make_bike(parse(TEXT)).tolerances[0].path == "tires.rear.rollout"
    assert make_bike(parse(WHEEL)).tolerances[0].path == "tires.rear.size"


def test_losses_in_doubt_do_not_blur_what_was_measured_at_the_wheel():
    """A wheel figure is what reaches the road; only a crank figure still has the losses to go through."""
    for text, expected in ((TEXT, 0.02 / 0.92), (WHEEL, 0.0)):
        one = solved(text, bands=True)
        force = next(f for a in everything(one) for f in a.figures.values() if f.key == "first_force")
        up, down = next(ends for name, ends in force.moves.items() if name.cause[0] == "gearbox.efficiency")
        assert (up / force.value, down / force.value) == pytest.approx((expected, -expected), abs=1e-12)


def test_every_null_of_a_cruise_has_its_reason():
    strong = re.sub(r"points = .*", "points = [[2000, 160], [5000, 160], [7200, 140]]", TEXT, count=1)
    answer = contract(solved(strong, cruise="40 km/h"))
    assert any(row["grade_held_percent"] is None for row in answer["cruise"])
    assert any("above the weight" in note and "goes light" in note for note in answer["notes"])
    still = re.sub(r"drag_area = .*\nrolling_resistance = .*", 'coast_down = ["60 N", 0, 0]', TEXT)
    answer = contract(solved(still, cruise="60 km/h"))
    assert {row["headwind_held_kmh"] for row in answer["cruise"]} == {None}
    assert any("no air drag" in note for note in answer["notes"])
    assert says(solved(still, cruise="60 km/h"), "What does cruising take?").endswith(" %.")


def test_on_the_overrun_the_fuel_is_explained_and_what_is_held_is_told_the_right_way_round():
    downhill = solved(grade="-12 %", cruise="50 km/h")
    row = contract(downhill)["cruise"][-1]
    assert row["power_needed_kw"] < 0 < row["fuel_l_per_100km"]
    s, turns, v = downhill.bike.setups, rad_s(row["engine_rpm"]), downhill.ride.cruise_m_s
    friction = float(friction_power_w(s.displacement_m3[0], turns, s.cycle) / s.indicated_efficiency[0])
    burnt = 1e8 * float(consumption_m3_per_m(friction, v, s.fuel_density_kg_m3[0]))
    assert row["fuel_l_per_100km"] == pytest.approx(burnt, rel=1e-9)  # its own friction and nothing more
    assert any("turn without load" in note for note in contract(downhill)["notes"])
    held = says(solved(grade="9 %", headwind="-12 m/s", cruise="122 km/h"), "What does cruising take?")
    assert "a tail wind of" in held and "−" not in held.split("in hand")[1]


def test_slippery_ground_is_told_beside_figures_of_the_engine_alone():
    grass = (
        changed_text(name='"Odd"')
        .replace('name = "dry asphalt"', 'name = "wet grass"')
        .replace("friction = 0.95", "friction = 0.12")
    )
    notes = contract(solved(grass))["notes"]
    for words in (
        "top speed is that of the engine alone",
        "power and fuel are those of the engine alone",
        "the grade held is that of the engine",
    ):
        assert any(words in note and "wet grass" in note for note in notes)
    assert any("roll-on times are those of the engine alone" in note and "spin on wet grass" in note for note in notes)
    assert not any("alone" in note and "throttle alone" not in note for note in contract(solved())["notes"])


def test_a_roll_on_that_lifts_the_front_says_so_and_only_in_its_gears():
    strong = re.sub(r"points = .*", "points = [[2000, 125], [5000, 130], [7200, 115]]", TEXT, count=1)
    notes = [n for n in contract(solved(strong))["notes"] if "front wheel would lift" in n]
    assert len(notes) == 1 and "fourth" in notes[0] and "third" not in notes[0]  # up to third none reaches 100 km/h


def test_tires_asked_for_more_than_their_marking_allows_are_named():
    weak = changed_text(size='"120/90-17 40B"').replace('bike = "172 +- 2 kg"', 'bike = "230 kg"')
    notes = contract(solved(weak))["notes"]
    assert any("of its load index" in note and note.startswith("rear tire") for note in notes)
    assert any("50 km/h its speed symbol allows" in note for note in notes)
    assert not any("its speed symbol" in note or "load index" in note for note in contract(solved())["notes"])


def test_peaks_are_those_below_the_rev_limit():
    one = solved(changed_text(rev_limit="5000"))
    power = next(a for a in everything(one) if a.question == "What does the engine give?")
    assert power.figures["power_at"].value == pytest.approx(float(rad_s(5000.0)))
    assert any("above the rev limit of 5000" in note for note in power.notes)
    assert not any("above the rev limit" in note for note in answers.power(solved()).notes)


def test_a_gear_that_holds_no_speed_is_not_ended_by_its_power():
    weak = re.sub(r"points = .*", "points = [[2000, 2.0], [7200, 2.0]]", TEXT, count=1)
    one = solved(weak, grade="5 %")
    for question in ("How hard does it pull?", "How quickly does it get going?"):
        rows = next(a for a in everything(one) if a.question == question).tables[0].rows
        assert all(row["ends_by"] is None for row in rows if row["top_speed"] is None)
    assert says(one, "How steep a hill does it climb?").count("descent") == 1


def test_an_engine_speed_out_of_reach_is_told():
    one = solved()
    above = wanted_ratio(one, engine_speed=float(rad_s(9000.0)), speed_m_s=30.0)
    below = wanted_ratio(one, engine_speed=float(rad_s(1500.0)), speed_m_s=30.0)
    assert any("above the rev limit" in note for note in above.notes)
    assert any("do not reach to 1500" in note for note in below.notes)
    with pytest.raises(InputError):
        wanted_ratio(one, engine_speed=float("nan"), speed_m_s=1.0)
    assert "would have to turn" in says(solved(cruise="200 km/h"), "Speed in each gear")


def test_a_speedometer_made_for_the_fitted_tire_reads_true_on_it():
    """Stated or not, the tire it was made for is the fitted one: a roll-out is no reason for it to read high."""
    text = TEXT.replace('sensor = "front wheel"', 'sensor = "rear wheel"\ncalibrated_rear_tire = "120/90-17"')
    assert speedometer(make_bike(parse(text))).indicated_over_true == pytest.approx(1.0, abs=1e-14)
    worn = text.replace('rollout = "1.996 +- 0.006 m"', 'rollout = "1.996 +- 0.006 m"\nworn = "4 mm"')
    assert 1.009 < speedometer(make_bike(parse(worn))).indicated_over_true < 1.015


def test_a_tire_that_is_worked_out_is_told_beside_one_that_was_measured():
    """Another tire by the model alone is off by what the model misses of the fitted one."""
    (told,) = (note for note in make_bike(parse(TEXT), rear_tire="130/90-17").notes if "chord model" in note)
    model = make_bike(parse(TEXT), rear_tire="130/90-17").rear_tire.circumference_m
    own = make_bike(parse(TEXT.replace('rollout = "1.996 +- 0.006 m"', ""))).rear_tire.circumference_m
    assert f"{100 * abs(1 - 1.996 / own):.1f} % {'below' if own > 1.996 else 'above'} that model" in told
    assert f"it rolls {model * 1.996 / own:.3f} m" in told
    unmeasured = TEXT.replace('rollout = "1.996 +- 0.006 m"', "")
    for bike in (make_bike(parse(TEXT)), make_bike(parse(unmeasured), rear_tire="130/90-17")):
        assert not any("chord model" in note for note in bike.notes)
