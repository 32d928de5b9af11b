"""The one record of an answer: figures by key, its sentence when printed, assumptions and notes that know what they are about."""

from __future__ import annotations

import copy
import json
import pickle

import numpy as np
import pytest

from ridesim import reference
from ridesim.answers import everything, solve
from ridesim.answers.text import sentence
from ridesim.bike import REAR_TIRE, make_bike
from ridesim.buildfile.io import read
from ridesim.environment.air import air
from ridesim.fueling.circuits import circuit_answer
from ridesim.fueling.mixture import best_mixture_setting, idle_answer
from ridesim.logs.fits.bike import air_density
from ridesim.selection import choose
from ridesim.statements import Assumption, Note
from ridesim.units import rad_s

BUILD = read(reference.DATA / "demo" / "coast-single.toml")


def test_an_answer_prints_as_its_sentence():
    for answer in everything(solve(make_bike(BUILD))):
        assert str(answer) == sentence(answer) and len(repr(answer)) < 400


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


@pytest.mark.parametrize("one", [Assumption("fuel.tank", "fuel.tank assumed 12 l"), Note("rear tire", "worn")])
def test_a_statement_survives_a_copy_and_prints_as_its_text(one):
    for again in (copy.deepcopy(one), pickle.loads(pickle.dumps(one))):
        assert again == one and vars(again) == vars(one)
    assert json.loads(json.dumps([one])) == [str(one)]


def test_a_reading_left_out_is_noted_by_what_it_is_and_a_symptom_has_one_answer():
    turns = np.arange(0.5, 3.01, 0.25)
    speeds = rad_s(1300.0 - 60.0 * (turns - 1.75) ** 2)
    speeds[4] += rad_s(200.0)
    (told,) = idle_answer(best_mixture_setting(list(turns), list(speeds))).notes
    assert f"{turns[4]:g} turns" in told
    answer = circuit_answer(0.5, "lean")
    assert sum(one.value for one in answer.figures.values()) == pytest.approx(1.0)


def test_the_air_of_a_log_takes_the_tolerances_of_the_bike():
    """Half the difference of the densities at both ends of each, added in squares."""
    build = BUILD.changed({"air.temperature": "18 +- 1 degC", "air.humidity": "50 +- 20 %", "air.altitude": "250 m"})
    day = {"altitude_m": 250.0, "temperature_k": 291.15, "relative_humidity": 0.5}

    def half(key, by):
        up, down = (air(**(day | {key: day[key] + way * by})).density_kg_m3 for way in (1.0, -1.0))
        return abs(up - down) / 2

    wanted = np.hypot(half("temperature_k", 1.0), half("relative_humidity", 0.2))
    assert air_density(make_bike(build)).plus_minus == pytest.approx(wanted, rel=1e-9)
