"""What air, correction and road say, and how they treat arrays."""

from __future__ import annotations

import numpy as np
import pytest

from ridesim.environment import air as air_module
from ridesim.environment import road, road_forces
from ridesim.environment.air import air, air_density_kg_m3, saturation_pressure_pa, standard_pressure_pa
from ridesim.environment.power_correction import STANDARDS, ride_day_factor, within_range

DAY = {"altitude_m": 250.0, "temperature_k": 291.15, "relative_humidity": 0.55}


def test_air_says_whether_its_pressure_was_given():
    assumed, given = air(**DAY), air(**DAY, pressure_pa=97e3)
    assert "geopotential" in assumed.assumptions[0] and "standard atmosphere" in assumed.assumptions[0]
    assert given.pressure_pa == 97e3 and "not reduced to sea level" in given.assumptions[0]
    assert not any("standard atmosphere" in text for text in given.assumptions)
    assert len(assumed.steps) == len(given.steps) + 1
    assert given.density_kg_m3 == air_density_kg_m3(97e3, given.temperature_k, given.relative_humidity)


@pytest.mark.parametrize(
    ("function", "points"),
    [
        (standard_pressure_pa, [0.0, 1500.0]),
        (air_module.standard_temperature_k, [0.0, 1500.0]),
        (air_module.geopotential_m, [0.0, 1500.0]),
        (saturation_pressure_pa, [263.15, 293.15]),
        (lambda kelvin: air_density_kg_m3(1e5, kelvin, 0.5), [263.15, 293.15]),
        (lambda fast: road_forces.coast_down_time_s(fast, 10.0, 30.0, 0.4, 250.0), [10.0, 30.0]),
    ],
)
def test_functions_take_scalars_and_arrays_alike(function, points):
    each = [function(point) for point in points]
    assert all(np.ndim(value) == 0 for value in each)
    np.testing.assert_array_equal(function(np.array(points)), each)
    np.testing.assert_array_equal(function(np.array([points])), [each])


@pytest.mark.parametrize(("factor", "inside"), [(0.93, True), (0.9299, False), (1.0, True), (1.07, True), (1.1, False)])
def test_the_range_of_the_factor_ends_at_its_bounds(factor, inside):
    assert bool(within_range(factor)) is inside


def test_out_of_range_is_said_for_the_day_and_for_the_sheet():
    mild, hill = air(**DAY), air(altitude_m=2500.0, temperature_k=300.0, relative_humidity=0.3)
    assert ride_day_factor("SAE J1349", mild).warning == ""
    assert "the day" in ride_day_factor("SAE J1349", hill).warning
    sheet = ride_day_factor("as measured", mild, hill).warning
    assert "the air of the sheet" in sheet and "the day" not in sheet


@pytest.mark.parametrize("standard", STANDARDS)
def test_the_standing_of_a_formula_is_told(standard):
    told = ride_day_factor(standard, air(**DAY))
    assert any("memory" in text or "second-hand" in text for text in told.assumptions)
    assert any(STANDARDS[standard].formula in step for step in told.steps)


def test_road_load_from_parts_takes_arrays():
    load = road.from_drag_area(np.array([0.5, 0.6]), 0.018, np.array([[200.0], [250.0], [300.0]]), 1.2)
    assert load.f2_n_s2_m2.shape == (2,) and load.f0_n.shape == (3, 1) and load.steps == ()
    assert road.from_drag_area(0.6, 0.018, 250.0, 1.2).steps


def test_a_falling_middle_term_is_taken_while_the_force_stays_above_zero():
    load = road.from_coast_down(95.0, -12.0, 0.4)
    speed = np.linspace(0, 60, 1000)
    force = road_forces.resistance_n(speed, load.f0_n, load.f1_n_s_m, load.f2_n_s2_m2, 250.0, 0.0, 0.0)
    assert force.min() > 0


def test_a_wind_from_behind_that_outruns_the_bike_pushes_it():
    assert road_forces.drag_n(10.0, 0.4, -15.0) == -10.0
    assert road_forces.resistance_n(10.0, 4.0, 0.0, 0.4, 250.0, 0.0, -15.0) == pytest.approx(-6.0)


def test_every_surface_has_its_figures_inside_their_ranges_with_a_source_and_grip_falls_from_asphalt_to_grass():
    known = [road.surface(name) for name in road.surfaces()]
    assert all(0 < one.friction_low <= one.friction <= one.friction_high <= 2 and one.where_from for one in known)
    order = [road.surface(n) for n in ("dry asphalt", "gravel", "loose gravel", "wet grass")]
    assert [s.friction for s in order] == sorted((s.friction for s in order), reverse=True)
