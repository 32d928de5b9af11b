"""Jets, circuits, needles, openings and the mixture screw: what the answers say."""

from __future__ import annotations

import math

import numpy as np
import pytest

from ridesim.environment.air import air
from ridesim.fueling import needle
from ridesim.fueling.circuits import circuit_answer
from ridesim.fueling.intake import HoleSaw, plan_intake
from ridesim.fueling.intake_answers import intake_answer
from ridesim.fueling.jet_answers import jet_air_answer, jet_change
from ridesim.fueling.jets import jet_for_air
from ridesim.fueling.mixture import PROCEDURE, best_mixture_setting, idle_answer
from ridesim.fueling.needle_answers import change_answer, curve_answer
from ridesim.fueling.openings import Opening, circle
from ridesim.units import rad_s

NEEDLE = needle.Needle(straight_diameter_m=2.5e-3, taper_start_m=0.030, length_m=0.070, end_diameter_m=1.5e-3)
SEAT = needle.NeedleSeat(needle_jet_bore_m=2.6e-3, main_jet_bore_m=1.25e-3, seat_to_jet_m=0.026, full_lift_m=0.036)
TURNS = [0.5, 1.0, 1.5, 2.0, 2.5, 3.0]
SPEEDS = [rad_s(n) for n in (1040, 1110, 1150, 1160, 1130, 1070)]


DRY = air(altitude_m=0.0, temperature_k=288.15, relative_humidity=0.0)


def jet(size=125, **given):
    """The jet for other air, by bore where nothing else is said."""
    own = {"numbering": "bore", "metering_density_kg_m3": 1.0, "reference_metering_density_kg_m3": 1.2}
    return jet_for_air(size, **own | given)


def for_air(**given):
    return jet_air_answer(jet(**given), DRY, DRY)


@pytest.mark.parametrize(
    "answer",
    [
        jet_change(120, 125, numbering="flow"),
        for_air(step=2.5),
        circuit_answer(0.3),
        circuit_answer(0.6, "rich"),
        curve_answer(needle.needle_curve(NEEDLE, SEAT, clip=3)),
        change_answer(needle.needle_change(NEEDLE, SEAT, clip=3, new_clip=2)),
        intake_answer(plan_intake([circle(diameter_m=0.04)], [HoleSaw(diameter_m=0.025, most=3)], wanted_over_stock=1.4)),
        idle_answer(best_mixture_setting(TURNS, SPEEDS)),
    ],
    ids=lambda answer: answer.question,
)  # fmt: skip
def test_every_answer_says_shows_its_working_and_puts_the_manual_first(answer):
    said = str(answer)
    assert said.endswith(".") and (said[0].isupper() or said[0].isdigit())
    assert answer.assumptions and answer.tables[0].rows and all(answer.cautions)
    assert any(any(c.isdigit() for c in str(line)) and "=" in str(line) for line in answer.steps)
    assert any("manual" in line for line in answer.cautions)


def test_the_jet_sentence_offers_both_sides():
    found = for_air(step=2.5, metering_density_kg_m3=0.98)
    assert str(found).startswith(
        "In this air jet 125 runs 10.7 % richer; 118.8 would keep the mixture. Nearest is 120 "
        "(2.0 % richer); 117.5 is the lean side (2.2 % leaner)."
    )
    assert [row["size"] for row in found.tables[1].rows] == [117.5, 120.0]
    same = for_air(numbering="flow", metering_density_kg_m3=1.2, step=5)
    assert [row["size"] for row in same.tables[1].rows] == [120, 125, 130]
    assert str(same).startswith(
        "The air asks for no change; 125.0 would keep the mixture. Nearest is 125 (the same mixture)"
    )
    assert "nothing you can get is leaner" in str(for_air(numbering="flow", sizes=[127.5, 130]))
    assert "nothing you can get is richer" in str(for_air(numbering="flow", sizes=[110]))


@pytest.mark.parametrize(
    ("sizes", "nearest"), [([99.7, 100.6], 100.6), ([99.9, 101.0], 99.9), ([99.4, 100.3], 100.3), ([80, 125], 125)]
)
def test_of_two_about_as_near_the_richer_one_comes_first(sizes, nearest):
    """0.3 % lean and 0.6 % rich differ by less than the half per cent that no rider can tell; 0.1 % lean and 1 % rich do not;
    100 is a quarter off both 80 and 125."""
    assert jet(100, numbering="flow", metering_density_kg_m3=1.2, sizes=sizes).nearest.size == nearest


