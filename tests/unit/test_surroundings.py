"""What air, correction, road and hole refuse, what they say, and how they treat arrays."""

from __future__ import annotations

from dataclasses import FrozenInstanceError, replace
from itertools import pairwise

import numpy as np
import pytest

from ridesim.environment import air as air_module
from ridesim.environment import road, road_forces
from ridesim.environment.air import air, air_density_kg_m3, saturation_pressure_pa, standard_pressure_pa
from ridesim.environment.power_correction import STANDARDS, correction_factor, ride_day_factor, within_range
from ridesim.errors import InputError
from ridesim.fueling import openings
from ridesim.reference import read_table

NAN, INF = float("nan"), float("inf")
HOSTILE = [NAN, INF, -INF, -1.0, 1e300, None, "20", "<b>", True, 1j, [], {}, [1.0, NAN]]
DAY = {"altitude_m": 250.0, "temperature_k": 291.15, "relative_humidity": 0.55}


def refused(call, where):
    with pytest.raises(InputError) as caught:
        call()
    assert caught.value.where == where
    assert "\n" not in str(caught.value)
    return str(caught.value)


@pytest.mark.parametrize("value", HOSTILE)
@pytest.mark.parametrize(
    ("name", "where"),
    [("temperature_k", "air.temperature"), ("relative_humidity", "air.humidity"), ("pressure_pa", "air.pressure")],
)
def test_air_refuses_what_is_no_weather(name, where, value):
    if value is None and name != "relative_humidity":  # that of the standard atmosphere
        left_out = {key: one for key, one in DAY.items() if key != name}
        assert air(**{**DAY, name: None}) == air(**left_out)
        return
    refused(lambda: air(**{**DAY, name: value}), where)


@pytest.mark.parametrize(
    ("name", "value"),
    [("temperature_k", 500.0), ("temperature_k", 18.0), ("relative_humidity", 1.01), ("relative_humidity", 55.0),
     ("relative_humidity", -0.01), ("pressure_pa", 1013.0), ("altitude_m", 11001.0), ("altitude_m", -1001.0),
     ("altitude_m", NAN), ("altitude_m", [0.0, 100.0])],
)  # fmt: skip
def test_air_refuses_slips_of_unit_and_figures_out_of_range(name, value):
    refused(lambda: air(**{**DAY, name: value}), "air." + name.replace("relative_", "").split("_")[0])


def test_an_altitude_out_of_range_is_refused_even_beside_a_pressure():
    refused(lambda: air(**{**DAY, "altitude_m": 20000.0, "pressure_pa": 95e3}), "air.altitude")


def test_air_says_whether_its_pressure_was_given():
    assumed, given = air(**DAY), air(**DAY, pressure_pa=97e3)
    assert "geopotential" in assumed.assumptions[0] and "standard atmosphere" in assumed.assumptions[0]
    assert given.pressure_pa == 97e3 and "not reduced to sea level" in given.assumptions[0]
    assert not any("standard atmosphere" in text for text in given.assumptions)
    assert len(assumed.steps) == len(given.steps) + 1


def test_air_adds_up_and_is_frozen():
    day = air(**DAY)
    assert day.dry_pressure_pa + day.vapor_pressure_pa == pytest.approx(day.pressure_pa, rel=1e-15)
    assert day.density_kg_m3 == air_density_kg_m3(day.pressure_pa, day.temperature_k, day.relative_humidity)
    with pytest.raises(FrozenInstanceError):
        day.density_kg_m3 = 1.2


def test_more_vapor_than_pressure_is_refused():
    hot = {"temperature_k": 339.0, "relative_humidity": 1.0, "pressure_pa": 21e3}
    refused(lambda: air(**hot), "air.humidity")


@pytest.mark.parametrize(
    ("function", "points"),
    [
        (standard_pressure_pa, [0.0, 1500.0]),
        (air_module.standard_temperature_k, [0.0, 1500.0]),
        (air_module.geopotential_m, [0.0, 1500.0]),
        (saturation_pressure_pa, [263.15, 293.15]),
    ],
)
def test_air_functions_take_scalars_and_arrays_alike(function, points):
    each = [function(point) for point in points]
    assert all(np.ndim(value) == 0 for value in each)
    np.testing.assert_array_equal(function(np.array(points)), each)
    np.testing.assert_array_equal(function(np.array([points])), [each])


def test_density_broadcasts():
    grid = air_density_kg_m3(np.array([[9e4], [1e5]]), np.array([280.0, 290.0, 300.0]), 0.5)
    assert grid.shape == (2, 3)
    assert grid[1, 2] == air_density_kg_m3(1e5, 300.0, 0.5)


@pytest.mark.parametrize("name", ["SAE J1394", "sae j1349", "DIN70020", "", None, 7, ["SAE J1349"], "x" * 500])
def test_an_unknown_standard_is_refused_with_what_is_known(name):
    refused(lambda: correction_factor(name, air(**DAY)), "tune.standard")
    text = refused(lambda: ride_day_factor(name, air(**DAY)), "tune.standard")
    assert any(known in text for known in STANDARDS)


def test_a_slip_in_a_standard_is_answered_with_the_near_name():
    assert "Did you mean 'SAE J1349'" in refused(lambda: correction_factor("SAE J1439", air(**DAY)), "tune.standard")


def test_a_raw_sheet_needs_its_air_and_a_corrected_one_must_not_have_it():
    refused(lambda: ride_day_factor("as measured", air(**DAY)), "tune.standard")
    refused(lambda: ride_day_factor("ISO 1585", air(**DAY), air(**DAY)), "tune.standard")


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


