"""What people write becomes SI by a bounded grammar of our own; what is no quantity is refused, and nothing costs time."""

from __future__ import annotations

import copy
import math
import pickle
import re
from pathlib import Path

import pint
import pytest
from hypothesis import example, given
from hypothesis import strategies as st

from ridesim import units
from ridesim.answers.text import number
from ridesim.buildfile import curve_file
from ridesim.buildfile.curve_file import parse_curve
from ridesim.buildfile.io import parse
from ridesim.errors import InputError
from ridesim.logs.reader import read_log_bytes
from ridesim.logs.reading import headings
from ridesim.units import KINDS, READINGS, in_both, in_unit, quantity, rad_s, shown_in
from ridesim.units import text as reader
from ridesim.units.table import DEFINITIONS

DEMO = (Path(__file__).parents[2] / "data/demo/coast-single.toml").read_text(encoding="utf-8")
FOOT_POUNDS = 30 * 0.3048 * 0.45359237 * 9.80665


@pytest.mark.parametrize(
    ("written", "kind", "unit", "expected"),
    [
        ("6,500", "engine speed", "rev/min", rad_s(6500)),
        ("6 500", "engine speed", "rev/min", rad_s(6500)),
        ("6\u00a0500 rpm", "engine speed", "rev/min", rad_s(6500)),
        ("6\u202f500 rpm", "engine speed", "rev/min", rad_s(6500)),
        ("6,500 rev/min", "engine speed", "rev/min", rad_s(6500)),
        ("6500rpm", "engine speed", "rev/min", rad_s(6500)),
        ("6500RPM", "engine speed", "rev/min", rad_s(6500)),
        ("12,500.5 rpm", "engine speed", "rev/min", rad_s(12500.5)),
        ("21 nm", "torque", "N*m", 21.0),
        ("21NM", "torque", "N*m", 21.0),
        ("21 N.m", "torque", "ft*lb", 21.0),
        ("5,280 ft", "length", "m", 1609.344),
        ("1 609.344 m", "length", "m", 1609.344),
        ("1,234,567 m", "length", "m", 1234567.0),
        ("1,436 mm", "length", "mm", 1.436),
        ("1,013 hPa +- 2 hPa", "pressure", "hPa", 101300.0),
        ("6,5 rpm", "engine speed", "rpm", 6.5 * 2.0 * 3.141592653589793 / 60.0),
        ("0,708 m", "length", "m", 0.708),
        ("0,64 +- 0,05 m^2", "area", "m^2", 0.64),
        ("6.500,5 rpm", "engine speed", "rpm", 6500.5 * 2.0 * 3.141592653589793 / 60.0),
        ("1'900 mm", "length", "mm", 1.9),
        ("\u22123,5 %", "ratio", "%", -0.035),
        ("1 1/4 in", "length", "mm", 0.03175),
        ("5/8 inch", "length", "mm", 0.015875),
        (1436, "length", "mm", 1.436),
        ("55 %", "ratio", "", 0.55),
        ("463 cc", "volume", "cc", 463e-6),
        ("53 PS", "power", "W", 53 * 75 * 9.80665),
        ("4.2 l/100km", "fuel consumption", "l/100km", 4.2e-8),
        ("40 mpg", "fuel consumption", "l/100km", 231 * 0.0254**3 / 1609.344 / 40),
        ("30 lb ft", "torque", "N*m", FOOT_POUNDS),
        ("30 lb-ft", "torque", "N*m", FOOT_POUNDS),
        ("4.1 kgm", "torque", "N*m", 4.1 * 9.80665),
        ("0.5 kg m2", "inertia", "kg*m2", 0.5),
        ("18 degC", "temperature", "degC", 291.15),
        ("18 deg C", "temperature", "degC", 291.15),
        ("18 ° C", "temperature", "degC", 291.15),
        ("64 degF", "temperature", "degC", 273.15 + 32 / 1.8),
        ("6000 min^-1", "engine speed", "rev/min", rad_s(6000)),
        ("6000 min-1", "engine speed", "rev/min", rad_s(6000)),
        ("6000 min⁻¹", "engine speed", "rev/min", rad_s(6000)),
        ("6000 /min", "engine speed", "rev/min", rad_s(6000)),
        ("5 KG", "mass", "kg", 5.0),
        ("50 kw", "power", "W", 50e3),
        ("90 Km/h", "speed", "km/h", 25.0),
        ("3.2 m s⁻²", "acceleration", "m/s**2", 3.2),
        ("0.39 N/(m/s)**(2)", "force per speed squared", "", 0.39),
        ("0.39 N*s**2/m^2", "force per speed squared", "", 0.39),
    ],
)
def test_a_quantity_is_read_as_riders_type_it(written, kind, unit, expected):
    assert float(quantity(written, kind, unit, "x")) == pytest.approx(expected, rel=1e-12)


