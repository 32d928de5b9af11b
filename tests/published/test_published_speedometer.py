"""UN Regulation 39 limits and the error by tire size, beside printed examples."""

from __future__ import annotations

import pytest
from support.printed import Printed

from ridesim.parts.speedometer import SpeedometerDrive, indicated_limits_un_r39, indicated_over_true, reading_verdict
from ridesim.tables import cite, read_table
from ridesim.units import kmh

pytestmark = pytest.mark.published

KMH = 1.0 / 3.6
ARTICLE = ("Speedometer, an encyclopaedia article, section Error, as quoted at "
           "https://smartbrain.serv00.net/http-forum.xda-developers.com/t/slow-gps.431290/page-3")
ROWS = read_table("speedometer_limits")


def _ratio(calibrated_in: float, now_in: float) -> float:
    drives = [SpeedometerDrive(front_circumference_m=1.0, rear_circumference_m=size, final_ratio=1.0)
              for size in (calibrated_in, now_in)]
    return indicated_over_true("rear wheel", calibrated=drives[0], now=drives[1])


CASES = [
    *(
        Printed(id=f"un-r39-{row['true_kmh']}", quantity="highest reading allowed", given=f"true {row['true_kmh']}",
                printed=row["indicated_most_kmh"], unit="km/h", source=cite(row),
                tolerance=1e-9, reason="the printed limit is exact",
                compute=lambda true=float(row["true_kmh"]): kmh(indicated_limits_un_r39(true * KMH).high_m_s))
        for row in ROWS
    ),
    Printed(id="tire-error-ratio", quantity="indicated over true", given="tire 24.196850 in replaced by 22.677165 in",
            printed="1.0670139", unit="-", source=ARTICLE, compute=lambda: _ratio(24.196850, 22.677165)),
    Printed(id="tire-error-percent", quantity="error", given="185/70R14 replaced by 195/50R15", printed="6.7", unit="%",
            source=ARTICLE, compute=lambda: 100.0 * (_ratio(24.196850, 22.677165) - 1.0)),
]


@pytest.mark.parametrize("case", CASES, ids=str)
def test_speedometer_figure_is_the_printed_one(case, beside):
    beside(case)


@pytest.mark.parametrize("row", ROWS, ids=lambda row: row["true_kmh"])
def test_the_printed_limit_is_the_last_reading_that_passes(row):
    """The limit itself is allowed and half a km/h more is not."""
    true, most = float(row["true_kmh"]) * KMH, float(row["indicated_most_kmh"]) * KMH
    assert reading_verdict(true, most).within
    assert not reading_verdict(true, most + 0.5 * KMH).within
