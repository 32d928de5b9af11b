"""Jets, circuits, needles, openings and the mixture screw: what is refused and how, and what the answers say."""

from __future__ import annotations

import math
from dataclasses import FrozenInstanceError

import numpy as np
import pytest

from ridesim.environment.air import air
from ridesim.errors import InputError, one, several, whole, word
from ridesim.fueling.circuits import SIGNS, VERDICTS, circuit_answer, circuit_shares, parts
from ridesim.fueling.idle_curve import fit_idle_curve, top_of
from ridesim.fueling.intake import HoleSaw, plan_intake
from ridesim.fueling.intake_answers import intake_answer
from ridesim.fueling.jet_answers import jet_air_answer, jet_change
from ridesim.fueling.jets import flow_ratio, jet_bore_m, jet_for_air, richness_ratio, size_ratio_for_air
from ridesim.fueling.mixture import PROCEDURE, best_mixture_setting, idle_answer
from ridesim.fueling.mixture_power import stoichiometric_air_fuel_ratio
from ridesim.fueling.needle import (
    TOUCHED,
    Needle,
    NeedleSeat,
    needle_change,
    needle_curve,
    ring_area_m2,
    series_area_m2,
)
from ridesim.fueling.needle_answers import change_answer, curve_answer
from ridesim.fueling.openings import Opening, circle, opening_area_m2
from ridesim.units import rad_s

HOSTILE = (math.nan, math.inf, -1.0, 0.0, 1e300, 10**400, None, True, "12", b"1", [], [1.0], {}, object(), 1 + 2j)
AIR = {"metering_density_kg_m3": 1.0, "reference_metering_density_kg_m3": 1.2}
NEEDLE = Needle(straight_diameter_m=2.5e-3, taper_start_m=0.030, length_m=0.070, end_diameter_m=1.5e-3)
SEAT = NeedleSeat(needle_jet_bore_m=2.6e-3, main_jet_bore_m=1.45e-3, seat_to_jet_m=0.026, full_lift_m=0.036)
TURNS = [0.5, 1.0, 1.5, 2.0, 2.5, 3.0]
SPEEDS = [rad_s(n) for n in (1040, 1110, 1150, 1160, 1130, 1070)]


DRY = air(altitude_m=0.0, temperature_k=288.15, relative_humidity=0.0)


def for_air(*jet, **given):
    return jet_air_answer(jet_for_air(*jet, **given), DRY, DRY)


def jet(size=150, **given):
    """The jet for other air, by bore where nothing else is said."""
    return jet_for_air(size, **{"numbering": "bore", **AIR, **given})


def needle(**given):
    return Needle(
        **{"straight_diameter_m": 2e-3, "taper_start_m": 0.03, "length_m": 0.07, "end_diameter_m": 1e-3, **given}
    )


def seat(**given):
    sizes = {"needle_jet_bore_m": 2e-3, "main_jet_bore_m": 1e-3, "seat_to_jet_m": 0.02, "full_lift_m": 0.03}
    return NeedleSeat(**{**sizes, **given})


STOCK, SAWS = (circle(diameter_m=0.04),), (HoleSaw(diameter_m=0.025, most=3),)


def plan(stock=STOCK, saws=SAWS, **given):
    return plan_intake(stock, saws, **(given or {"wanted_over_stock": 1.5}))


def screw(turns=TURNS, speeds=SPEEDS, **given):
    return best_mixture_setting(turns, speeds, **given)


def read(turns, *rev_min):
    return best_mixture_setting(turns, [rad_s(n) for n in rev_min])


def answers():
    return (
        jet_change(140, 145, numbering="flow"),
        for_air(150, numbering="bore", step=2.5, **AIR),
        circuit_answer(0.3),
        circuit_answer(0.6, "rich"),
        circuit_answer(0.6, "right"),
        curve_answer(needle_curve(NEEDLE, SEAT, clip=3)),
        change_answer(needle_change(NEEDLE, SEAT, clip=3, new_clip=2)),
        change_answer(needle_change(NEEDLE, SEAT, clip=3, new_clip=3, new_needle=NEEDLE)),
        intake_answer(plan(wanted_over_stock=1.4)),
        idle_answer(best_mixture_setting(TURNS, SPEEDS)),
    )


@pytest.mark.parametrize("answer", answers(), ids=lambda a: a.question)
def test_every_answer_says_shows_its_working_and_cannot_be_changed(answer):
    said = str(answer)
    assert said.endswith(".")
    assert said[0].isupper() or said[0].isdigit()
    assert answer.assumptions and answer.tables[0].rows and all(answer.cautions)
    assert any(any(c.isdigit() for c in str(line)) and "=" in str(line) for line in answer.steps)
    assert any("manual" in line for line in answer.cautions)
    with pytest.raises(FrozenInstanceError):
        answer.say = ()