def test_what_the_model_leaves_out_is_said():
    answer = for_air(step=2.5)
    told = " ".join((*answer.assumptions, *answer.notes))
    for word_said in ("incompressible", "same velocity", "slide carburetor", "idle circuit", "pulses"):
        assert word_said in told


@pytest.mark.parametrize(
    ("opening", "words"),
    [(0.0, "At closed throttle"), (1.0, "At full throttle"), (0.5, "At 1/2 "), (0.0625, "At 1/16 "), (0.4, "At 40 % ")],
)
def test_openings_are_said_as_riders_say_them(opening, words):
    assert str(circuit_answer(opening)).startswith(words)


@pytest.mark.parametrize(("new", "says"), [(4, "richer by up to"), (2, "leaner by up to")])
def test_a_lower_groove_lifts_the_needle_and_is_richer(new, says):
    """Common practice, no source; where it begins and ends to touch is where the ratio leaves 1."""
    change = needle.needle_change(NEEDLE, SEAT, clip=3, new_clip=new)
    assert f": {says} " in str(change_answer(change))
    apart = change.before.lift_m[np.abs(change.richness_ratio - 1) > needle.TOUCHED]
    assert (change.touched_from_m, change.touched_to_m) == (apart.min(), apart.max())


def test_two_needles_are_told_apart_from_shut_to_full_lift():
    thick = needle.Needle(
        name="thick", straight_diameter_m=2.55e-3, taper_start_m=0.030, length_m=0.070, end_diameter_m=1.4e-3
    )
    change = needle.needle_change(NEEDLE, SEAT, clip=3, new_clip=3, new_needle=thick)
    said = str(change_answer(change))
    assert said.startswith("Fitting thick in groove 3 for needle in groove 3: richer in places and leaner in others")
    ratio = change.richness_ratio
    assert len(ratio) == 41 and ratio[0] < 1 < ratio[-1] and change.greatest_ratio == min(ratio)
    assert change.after.needle_diameter_m[0] == 2.55e-3 and change.after.opening[-1] == 1.0
    assert change.touched_from_m == 0.0


def test_holes_that_do_not_reach_are_said():
    box = Opening(shape="rectangle", length_m=0.06, width_m=0.03)
    plan = plan_intake([box], [HoleSaw(diameter_m=0.02, most=2)], wanted_over_stock=3.0)
    assert (plan.found, plan.sets, plan.within, plan.nearest.holes) == (0, (), False, ((0.02, 2),))
    assert str(intake_answer(plan)).startswith(
        "No set of holes comes within 3.0 % of the wanted 5,400 mm²; the nearest is 2 of 20.0 mm: 2,428 mm² in all"
    )
    assert plan.nearest.holes_area_m2 == pytest.approx(2 * math.pi * 1e-4)


def test_mixture_rows_curve_and_rounding_of_the_instrument():
    plain = best_mixture_setting(TURNS, SPEEDS)
    coarse = best_mixture_setting(TURNS, SPEEDS, reading_step_rad_s=rad_s(100.0))
    assert coarse.best_turns == plain.best_turns and coarse.fitted.scatter == pytest.approx(rad_s(100.0) / 12**0.5)
    assert coarse.high_turns - coarse.low_turns > plain.high_turns - plain.low_turns
    answer = idle_answer(plain)
    assert [row["turns"] for row in answer.tables[0].rows] == TURNS and len(plain.curve()) == 41
    assert plain.engine_speed_rad_s == pytest.approx(max(n for _, n in plain.curve()), rel=1e-4)
    assert any("lopsided idle is not seen" in told for told in answer.assumptions)


def test_limits_that_reach_past_an_end_ask_for_more_readings():
    found = best_mixture_setting(TURNS, SPEEDS, useful_turns=(1.83, 3.0))
    assert found.place == "inside" and not found.certain and "read again before changing jets" in found.advice


def test_the_procedure_has_the_usual_cautions():
    told = " ".join((*PROCEDURE, *idle_answer(best_mixture_setting(TURNS, SPEEDS)).cautions)).lower()
    for thing in ("exhaust gas kills", "doors wide", "manual", "warm", "never force", "hot", "put back"):
        assert thing in told
