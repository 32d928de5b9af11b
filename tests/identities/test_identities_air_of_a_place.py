"""The air of a place known by its altitude, and what moist air does to a mixture, beside reference libraries."""

from __future__ import annotations

import fluids
import psychrolib
import pytest
from support.small_build import small

from ridesim.answers import solve
from ridesim.answers.contract import contract
from ridesim.bike import make_bike
from ridesim.environment.air import air
from ridesim.fueling.jets import richness_ratio, size_ratio_for_air
from ridesim.logs.fits.bike import with_air

pytestmark = pytest.mark.identities
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
