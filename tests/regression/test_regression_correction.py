"""Correction factors by hand from the formulas as they are written here: our own digits, no document prints them."""

from __future__ import annotations

import pytest

from ridesim.environment.power_correction import STANDARDS

pytestmark = pytest.mark.regression

FACTORS = [  # °C, kPa, kPa of vapor, SAE J1349, ISO 1585, DIN 70020
    (25, 99, 0, 1.00000, 1.00000, 1.03193),
    (20, 101.325, 0, 0.96321, 0.96270, 0.99975),
    (15, 101.325, 0, 0.95341, 0.95281, 0.99119),
    (20, 101.325, 1.1694, 0.97656, 0.97621, 0.99975),
    (35, 95, 0, 1.07015, 1.07175, 1.09327),
    (10, 103, 0, 0.92526, 0.92448, 0.96657),
    (30, 84.556, 1.6984, 1.24167, 1.25054, 1.21830),
    (25, 100, 1, 1.00000, 1.00000, 1.02161),
]


@pytest.mark.parametrize(("celsius", "pressure", "vapor", "sae", "iso", "din"), FACTORS)
def test_the_factors_are_those_worked_by_hand(celsius, pressure, vapor, sae, iso, din):
    for name, factor in (("SAE J1349", sae), ("ISO 1585", iso), ("DIN 70020", din)):
        law = STANDARDS[name]
        counted = pressure - vapor if law.dry else pressure
        assert law.equation(1e3 * counted, celsius + 273.15) == pytest.approx(factor, abs=5e-6 + 1e-9)
