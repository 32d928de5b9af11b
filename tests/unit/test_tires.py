"""Markings as they stand on tires are read, anything else is refused by the part at fault; tires under their rider have their limits."""

from __future__ import annotations

import pytest

from ridesim.components.tire import load_allowed, rolling_tire, speed_allowed
from ridesim.components.tire_fit import new_size_words
from ridesim.components.tire_marking import parse_marking
from ridesim.errors import InputError
from ridesim.reference import read_table, sources
from ridesim.units import Measured

GOOD = [  # marking, D [mm], construction, load index, speed symbol, floor, ply rating
    ("120/90-18 65S TT", 673, "bias", 65, "S", False, None),
    ("180/55 ZR17 M/C (73W)", 630, "radial", 73, "W", True, None),
    ("180/55ZR17", 630, "radial", None, None, True, None),
    ("180/55ZR17M/C(73W)", 630, "radial", 73, "W", True, None),
    ("140/90HB16", 658, "bias-belted", None, "H", False, None),
    ("120/90-V18", 673, "bias", None, "V", False, None),
    ("4.60-18 4PR", 667.312, "bias", None, None, False, 4),
    ("3.00 S 18 4 P.R.", 609.4, "bias", None, "S", False, 4),
    ("3.00-21", 685.4, "bias", None, None, False, None),
    ("4.25/85-18", 640.515, "bias", None, None, False, None),
    ("3.50 - 18 56P", 634.8, "bias", 56, "P", False, None),
    ("4,00-18", 660.2, "bias", None, None, False, None),
    ("MT90-16", 640, "bias", None, None, False, None),
    ("mt 90 b 16 m/c 74h", 640, "bias-belted", 74, "H", False, None),
    ("130/80\u201317 65p tl", 640, "bias", 65, "P", False, None),
    ("110/80 17 54H", 608, "bias", 54, "H", False, None),
    ("130/80-17 65S M+S", 640, "bias", 65, "S", False, None),
    ("130/80-17 65 M+S", 640, "bias", 65, None, False, None),
]


@pytest.mark.parametrize(
    "written, diameter_mm, construction, index, symbol, floor, ply", GOOD, ids=[good[0] for good in GOOD]
)
def test_markings_are_read(written, diameter_mm, construction, index, symbol, floor, ply):
    tire = parse_marking(written)
    assert 1000 * tire.overall_diameter_m == pytest.approx(diameter_mm)
    assert (tire.construction, tire.load_index, tire.speed_symbol) == (construction, index, symbol)
    assert (tire.speed_limit_is_floor, tire.ply_rating) == (floor, ply)
    assert (tire.load_capacity_kg is None) == (index is None)
    assert (tire.speed_limit_m_s is None) == (symbol is None and not floor)


BAD = [  # marking, words the refusal must hold
    ("", "empty"),
    ("   ", "empty"),
    ("hello", "width"),
    ("-130/80-17", "width"),
    ("nan/80-17", "width"),
    ("0/80-17", "width 0 is outside"),
    ("9999/80-17", "width 9999 is outside"),
    ("0.00-18", "width 0.00 is outside"),
    ("3.33-18", "width 3.33"),
    ("4.600-18", "width 4.600"),
    ("MX90-16", "width letter 'X'"),
    ("130-17", "aspect is missing"),
    ("130/-17", "aspect is missing"),
    ("MT-16", "aspect is missing"),
    ("MT90/80-16", "aspect is missing"),
    ("130/300-17", "aspect 300 is outside"),
    ("130/0-17", "aspect 0 is outside"),
    ("4.25/10-18", "aspect 10 is outside"),
    ("130/80", "rim is missing"),
    ("130/80/17", "rim is missing"),
    ("130/80-3", "rim 3 is outside"),
    ("130/80-17.3", "rim 17.3"),
    ("130/80-1765S", "rim 1765 is outside"),
    ("130/80AR17", "construction 'AR'"),
    ("130/80XR17", "construction 'XR'"),
    ("130/80-17 165S", "load index 165"),
    ("130/80-17 65S 66S", "load index is given twice"),
    ("130/80-17 65X", "speed symbol 'X'"),
    ("130/80S17 65H", "speed symbol is given twice"),
    ("130/80-17 (65S)", "speed symbol 'S' stands in brackets"),
    ("130/80-17 99PR", "ply rating 99"),
    ("130/80-17 4PR 6PR", "ply rating is given twice"),
    ("130/80-17 blah", "not understood from 'BLAH'"),
    ("130/80-17; rm", "character"),
    ("\u0663\u0660/80-17", "character"),
    ("\N{SUPERSCRIPT TWO}0/80-17", "character"),
    ("130/80-17\x00", "character"),
    ("1" * 1_000_000, "longer than 60"),
    (None, "is not a tire marking"),
    (b"130/80-17", "is not a tire marking"),
]


@pytest.mark.parametrize("written, words", BAD, ids=[repr(b[0])[:30] for b in BAD])
def test_refusals_name_the_part(written, words):
    with pytest.raises(InputError) as refusal:
        parse_marking(written, "tires.rear.size")
    assert words in refusal.value.problem
    assert refusal.value.where == "tires.rear.size"
    assert "130/80-17 M/C 65S" in refusal.value.fix
    assert "\n" not in str(refusal.value) and len(str(refusal.value)) < 400


