"""The one record of an answer, and that what it says in several places agrees: working and figures, bands and values, each text once."""

from __future__ import annotations

import copy
import json
import pickle
import re
from math import pi

import numpy as np
import pytest
from support.commands import INTAKE, NEEDLE, asked
from support.evidence import SINGLE as BUILD
from support.evidence import with_readings
from support.synthetic_log import Bike, Day, coast_downs, phone

import ridesim as rs
from ridesim.answers import everything, solve
from ridesim.bike import REAR_TIRE, make_bike
from ridesim.components.tire_fit import permitted_rims
from ridesim.components.tire_marking import parse_marking
from ridesim.environment.air import air
from ridesim.evidence.fit import fit
from ridesim.logs.coast_down import coast_down
from ridesim.logs.fits.bike import air_density
from ridesim.selection import choose
from ridesim.statements import Assumption, Note
from ridesim.uncertainty.posterior import fitted


def test_every_assumption_and_note_of_an_answer_knows_what_it_is_about():
    build = BUILD.changed({"gearbox.efficiency": None, "tires.front": None, "final_drive.axle_travel": None})
    answers = everything(solve(make_bike(build)))
    for answer in answers:
        assert all(isinstance(one, Assumption) for one in answer.assumptions)
        assert all(isinstance(one, Note) for one in answer.notes)
    paths = {one.path for answer in answers for one in answer.assumptions}
    assert {"gearbox.efficiency", "tires.front.size", "final_drive.axle_travel"} <= paths


def test_notes_of_several_tires_say_which_whatever_a_tune_is_called():
    """A tune's own note that begins like one of a tire is none."""
    name = make_bike(BUILD).tune
    build = BUILD.changed({f"tune.{name}.note": "rear tire: new"})
    notes = choose(build, rear_tires=["120/90-17", "130/90-17"], fronts=[14], rears=[42]).crossing.bikes.notes
    assert f"tune {name}: rear tire: new" in notes
    tires = [one for one in notes if one.about.startswith(REAR_TIRE)]
    assert tires and all(one.about != REAR_TIRE for one in tires)


@pytest.mark.parametrize("one", [Assumption("fuel.tank", "fuel.tank assumed 13 l"), Note("rear tire", "worn")])
def test_a_statement_survives_a_copy_and_prints_as_its_text(one):
    for again in (copy.deepcopy(one), pickle.loads(pickle.dumps(one))):
        assert again == one and vars(again) == vars(one)
    assert json.loads(json.dumps([one])) == [str(one)]


def test_the_air_of_a_log_takes_the_tolerances_of_the_bike():
    """Half the difference of the densities at both ends of each, added in squares."""
    build = BUILD.changed({"air.temperature": "18 +- 1 degC", "air.humidity": "50 +- 20 %", "air.altitude": "250 m"})
    day = {"altitude_m": 250.0, "temperature_k": 291.15, "relative_humidity": 0.5}

    def half(key, by):
        up, down = (air(**(day | {key: day[key] + way * by})).density_kg_m3 for way in (1.0, -1.0))
        return abs(up - down) / 2

    wanted = np.hypot(half("temperature_k", 1.0), half("relative_humidity", 0.2))
    assert air_density(make_bike(build)).plus_minus == pytest.approx(wanted, rel=1e-9)


JETS = ("jets", "air", "125", "--numbering", "bore", "--from-altitude", "20 m", "--to-altitude", "1950 m", "--step", "2.5")  # fmt: skip
NEW_CLIP = (*NEEDLE, "--new-clip", "4")


@pytest.mark.parametrize("command", [JETS, INTAKE, NEW_CLIP], ids=lambda command: command[0])
def test_no_text_stands_twice_and_every_band_holds_its_value(capsys, command):
    answer = asked(capsys, *command)
    texts = [*answer["assumptions"], *answer["notes"], *answer["cautions"]]
    assert len(texts) == len(set(texts))
    banded = [one for one in answer["figures"].values() if one["low"] is not None]
    assert banded or command is NEW_CLIP
    assert all(one["low"] <= one["value"] <= one["high"] for one in banded)


@pytest.mark.parametrize(("numbering", "formula"), [("bore", "(new / old)^2"), ("flow", "(new / old)")])
def test_the_working_of_a_jet_is_the_formula_that_its_figure_follows(capsys, numbering, formula):
    answer = asked(capsys, "jets", "change", "120", "125", "--numbering", numbering)
    assert answer["figures"]["flow"]["value"] == pytest.approx(
        eval(formula.replace("^", "**"), {"new": 125, "old": 120})
    )
    assert any(step.startswith(f"flow ratio = {formula} = ") for step in answer["steps"])


def test_the_areas_of_a_needle_give_the_richness_worked_out_from_them(capsys):
    *steps, last = asked(capsys, *NEW_CLIP)["steps"]
    after, before, ratio = map(float, re.fullmatch(r"richness = ([\d.]+) / ([\d.]+) = ([\d.]+)", last).groups())
    areas = [float(step.split("A = ")[1].split()[0]) for step in steps if step.startswith("effective area")]
    assert areas == [before, after] and after / before == pytest.approx(ratio, abs=2e-4)


def test_each_tire_is_worked_out_from_its_own_marking():
    bike = rs.demo("plateau-single")
    steps = "\n".join(map(str, rs.tires(bike).steps))
    assert bike.rear_tire.marking.written != bike.front_tire.marking.written
    assert all(text in steps for text in bike.rear_tire.steps)


def test_a_size_wider_than_the_table_has_no_rims():
    assert permitted_rims(parse_marking("300/80-17")) is None
    assert permitted_rims(parse_marking("130/80-17")) is not None


def test_the_tire_of_a_fitted_bike_rolls_by_its_fitted_radius():
    build = with_readings('kind = "roll-out"\nvalue = "2.0 +- 0.004 m"')
    bike = make_bike(build)
    result = fit(build)
    moved = fitted(bike, result.posterior)
    tire = moved.rear_tire
    assert tire.circumference_m == pytest.approx(2 * pi * float(moved.raw["rear_radius_m"]))
    low, high = (1 - tire.low_m / tire.circumference_m, tire.high_m / tire.circumference_m - 1)
    assert 0 < low < 0.03 and 0 < high < 0.03


def test_two_coast_downs_one_way_and_one_the_other_are_too_few():
    bike = Bike()
    runs = coast_downs([(bike, Day())], 2, phone(), np.random.default_rng(4))[0]
    masses = {"mass_kg": bike.mass_kg, "wheels_kg": bike.coasting_mass_kg - bike.mass_kg}
    for some, few in ((runs, False), (runs[:3], True), (runs[1:], True)):
        found = coast_down(some, **masses, air_density_kg_m3=bike.air_density_kg_m3)
        assert any("fewer than two runs each way" in note for note in found.notes) is few
