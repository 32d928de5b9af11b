"""Points of a power curve out of CSV files of any common shape."""

from __future__ import annotations

import pytest

from ridesim.buildfile.curve_file import parse_curve, read_curve_csv
from ridesim.errors import InputError

GOOD = {
    "comma": ("rpm,kW\n2000,7\n3000,12.5\n", "kW"),
    "semicolon": ("n [rev/min];P [hp]\n2000;7,5\n3000;12,5\n", "hp"),
    "tab": ("rpm\ttorque (N·m)\n2000\t33\n3000\t37,5\n", "N*m"),
    "blank lines": ("\nrpm,torque [ft*lb]\n\n2000,24\n3000,27\n\n", "ft*lb"),
}


@pytest.mark.parametrize("text", GOOD.values(), ids=GOOD.keys())
def test_a_common_shape_is_read(text):
    sheet = parse_curve(text[0])
    assert sheet.unit == text[1] and len(sheet.points) == 2 and sheet.points[0][0] == 2000


def test_a_unit_given_by_hand_wins():
    assert parse_curve("2000,33\n3000,37\n", unit="N*m").unit == "N*m"


@pytest.mark.parametrize(
    ("text", "where"),
    [("2000,33\n3000,37\n", "points"), ("rpm,kW\n2000\n", "line 2"), ("rpm,kW\n2000,7\nx,y\n", "line 3"),
     ("", "points"), ("rpm,kW\n2000,7\n", "points"), ("rpm,kW\n2000,nan\n3000,5\n", "points"),
     ("rpm,kW\n" + "2000,7\n" * 1200, "points"), ('rpm,kW\n"2000,7\n', "points"), ("\x00,1\n2,\x00\n", "points")],
)  # fmt: skip
def test_what_is_no_curve_is_refused_with_its_line(text, where):
    with pytest.raises(InputError) as caught:
        parse_curve(text)
    assert where in caught.value.where


def test_files_that_cannot_be_read_are_refused(tmp_path):
    (tmp_path / "big.csv").write_bytes(b"1,2\n" * 300_000)
    (tmp_path / "latin.csv").write_bytes(b"\xe9\xff\n")
    for path in (tmp_path, tmp_path / "none.csv", tmp_path / "big.csv", tmp_path / "latin.csv"):
        with pytest.raises(InputError):
            read_curve_csv(path)
