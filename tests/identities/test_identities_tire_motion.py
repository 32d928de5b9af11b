"""Growth and slip of the driven tire: held to equations solved apart, kept out of every plain figure, and off where speed was measured."""

from __future__ import annotations

import numpy as np
import pytest
from support.small_build import small

from ridesim import selection
from ridesim.answers import contract, cruising, solve, standing_run
from ridesim.answers.tires.motion import IN_MOTION, cruise_share, moved_setups
from ridesim.bike import make_bike
from ridesim.components.tire_motion import GROWTH_AT_100_KMH, growth_share, slip_share, slip_stiffness
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


def test_the_magic_formula_has_this_slope_where_it_starts():
    """Its stiffness over the load, printed for a load of 1600 N as pkx1 = 25.94: force / load = 25.94 x slip for little slip."""
    assert slip_share(25.94 * 1600.0 * 0.003, 1600.0, 25.94) == pytest.approx(0.003)
    low, high = slip_stiffness()
    assert low < 25.94 < high


def test_growth_goes_with_the_square_of_the_speed_and_is_nothing_at_rest():
    assert growth_share([0.0, 50 / 3.6, 100 / 3.6, 200 / 3.6], 0.004) == pytest.approx([0.0, 0.001, 0.004, 0.016])


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