@pytest.mark.parametrize("value", HOSTILE[:-3])
@pytest.mark.parametrize("position", range(4))
def test_road_load_from_parts_refuses_nonsense(position, value):
    figures = [0.62, 0.018, 250.0, 1.2]
    figures[position] = value
    where = ("road_load.drag_area", "road_load.rolling_resistance", "masses", "air.density")[position]
    refused(lambda: road.from_drag_area(*figures), where)


def test_road_load_from_parts_takes_arrays():
    load = road.from_drag_area(np.array([0.5, 0.6]), 0.018, np.array([[200.0], [250.0], [300.0]]), 1.2)
    assert load.f2_n_s2_m2.shape == (2,) and load.f0_n.shape == (3, 1) and load.steps == ()
    assert road.from_drag_area(0.6, 0.018, 250.0, 1.2).steps


@pytest.mark.parametrize(
    "figures",
    [(NAN, 0, 0.4), (95, INF, 0.4), (95, 0, -0.1), (-1, 0, 0.4), (0, 0, 0), ("95", 0, 0.4), (None, 0, 0.4),
     (10, -20, 0.4), ([95, 96], 0, 0.4)],
)  # fmt: skip
def test_a_coast_down_that_is_none_is_refused(figures):
    with pytest.raises(InputError, match=r"road_load\.coast_down"):
        road.from_coast_down(*figures)


def test_a_falling_middle_term_is_taken_while_the_force_stays_above_zero():
    load = road.from_coast_down(95.0, -5.0, 0.4)
    speed = np.linspace(0, 60, 1000)
    force = road_forces.resistance_n(speed, load.f0_n, load.f1_n_s_m, load.f2_n_s2_m2, 250.0, 0.0, 0.0)
    assert force.min() > 0


@pytest.mark.parametrize("row", read_table("road_load_40cfr86_529"), ids=lambda row: row["equivalent_inertia_kg"])
def test_the_regulation_is_read_by_mass_band(row):
    least, most = float(row["mass_least_kg"]), float(row["mass_most_kg"])
    loads = [road.from_40cfr86_529(mass) for mass in (least, most, least - 0.49, most + 0.49)]
    assert {load.f0_n for load in loads} == {float(row["a_n"])}
    assert all(load.f1_n_s_m == 0.0 for load in loads)
    assert "dynamometer setting" in loads[0].assumptions[0] and "lean at low speed" in loads[0].assumptions[0]


def test_the_bands_of_the_regulation_leave_no_gap():
    rows = read_table("road_load_40cfr86_529")
    for lower, upper in pairwise(rows):
        assert int(upper["mass_least_kg"]) == int(lower["mass_most_kg"]) + 1
        assert int(upper["equivalent_inertia_kg"]) == int(lower["equivalent_inertia_kg"]) + 10


@pytest.mark.parametrize("mass", [0.0, 94.4, 873.6, 1200.0])
def test_outside_its_masses_the_regulation_is_not_used(mass):
    with pytest.raises(InputError, match=r"95 to 873|from 1 to"):
        road.from_40cfr86_529(mass)


@pytest.mark.parametrize("mass", HOSTILE)
def test_a_mass_that_is_none_is_refused(mass):
    with pytest.raises(InputError):
        road.from_40cfr86_529(mass)


def test_a_wind_from_behind_that_outruns_the_bike_pushes_it():
    assert road_forces.drag_n(10.0, 0.4, -15.0) == -10.0
    assert road_forces.resistance_n(10.0, 4.0, 0.0, 0.4, 250.0, 0.0, -15.0) == pytest.approx(-6.0)


def test_a_coast_down_ends_below_where_it_starts_and_stops_only_by_rolling():
    law = road_forces.coast_down_time_s
    refused(lambda: law(10.0, 20.0, 30.0, 0.4, 250.0), "speed_to")
    refused(lambda: law(10.0, 0.0, 0.0, 0.4, 250.0), "speed_to")
    refused(lambda: law(NAN, 0.0, 30.0, 0.4, 250.0), "speed_from")
    refused(lambda: law(10.0, 0.0, -30.0, 0.4, 250.0), "f0")
    refused(lambda: law(10.0, 0.0, 30.0, 0.4, 0.0), "effective_mass")
    assert law(10.0, 10.0, 30.0, 0.4, 250.0) == 0.0
    assert law(np.array([20.0, 30.0]), 10.0, 30.0, 0.4, 250.0).shape == (2,)


@pytest.mark.parametrize("name", road.surfaces())
def test_a_surface_has_its_figures_inside_their_ranges_with_a_source(name):
    known = road.surface(name)
    assert known.name == name
    assert 0 < known.friction_low <= known.friction <= known.friction_high <= 2
    assert known.where_from


def test_grip_falls_from_asphalt_to_grass():
    order = [road.surface(n) for n in ("dry asphalt", "gravel", "loose gravel", "wet grass")]
    assert [s.friction for s in order] == sorted((s.friction for s in order), reverse=True)


@pytest.mark.parametrize("name", ["dry asphlt", "moon", "", None, 3, ["gravel"]])
def test_an_unknown_surface_is_refused_with_what_is_known(name):
    assert "gravel" in refused(lambda: road.surface(name), "surface.name") or name == "dry asphlt"


def test_a_road_load_can_be_changed_only_into_a_new_one():
    load = road.from_coast_down(95.0, 0.0, 0.39)
    assert replace(load, f0_n=80.0).f0_n == 80.0 and load.f0_n == 95.0


@pytest.mark.parametrize("other", [0.0, -0.03])
def test_a_hole_refuses_what_cannot_flow(other):
    with pytest.raises(InputError):
        openings.equivalent_diameter_m([0.03, other])
