"""Air and road: closed forms beside integration, and the air of a place."""

from __future__ import annotations

import pytest
from scipy.integrate import quad
from support.small_build import small

from ridesim.answers import solve
from ridesim.answers.contract import contract
from ridesim.bike import make_bike
from ridesim.environment.air import air
from ridesim.environment.power_correction import correction_factor, ride_day_factor
from ridesim.environment.road_forces import coast_down_time_s
from ridesim.logs.fits.bike import with_air

pytestmark = pytest.mark.identities


@pytest.mark.parametrize(
    ("f0", "f2", "wanted"),
    [
        (40.0, 0.0, 250.0 * (30.0 - 10.0) / 40.0),
        (0.0, 0.29, 250.0 * (1 / 10.0 - 1 / 30.0) / 0.29),
        (1e-9, 0.29, 250.0 * (1 / 10.0 - 1 / 30.0) / 0.29),
        (95.0, 0.39, 250.0 * quad(lambda v: 1 / (95.0 + 0.39 * v**2), 10.0, 30.0)[0]),
    ],
)
def test_a_coast_down_takes_the_integral_of_mass_over_force(f0, f2, wanted):
    assert coast_down_time_s(30.0, 10.0, f0, f2, 250.0) == pytest.approx(wanted, rel=1e-9)


def test_a_raw_sheet_and_its_corrected_twin_give_the_same_day_and_the_air_of_the_day_needs_no_correction():
    sheet = air(temperature_k=300.0, relative_humidity=0.6, pressure_pa=97e3)
    day = air(temperature_k=280.0, relative_humidity=0.3, pressure_pa=92e3)
    raw = ride_day_factor("as measured", day, sheet).factor
    corrected = correction_factor("SAE J1349", sheet) * ride_day_factor("SAE J1349", day).factor
    assert raw == pytest.approx(corrected, rel=1e-14)
    assert ride_day_factor("as measured", day, day).factor == 1.0


def test_a_place_given_by_altitude_has_the_standard_atmosphere_there():
    own = make_bike(small({"air.altitude": "2500 m"}))
    assert own.air.temperature_k == pytest.approx(288.15 - 0.0065 * 2500.0)
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
