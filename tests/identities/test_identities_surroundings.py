"""Air, road and holes: closed forms beside integration, the air of a place, and what moist air does to a mixture beside libraries."""

from __future__ import annotations

import math

import fluids
import numpy as np
import psychrolib
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy.integrate import solve_ivp
from support.small_build import small

from ridesim.answers import solve
from ridesim.answers.contract import contract
from ridesim.bike import make_bike
from ridesim.environment.air import air, air_density_kg_m3, geopotential_m, saturation_pressure_pa, standard_pressure_pa
from ridesim.environment.power_correction import correction_factor, ride_day_factor
from ridesim.environment.road import from_drag_area
from ridesim.environment.road_forces import coast_down_time_s, resistance_n
from ridesim.errors import InputError
from ridesim.fueling.jets import richness_ratio, size_ratio_for_air
from ridesim.fueling.openings import equivalent_diameter_m
from ridesim.logs.fits.bike import with_air
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


PLACES = (0.0, 250.0, 1000.0, 2500.0, 4000.0)


@pytest.mark.parametrize("altitude", PLACES)
def test_a_place_given_by_altitude_has_the_standard_atmosphere_there(altitude):
    """Beside fluids' ATMOSPHERE_1976, which takes a geometric altitude; ISO 2533 is the same up to 11 km."""
    there = fluids.ATMOSPHERE_1976(altitude * 6356766.0 / (6356766.0 - altitude))
    found = air(altitude_m=altitude, relative_humidity=0.0)
    assert found.temperature_k == pytest.approx(there.T, abs=2e-3)
    assert found.density_kg_m3 == pytest.approx(there.rho, rel=2e-4)
    own = make_bike(small({"air.altitude": f"{altitude} m"}))
    assert own.air.temperature_k == pytest.approx(there.T, abs=2e-3)
    (told,) = (one for one in contract(solve(own))["assumptions"] if one.startswith("air.temperature"))
    assert "ISO 2533" in told and "10 °C more" in told


def test_what_ten_kelvin_do_is_told_as_it_is():
    there = air(altitude_m=2500.0, relative_humidity=0.0)
    (told,) = (one for one in there.assumptions if one.startswith("air.temperature"))
    for way, sign in ((10.0, ""), (-10.0, "+")):
        moved = air(altitude_m=2500.0, temperature_k=there.temperature_k + way, relative_humidity=0.0)
        assert f"{sign}{100 * (moved.density_kg_m3 / there.density_kg_m3 - 1):.1f} %" in told


def test_a_tolerance_of_the_altitude_moves_the_temperature_taken_from_it():
    """Of two bikes at 1000 m, known to 300 m, the one with a thermometer knows its air better by what the lapse rate takes back."""
    wide = small({"air.altitude": "1000 +- 300 m"})
    for build, ends in ((wide, (None, None)), (wide.changed({"air.temperature": "20 degC"}), (293.15, 293.15))):
        bike = make_bike(build)
        (tolerance,) = (one for one in bike.tolerances if one.path == "air.altitude")
        humidity = bike.air.relative_humidity
        up = air(altitude_m=1300.0, temperature_k=ends[0], relative_humidity=humidity).density_kg_m3
        assert tolerance.moves["air_density_kg_m3"][0] == pytest.approx(up - bike.air.density_kg_m3)


def test_another_altitude_leaves_the_thermometer_of_the_file_behind():
    build = small({"air.temperature": "30 degC"})
    assert make_bike(with_air(build, {"altitude": "2000 m"})).air.temperature_k == pytest.approx(275.15)
    assert make_bike(
        with_air(build, {"altitude": "2000 m", "temperature": "9 degC"})
    ).air.temperature_k == pytest.approx(282.15)
    assert make_bike(with_air(build, {"humidity": "90 %"})).air.temperature_k == pytest.approx(303.15)


@pytest.mark.parametrize(
    ("celsius", "humidity", "pascal"), [(35.0, 0.95, 101325.0), (30.0, 0.4, 84556.0), (10.0, 0.3, 70108.5)]
)
def test_moist_air_draws_the_fuel_and_dry_air_burns_it(celsius, humidity, pascal):
    """rho_moist by psychrolib, rho_dry as its moist density over 1 + humidity ratio; against dry air of the same state."""
    psychrolib.SetUnitSystem(psychrolib.SI)
    water = psychrolib.GetHumRatioFromRelHum(celsius, humidity, pascal)
    moist = psychrolib.GetMoistAirDensity(celsius, water, pascal)
    dry_part, all_dry = moist / (1 + water), psychrolib.GetMoistAirDensity(celsius, 0.0, pascal)
    richer = (moist**0.5 / dry_part) / (all_dry**0.5 / all_dry)
    now, before = (
        air(temperature_k=celsius + 273.15, relative_humidity=h, pressure_pa=pascal) for h in (humidity, 0.0)
    )
    ratio = now.metering_density_kg_m3 / before.metering_density_kg_m3
    assert richness_ratio(1.0, ratio) == pytest.approx(richer, rel=3e-4)
    assert size_ratio_for_air(ratio, numbering="bore") == pytest.approx(richer**-0.5, rel=2e-4)