REFUSALS = {  # every place a number is given, with what else the call needs
    "jet-size": lambda x: jet_change(x, 140, numbering="bore"),
    "jet-new-size": lambda x: jet_change(140, x, numbering="bore"),
    "jet-numbering": lambda x: jet_change(140, 150, numbering=x),
    "air-size": lambda x: jet(x, step=2.5),
    "air-density": lambda x: jet(step=2.5, metering_density_kg_m3=x),
    "air-reference": lambda x: jet(step=2.5, reference_metering_density_kg_m3=x),
    "air-step": lambda x: jet(step=x),
    "air-sizes": lambda x: jet(sizes=[x]),
    "air-sizes-list": lambda x: jet(sizes=x if x != [1.0] else []),
    "opening": lambda x: circuit_answer(x if x not in (0.0, True) else -1),
    "diagnose-verdict": lambda x: circuit_answer(0.5, -1 if x is None else x),
    "needle-diameter": lambda x: needle(straight_diameter_m=x, end_diameter_m=0.0),
    "needle-length": lambda x: needle(length_m=x),
    "needle-pitch": lambda x: needle(clip_pitch_m=x),
    "needle-clips": lambda x: needle(clips=x),
    "seat-bore": lambda x: seat(needle_jet_bore_m=x),
    "seat-main": lambda x: seat(main_jet_bore_m=x),
    "seat-lift": lambda x: seat(full_lift_m=x),
    "clip": lambda x: needle_change(NEEDLE, SEAT, clip=3, new_clip=x),
    "circle": lambda x: circle(diameter_m=x),
    "circle-count": lambda x: circle(diameter_m=0.03, count=x),
    "slot": lambda x: Opening(shape="slot", length_m=x, width_m=0.02),
    "rectangle": lambda x: Opening(shape="rectangle", length_m=0.02, width_m=x),
    "saw": lambda x: HoleSaw(diameter_m=x, most=2),
    "saw-most": lambda x: HoleSaw(diameter_m=0.02, most=x),
    "wanted": lambda x: plan(wanted_over_stock=x),
    "wanted-area": lambda x: plan(wanted_area_m2=x),
    "show": lambda x: plan(wanted_over_stock=1.5, show=x if x is not True else 0),
    "turns": lambda x: screw([*TURNS[:-1], x if x not in (0.0, True) else -1]),
    "speeds": lambda x: screw(speeds=[*SPEEDS[:-1], x]),
    "turns-list": lambda x: screw(x),
    "coverage": lambda x: screw(coverage=x),
    "useful": lambda x: screw(useful_turns=x),
    "screw": lambda x: screw(screw=x),
    "methane": lambda x: stoichiometric_air_fuel_ratio(x if not isinstance(x, list) and x != 0 else -1),
}


@pytest.mark.parametrize("call", REFUSALS.values(), ids=REFUSALS)
def test_hostile_values_are_refused_in_one_clear_sentence(call):
    for value in HOSTILE:
        with pytest.raises(InputError) as refused:
            call(value)
        text = str(refused.value)
        assert refused.value.where and refused.value.problem and "\n" not in text and len(text) < 400, value


QUARTERS = [1.0, 1.25, 1.5, 1.75, 2.0, 2.25]
THICK_SAW = HoleSaw(diameter_m=0.03, most=1)
EIGHT_SAWS = [HoleSaw(diameter_m=0.02 + k / 1e3, most=50) for k in range(8)]


