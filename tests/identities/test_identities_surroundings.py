"""Closed forms beside integration, limits, monotone laws and a change of base units for air, road and holes."""

from __future__ import annotations

import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy.integrate import solve_ivp

from ridesim.environment.air import (
    air,
    geopotential_m,
    saturation_pressure_pa,
    standard_pressure_pa,
)
from ridesim.environment.power_correction import STANDARDS, correction_factor, ride_day_factor
from ridesim.environment.road import from_drag_area
from ridesim.environment.road_forces import coast_down_time_s, drag_n, resistance_n, slope_rad
from ridesim.fueling.openings import equivalent_diameter_m
from ridesim.units import G

pytestmark = pytest.mark.identities

speeds = st.floats(0.0, 60.0)
winds = st.floats(-40.0, 40.0)
kelvins = st.floats(235.0, 325.0)
shares = st.floats(0.0, 1.0)
f0s, f2s, masses = st.floats(0.0, 300.0), st.floats(0.0, 2.0), st.floats(100.0, 600.0)


def reference_air(standard):
    kelvin, dry = (293.15, 101.3e3) if standard == "DIN 70020" else (298.15, 99e3)
    return air(temperature_k=kelvin, relative_humidity=0.0, pressure_pa=dry)


@pytest.mark.parametrize(("f0", "f2"), [(36.7749, 0.36), (95.0, 0.39), (0.0, 0.29), (40.0, 0.0), (3.4, 0.3), (1e-9, 1)])
@pytest.mark.parametrize(("fast", "slow"), [(120 / 3.6, 60 / 3.6), (70 / 3.6, 60 / 3.6), (30.0, 1.0)])
def test_coast_down_is_what_integrating_the_equation_of_motion_gives(f0, f2, fast, slow):
    mass = 250.0
    reached = lambda t, y: y[0] - slow  # noqa: E731
    reached.terminal = True
    run = solve_ivp(
        lambda t, y: [-(f0 + f2 * y[0] ** 2) / mass, y[0]],
        (0.0, 1e5),
        [fast, 0.0],
        events=reached,
        method="DOP853",
        rtol=1e-12,
        atol=1e-12,
    )
    time = run.t_events[0][0]
    assert coast_down_time_s(fast, slow, f0, f2, mass) == pytest.approx(time, rel=1e-10)


def test_saturation_pressure_rises_with_temperature_and_ice_meets_water_at_the_triple_point():
    kelvin = np.linspace(203.15, 333.15, 4001)
    assert np.all(np.diff(saturation_pressure_pa(kelvin)) > 0)
    below, above = saturation_pressure_pa(273.16 - 1e-9), saturation_pressure_pa(273.16)
    assert below == pytest.approx(above, rel=1e-4)
    assert above == pytest.approx(611.657, rel=1e-4)


def test_a_geopotential_metre_is_less_than_a_map_metre_above_the_sea():
    h = np.array([-1000.0, 0.0, 1000.0, 3000.0])
    assert list(np.sign(h - geopotential_m(h))) == [1.0, 0.0, 1.0, 1.0]
    ratio = standard_pressure_pa(geopotential_m(3000.0)) / standard_pressure_pa(3000.0)
    assert ratio - 1 == pytest.approx(0.00018, abs=5e-6)


@pytest.mark.parametrize("standard", STANDARDS)
def test_at_its_reference_air_a_standard_changes_nothing(standard):
    assert ride_day_factor(standard, reference_air(standard)).factor == pytest.approx(1.0, abs=1e-12)


@pytest.mark.parametrize("standard", STANDARDS)
def test_thin_and_hot_air_ask_for_a_larger_correction(standard):
    base = air(temperature_k=293.15, relative_humidity=0.5, pressure_pa=98e3)
    thin = air(temperature_k=293.15, relative_humidity=0.5, pressure_pa=90e3)
    hot = air(temperature_k=308.15, relative_humidity=0.5, pressure_pa=98e3)
    least = correction_factor(standard, base)
    assert correction_factor(standard, thin) > least and correction_factor(standard, hot) > least


