"""Tire sizes, load indices, speed symbols and roll-outs beside the digits that outside sources print.

Two of the printed tables were written by riders, not by the standard's publisher; they stand as second sources beside
the figures of UN Regulation 75, which ridesim holds from memory. Car sizes are used too: the rule is the same.
"""

from __future__ import annotations

import math

import pytest
from support.printed import Printed

from ridesim.parts.tire import (
    chord_rolling_circumference_m,
    overall_diameter_m,
    parse_marking,
    roll_out_circumference_m,
    section_height_m,
)
from ridesim.units import kmh

pytestmark = pytest.mark.published

INCH = 0.0254
WHOLE_MM = "UN R75 rounds rim diameter and section height half up to whole mm, the source does not round"

# --- load index: https://www.oocities.org/fwarner_au/mc_things/tyrecodes.html, every row it prints ---
LOAD_PAGE = "Motor Cycle Tyre Codes, https://www.oocities.org/fwarner_au/mc_things/tyrecodes.html, load index table"
LOADS = """
10 60 20 80 24 90 26 95 30 106 31 109 32 112 33 115 34 118 35 121 36 125 37 128 38 132 39 136 40 140 41 145 42 150
43 155 44 160 45 165 46 170 47 175 48 180 49 185 50 190 51 195 52 200 53 206 54 212 55 218 56 224 57 230 58 236 59 243
60 250 61 257 62 265 63 272 64 280 65 290 66 300 67 307 68 315 69 325 70 335 71 345 72 355 73 365 74 375 75 387 76 400
77 412 78 425 79 437 80 450 81 462 82 475 83 487 84 500 85 515 86 530 87 545 88 560 89 580 90 600 91 615 92 630 93 650
94 670 95 690
"""
LOAD_CASES = [
    Printed(id=f"load-index-{index}", quantity="load capacity", given=f"load index {index}", printed=kg, unit="kg",
            source=LOAD_PAGE, compute=lambda index=index: parse_marking(f"120/90-18 {index}S").load_capacity_kg)
    for index, kg in zip(LOADS.split()[::2], LOADS.split()[1::2], strict=True)
]

# --- speed symbols: the same page, and a second one ---
SPEEDS = {
    "Motor Cycle Tyre Codes, https://www.oocities.org/fwarner_au/mc_things/tyrecodes.html, speed letters":
        "B 50 J 100 K 110 L 120 M 130 N 140 P 150 Q 160 R 170 S 180 T 190 U 200 H 210 V 240",
    "Tire Codes, http://mike7.000webhostapp.com/tire.htm, speed letters":
        "L 120 M 130 N 140 P 150 Q 160 R 170 S 180 T 190 U 200 H 210 V 240 W 270 Y 300",
}
SPEED_CASES = [
    Printed(id=f"speed-symbol-{symbol}-{number}", quantity="speed limit", given=f"speed symbol {symbol}",
            printed=limit, unit="km/h", source=source,
            compute=lambda symbol=symbol: kmh(parse_marking(f"120/90-18 65{symbol}").speed_limit_m_s))
    for number, (source, pairs) in enumerate(SPEEDS.items(), start=1)
    for symbol, limit in zip(pairs.split()[::2], pairs.split()[1::2], strict=True)
]


def _height_mm(marking: str) -> float:
    return 1000.0 * parse_marking(marking).section_height_m


def _diameter_mm(marking: str) -> float:
    return 1000.0 * parse_marking(marking).overall_diameter_m


