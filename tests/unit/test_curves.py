"""Points of a power curve: out of CSV files of any common shape, and guessed from two peaks."""

from __future__ import annotations

import numpy as np
import pytest

from ridesim.buildfile.curve_file import parse_curve, read_curve_csv
from ridesim.buildfile.first import first_build
from ridesim.buildfile.guessed_curve import RISE, points_from_peaks
from ridesim.components.power_curve import curve_from_points
from ridesim.errors import InputError
from ridesim.units import quantity, rad_s, rpm

GOOD = {
    "comma": ("rpm,kW\n2000,7\n3000,12.5\n", "kW"),
    "semicolon": ("n [rev/min];P [hp]\n2000;7,5\n3000;12,5\n", "hp"),
    "tab": ("rpm\ttorque (N·m)\n2000\t28\n3000\t31,5\n", "N*m"),
    "blank lines": ("\nrpm,torque [ft*lb]\n\n2000,24\n3000,27\n\n", "ft*lb"),
}


@pytest.mark.parametrize("text", GOOD.values(), ids=GOOD.keys())
def test_a_common_shape_is_read(text):
    sheet = parse_curve(text[0])
    assert sheet.unit == text[1] and len(sheet.points) == 2 and sheet.points[0][0] == 2000


def test_a_unit_given_by_hand_wins():
    assert parse_curve("2000,28\n3000,31\n", unit="N*m").unit == "N*m"


@pytest.mark.parametrize(
    ("text", "where"),
    [("2000,28\n3000,31\n", "points"), ("rpm,kW\n2000\n", "line 2"), ("rpm,kW\n2000,7\nx,y\n", "line 3"),
     ("", "points"), ("rpm,kW\n2000,7\n", "points"), ("rpm,kW\n2000,nan\n3000,5\n", "points"),
     ("rpm,kW\n" + "2000,7\n" * 1200, "points"), ('rpm,kW\n"2000,7\n', "points"), ("\x00,1\n2,\x00\n", "points")],
)  # fmt: skip
def test_what_is_no_curve_is_refused_with_its_line(text, where):
    with pytest.raises(InputError) as caught:
        parse_curve(text)
    assert where in caught.value.where


@pytest.mark.parametrize(
    "slip",
    ["1000,2O", "1OOO,20", "1OO0,2O", "x,20", "1000,x", "1000 rpm,20 N m", "1000;2O", "1OOO;20", "1000\t2O", "1000 2O",
     "1OOO 20"],
)  # fmt: skip
def test_a_slip_in_the_first_row_is_refused_like_one_in_any_other(slip):
    mark = next((sign for sign in "\t;," if sign in slip), " ")
    rest = "".join(f"{speed}{mark}30\n" for speed in (1500, 2000, 3000))
    for above in (f"rpm{mark}[N*m]\n", f"rpm{mark}torque\n1/min{mark}[N*m]\n"):
        first = above.count("\n") + 1
        assert len(parse_curve(above + rest).points) == 3
        for rows, line in ((slip + "\n" + rest, first), (rest + slip, first + 3)):
            with pytest.raises(InputError, match="is not a pair of numbers") as caught:
                parse_curve(above + rows)
            assert caught.value.where == f"points, line {line}"


def test_what_stands_above_the_points_may_hold_numbers():
    above = "Date,2026-05-03\n2026-05-03,10:00\n3.5.2026,12\nRun,2\nrpm,2nd pull\n1/min,[hp]\n"
    assert len(parse_curve(above + "2000,7.5\n3000,12.5\n").points) == 2
    assert len(parse_curve("rpm;1;2\n2000;7,5;8\n3000;12,5;13\n", unit="hp").points) == 2


def test_files_that_cannot_be_read_are_refused(tmp_path):
    (tmp_path / "big.csv").write_bytes(b"1,2\n" * 300_000)
    (tmp_path / "latin.csv").write_bytes(b"\xe9\xff\n")
    for path in (tmp_path, tmp_path / "none.csv", tmp_path / "big.csv", tmp_path / "latin.csv"):
        with pytest.raises(InputError):
            read_curve_csv(path)


HP = 745.69987
OVER = 5e-5  # of a peak, which no sheet prints


