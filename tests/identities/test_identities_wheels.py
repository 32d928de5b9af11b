"""Properties of tires, speedometer, rake and trail that hold whatever the figures."""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np
import pytest
from hypothesis import example, given
from hypothesis import strategies as st

from ridesim.components import speedometer
from ridesim.components.steering import rigid_frame
from ridesim.components.tire import rolling_tire
from ridesim.components.tire_dimensions import chord_rolling_circumference_m, section_height_m
from ridesim.components.tire_marking import parse_marking
from ridesim.errors import InputError
from ridesim.reference import read_table

pytestmark = pytest.mark.identities


@given(st.floats(0.15, 0.45), st.floats(0.0, 0.2))
def test_chord_model_against_its_own_definition(free, share):
    """cos t = Rh / Rg and half the contact length is Rg sin t = R t."""
    angle = math.acos(1.0 - share)
    wanted = 2 * math.pi * free * (math.sin(angle) / angle if angle else 1.0)
    assert chord_rolling_circumference_m(free, share * free) == pytest.approx(wanted, rel=1e-12)


@given(st.integers(50, 360), st.integers(25, 110))
def test_section_height_is_half_up_in_whole_numbers(width_mm, aspect):
    """In integers: (width x aspect + 50) // 100."""
    assert round(1000 * float(section_height_m(width_mm / 1000, aspect / 100))) == (width_mm * aspect + 50) // 100


def test_load_index_series_repeats_ten_fold_after_eighty_and_is_geometric_within_its_rounding():
    """Eighty steps to a decade from 45 kg at 0, rounded to handy numbers: nowhere 2 % off."""
    rows = read_table("tire_load_index")
    index, loads = np.array([[float(row["load_index"]), float(row["capacity_kg"])] for row in rows]).T
    assert index.tolist() == list(range(101)) and np.all(np.diff(loads) > 0)
    assert np.all(loads[80:] == 10.0 * loads[:21])
    assert np.max(np.abs(loads / (45.0 * 10.0 ** (index / 80.0)) - 1.0)) < 0.02


@given(
    st.sampled_from(["130/80-17", "90/90-21", "120/90-18", "3.00-21", "4.60-18"]),
    st.floats(0, 0.02),
    st.floats(1e-4, 0.01),
    st.floats(0, 0.02),
)
def test_a_worn_tire_rolls_less_and_sits_lower(size, worn, more, deflection):
    marking = parse_marking(size)
    newer = rolling_tire(marking, worn_m=worn, deflection_m=deflection)
    older = rolling_tire(marking, worn_m=worn + more, deflection_m=deflection)
    assert older.circumference_m < newer.circumference_m
    assert newer.loaded_radius_m - older.loaded_radius_m == pytest.approx(more, abs=1e-12)
    assert newer.low_m < newer.circumference_m < newer.high_m


@given(st.sampled_from(["130/80-17", "120/90-18", "4.60-18"]), st.floats(-0.14, 0.14), st.floats(0, 0.02))
def test_a_measured_roll_out_wins_and_the_radii_follow_it(size, off, deflection):
    marking = parse_marking(size)
    measured = (1 + off) * rolling_tire(marking, deflection_m=deflection).circumference_m
    tire = rolling_tire(marking, rollout_m=measured, deflection_m=deflection)
    assert tire.measured and tire.circumference_m == measured
    assert chord_rolling_circumference_m(tire.free_radius_m, deflection) == pytest.approx(measured, rel=1e-12)
    assert tire.loaded_radius_m == pytest.approx(tire.free_radius_m - deflection)


@given(
    st.integers(50, 360),
    st.integers(25, 110),
    st.integers(4, 30),
    st.integers(0, 100),
    st.sampled_from("BCJLPSTHVWY"),
    st.sampled_from([("-", "bias"), ("R", "radial"), ("B", "bias-belted"), ("ZR", "radial")]),
    st.booleans(),
    st.lists(st.sampled_from(["", " ", "  "]), min_size=6, max_size=6),
    st.booleans(),
)
def test_a_metric_marking_comes_back_part_by_part(width, aspect, rim, index, symbol, join, mc, gaps, lower):
    written = (
        f"{width}{gaps[0]}/{gaps[1]}{aspect}{gaps[2]}{join[0]}{gaps[3]}{rim} "
        f"{'M/C' + gaps[4] if mc else ''}{index}{gaps[5]}{symbol}"
    )
    tire = parse_marking(written.lower() if lower else written)
    assert tire.section_width_m == width / 1000 and tire.aspect == aspect / 100 and tire.rim_code == rim
    assert tire.construction == join[1]
    assert (tire.load_index, tire.speed_symbol, tire.speed_limit_is_floor) == (index, symbol, False)
    assert tire.overall_diameter_m == pytest.approx(tire.rim_diameter_m + 2 * tire.section_height_m)
    assert tire.diameter_low_m < tire.overall_diameter_m < tire.diameter_high_m
    assert parse_marking(tire.written) == tire


@given(
    st.sampled_from(["2.75", "3.00", "3.5", "4.00", "4.25", "3.60", "4.10", "4.60", "5.10"]),
    st.integers(4, 30),
    st.integers(2, 16),
)
def test_an_inch_marking_comes_back_part_by_part(width, rim, ply):
    tire = parse_marking(f"{width}-{rim} {ply}PR")
    assert tire.section_width_m == pytest.approx(float(width) * 0.0254)
    assert tire.aspect == (0.90 if width[-2:] in ("60", "10") else 1.0)
    assert (tire.rim_code, tire.ply_rating, tire.system) == (rim, ply, "inch")


