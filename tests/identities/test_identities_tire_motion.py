"""Growth, slip and how far a tire may roll off the model: held to equations solved apart, and where the figures take them up."""

from __future__ import annotations

import numpy as np
import pytest
from support.draws import band
from support.small_build import small

from ridesim import selection
from ridesim.answers import contract, cruising, front_lift, solve, standing_run, tire_swap, tires
from ridesim.answers.tires.motion import IN_MOTION, cruise_share, moved_setups
from ridesim.bike import make_bike
from ridesim.components.tire import rolling_tire
from ridesim.components.tire_marking import parse_marking
from ridesim.components.tire_motion import GROWTH_AT_100_KMH, slip_stiffness
from ridesim.environment.air import air
from ridesim.environment.power_correction import ride_day_factor
from ridesim.evidence import with_evidence
from ridesim.mechanics.torque import cells_of
from ridesim.mechanics.traction import GearRows
from ridesim.selection.certainty import certainty_of

pytestmark = pytest.mark.identities
MEASURED = {"tires.rear.rollout": "1.89 +- 0.004 m", "road_load.drag_area": 0.6, "road_load.rolling_resistance": 0.015}
READ_AT_SPEED = {
    "kind": "speed at engine speed",
    "gear": 4,
    "speed": "95 +- 0.5 km/h",
    "engine_speed": "7900 +- 60 rev/min",
}


@pytest.mark.parametrize("at", ["crank", "wheel"])
@pytest.mark.parametrize(("growth", "slip"), [(0.0, 0.0), (0.004, 0.008), (0.0, 0.06), (0.012, 0.025)])
def test_slip_is_lost_as_efficiency_unless_the_sheet_was_measured_at_the_wheel(at, growth, slip):
    """Torque through the gears to a wheel of r (1 + g) that turns v (1 + s)/(r (1 + g)) fast; a roller gets the power after its slip."""
    bike = make_bike(small(MEASURED | {"tune.first.measured_at": at}))
    s, k = bike.setups, 2
    r, w = s.rear_radius_m[0] * (1 + growth), np.array([400.0, 600.0])
    rows = GearRows(moved_setups(bike, np.array([growth]), np.array([slip])), cells_of(bike.curve), bike.ride())
    forces = rows.at(w[:, None])
    assert forces.speed[:, k] == pytest.approx(w * r / s.ratios[0, k] / (1 + slip))
    push = bike.curve.torque_at(w) * s.torque_factor[0] * s.ratios[0, k] * s.efficiency[0] / r
    assert forces.thrust[:, k] == pytest.approx(push if at == "crank" else push * (1 + slip))


def test_cruise_and_top_speed_hold_every_corner_of_the_ranges():
    one = solve(make_bike(small(MEASURED)))
    s, c, v = one.bike.setups, one.performance.cruise, one.ride.cruise_m_s
    load = s.mass_kg[0] * 9.80665 * (1 - s.ahead_m[0] / s.wheelbase_m[0])
    corners = [
        (1 + c.needed_w[0, -1] / v / (load * stiffness)) / (1 + at * (v / (100 / 3.6)) ** 2)
        for at in GROWTH_AT_100_KMH
        for stiffness in slip_stiffness()
    ]
    span = cruise_share(one.bike, one.ride)
    assert (span.low, span.high) == pytest.approx((min(corners), max(corners)))
    figure = cruising(one).figures["moving_engine_speed"]
    assert figure.low == pytest.approx(span.low * c.engine_speed_rad_s[0, -1])
    run = standing_run(solve(one.bike, one.bike.ride(targets_m_s=(20.0,))))
    top, plain = run.figures["moving_top_speed"], float(one.performance.top_speed_m_s[0])
    assert top.low < top.high and abs(top.high / plain - 1) < 0.03
    time, still = run.figures["moving_time"], run.figures["time_0"].value
    assert time.low < time.high and 0.97 * still < time.high < 1.1 * still
    assert IN_MOTION in run.assumptions


def test_the_plain_figures_leave_both_out_and_the_json_has_them_beside():
    one = solve(make_bike(small(MEASURED)))
    told = contract(one)
    turns = told["cruise"][-1]["engine_rpm"]
    meters = told["rolling_circumference_m"]
    assert told["gears"][-1]["speed_per_1000_rpm_kmh"] * told["gears"][-1]["overall_ratio"] == pytest.approx(
        60 * meters
    )
    assert turns == pytest.approx(told["cruise"][-1]["speed_kmh"] / told["gears"][-1]["speed_per_1000_rpm_kmh"] * 1e3)
    low, high = told["cruise"][-1]["engine_rpm_in_motion"]
    assert turns * 0.99 < low < high < turns * 1.05
    top = standing_run(one).figures["moving_top_speed"]
    assert told["in_motion"] == {"top_speed_kmh": [3.6 * top.low, 3.6 * top.high]}  # it never gets to 100 km/h


def test_a_reading_of_speed_beside_engine_speed_has_both_in_it():
    build = with_evidence(small(MEASURED).changed({"evidence": [READ_AT_SPEED]}))
    one = solve(make_bike(build))
    assert "moving_engine_speed" not in cruising(one).figures and IN_MOTION not in cruising(one).assumptions
    run = standing_run(one)
    assert not {"moving_top_speed", "moving_time"} & {*run.figures} and IN_MOTION not in run.assumptions
    assert contract(one)["cruise"][-1]["engine_rpm_in_motion"] is None