SIZE_CASES = [
    Printed(id="height-130-90", quantity="section height", given="130/90 H 16", printed="117", unit="mm",
            source="How to determine motorcycle tire size, step 3, "
            "http://www.ehow.com/how_4841621_determine-motorcycle-tire-size.html",
            compute=lambda: _height_mm("130/90H16")),
    Printed(id="height-mt90", quantity="section height", given="MT90 17, the same as 130/90 17", printed="117",
            unit="mm",
            source="Making sense of motorcycle tire sizes, https://tonupboys.com/making-sense-of-motorcycle-tire-sizes/",
            compute=lambda: _height_mm("MT90-17")),
    Printed(id="width-mt90", quantity="section width", given="MT90 16", printed="130", unit="mm",
            source="Motorbike tyre sizes explained, "
            "http://www.ehow.co.uk/facts_5164636_motorcycle-tire-sizes-explained.html",
            compute=lambda: 1000.0 * parse_marking("MT90-16").section_width_m),
    Printed(id="height-215-40", quantity="section height", given="215 mm, aspect 40", printed="86", unit="mm",
            source="Formulas, http://0xff.com/formulas.html, aspect ratio",
            compute=lambda: 1000.0 * section_height_m(0.215, 0.40)),
    Printed(id="height-205-60", quantity="section height", given="205/60R15 82S", printed="123", unit="mm",
            source="Tire Codes, http://mike7.000webhostapp.com/tire.htm", compute=lambda: _height_mm("205/60R15 82S")),
    Printed(id="height-195-60", quantity="section height", given="195/60R14", printed="117", unit="mm",
            source="https://fcnoticias.com.br/tag/modificacao", compute=lambda: _height_mm("195/60R14")),
    Printed(id="diameter-195-60", quantity="overall diameter", given="195/60R14", printed="589.6", unit="mm",
            source="https://fcnoticias.com.br/tag/modificacao", compute=lambda: _diameter_mm("195/60R14"),
            tolerance=0.5, reason=WHOLE_MM),
    Printed(id="height-165-80", quantity="section height", given="165/80-14", printed="132", unit="mm",
            source="Calculating tire diameter, https://smartdiyer.com/calculating-tyre-diameter/",
            compute=lambda: _height_mm("165/80-14")),
    Printed(id="diameter-165-80", quantity="overall diameter", given="165/80-14", printed="24.4", unit="in",
            source="Calculating tire diameter, https://smartdiyer.com/calculating-tyre-diameter/",
            compute=lambda: _diameter_mm("165/80-14") / 25.4),
    Printed(id="diameter-200-55", quantity="overall diameter", given="200/55R18", printed="26.7", unit="in",
            source="How do motorcycle tire sizes work, "
            "https://edgehd.net/motorbike/quick-answer-how-do-motorcycle-tire-sizes-work.html",
            compute=lambda: _diameter_mm("200/55R18") / 25.4),
    Printed(id="height-225-55", quantity="section height", given="225/55R17", printed="123.75", unit="mm",
            source="http://thecartech.com/subjects/auto_eng/report1w.htm (the page halves D wrongly further on)",
            compute=lambda: _height_mm("225/55R17"), tolerance=0.5, reason=WHOLE_MM),
    Printed(id="diameter-225-55", quantity="overall diameter, unrounded parts", given="225/55R17", printed="0.6793",
            unit="m", source="http://thecartech.com/subjects/auto_eng/report1w.htm",
            compute=lambda: overall_diameter_m(17 * INCH, 0.12375)),
    Printed(id="diameter-225-55-marking", quantity="overall diameter", given="225/55R17", printed="0.6793", unit="m",
            source="http://thecartech.com/subjects/auto_eng/report1w.htm",
            compute=lambda: parse_marking("225/55R17").overall_diameter_m, tolerance=0.0015, reason=WHOLE_MM),
    Printed(id="diameter-185-70", quantity="overall diameter, unrounded parts", given="185/70R14", printed="24.196850",
            unit="in", source="Speedometer, an encyclopaedia article, section Error, as quoted at "
            "https://smartbrain.serv00.net/http-forum.xda-developers.com/t/slow-gps.431290/page-3",
            compute=lambda: overall_diameter_m(14 * INCH, 0.185 * 0.70) / INCH),
    Printed(id="diameter-195-50", quantity="overall diameter, unrounded parts", given="195/50R15", printed="22.677165",
            unit="in", source="Speedometer, an encyclopaedia article, section Error, as quoted at "
            "https://smartbrain.serv00.net/http-forum.xda-developers.com/t/slow-gps.431290/page-3",
            compute=lambda: overall_diameter_m(15 * INCH, 0.195 * 0.50) / INCH),
    Printed(id="radius-215-65", quantity="free radius, unrounded parts", given="215/65R15, H 139.75 mm",
            printed="330.25", unit="mm", source="Tire rolling circumference calculation example, "
            "https://mechguru.com/vehicle-design/tire-rolling-circumference-calculation-example/",
            compute=lambda: 1000.0 * overall_diameter_m(15 * INCH, 0.13975) / 2.0),
    Printed(id="height-inch-3.50", quantity="section height, normal section", given="3.50-18", printed="3.50",
            unit="in",
            source="Tyre maker's fitment guide, yumpu.com document 3716876, p. 9",
            compute=lambda: parse_marking("3.50-18").section_height_m / INCH),
    Printed(id="height-inch-4.10", quantity="section height, low section", given="4.10-19", printed="3.7", unit="in",
            source="Tyre maker's fitment guide, yumpu.com document 3716876, p. 9",
            compute=lambda: parse_marking("4.10-19").section_height_m / INCH),
    Printed(id="circumference-undeflected", quantity="circumference of the free tire", given="diameter 27.24 in",
            printed="85.577", unit="in", source="http://credit-help.biz/bank/3899 (road speed from engine speed)",
            compute=lambda: chord_rolling_circumference_m(27.24 / 2, 0.0)),
]

# --- roll-outs: wheel radius from a way rolled in a number of turns, measured bicycles of an open dataset ---
DATASET = "Moore, BicycleParameters, open dataset, data/bicycles, RawData and Parameters of the bicycle so rolled"
ROLL_OUTS = [  # name, way [m], turns, printed radius [m]
    ("front-1", 27.925, 13, "0.342"), ("rear-1", 27.884, 13, "0.341"),
    ("front-2", 28.060, 13, "0.344"), ("rear-2", 27.850, 13, "0.341"),
    ("front-3", 27.980, 13, "0.342550408285"), ("rear-3", 27.768, 13, "0.339954958444"),
    ("front-4", 29.366, 14, "0.334"), ("rear-4", 29.212, 14, "0.332"),
    ("front-5", 29.044, 14, "0.330178297654"), ("rear-5", 29.788, 14, "0.338636246059"),
    ("front-6", (21.0780313 + 21.0859688 + 21.0899375) / 3, 10, "0.336"),
    ("rear-6", (20.8907063 + 20.8938813 + 20.8954688) / 3, 10, "0.333"),
]
ROLL_OUT_CASES = [
    Printed(id=f"roll-out-{name}", quantity="rolling radius by roll-out", given=f"{way:.6g} m in {turns} turns",
            printed=radius, unit="m", source=DATASET,
            compute=lambda way=way, turns=turns: roll_out_circumference_m(way, turns) / (2 * math.pi))
    for name, way, turns, radius in ROLL_OUTS
]


@pytest.mark.parametrize("case", LOAD_CASES, ids=str)
def test_load_capacity_is_the_printed_one(case, beside):
    beside(case)


@pytest.mark.parametrize("case", SPEED_CASES, ids=str)
def test_speed_limit_is_the_printed_one(case, beside):
    beside(case)


@pytest.mark.parametrize("case", SIZE_CASES, ids=str)
def test_size_is_the_printed_one(case, beside):
    beside(case)


@pytest.mark.parametrize("case", ROLL_OUT_CASES, ids=str)
def test_rolling_radius_is_the_printed_one(case, beside):
    beside(case)