@given(kelvins, shares, st.floats(70e3, 105e3))
def test_a_sheet_measured_in_the_air_of_the_day_needs_no_correction(kelvin, humidity, pressure):
    day = air(temperature_k=kelvin, relative_humidity=humidity, pressure_pa=pressure)
    assert ride_day_factor("as measured", day, day).factor == 1.0


def test_a_raw_sheet_and_its_corrected_twin_give_the_same_day():
    sheet = air(temperature_k=300.0, relative_humidity=0.6, pressure_pa=97e3)
    day = air(temperature_k=280.0, relative_humidity=0.3, pressure_pa=92e3)
    raw = ride_day_factor("as measured", day, sheet).factor
    corrected = correction_factor("SAE J1349", sheet) * ride_day_factor("SAE J1349", day).factor
    assert raw == pytest.approx(corrected, rel=1e-14)


@given(speeds, winds, winds, st.floats(0.01, 2.0))
def test_more_head_wind_is_more_resistance(speed, one, other, f2):
    calm, strong = sorted((one, other))

    def against(wind):
        return resistance_n(speed, 30.0, 0.5, f2, 250.0, 0.05, wind)

    assert against(calm) <= against(strong)
    if strong - calm > 1e-3 and max(abs(speed + calm), abs(speed + strong)) > 0.1:
        assert against(calm) < against(strong)


@given(speeds, winds, f2s)
def test_drag_turns_with_the_air(speed, wind, f2):
    assert drag_n(speed, f2, wind) == -drag_n(-speed, f2, -wind)


def test_on_a_slope_only_the_rolling_part_shrinks_and_the_weight_pulls():
    angle = slope_rad(0.2)
    level, hill = (resistance_n(0.0, 40.0, 0.0, 0.4, 250.0, a, 0.0) for a in (0.0, angle))
    assert hill - level == pytest.approx(250 * G * math.sin(angle) - 40 * (1 - math.cos(angle)), rel=1e-13)


def test_forces_and_times_scale_by_their_units():
    """With half meters, third seconds and fifths of a kilogram as units every result moves by its declared unit."""
    m, s, kg = 2.0, 3.0, 5.0
    n = kg * m / s**2
    v, w, f0, f1, f2, mass = 25.0, -4.0, 35.0, 0.7, 0.41, 260.0
    there = [x * u for x, u in ((v, m / s), (f0, n), (f1, n * s / m), (f2, n * s**2 / m**2))]
    # on the level: there the weight, and with it the fixed G, drops out
    assert resistance_n(*there, mass * kg, 0.0, w * m / s) == pytest.approx(
        n * resistance_n(v, f0, f1, f2, mass, 0.0, w), rel=1e-13
    )
    fast, slow = there[0], 10.0 * m / s
    assert coast_down_time_s(fast, slow, there[1], there[3], mass * kg) == pytest.approx(
        s * coast_down_time_s(v, 10.0, f0, f2, mass), rel=1e-13
    )
    two = equivalent_diameter_m([0.03, 0.02])
    assert equivalent_diameter_m([0.03 * m, 0.02 * m]) == pytest.approx(m * two, rel=1e-13)


@given(st.floats(0.1, 1.5), st.floats(0.0, 0.1), masses, st.floats(0.8, 1.3), speeds)
def test_road_load_from_parts_is_the_sum_of_rolling_and_drag(area, rolling, mass, density, speed):
    load = from_drag_area(area, rolling, mass, density)
    together = resistance_n(speed, load.f0_n, load.f1_n_s_m, load.f2_n_s2_m2, mass, 0.0, 0.0)
    assert together == pytest.approx(rolling * mass * G + 0.5 * density * area * speed**2, rel=1e-12)


@given(st.lists(st.floats(0.001, 0.1), min_size=1, max_size=8))
def test_holes_side_by_side_have_the_area_of_the_one(diameters):
    areas = sum(math.pi / 4 * d**2 for d in diameters)
    assert math.pi / 4 * equivalent_diameter_m(diameters) ** 2 == pytest.approx(areas, rel=1e-12)
