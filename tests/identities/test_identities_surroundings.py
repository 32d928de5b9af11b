"""Closed forms beside integration, limits, monotone laws and a change of base units for air, road and holes."""

from __future__ import annotations

import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy.integrate import solve_ivp

from ridesim.environment.air import air, air_density_kg_m3, geopotential_m, saturation_pressure_pa, standard_pressure_pa
from ridesim.environment.power_correction import correction_factor, ride_day_factor
from ridesim.environment.road import from_drag_area
from ridesim.environment.road_forces import coast_down_time_s, resistance_n
from ridesim.errors import InputError
from ridesim.fueling.openings import equivalent_diameter_m
from ridesim.units import G

pytestmark = pytest.mark.identities

speeds = st.floats(0.0, 60.0)
f0s, f2s, masses = st.floats(0.0, 300.0), st.floats(0.0, 2.0), st.floats(100.0, 600.0)


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


def test_vapor_that_one_of_several_pressures_cannot_hold_is_refused():
    with pytest.raises(InputError, match="more vapor"):
        air_density_kg_m3(np.array([101325.0, 25e3]), 340.0, 1.0)


def test_a_geopotential_metre_is_less_than_a_map_metre_above_the_sea():
    h = np.array([-1000.0, 0.0, 1000.0, 3000.0])
    assert list(np.sign(h - geopotential_m(h))) == [1.0, 0.0, 1.0, 1.0]
    ratio = standard_pressure_pa(geopotential_m(3000.0)) / standard_pressure_pa(3000.0)
    assert ratio - 1 == pytest.approx(0.00018, abs=5e-6)


def test_a_raw_sheet_and_its_corrected_twin_give_the_same_day_and_the_air_of_the_day_needs_no_correction():
    sheet = air(temperature_k=300.0, relative_humidity=0.6, pressure_pa=97e3)
    day = air(temperature_k=280.0, relative_humidity=0.3, pressure_pa=92e3)
    raw = ride_day_factor("as measured", day, sheet).factor
    corrected = correction_factor("SAE J1349", sheet) * ride_day_factor("SAE J1349", day).factor
    assert raw == pytest.approx(corrected, rel=1e-14)
    assert ride_day_factor("as measured", day, day).factor == 1.0


@given(st.floats(0.1, 1.5), st.floats(0.0, 0.1), masses, st.floats(0.8, 1.3), speeds)
def test_road_load_from_parts_is_the_sum_of_rolling_and_drag(area, rolling, mass, density, speed):
    load = from_drag_area(area, rolling, mass, density)
    together = resistance_n(speed, load.f0_n, load.f1_n_s_m, load.f2_n_s2_m2, mass, 0.0, 0.0)
    assert together == pytest.approx(rolling * mass * G + 0.5 * density * area * speed**2, rel=1e-12)


@given(st.lists(st.floats(0.001, 0.1), min_size=1, max_size=8))
def test_holes_side_by_side_have_the_area_of_the_one(diameters):
    areas = sum(math.pi / 4 * d**2 for d in diameters)
    assert math.pi / 4 * equivalent_diameter_m(diameters) ** 2 == pytest.approx(areas, rel=1e-12)
