"""Our own table of jets against altitude and temperature: worked out by the same law, so it proves only that nothing moved."""

from __future__ import annotations

import pytest

from ridesim.environment.air import air_density_kg_m3, standard_pressure_pa, standard_temperature_k
from ridesim.fueling.jets import richness_ratio, size_ratio_for_air
from ridesim.fueling.mixture_power import stoichiometric_air_fuel_ratio
from ridesim.reference import read_table

pytestmark = pytest.mark.regression


def _density(row):
    if row["air"].startswith("ISO 2533"):
        altitude = float(row["altitude_m"])
        return air_density_kg_m3(standard_pressure_pa(altitude), standard_temperature_k(altitude), 0.0)
    return air_density_kg_m3(101325.0, float(row["air"].split(" °C")[0]) + 273.15, 0.0)


@pytest.mark.parametrize(
    "row", read_table("carburetor_altitude"), ids=lambda row: f"{row['altitude_m']}-{row['air'][:5]}"
)
def test_jets_for_altitude_and_temperature_have_not_moved(row):
    ratio = float(row["density_ratio"])
    assert _density(row) / air_density_kg_m3(101325.0, 288.15, 0.0) == pytest.approx(ratio, abs=1.5e-5)
    assert richness_ratio(1.0, ratio) == pytest.approx(float(row["richness_ratio"]), abs=6e-5)
    assert size_ratio_for_air(ratio, numbering="bore") == pytest.approx(float(row["bore_ratio_to_restore"]), abs=6e-5)
    assert 13.0 / richness_ratio(1.0, ratio) == pytest.approx(float(row["air_fuel_if_13_at_first"]), abs=6e-4)


@pytest.mark.parametrize(
    "row", [r for r in read_table("carburetor_mixture") if r["source"] == "stoichiometry"], ids=lambda row: row["id"]
)
def test_stoichiometric_ratios_have_not_moved(row):
    assert stoichiometric_air_fuel_ratio(float(row["given"])) == pytest.approx(float(row["printed"]), abs=0.005)