def test_a_limit_of_the_cruising_speed_is_less_sure_by_them_where_the_tire_was_measured():
    limit = {"limits.cruise_engine_speed_most": "8000 rev/min"}
    seen = {}
    for name, more in (("roll-out", MEASURED), ("marking", {})):
        choice = selection.choose(small(limit | more), fronts=[14], rears=[43, 44])
        found = certainty_of(choice)
        seen[name] = found.paths
        assert any("growth and slip" in note for note in choice.notes)
    assert "speed at engine speed" in seen["roll-out"] and "speed at engine speed" not in seen["marking"]
    assert np.isfinite(found.sd).all()


@pytest.mark.parametrize(
    ("share", "whose"),
    [
        (0.9945, "bicycle roll-outs, 0.993 to 0.995 of pi D, from memory"),
        (3.05 / np.pi, "ETRTO for radials at full load, from memory"),
    ],
)
def test_what_others_give_for_the_circumference_lies_in_the_band(share, whose):
    for size in ("120/90-18", "130/80-17", "90/90-21", "110/90-17", "180/55 ZR17"):
        marking = parse_marking(size)
        tire, circumference = rolling_tire(marking), share * np.pi * marking.overall_diameter_m
        assert 0.997 * tire.low_m <= circumference <= 1.003 * tire.high_m, (size, whose)


def test_both_ends_reach_every_figure_by_the_way_of_every_tolerance():
    """Engine speed at a road speed goes with 1 / U: from 1 / 1.007 to 1 / 0.98 of it. All other tolerances of the build are off."""
    exact = {"road_load.drag_area": 0.6, "road_load.rolling_resistance": 0.015, "gearbox.efficiency": 0.93}
    one = solve(make_bike(small(exact)))
    (tolerance,) = one.tolerances
    assert tolerance.path == "tires.rear.size"
    figure = one.figure("cruise", "", "engine speed", one.performance.cruise.engine_speed_rad_s[:, -1])
    assert (figure.low / figure.value, figure.high / figure.value) == pytest.approx((1 / 1.007, 1 / 0.98), rel=1e-9)
    low, high = band(one.bike, lambda p: p.cruise.engine_speed_rad_s[:, -1])
    assert high / figure.value - 1 > 1.8 * (1 - low / figure.value)
    force = one.figure("force", "", "force", one.performance.gears.peak_force_n[:, 0])
    assert (force.low / force.value, force.high / force.value) == pytest.approx((1 / 1.007, 1 / 0.98), rel=1e-9)
    assert front_lift(one).figures["ratio"].low < front_lift(one).figures["ratio"].value


def test_a_swap_of_tires_carries_both_bands_and_is_held_to_the_limit_of_type_approval():
    """UN R39, 5.4, is a rule for the approval of a new vehicle."""
    now, other = solve(make_bike(small())), solve(make_bike(small(), rear_tire="120/90-17"))
    swap = tire_swap(now, other)
    figure = swap.figures["gearing"]
    assert [figure.high - figure.value, figure.value - figure.low] == pytest.approx([np.hypot(0.02, 0.007)] * 2)
    for answer in (tires(now), swap):
        assert answer.figures["speedometer_within"].label.endswith("type approval")
        assert any("limit at type approval" in note and "local law" in note for note in answer.notes)


def test_iso_1585_says_what_stands_in_its_place_for_motorcycles():
    """Regulation (EU) No 134/2014, Annex X, Appendix 2.2 (read): 100 kPa in all less 1 kPa of vapor, so 99 kPa dry, and 298 K."""
    reference = air(temperature_k=298.15, relative_humidity=0.0, pressure_pa=99e3)
    told = ride_day_factor("ISO 1585", reference)
    assert told.factor == pytest.approx(1.0, abs=1e-9)
    assert any(
        "leaves motorcycles out" in line and "134/2014" in line and "ISO 4106" in line for line in told.assumptions
    )
    for standard in ("SAE J1349", "DIN 70020"):
        assert not any("motorcycles" in line for line in ride_day_factor(standard, reference).assumptions)
    bike = make_bike(small({"tune.first.standard": "ISO 1585"}))
    assert any("leaves motorcycles out" in line for line in contract(solve(bike))["assumptions"])


def test_a_speedometer_is_sure_of_its_own_tire_and_not_of_another():
    """It shows U_own / U_now of the true speed: of two tires by the model the one may roll 2 % less and the other 0.7 % more."""
    sensor = {"speedometer.sensor": "rear wheel"}
    own, other = (solve(make_bike(small(sensor), rear_tire=tire)) for tire in (None, "120/90-17"))
    sure, unsure = (tires(one).figures["indicated"] for one in (own, other))
    assert sure.low == sure.value == sure.high
    assert unsure.high / unsure.value - 1 == pytest.approx(np.hypot(0.007, 0.02))
    assert 1 - unsure.low / unsure.value == pytest.approx(np.hypot(0.02, 0.007))
    swap = tire_swap(own, other).figures["indicated"]
    assert (swap.low, swap.value, swap.high) == pytest.approx((unsure.low, unsure.value, unsure.high))
    measured = {**sensor, "tires.rear.rollout": "1.89 +- 0.004 m"}
    half = tires(solve(make_bike(small(measured), rear_tire="120/90-17"))).figures["indicated"]
    assert half.high / half.value - 1 == pytest.approx(np.hypot(0.004 / 1.89, 0.02))
    assert 1 - half.low / half.value == pytest.approx(np.hypot(0.004 / 1.89, 0.007))
