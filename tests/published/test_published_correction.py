"""Correction factors at the reference air of each standard, and beside factors worked by hand from the formulas.

A recalled formula is held to its own reference air: at 25 °C and 99 kPa dry (20 °C and 1013 hPa for DIN 70020, common
practice) it has to give 1.
"""

from __future__ import annotations

import pytest
from support.printed import Printed

from ridesim.surroundings.correction import STANDARDS
from ridesim.tables import cite, read_table

pytestmark = pytest.mark.published


def factors():
    for number, row in enumerate(read_table("power_correction"), start=1):
        standard = STANDARDS[row["standard"]]
        vapour = float(row["vapour_kpa"]) if standard.dry else 0.0
        pressure, kelvin = 1e3 * (float(row["pressure_kpa"]) - vapour), float(row["temperature_c"]) + 273.15
        yield Printed(
            id=f"factor-{row['standard'].replace(' ', '-')}-{number}", quantity=f"{row['standard']} factor",
            given=row["case"], printed=row["factor"], unit="-", source=cite(row),
            compute=lambda s=standard, p=pressure, t=kelvin: s.equation(p, t))


@pytest.mark.parametrize("case", [*factors()], ids=str)
def test_the_factor_is_the_one_of_the_standard(case, beside):
    beside(case)