@pytest.mark.parametrize(
    ("call", "words"),
    [
        (lambda: jet_change(140, 150, numbering="boar"), r"jet.numbering = 'boar': is not one of 'bore', 'flow'. Did you mean 'bore'\?"),
        (lambda: jet(), "either a step or a list of sizes"),
        (lambda: jet(step=2.5, sizes=[150]), "and not both"),
        (lambda: jet(sizes=range(100, 900)), "has 800 entries"),
        (lambda: jet_bore_m(4), "jet = 4: must be a number from 5 to 1000. Read the number off the jet."),
        (lambda: flow_ratio([140, 0], 150, numbering="bore"), "jet.size"),
        (lambda: richness_ratio(1.0, 0.0), "density_ratio"),
        (lambda: size_ratio_for_air(-1, numbering="bore"), "density_ratio"),
        (lambda: circuit_answer(75), "Write half throttle as 0.5."),
        (lambda: circuit_shares([0.2, 1.1]), "throttle_opening"),
        (lambda: circuit_answer(0.5, "reach"), r"is not one of 'lean', 'right', 'rich'. Did you mean 'rich'\?"),
        (lambda: ring_area_m2(2.5e-3, 2.5e-3), "as thick as the bore of the needle jet, or thicker"),
        (lambda: series_area_m2(0.0, 1e-6), "above 0"),
        (lambda: needle_curve(NEEDLE, seat(needle_jet_bore_m=2.4e-3, seat_to_jet_m=0.026), clip=3), "as thick as the bore"),
        (lambda: needle_change(NEEDLE, SEAT, clip=3, new_clip=6), r"grooves 1 \(top\) to 5"),
        (lambda: needle_change(NEEDLE, SEAT, clip=3, new_clip=2.5), "whole number"),
        (lambda: needle_curve(NEEDLE, SEAT, clip=3, lifts_m=[0.0, 0.04]), "The slide goes from 0 to its full lift"),
        (lambda: needle_curve(needle(straight_diameter_m=2.5e-3, length_m=0.05), SEAT, clip=3), "out of its jet"),
        (lambda: needle(end_diameter_m=2.1e-3), "thinner towards"),
        (lambda: needle(length_m=0.03), "past where the taper starts"),
        (lambda: needle(end_diameter_m=None), "either the end diameter or the taper angle"),
        (lambda: needle(end_diameter_m=None, taper_angle_rad=0.2), "runs to a point"),
        (lambda: Opening(shape="slot", length_m=0.02, width_m=0.03), "more than the length over all"),
        (lambda: opening_area_m2([]), "list of 1 to 50 openings"),
        (lambda: plan(wanted_over_stock=1.5, stock_coefficients=(0.7, 0.6)), "the most before the least"),
        (lambda: plan(saws=[]), "1 to 10 hole saws"),
        (lambda: plan(saws=[THICK_SAW] * 2), "twice"),
        (lambda: plan(wanted_over_stock=1.0), "Holes only add"),
        (lambda: plan(wanted_over_stock=None), "either an area or a share of stock"),
        (lambda: plan(saws=EIGHT_SAWS, wanted_over_stock=3.0), "make 45,767,944,570,401 sets, more than the 2,000,000"),
        (lambda: screw(TURNS[:4], SPEEDS[:4]), r"are too few \(4, at 4 settings\)"),
        (lambda: screw([1.0, 1.0, 2.0, 2.0, 2.5, 2.5]), r"are too few \(6, at 3 settings\)"),
        (lambda: screw([1.0, 1.1, 1.2, 1.3, 1.4, 1.5]), "span 0.5 turns and must span 1 or more"),
        (lambda: screw(speeds=SPEEDS[:-1]), "have 6 turns and 5 engine speeds"),
        (lambda: screw(useful_turns=(3.0, 0.5)), "the inner end before the outer end"),
        (lambda: read(TURNS, 1160, 1110, 1080, 1080, 1105, 1150), "show no top"),
        (lambda: read(TURNS, 1060, 1040, 1050, 1090, 1150, 1230), "show no top"),
        (lambda: read(QUARTERS, 1000, 1030, 1061, 1089, 1120, 1151), "Take more readings outwards"),
        (lambda: read(QUARTERS, 1151, 1120, 1089, 1061, 1030, 1000), "Take more readings inwards"),
    ],
)  # fmt: skip
def test_what_cannot_be_says_why(call, words):
    with pytest.raises(InputError, match=words):
        call()


def test_the_jet_sentence_offers_both_sides():
    two = {"metering_density_kg_m3": 0.95, "reference_metering_density_kg_m3": 1.20}
    found = for_air(150, numbering="bore", step=2.5, **two)
    assert str(found).startswith(
        "In this air jet 150 runs 12.4 % richer; 141.5 would keep the mixture. Nearest is 142.5 "
        "(1.4 % richer); 140 is the lean side (2.1 % leaner)."
    )
    assert [row["size"] for row in found.tables[1].rows] == [140.0, 142.5]
    same = for_air(150, numbering="flow", metering_density_kg_m3=1.2, reference_metering_density_kg_m3=1.2, step=5)
    assert [row["size"] for row in same.tables[1].rows] == [145, 150, 155]
    assert str(same).startswith(
        "The air asks for no change; 150.0 would keep the mixture. Nearest is 150 (the same mixture)"
    )
    assert "nothing you can get is leaner" in str(for_air(150, numbering="flow", sizes=[160, 165], **AIR))
    assert "nothing you can get is richer" in str(for_air(150, numbering="flow", sizes=[100], **AIR))