@pytest.mark.parametrize(
    ("written", "kind", "says"),
    [
        ("1,436 m", "length", "may mean 1436 or 1.436"),
        ("4,600 l/100km", "fuel consumption", "may mean 4600 or 4.600"),
        ("1,225", "density", "may mean 1225 or 1.225"),
        ("2 m +- 1,005 m", "length", "may mean 1005 or 1.005"),
        ("1,234 567 mm", "length", "may mean"),
        ("12,345,67 mm", "length", "no thousands"),
        ("6.50,5 rpm", "engine speed", "no thousands"),
        ("6 50 rpm", "engine speed", "is not a unit"),
        ("5 kn", "force", "is not a unit of force"),
        ("5 KN", "force", "is not known"),
        ("5 kilogrm", "mass", "Did you mean 'kilogram"),
        ("5 pund", "mass", "Did you mean 'pound'"),
        ("0 mpg", "fuel consumption", "no distance at all"),
        (10**400, "mass", "is not a finite number"),
        # turns and angles are no bare numbers
        ("100 1/s", "engine speed", "is not a unit of"),
        ("40 m/s", "engine speed", "is not a unit of"),
        ("5 deg", "ratio", "is not a unit of"),
        ("1 rev", "ratio", "is not a unit of"),
        ("27 %", "angle", "is not a unit of"),
        ("0.5 1", "angle", "is not a unit of"),
    ],
    ids=str,
)
def test_what_cannot_be_meant_or_may_mean_two_things_is_refused_with_the_mend(written, kind, says):
    with pytest.raises(InputError) as caught:
        quantity(written, kind, KINDS[kind].si, "x")
    assert says in str(caught.value) and caught.value.fix


POWERS = ["m**9**9**9", "m^9^9^9", "m**2**2", "(m**2)**2", "m**9", "m**5", "m**0", "m**0.5", "m**-5", "m**(1+1)", "m**m", "2**99*m",
          "m+m", "m - m", "9**9**9", "m//s", "m%s", "m,s", "m;s", "m[0]", "m.real", "-m", "()", "(m", "m)", "m*", "/m", "**2", "m m m m m m m m m",
          "(" * 20 + "m" + ")" * 19, "m" * 41, "m**" * 13]  # fmt: skip


@pytest.fixture
def no_arithmetic(monkeypatch):
    """Units that may not be multiplied at all."""

    def reached(*_):
        raise AssertionError("units were multiplied")

    monkeypatch.setattr(units, "_product_of", reached)
    units._factor.cache_clear()
    yield
    units._factor.cache_clear()


@pytest.mark.parametrize("unit", POWERS)
def test_a_unit_outside_the_grammar_is_never_worked_out(unit, no_arithmetic):
    for kind in KINDS:
        for written, own in ((f"5 {unit}", "m"), (5.0, unit), (f"5 +- 1 {unit}", "")):
            with pytest.raises(InputError):
                quantity(written, kind, own, "x")


