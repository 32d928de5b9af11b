"""What people write becomes SI, and what is not a quantity is refused."""

from __future__ import annotations

import copy
import math
import pickle

import pint
import pytest
from hypothesis import given
from hypothesis import strategies as st

from ridesim import units
from ridesim.answers.text import number, shown
from ridesim.errors import InputError
from ridesim.units import KINDS, READINGS, in_both, in_unit, quantity, shown_in
from ridesim.units.table import DEFINITIONS


def test_every_unit_of_the_table_is_what_pint_makes_of_its_definition():
    reference = pint.UnitRegistry(None, autoconvert_offset_to_baseunit=True, cache_folder=None)
    reference.load_definitions(DEFINITIONS.strip().splitlines())
    for name, unit in units._units()[0].items():
        zero, one = (reference.Quantity(count, name).to_base_units().magnitude for count in (0.0, 1.0))
        assert unit.scale == pytest.approx(one - zero, rel=1e-12) and unit.offset == pytest.approx(zero), name
        assert dict(reference.Unit(name).dimensionality) == unit.dimensions, name


def test_consumption_both_ways():
    metric = quantity("4.6 l/100km", "fuel consumption", "l/100km", "x")
    us = quantity("51.1336 mpg", "fuel consumption", "l/100km", "x")
    assert float(us) == pytest.approx(float(metric), rel=1e-5)
    assert shown(float(metric), "consumption", "us") == "51.1 mpg"


def test_a_tolerance_is_kept_through_copies():
    area = quantity("0.62 +- 0.06 m^2", "area", "m^2", "x")
    share = quantity("0.62 m^2 ± 10 %", "area", "m^2", "x")
    assert (float(area), area.plus_minus) == (0.62, 0.06)
    assert share.plus_minus == pytest.approx(0.062)
    for twin in (copy.deepcopy(area), pickle.loads(pickle.dumps(area))):
        assert (float(twin), twin.plus_minus, twin.written) == (0.62, 0.06, "0.62 +- 0.06 m^2")


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


@pytest.mark.parametrize(
    ("written", "kind"),
    [("100 1/s", "engine speed"), ("5 deg", "ratio"), ("1 rev", "ratio"), ("27 %", "angle"), ("0.5 1", "angle"), ("40 m/s", "engine speed")],
)  # fmt: skip
def test_turns_and_angles_are_no_bare_numbers(written, kind):
    with pytest.raises(InputError, match="is not a unit of"):
        quantity(written, kind, KINDS[kind].si, "x")


@pytest.mark.parametrize("kind", sorted(KINDS))
def test_a_kind_is_named_with_its_article(kind):
    for written in ("x", None):
        with pytest.raises(InputError) as caught:
            quantity(written, kind, KINDS[kind].si, "x")
        assert f" a{'n' if kind[0] in 'aeiou' else ''} {kind}" in str(caught.value)


@pytest.mark.parametrize(
    ("written", "kind", "says"),
    [("5 kilogrm", "mass", "Did you mean 'kilogram"), ("5 pund", "mass", "Did you mean 'pound'"), ("5,5,5 kg", "mass", "no thousands"),
     ("0 mpg", "fuel consumption", "no distance at all"), (10**400, "mass", "is not a finite number")],
    ids=str,
)  # fmt: skip
def test_a_slip_is_answered_with_what_was_meant(written, kind, says):
    with pytest.raises(InputError) as caught:
        quantity(written, kind, KINDS[kind].si, "x")
    assert says in str(caught.value)


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
     ("angle", (math.pi / 6,), "30.0°")],
)  # fmt: skip
def test_a_text_for_both_riders_tells_each_figure_in_both_systems_and_once_where_they_agree(reading, values, words):
    assert in_both(reading, *values) == words
