"""Sprockets, chain lengths, centre distances and chain sizes beside the digits that outside sources print.

The textbooks compute with the handbook form of the chain length, so that form is held to their digits; the two-circle
form, which ridesim fits chains by, stands beside each of them with the difference of the two forms as its tolerance.
A journal paper's "exact" 114.305 links for 20 and 63 teeth is not used: two circles give 114.805, the handbook form
114.80, and the paper itself quotes 114.8 from a design handbook, which is used.
"""

from __future__ import annotations

import math

import pytest
from support.printed import Printed

from ridesim.parts.chain import (
    CHAINS,
    centre_distance_handbook_m,
    centre_distance_m,
    chain_pull_n,
    chain_size,
    links_exact,
    links_handbook,
    pitch_radius_m,
    share_of_strength,
)
from ridesim.tables import cite, read_table

pytestmark = pytest.mark.published

INCH = 0.0254

# --- pitch diameters, every row the two pages print ---
DIAMETERS = [
    Printed(
        id=f"pitch-diameter-{row['teeth']}-{row['pitch_mm']}",
        quantity="sprocket pitch diameter",
        given=f"{row['teeth']} teeth, pitch {row['pitch_mm']} mm",
        printed=row["pitch_diameter_mm"],
        unit="mm",
        source=cite(row),
        compute=lambda row=row: 2.0 * pitch_radius_m(float(row["pitch_mm"]), int(row["teeth"])),
    )
    for row in read_table("sprocket_geometry")
]
BHANDARI_14_4 = "Bhandari, Design of Machine Elements, example 14.4"
DIAMETERS += [
    Printed(id=f"bhandari-14.4-{name}", quantity="sprocket pitch diameter", given=f"{teeth} teeth, pitch 19.05 mm",
            printed=printed, unit="mm", source=BHANDARI_14_4,
            compute=lambda teeth=teeth: 2.0 * pitch_radius_m(19.05, teeth))
    for name, teeth, printed in (("D1", 17, "103.673741"), ("D2", 34, "206.462975"))
]
DIAMETERS.append(
    Printed(id="khurmi-11.23-pitch", quantity="pitch of a chain", given="40 teeth on a pitch circle of 600 mm",
            printed="47.1", unit="mm", source="Khurmi and Gupta, Theory of Machines, example 11.23, p. 376",
            compute=lambda: 300.0 / pitch_radius_m(1.0, 40)))  # fmt: skip

# --- chain lengths and centre distances of textbooks ---
ROWS = {row["id"]: row for row in read_table("chain_worked_examples")}
FORMS = {"handbook": (links_handbook, centre_distance_handbook_m), "exact": (links_exact, centre_distance_m)}
TWO_CIRCLES = "the source computes with the handbook form, which is a series cut short; the row allows the difference of the two"
# the difference of the forms, rounded up: links, and the length or centre distance that goes with them, in mm
DIFFER = {"links": 0.005, "mm": 0.05, "pitches": 0.01, "m": 3e-4}


def worked(row: dict[str, str], form: str) -> float:
    """The figure of a row, in its unit, with the wanted form; the pitch is kept in millimetres, as printed."""
    length, centre = FORMS[form]
    z1, z2, p, c = int(row["front_teeth"]), int(row["rear_teeth"]), float(row["pitch_mm"]), float(row["centre_distance_mm"])
    what = row["quantity"]
    if what == "links":
        return length(c, p, z1, z2)
    if what == "chain length":
        return length(c, p, z1, z2) * p / (1000.0 if row["unit"] == "m" else 1.0)
    if what == "centre distance for the links of C = 300 mm":
        return centre(links_handbook(c, p, z1, z2), p, z1, z2)
    links = int(what.split("for ")[1].split(" ")[0])
    found = centre(links, p, z1, z2)
    if "less 0.2 %" in what:
        found *= 1.0 - 0.002
    return found / p if row["unit"] == "pitches" else found


def example(row: dict[str, str], form: str) -> Printed:
    own = form == "handbook" and row["form"] == "handbook"
    reason = "" if own else TWO_CIRCLES
    if row["form"] == "two radii" and form == "handbook":
        reason = "the source's last term takes the two pitch radii where the handbook form takes z p/(2 pi)"
    digits = 0.5 * 10.0 ** -len(row["printed"].partition(".")[2])
    return Printed(
        id=f"{row['id']}-{form}",
        quantity=f"{row['quantity']}, {form} form",
        given=f"{row['front_teeth']} and {row['rear_teeth']} teeth, p {row['pitch_mm']} mm, C {row['centre_distance_mm']} mm",
        printed=row["printed"],
        unit=row["unit"],
        source=cite(row),
        compute=lambda: worked(row, form),
        tolerance=None if own else digits + DIFFER[row["unit"]],
        reason=reason,
    )


LENGTHS = [example(row, form) for row in ROWS.values() for form in FORMS]


# --- chain pull and factor of safety: the books take the mean chain speed z p n / 60, a circle of z p in circumference ---
def mean_radius(teeth: int, pitch_m: float) -> float:
    return teeth * pitch_m / (2.0 * math.pi)


def book_pull(power_w: float, speed_rpm: float, radius_m: float) -> float:
    return chain_pull_n(power_w / (speed_rpm * 2.0 * math.pi / 60.0), 1.0, 1.0, radius_m, 1.0)


