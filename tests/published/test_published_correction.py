"""Correction factors at their reference air, and beside factors worked by hand from the printed formulas."""

from __future__ import annotations

import pytest
from support.printed import Printed

from ridesim.surroundings.correction import STANDARDS
from ridesim.tables import cite, read_table

pytestmark = pytest.mark.published

EU = "Regulation (EU) No 134/2014, power and torque correction factors, 3.2 (reference air of two-wheelers)"
REFERENCE = (
    ("sae-reference", "SAE J1349", "25 °C, 99 kPa dry", 298.15, 99e3, "1.000", "SAE J1349, reference air, second-hand"),
    ("sae-reference-moist", "SAE J1349", "25 °C, 100 kPa with 1 kPa of vapour", 298.15, 100e3 - 1e3, "1.000", EU),
    ("iso-reference", "ISO 1585", "25 °C, 99 kPa dry", 298.15, 99e3, "1.000", EU),
    ("iso-reference-moist", "ISO 1585", "25 °C, 100 kPa with 1 kPa of vapour", 298.15, 100e3 - 1e3, "1.000", EU),
    ("din-reference", "DIN 70020", "20 °C, 1013 hPa", 293.15, 101.3e3, "1.000",
     "DIN 70020, reference air, common practice, no source"),
)


def reference_points():
    for name, standard, given, kelvin, pressure, printed, source in REFERENCE:
        yield Printed(id=name, quantity=f"{standard} factor", given=given, printed=printed, unit="-", source=source,
                      compute=lambda s=standard, p=pressure, t=kelvin: STANDARDS[s].equation(p, t))


def worked():
    for number, row in enumerate(read_table("power_correction"), start=1):
        standard = STANDARDS[row["standard"]]
        vapour = float(row["vapour_kpa"]) if standard.dry else 0.0
        pressure, kelvin = 1e3 * (float(row["pressure_kpa"]) - vapour), float(row["temperature_c"]) + 273.15
        yield Printed(
            id=f"factor-{number}-{row['standard'].replace(' ', '-')}", quantity=f"{row['standard']} factor",
            given=row["case"], printed=row["factor"], unit="-", source=cite(row),
            compute=lambda s=standard, p=pressure, t=kelvin: s.equation(p, t))


@pytest.mark.parametrize("case", [*reference_points(), *worked()], ids=str)
def test_the_factor_is_the_one_of_the_standard(case, beside):
    beside(case)