def test_no_door_lets_such_a_unit_in():
    text = re.sub(r"^(points_are|bike|wheelbase) = .*$", r'\1 = "5 m**9**9**9"', DEMO, flags=re.MULTILINE)
    with pytest.raises(InputError) as caught:
        parse(text)
    assert all(key in str(caught.value) for key in ("points_are", "masses.bike", "chassis.wheelbase"))


PIECES = st.lists(st.sampled_from([*"0123456789+-*/^()%. ", "**", "m", "s", "kg", "rpm", "N", "e", ",", "±", "+-", "²", "⁻¹", "°"]), max_size=60)  # fmt: skip


@given(st.one_of(st.text(max_size=60), PIECES.map("".join)))
@example("m" + "**9" * 3)
def test_whatever_the_text_what_goes_on_is_bounded(text):
    """The arithmetic of units sees no more than MOST_FACTORS known names with powers within 4; texts above the limits not even a pattern."""
    try:
        found = reader.factors(text)
    except ValueError:
        return
    assert len(text) <= reader.LONGEST_UNIT and len(found) <= reader.MOST_FACTORS
    assert all(1 <= abs(power) <= 4 for _, power in found)


@pytest.mark.usefixtures("no_arithmetic")
@pytest.mark.parametrize("over", [1, 100_000])
def test_a_text_over_the_limit_is_not_even_searched(over, monkeypatch):
    class Unread:
        def __getattr__(self, name):
            raise AssertionError("a pattern looked at it")

    for pattern in ("_NUMBER", "_TOLERANCE", "_TOKEN", "_COMMA"):
        monkeypatch.setattr(reader, pattern, Unread())
    monkeypatch.setattr(reader, "SPELT", [(Unread(), "")])
    for kind in KINDS:
        for written, unit in (("9" * (reader.LONGEST_QUANTITY + over), ""), (5.0, "m" * (reader.LONGEST_UNIT + over))):
            with pytest.raises(InputError, match="longer than"):
                quantity(written, kind, unit, "x")


def test_a_heading_with_a_tower_of_powers_is_refused_in_a_curve_and_passed_over_in_a_log():
    sheet = parse_curve("rpm;torque [m**9**9**9]\n2000;33,0\n3000;37,5\n")
    with pytest.raises(InputError):
        quantity(1.0, "torque", sheet.unit, "points_are")
    rows = "".join(f"\n{k},{36 + k},{k}" for k in range(5))
    log = read_log_bytes(f"time [s],speed [km/h],torque [m**9**9**9]{rows}".encode(), "log.csv")
    assert log.speed_m_s[0] == pytest.approx(10.0)


@pytest.mark.parametrize("lead", ["torque [", "torque (", "[ ", "Gps", ""])
def test_only_the_beginning_of_a_heading_is_looked_at(lead, monkeypatch):
    seen = []
    plain = headings.plain
    monkeypatch.setattr(headings, "plain", lambda text: seen.append(len(text)) or plain(text))
    for filler in " ", "[", "Gps", "1:", "\u0345\u0323\u0301":
        name = lead + filler * 10_000
        headings.reading_of(name, name)
    assert seen and max(seen) <= 200
    # two runs of blanks around a third are cubic
    assert r"\s*" not in curve_file._UNIT.pattern + headings._BRACKETS.pattern


def test_every_unit_of_the_table_is_what_pint_makes_of_its_definition():
    reference = pint.UnitRegistry(None, autoconvert_offset_to_baseunit=True, cache_folder=None)
    reference.load_definitions(DEFINITIONS.strip().splitlines())
    for name, unit in units._units()[0].items():
        zero, one = (reference.Quantity(count, name).to_base_units().magnitude for count in (0.0, 1.0))
        assert unit.scale == pytest.approx(one - zero, rel=1e-12) and unit.offset == pytest.approx(zero), name
        assert dict(reference.Unit(name).dimensionality) == unit.dimensions, name