PITCH_CIRCLE = "the source takes the mean chain speed; on the pitch circle the pull is less by (pi/z)/sin(pi/z)"
PULLS = [
    Printed(id="bhandari-14.1-safety", quantity="factor of safety", unit="-", printed="11.722224",
            given="17 teeth, 19.05 mm, 14.32 kW at 1000 rev/min, breaking load 31100 N",
            source="Bhandari, Design of Machine Elements, example 14.1",
            compute=lambda: 1.0 / share_of_strength(book_pull(14320.0, 1000.0, mean_radius(17, 0.01905)), 31100.0)),
    Printed(id="bhandari-14.1-safety-pitch-circle", quantity="factor of safety, pull on the pitch circle", unit="-",
            printed="11.722224", given="17 teeth, 19.05 mm, 14.32 kW at 1000 rev/min, breaking load 31100 N",
            source="Bhandari, Design of Machine Elements, example 14.1", tolerance=0.07, reason=PITCH_CIRCLE,
            compute=lambda: 1.0 / share_of_strength(book_pull(14320.0, 1000.0, pitch_radius_m(0.01905, 17)), 31100.0)),
    Printed(id="jindal-30.3-pull", quantity="chain pull", unit="N", printed="767.6",
            given="21 teeth, 9.52 mm, 2557.8 W at 1000 rev/min",
            source="Jindal, Machine Design, example 30-3, p. 779",
            compute=lambda: book_pull(2030.0 * 1.26, 1000.0, mean_radius(21, 0.00952))),
    Printed(id="jindal-30.3-pull-pitch-circle", quantity="chain pull on the pitch circle", unit="N", printed="767.6",
            given="21 teeth, 9.52 mm, 2557.8 W at 1000 rev/min",
            source="Jindal, Machine Design, example 30-3, p. 779", tolerance=3.0, reason=PITCH_CIRCLE,
            compute=lambda: book_pull(2030.0 * 1.26, 1000.0, pitch_radius_m(0.00952, 21))),
    Printed(id="jindal-30.3-safety", quantity="factor of safety", unit="-", printed="13.94",
            given="21 teeth, 9.52 mm, 2557.8 W at 1000 rev/min, breaking load 10700 N",
            source="Jindal, Machine Design, example 30-3, p. 779",
            compute=lambda: 1.0 / share_of_strength(book_pull(2030.0 * 1.26, 1000.0, mean_radius(21, 0.00952)), 10700.0)),
]  # fmt: skip

# --- chain sizes: the digits on the side plates, and what a second page prints ---
CODE_PAGE = "How chain specifications are analyzed, http://bluegauges.com/reference/chains.htm"
WRITEUP = "Motorcycle chain, the rule of eights, https://everything2.com/user/eav/writeups/Motorcycle+chain"
ROUNDED = "tables of dimensions round the fraction of an inch their own way, by up to 0.013 mm"
SIZES = [
    Printed(id=f"pitch-code-{name}", quantity="pitch", given=f"first digit of {name}, in eighths of an inch",
            printed={"4": "0.500", "5": "0.625", "6": "0.750"}[name[0]], unit="in", source=CODE_PAGE,
            compute=lambda name=name: chain_size(name).pitch_m / INCH)
    for name in CHAINS
]
SIZES += [
    Printed(id=f"width-code-{name}", quantity="inner width", given=f"last two digits of {name}, in eightieths of an inch",
            printed=printed, unit="in", source=CODE_PAGE, tolerance=0.013e-3 / INCH, reason=ROUNDED,
            compute=lambda name=name: chain_size(name).inner_width_m / INCH)
    for name, printed in (("420", "0.2500"), ("520", "0.2500"), ("525", "0.3125"), ("530", "0.3750"))
]
SIZES += [
    Printed(id=f"pitch-writeup-{name}", quantity="pitch", given=f"chain {name}", printed=printed, unit="mm",
            source=WRITEUP, compute=lambda name=name: 1000.0 * chain_size(name).pitch_m)
    for name, printed in (("420", "12.70"), ("525", "15.88"), ("530", "15.88"))
]
SIZES += [
    Printed(id=f"width-writeup-{name}", quantity="inner width", given=f"chain {name}", printed=printed, unit="mm",
            source=WRITEUP, compute=lambda name=name: 1000.0 * chain_size(name).inner_width_m, tolerance=0.013,
            reason=ROUNDED)
    for name, printed in (("420", "6.35"), ("525", "7.94"), ("530", "9.52"))
]


@pytest.mark.parametrize("case", [*DIAMETERS, *LENGTHS, *PULLS, *SIZES], ids=str)
def test_matches_the_printed_value(case, beside):
    beside(case)


def test_all_rows_of_the_pages_are_held():
    assert len(read_table("sprocket_geometry")) == 28
    assert {row["form"] for row in ROWS.values()} == {"handbook", "two radii"}


def test_sizes_that_the_code_page_calls_alike_or_larger():
    """The same page: 520, 525 and 530 have one roller diameter; 428 and 532 have larger rollers than their like."""
    rollers = {name: size.roller_diameter_m for name, size in CHAINS.items()}
    assert rollers["520"] == rollers["525"] == rollers["530"]
    assert rollers["428"] > rollers["420"] and rollers["532"] > rollers["530"]
