"""How far a tire may roll off the chord model: what others give lies inside, and both ends reach every figure."""

from __future__ import annotations

import numpy as np
import pytest
from support.draws import band
from support.small_build import small

from ridesim.answers import contract, front_lift, solve, tire_swap, tires
from ridesim.bike import make_bike
from ridesim.components.tire import rolling_tire
from ridesim.components.tire_marking import parse_marking
from ridesim.environment.air import air
from ridesim.environment.power_correction import ride_day_factor

pytestmark = pytest.mark.identities
SIZES = ("120/90-18", "130/80-17", "90/90-21", "110/90-17", "180/55 ZR17")


@pytest.mark.parametrize("size", SIZES)
@pytest.mark.parametrize(
    ("share", "whose"),
    [
        (0.9945, "bicycle roll-outs, 0.993 to 0.995 of pi D, from memory"),
        (3.05 / np.pi, "ETRTO for radials at full load, from memory"),
    ],
)
def test_what_others_give_for_the_circumference_lies_in_the_band(size, share, whose):
    marking = parse_marking(size)
    tire = rolling_tire(marking)
    circumference = share * np.pi * marking.overall_diameter_m
    assert 0.997 * tire.low_m <= circumference <= 1.003 * tire.high_m, whose


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


def test_a_swap_of_tires_carries_both_bands():
    now, other = solve(make_bike(small())), solve(make_bike(small(), rear_tire="120/90-17"))
    figure = tire_swap(now, other).figures["gearing"]
    assert figure.high - figure.value == pytest.approx(np.hypot(0.02, 0.007))
    assert figure.value - figure.low == pytest.approx(np.hypot(0.02, 0.007))


def test_the_speedometers_limit_is_that_of_type_approval():
    """UN R39, 5.4, is a rule for the approval of a new vehicle."""
    now, other = solve(make_bike(small())), solve(make_bike(small(), rear_tire="120/90-17"))
    for answer in (tires(now), tire_swap(now, other)):
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