def test_a_tolerance_is_kept_through_copies():
    area = quantity("0.64 +- 0.06 m^2", "area", "m^2", "x")
    share = quantity("0.64 m^2 ± 10 %", "area", "m^2", "x")
    assert (float(area), area.plus_minus) == (0.64, 0.06)
    assert share.plus_minus == pytest.approx(0.064)
    for twin in (copy.deepcopy(area), pickle.loads(pickle.dumps(area))):
        assert (float(twin), twin.plus_minus, twin.written) == (0.64, 0.06, "0.64 +- 0.06 m^2")


@pytest.mark.parametrize(
    "written",
    ["88 km", "nan kg", "inf kg", "kg", "", "1e999 kg", "5 5 kg", "5 kg kg kg kg", "5 kg**99999999999",
     "5 __import__('os')", "５ kg", "1,5,5 kg", "5 kg +- 2 m", "5 +- -1 kg", "5 +- 1 +- 1 kg", "5 +- 1e400 kg",
     "5 % kg", "9" * 400, True, None, [5], {"kg": 5}, float("nan"), float("inf"), 10**400, b"5 kg", "5 kg\x00",
     "0x10 kg"],
)  # fmt: skip
def test_what_is_no_mass_is_refused(written):
    with pytest.raises(InputError) as caught:
        quantity(written, "mass", "kg", "masses.bike")
    assert caught.value.where == "masses.bike" and caught.value.fix


@pytest.mark.parametrize("kind", sorted(KINDS))
def test_a_kind_is_named_with_its_article(kind):
    for written in ("x", None):
        with pytest.raises(InputError) as caught:
            quantity(written, kind, KINDS[kind].si, "x")
        assert f" a{'n' if kind[0] in 'aeiou' else ''} {kind}" in str(caught.value)


@pytest.mark.parametrize("written", ["5 defne", "5 convrt", "5 bananas", "5 wrap"])
def test_only_units_are_suggested(written):
    with pytest.raises(InputError) as caught:
        quantity(written, "mass", "kg", "x")
    assert "Did you mean" not in str(caught.value)


@given(st.text(max_size=60))
def test_any_text_is_read_or_refused(text):
    try:
        assert math.isfinite(quantity(text, "torque", "N*m", "x"))
    except InputError as error:
        assert str(error).startswith("x = ")


@given(
    st.floats(-1e6, 1e6), st.sampled_from(sorted(set(READINGS) - {"consumption"})), st.sampled_from(["metric", "us"])
)
def test_what_is_shown_reads_back(value, reading, system):
    shown_value, unit, _ = shown_in(value, reading, system)
    kind = READINGS[reading].kind
    if kind in ("acceleration", "density") or unit in ("mm^2", "in^2"):
        return
    back = quantity(float(shown_value), kind, unit, "x")
    assert float(back) == pytest.approx(value, rel=1e-9, abs=1e-6)
    assert in_unit(float(back), unit, kind) == pytest.approx(float(shown_value), rel=1e-9, abs=1e-6)


def test_numbers_as_they_are_printed():
    assert number(-0.04, 1) == "0.0" and number(12345.6, 0) == "12,346" and number(-7.25, 1).startswith("−")


@pytest.mark.parametrize(
    ("reading", "values", "words"),
    [("mass", (95.0, 873.0), "95 to 873 kg (209 to 1,925 lb)"), ("piston speed", (20.8,), "20.8 m/s (4,094 ft/min)"),
     ("density", (1.225,), "1.225 kg/m³ (0.0765 lb/ft³)"),
     ("temperature", (273.15, 288.15), "0 to 15 °C (32 to 59 °F)"), ("small length", (-1e-6,), "0.0 mm (0.00 in)"),
     ("speed", (math.inf,), "inf km/h (inf mph)"), ("engine speed", (math.pi * 100,), "3,000 rev/min"),
     ("angle", (math.pi / 6,), "30.0°"), ("consumption", (4.6e-8,), "4.60 l/100 km (51.1 mpg)")],
)  # fmt: skip
def test_a_text_for_both_riders_tells_each_figure_in_both_systems_and_once_where_they_agree(reading, values, words):
    assert in_both(reading, *values) == words