@pytest.mark.parametrize(
    ("written", "part", "value"),
    [
        ("120/90-18 65S TL", "tube", "tubeless"),
        ("120/90-18 65S TUBELESS", "tube", "tubeless"),
        ("120/90-18 65S TT", "tube", "tube type"),
        ("120/90-18 65S TUBE TYPE", "tube", "tube type"),
        ("120/90-18 65S", "tube", None),
        ("90/90-12", "diameter_low_m", 0.305 + 2 * 0.081 * 0.93),  # small rims have the wider range
        ("4.60-18", "diameter_low_m", 0.98 * 0.667312),
        ("4.60-18", "diameter_high_m", 1.02 * 0.667312),
        ("MT90-16", "diameter_tolerance", 0.02),
    ],
)
def test_what_follows_from_a_marking(written, part, value):
    assert getattr(parse_marking(written), part) == (
        pytest.approx(value, abs=5e-4) if isinstance(value, float) else value
    )


@pytest.mark.parametrize(
    ("written", "told"),
    [
        ("180/55ZR17", "more than 240 km/h"),
        ("180/55 ZR17 (73W)", "more than 270 km/h"),
        ("120/90-18 NHS", "highway"),
        ("MT90-16", "+-2 %"),
    ],
)
def test_what_a_marking_leaves_open_is_a_note(written, told):
    assert any(told in note for note in parse_marking(written).notes)
    assert not any(told in note for note in parse_marking("180/55 ZR17 73W").notes)


def test_the_metric_range_says_it_is_from_memory():
    told = new_size_words(parse_marking("130/80-17"))
    assert "634 to 655 mm" in told and "from memory" in told


@pytest.mark.parametrize("name", ["tire_load_index", "tire_speed_symbols"])
def test_second_sources_are_cited(name):
    also = {row["also_printed_in"] for row in read_table(name)} - {""}
    assert also and also <= set(sources())


REAR = parse_marking("120/80-18 M/C 62S")
FRONT = parse_marking("90/90-19 M/C 52P")


def test_defaults_differ_by_position_and_are_said():
    rear, front = rolling_tire(REAR), rolling_tire(FRONT, position="front")
    assert (rear.deflection_m, front.deflection_m) == (0.008, 0.006)
    assert "Static deflection of the rear tire assumed 8.0 mm." in rear.assumptions
    assert any("-2 % to +0.7 %" in line and "belted" in line for line in rear.assumptions)
    assert not any("deflection" in line for line in rolling_tire(REAR, deflection_m=0.008).assumptions)


def test_bands_by_source_of_the_figure():
    def ends(tire):
        return tire.low_m / tire.circumference_m - 1, tire.high_m / tire.circumference_m - 1

    assert ends(rolling_tire(REAR)) == pytest.approx((-0.02, 0.007))
    assert ends(rolling_tire(parse_marking("4.60-18"))) == pytest.approx((-0.04, 0.027))
    assert ends(rolling_tire(REAR, rollout_m=2.03)) == pytest.approx((-0.003, 0.003))
    stated = rolling_tire(REAR, rollout_m=Measured(2.03, 0.004))
    assert (stated.low_m, stated.high_m) == pytest.approx((2.026, 2.034))


def test_steps_hold_the_numbers():
    steps = "\n".join(rolling_tire(REAR, rollout_m=2.03).steps)
    for figure in ("0.457 m + 2 x 0.096 m", "0.649 m", "0.3245", "2.03 m", "0.32308"):
        assert figure in steps


def test_wear_is_not_taken_off_a_measured_roll_out_again():
    new, worn = (rolling_tire(REAR, rollout_m=2.03, worn_m=worn) for worn in (0.0, 0.005))
    assert worn.circumference_m == new.circumference_m and worn.free_radius_m == new.free_radius_m
    assert any("not taken off again" in line for line in worn.assumptions)


def test_notes_warn():
    assert not rolling_tire(REAR, worn_m=0.0).notes[1:]
    assert any("least tread depth" in note for note in rolling_tire(REAR, worn_m=0.004).notes)
    assert any("measure again" in note for note in rolling_tire(REAR, worn_m=0.014).notes)
    assert any("pressure" in note for note in rolling_tire(REAR, deflection_m=0.030).notes)
    assert any("measure again" in note for note in rolling_tire(REAR, rollout_m=1.88).notes)


def test_load_index_and_speed_symbol_allow_up_to_themselves():
    assert load_allowed(REAR, 265.0) is True and load_allowed(REAR, 265.1) is False
    assert speed_allowed(REAR, 50.0) is True and speed_allowed(REAR, 50.1) is False
    unmarked = parse_marking("3.00-21")
    assert load_allowed(unmarked, 100.0) is None and speed_allowed(unmarked, 30.0) is None


def test_a_floor_vouches_up_to_itself_and_leaves_the_rest_open():
    open_end = parse_marking("180/55ZR17")
    assert speed_allowed(open_end, 60.0) is True and speed_allowed(open_end, 80.0) is None