@pytest.mark.parametrize(
    ("sizes", "nearest"), [([99.7, 100.6], 100.6), ([99.9, 101.0], 99.9), ([99.4, 100.3], 100.3), ([80, 125], 125)]
)
def test_of_two_about_as_near_the_richer_one_comes_first(sizes, nearest):
    """0.3 % lean and 0.6 % rich differ by less than the half per cent that no rider can tell; 0.1 % lean and 1 % rich do not;
    100 is a quarter off both 80 and 125."""
    assert jet(100, numbering="flow", metering_density_kg_m3=1.2, sizes=sizes).nearest.size == nearest


def test_what_the_model_leaves_out_is_said():
    answer = for_air(150, numbering="bore", step=2.5, **AIR)
    told = " ".join((*answer.assumptions, *answer.notes))
    for word_said in ("incompressible", "same velocity", "slide carburetor", "idle circuit", "pulses"):
        assert word_said in told


def test_signs_and_parts_can_be_read():
    assert set(SIGNS) == {"lean", "rich"} and all(len(signs) >= 4 for signs in SIGNS.values())
    for opening in np.linspace(0, 1, 33):
        for verdict in VERDICTS:
            advised = circuit_answer(float(opening), verdict).tables[1:]
            assert bool(advised) == (verdict != "right")
            assert all({"Change", "Try first", "How to tell"} <= {row["what"] for row in t.rows} for t in advised)
    assert len({part.name for part in parts()}) == 5


@pytest.mark.parametrize(
    ("opening", "words"),
    [(0.0, "At closed throttle"), (1.0, "At full throttle"), (0.5, "At 1/2 "), (0.0625, "At 1/16 "), (0.4, "At 40 % ")],
)
def test_openings_are_said_as_riders_say_them(opening, words):
    assert str(circuit_answer(opening)).startswith(words)


@pytest.mark.parametrize(("new", "says"), [(4, "richer by up to"), (2, "leaner by up to")])
def test_a_lower_groove_lifts_the_needle_and_is_richer(new, says):
    """Common practice, no source; where it begins and ends to touch is where the ratio leaves 1."""
    change = needle_change(NEEDLE, SEAT, clip=3, new_clip=new)
    assert f": {says} " in str(change_answer(change))
    apart = change.before.lift_m[np.abs(change.richness_ratio - 1) > TOUCHED]
    assert (change.touched_from_m, change.touched_to_m) == (apart.min(), apart.max())


def test_needle_rows_draw_two_needles():
    thick = Needle(
        name="thick", straight_diameter_m=2.55e-3, taper_start_m=0.030, length_m=0.070, end_diameter_m=1.4e-3
    )
    change = needle_change(NEEDLE, SEAT, clip=3, new_clip=3, new_needle=thick)
    said = str(change_answer(change))
    assert said.startswith("Fitting thick in groove 3 for needle in groove 3: richer in places and leaner in others")
    ratio = change.richness_ratio
    assert len(ratio) == 41 and ratio[0] < 1 < ratio[-1]
    assert change.after.needle_diameter_m[0] == 2.55e-3 and change.after.opening[-1] == 1.0
    assert thick.tip_diameter_m == 1.4e-3
    assert change.touched_from_m == 0.0 and change.greatest_ratio == min(ratio)


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
    outer = best_mixture_setting(TURNS, SPEEDS, useful_turns=(0.5, 1.8))
    assert (outer.place, outer.mixture) == ("at or past the outer end", "lean")


def test_no_limits_where_the_bend_does_not_stand_out():
    curve = fit_idle_curve([0.0, 1.0, 2.0, 3.0, 4.0], [5.0, 3.0, 6.0, 3.0, 5.1], 2)
    assert top_of(curve, 0.0, 4.0) is None


def test_the_procedure_has_the_usual_cautions():
    told = " ".join((*PROCEDURE, *idle_answer(best_mixture_setting(TURNS, SPEEDS)).cautions)).lower()
    for thing in ("exhaust gas kills", "doors wide", "manual", "warm", "never force", "hot", "put back"):
        assert thing in told


def test_checks_take_numpy_figures_too():
    assert one("x", np.float64(2.5), 0, 5) == 2.5 and whole("n", np.int64(3), 1, 5) == 3
    assert several("x", np.array([1.0, 2.0]), 0, 5, "", longest=3, fix="") == (1.0, 2.0)
    assert word("w", "a", ("a", "b")) == "a"
    for wrong in (np.array([[1.0]]), np.array("x"), "12", 3.0, None):
        with pytest.raises(InputError):
            several("x", wrong, 0, 5, "", longest=3, fix="")