SLIPS = st.builds(
    lambda marking, place, slip: marking[:place] + slip + marking[place + 1 :],
    st.sampled_from(["130/80-17 M/C 65S", "180/55 ZR17 M/C (73W)", "4.60-18 4PR", "MT90B16 74H"]),
    st.integers(0, 20),
    st.characters(codec="utf-8"),
)


@given(SLIPS | st.text(max_size=80) | st.text(alphabet="0123456789/-. MRBZPCTLSVW()+,&", max_size=40))
@example("1" * 59)
@example("1" * 59 + "\N{ARABIC-INDIC DIGIT THREE}")
@example("\ud800")
def test_any_text_is_read_or_refused_with_an_input_error(text):
    try:
        tire = parse_marking(text)
    except InputError as refusal:
        assert refusal.where == "size" and refusal.problem and refusal.fix
        assert len(str(refusal)) < 400
    else:
        assert 0.15 < tire.overall_diameter_m < 1.7
        assert tire.diameter_low_m <= tire.overall_diameter_m <= tire.diameter_high_m


drives = st.builds(
    speedometer.SpeedometerDrive,
    front_circumference_m=st.floats(1.0, 3.0),
    rear_circumference_m=st.floats(1.0, 3.0),
    final_ratio=st.floats(1.5, 5.0),
)


@given(drives, drives, st.floats(0.5, 2.0))
def test_each_sensor_sees_only_what_turns_it(calibrated, now, factor):
    def gain(sensor, part):
        other = replace(now, **{part: factor * getattr(now, part)})
        before, after = (speedometer.odometer_over_true(sensor, calibrated=calibrated, now=one) for one in (now, other))
        return after / before

    seen = {
        ("front wheel", "front_circumference_m"): 1 / factor,
        ("rear wheel", "rear_circumference_m"): 1 / factor,
        ("countershaft", "rear_circumference_m"): 1 / factor,
        ("countershaft", "final_ratio"): factor,
    }
    for sensor in speedometer.SENSORS:
        for part in ("front_circumference_m", "rear_circumference_m", "final_ratio"):
            assert gain(sensor, part) == pytest.approx(seen.get((sensor, part), 1.0), rel=1e-12)


@given(st.floats(0.0, 90.0), st.floats(0.0, 1.0), st.floats(0.01, 5.0))
def test_the_verdict_agrees_with_the_limits(true, share, beyond):
    least, most = speedometer.indicated_limits_un_r39(true)
    assert speedometer.outside_un_r39_m_s(true, least + share * (most - least)) == 0.0
    assert speedometer.outside_un_r39_m_s(true, most + beyond) == pytest.approx(beyond)
    if true > beyond:
        assert speedometer.outside_un_r39_m_s(true, true - beyond) == pytest.approx(-beyond)


BASE = {
    "front_radius_m": 0.3475,
    "rear_radius_m": 0.320,
    "wheelbase_m": 1.450,
    "rake_rad": math.radians(27),
    "fork_offset_m": 0.045,
    "point_ahead_m": 0.725,
    "point_height_m": 0.300,
}

# Worked out apart from this code, from the rigid frame, for 90/90-21 and 130/80-17 at 1450 mm:
# new front radius, new rear radius, rake [deg], rake change [deg], trail [mm], wheelbase [mm], height of the point [mm]
WORKED = [
    (0.3475, 0.3405, 26.1900, -0.8100, 120.768, 1450.24, 310.25),
    (0.3000, 0.3200, 25.1233, -1.8767, 90.977, 1450.12, 276.27),
    (0.3575, 0.3300, 27.0000, 0.0000, 131.651, 1450.00, 310.00),
]


@pytest.mark.parametrize("front, rear, rake, d_rake, trail, wheelbase, height", WORKED)
def test_rigid_frame_agrees_with_figures_worked_out_apart(front, rear, rake, d_rake, trail, wheelbase, height):
    change = rigid_frame(**BASE, new_front_radius_m=front, new_rear_radius_m=rear)
    assert math.degrees(change.rake_rad) == pytest.approx(rake, abs=5e-5)
    assert math.degrees(change.rake_change_rad) == pytest.approx(d_rake, abs=5e-5)
    assert 1000 * change.trail_m == pytest.approx(trail, abs=5e-4)
    assert 1000 * change.wheelbase_m == pytest.approx(wheelbase, abs=5e-3)
    assert 300 + 1000 * change.clearance_change_m == pytest.approx(height, abs=5e-3)


radii = st.floats(0.25, 0.36)


@given(radii, radii, radii, radii, st.floats(0.3, 0.6))
def test_the_axles_rise_by_their_own_tires(front, rear, new_front, new_rear, rake):
    frame = {
        "front_radius_m": front,
        "rear_radius_m": rear,
        "wheelbase_m": 1.45,
        "rake_rad": rake,
        "fork_offset_m": 0.04,
    }
    frame |= {"new_front_radius_m": new_front, "new_rear_radius_m": new_rear}
    at_front = rigid_frame(**frame, point_ahead_m=frame["wheelbase_m"], point_height_m=front)
    assert rigid_frame(**frame).clearance_change_m == pytest.approx(new_rear - rear, abs=1e-12)
    assert at_front.clearance_change_m == pytest.approx(new_front - front, abs=1e-12)