def looked_at(curve):
    """Engine speeds, torque and power along the curve as it will be used."""
    line = curve_from_points(curve.points, kind="torque", measured_at="crank", efficiency=0.93, name="first")
    w = np.linspace(curve.points[0][0], curve.points[-1][0], 5000)
    torque = line.torque_at(w)
    return w, torque, torque * w


def test_twenty_one_newton_meters_at_6500_with_nineteen_horsepower_at_8500():
    """21 N m at 6,500 rev/min are 21 x 680.7 = 14.29 kW = 19.17 hp: the sheet rounds."""
    curve = points_from_peaks(21.0, rad_s(6500), 19 * HP, rad_s(8500))
    _, torque, power = looked_at(curve)
    assert "peak torque taken as 20.8 N·m" in curve.said
    assert power.max() == pytest.approx(19 * HP, rel=OVER)
    assert torque.max() == pytest.approx(19 * HP / rad_s(6500), rel=2 * RISE)


@pytest.mark.parametrize("power", ["19 hp", "25 hp"])
def test_the_build_tells_the_peaks_that_were_typed(power):
    parts = {"bike": "121", "rider": "77", "tire": "110/80-17", "front": "13", "rear": "43"}
    engine = {"torque": "21", "torque_at": "6500", "power": power, "power_at": "8500"}
    points = first_build(parts | engine).record.tune["first"].points
    line = curve_from_points(points, kind="torque", measured_at="crank", efficiency=0.93, name="first")
    w = np.linspace(rad_s(6400), rad_s(9000), 26001)
    made = w * line.torque_at(w)
    assert rpm(w[made.argmax()]) == pytest.approx(8500, abs=5)
    assert made.max() <= float(quantity(power, "power", "kW", "")) * (1 + OVER)


@pytest.mark.parametrize("seed", range(48))
def test_it_passes_through_both_peaks_and_over_neither(seed):
    rng = np.random.default_rng(seed)
    torque_at = rad_s(rng.uniform(2000, 9000))
    power_at = torque_at * rng.uniform(1.03, 2.2)
    torque = rng.uniform(8, 120)
    # from the least the two can be, where the torque falls as 1/w, to the most, where it does not fall
    share = (0.0, 1.0, rng.uniform(0, 0.02), rng.uniform())[seed % 4]
    power = torque * (torque_at + share * (power_at - torque_at))
    curve = points_from_peaks(torque, torque_at, power, power_at)
    assert curve.said == ""
    w, torques, powers = looked_at(curve)
    assert torques.max() <= torque * (1 + OVER) and powers.max() == pytest.approx(power, rel=OVER)
    line = curve_from_points(curve.points, kind="torque", measured_at="crank", efficiency=0.93, name="first")
    hair = 1e-9 if power > torque * torque_at * (1 + RISE) else 1.01 * RISE  # else the power would be level
    assert line.torque_at(torque_at) == pytest.approx(torque, rel=hair)
    assert power_at * line.torque_at(power_at) == pytest.approx(power, rel=1e-9)
    assert powers[-1] == pytest.approx(0.96 * power) and (np.diff(powers[w > power_at * 1.002]) < 0).all()


@pytest.mark.parametrize(
    ("torque", "power", "word"), [(21.0, 0.96 * 21.0 * 700.0, "torque"), (20.0, 1.04 * 20.0 * 900.0, "power")]
)
def test_a_few_per_cent_are_reconciled_by_lowering_one(torque, power, word):
    curve = points_from_peaks(torque, 700.0, power, 900.0)
    assert curve.said.startswith(f"peak {word} taken as") and len(curve.said) <= 120
    _, torques, powers = looked_at(curve)
    assert torques.max() <= torque * (1 + OVER) and powers.max() <= power * (1 + OVER)
    assert (torques.max() < 0.99 * torque) == (word == "torque") and (powers.max() < 0.99 * power) == (word == "power")


@pytest.mark.parametrize("power", [0.94 * 21.0 * 700.0, 1.06 * 21.0 * 900.0])
def test_more_than_a_few_per_cent_are_refused(power):
    with pytest.raises(InputError) as caught:
        points_from_peaks(21.0, 700.0, power, 900.0)
    assert caught.value.where == "power"
