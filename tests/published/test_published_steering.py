"""Trail beside the digits of published bicycle data: the geometry is the same on a motorcycle."""

from __future__ import annotations

import math

import pytest
from support.printed import Printed

from ridesim.parts.steering import mechanical_trail_m, trail_m
from ridesim.parts.tire import roll_out_circumference_m

pytestmark = pytest.mark.published

TOOLKIT = "Moore, DynamicistToolKit, dtk/bicycle.py, trail(), worked example in the docstring"
DATASET = "Moore, BicycleParameters, open dataset, data/bicycles, RawData and Parameters of the bicycle so rolled"
FULL_FLOAT = "printed to the last digit of a double, where order of operations shows"

MEASURED = [  # name, way [m], turns, head angle from the ground [deg], fork offset [m], printed trail [m]
    ("1", 27.925, 13, 72.7, 0.0565, "0.047"),
    ("2", 28.060, 13, 67.1, 0.0705, "0.0686"),
    ("3", 27.980, 13, 69.0, 0.0450, "0.0832912572138"),
    ("4", 29.366, 14, 74.2, 0.0315, "0.062"),
    ("5", 29.044, 14, 71.1, 0.0385, "0.0723512958768"),
]
CASES = [
    Printed(id="trail-toolkit", quantity="trail", given="R 0.3 m, rake 10 deg, offset 0.05 m",
            printed="0.002126763618252235", unit="m", source=TOOLKIT, tolerance=1e-15, reason=FULL_FLOAT,
            compute=lambda: trail_m(0.3, math.radians(10), 0.05)),
    Printed(id="mechanical-trail-toolkit", quantity="mechanical trail", given="R 0.3 m, rake 10 deg, offset 0.05 m",
            printed="0.0020944533000790966", unit="m", source=TOOLKIT, tolerance=1e-15, reason=FULL_FLOAT,
            compute=lambda: mechanical_trail_m(0.3, math.radians(10), 0.05)),
    Printed(id="trail-meijaard-2007", quantity="trail of the benchmark bicycle",
            given="R 0.35 m, rake pi/10 rad, offset 0.03207142672761929 m", printed="0.08", unit="m",
            source="Meijaard et al. 2007, table 1 (c, lambda, r_F); offset d3 in dtk/bicycle.py",
            tolerance=1e-12, reason="trail and rake are exact inputs of the benchmark; the offset is printed in full",
            compute=lambda: trail_m(0.35, math.pi / 10, 0.03207142672761929)),
    *(
        Printed(id=f"trail-measured-{name}", quantity="trail", unit="m", printed=trail, source=DATASET,
                given=f"{way} m in {turns} turns, head angle {head} deg, offset {offset} m",
                compute=lambda way=way, turns=turns, head=head, offset=offset: trail_m(
                    roll_out_circumference_m(way, turns) / (2 * math.pi), math.radians(90 - head), offset))
        for name, way, turns, head, offset, trail in MEASURED
    ),
]


@pytest.mark.parametrize("case", CASES, ids=str)
def test_trail_is_the_printed_one(case, beside):
    beside(case)
