"""What the reader makes of logs of many shapes, and how it refuses the rest."""

from __future__ import annotations

import tracemalloc

import numpy as np
import pytest
from support.log_texts import ROWS, SPEEDS, gpx, point, text

from ridesim.errors import InputError
from ridesim.logs import reader as read_module
from ridesim.logs.reader import read_log, read_log_bytes
from ridesim.units import TWO_PI


@pytest.mark.parametrize(
    ("stamps", "seconds"),
    [
        (["2026-05-03T10:00:00Z", "2026-05-03T10:00:00.250Z", "2026-05-03T12:00:00.5+02:00"], [0, 0.25, 0.5]),
        (["3.5.2026 23:59:59", "4.5.2026 00:00:00", "4.5.2026 00:00:01"], [0, 1, 2]),
        (["5/3/2026 11:59:59 PM", "5/4/2026 12:00:00 AM", "5/4/2026 12:00:01 AM"], [0, 1, 2]),
        (["23:59:59.5", "00:00:00.0", "00:00:00.5"], [0, 0.5, 1.0]),
    ],
)
def test_time_stamps(stamps, seconds):
    data = text("timestamp;speed [m/s]", [(s, 10 + k) for k, s in enumerate(stamps)], ";").encode()
    np.testing.assert_allclose(read_log_bytes(data, "x").time_s, seconds, atol=2e-6)


def test_the_unit_of_a_bare_speed_is_asked_for():
    bare = text("t,speed", [(t, v) for t, v, _ in ROWS]).encode()
    with pytest.raises(InputError, match="does not name its unit"):
        read_log_bytes(bare, "x")
    np.testing.assert_allclose(read_log_bytes(bare, "x", units={"speed": "km/h"}).speed_m_s, SPEEDS)


def test_ambiguous_columns_are_listed_and_chosen_by_hand():
    data = text("time,GPS speed [km/h],wheel speed [km/h]", [(t, v, v + 3.6) for t, v, _ in ROWS]).encode()
    with pytest.raises(InputError) as refused:
        read_log_bytes(data, "x")
    assert "'GPS speed [km/h]', 'wheel speed [km/h]'" in str(refused.value)
    log = read_log_bytes(data, "x", columns={"speed": "wheel speed [km/h]"})
    np.testing.assert_allclose(log.speed_m_s, np.array(SPEEDS) + 1.0)
    with pytest.raises(InputError, match="is not a column"):
        read_log_bytes(data, "x", columns={"speed": "speed"})
    with pytest.raises(InputError, match="Did you mean 'speed'"):
        read_log_bytes(data, "x", columns={"sped": "wheel speed [km/h]"})


def test_a_table_without_header_is_read_by_column_number():
    data = text("0.0;36.0", [(t, v) for t, v, _ in ROWS[1:]], ";").encode()
    log = read_log_bytes(data, "x", columns={"time": "column 1", "speed": "column 2"}, units={"speed": "km/h"})
    np.testing.assert_allclose(log.speed_m_s, SPEEDS)


def test_duplicates_gaps_and_blanks_are_told():
    rows = [(0, 36, ""), (1, 36, 3000), (1, 99, 3000), (2, "", 3050), (3, 36, 3100), (3.5, "", ""), (20, 36, 3200), (21, 36, "")]  # fmt: skip
    log = read_log_bytes(text("time [s],speed [km/h],rpm", rows).encode(), "x")
    told = {row.what: row.read_as for row in log.found}
    np.testing.assert_allclose(log.time_s, [0, 1, 3, 20, 21])
    np.testing.assert_allclose(log.speed_m_s, 10.0)
    assert told["duplicates dropped"] == "1" and told["gaps"] == "1" and told["rows without a speed"] == "2"
    np.testing.assert_allclose(log.engine_speed_rad_s * 60 / TWO_PI, [3000, 3000, 3100, 3200, 3200])


def test_engine_speed_in_rows_of_its_own_is_brought_onto_the_clock_of_the_speed():
    rows = [(0.0, 36, ""), (0.4, "", 3000), (1.0, 36, ""), (1.4, "", 3100), (2.0, 36, ""), (9.0, 36, "")]
    log = read_log_bytes(text("time [s],speed [km/h],rpm", rows).encode(), "x")
    rev = log.engine_speed_rad_s * 60 / TWO_PI
    np.testing.assert_allclose(rev[:3], [3000, 3060, 3100])
    assert np.isnan(rev[3])


@pytest.mark.parametrize(
    ("row", "where", "why"),
    [("0.6,-5,3000", "line 5", "negative"), ("0.6,1e300,3000", "line 5", "beyond"),
     ("1e300,40,3000", "line 5", "beyond"), ("0.6,40,99999", "line 5", "beyond"), ("0.6,40,\0", "line 5", ""),
     ("x" * 30000 + ",1,2", "line 5", "longer than")],
)  # fmt: skip
def test_refused_with_line_and_reason(row, where, why):
    data = text("time [s],speed [km/h],rpm", ROWS[:3]) + row + "\n0.8,40,3000\n"
    with pytest.raises(InputError) as refused:
        read_log_bytes(data.encode(), "log.csv")
    assert why in str(refused.value)
    assert where in str(refused.value) or "not text" in str(refused.value)


@pytest.mark.parametrize(
    ("row", "what", "why"),
    [
        ("0.5,inf,3000", "cells of speed that are no figures", "not a finite number"),
        ("0.5,1_0,3000", "cells of speed that are no figures", "not a number"),
        ("0.5,fast,3000", "cells of speed that are no figures", "not a number"),
        ("0.5,1e400,3000", "cells of speed that are no figures", "not a finite"),
        ("0.5,40,####", "cells of engine speed that are no figures", "not a number"),
        *(
            (f"0.5,{odd},3000", "cells of speed that are no figures", "not a number")
            for odd in ("0x10", "1 0", "--1", "1e", "\u0661")
        ),
        ("0.5,40", "lines that are no rows", "cut off"),
        ("0.5,40,3000,7", "lines that are no rows", "columns"),
        ("noon,40,3000", "lines that are no rows", "not a time like those"),
        ("%&/()=", "lines that are no rows", "cut off"),
        ("0.1,40,3000", "rows back in time", "back in time"),
    ],
)
def test_one_odd_line_is_left_out_and_counted_and_many_are_refused_with_the_first(row, what, why):
    rows = [f"{k / 5},36,3000" for k in range(100)]
    log = read_log_bytes("\n".join(["time [s],speed [km/h],rpm", *rows[:3], row, *rows[3:]]).encode(), "log.csv")
    assert log.time_s.size == 100 + (what == "cells of engine speed that are no figures")
    assert [one.rows for one in log.found if one.what == what] == [1]
    many = "\n".join(["time [s],speed [km/h],rpm", *rows[:80], *[row] * 20, *rows[80:]])
    with pytest.raises(InputError, match=why) as refused:
        read_log_bytes(many.encode(), "log.csv")
    assert "line 82" in str(refused.value)


@pytest.mark.parametrize(
    ("data", "why"),
    [
        (b"", "empty"),
        (b"\n\n", "empty"),
        (b"time [s],speed [m/s]\n0,10\n", "more than one row"),
        (b"time [s],speed [m/s]\n", "more than one row"),
        (bytes(range(256)) * 10, "not text"),
        (b"\x89PNG\r\n\x1a\n" + bytes(50), "not text"),
        (b"hello\nworld\n", "no columns"),
        (b"time [s],speed [m/s]\n0,1\n1,1\n", "3 samples or more"),
        (b"a,b\n1,2\n3,4\n", "could be the time"),
        (b"time,b\n1,2\n3,4\n", "could be the speed"),
        (b"\xff\xfe\0\0a\0\0\0", "UTF-32"),
        (b"time [s],speed [m/s]\n0,1\n1e6,1\n2e6,1\n", "longer than a week"),
        (b"time,speed [m/s]\n0,1\n15,1\n30,1\n45,1\n", "no unit makes that a log"),
        (b"time;speed [m/s]\n59:59;10\n60:00;11\n60:01;12\n", r"line 3.*not a time like those"),
        (b"time [s],speed [km/h]\n0,0,36,0\n0,2,37,8\n0,4,39,6\n0,6,41,4\n", "cannot be told apart"),
    ],
)
def test_files_that_are_no_logs(data, why):
    with pytest.raises(InputError, match=why):
        read_log_bytes(data, "x")


@pytest.mark.parametrize(
    ("data", "got", "problem"),
    [
        (
            b"time [s],speed [mph]\n0,10\n1,500\n2,10\n3,10\n",
            "804.7 km/h (500 mph)",
            "is beyond what a ride holds, 0 to 720 km/h (0.0 to 447.4 mph)",
        ),
        (b"time [s],speed [mph]\n0,10\n1,-5\n2,10\n3,10\n", "-8.0 km/h (-5 mph)", "is negative"),
        (
            b"time [s],speed [m/s],elevation [m]\n0,10,3\n1,10,3\n2,10,99999\n3,10,3\n",
            "99,999 m (328,081 ft)",
            "is beyond what a ride holds, -500 to 9,500 m (-1,640 to 31,168 ft)",
        ),
    ],
)
def test_a_figure_that_no_ride_holds_is_told_with_its_bounds_in_both_systems(data, got, problem):
    with pytest.raises(InputError) as refusal:
        read_log_bytes(data, "x")
    assert (refusal.value.got, refusal.value.problem) == (got, problem)


@pytest.mark.parametrize("written", ['"36"', " 36 ", "+36", "36.", "3.6E1", "36 km/h", "0,036e+3"])
def test_a_figure_may_be_written_in_other_ways(written):
    rows = [(k, f"{k + 30},5" if "," in written else k + 30) for k in range(6)] + [(6, written)]
    log = read_log_bytes(text("time [s];speed [km/h]", rows, ";").encode(), "x")
    assert log.speed_m_s[6] == pytest.approx(10.0)


def test_a_place_that_is_no_figure_is_left_out():
    rows = [(k, f"{45 + 1e-4 * k:.4f}" if k != 70 else "45.00.70", 14.0, 40.03) for k in range(90)]
    log = read_log_bytes(text("time [s],lat,lon,speed [km/h]", rows).encode(), "x")
    assert np.flatnonzero(np.isnan(log.north_m)).tolist() == [70]


def test_folder_missing_file_and_size(tmp_path, monkeypatch):
    with pytest.raises(InputError, match="is a folder"):
        read_log(tmp_path)
    with pytest.raises(InputError, match="cannot be read"):
        read_log(tmp_path / "none.csv")
    with pytest.raises(InputError, match="cannot be read"):
        read_log("a\0b")
    file = tmp_path / "log.csv"
    file.write_text(text("time [s],speed [km/h],rpm", ROWS), encoding="utf-8")
    np.testing.assert_allclose(read_log(file).speed_m_s, SPEEDS)
    assert read_module.LARGEST_GPX >= 40_000_000
    for largest in ("LARGEST_TABLE", "LARGEST_GPX"):
        monkeypatch.setattr(read_module, largest, 20)
    with pytest.raises(InputError, match="is larger than"):
        read_log(file)
    with pytest.raises(InputError, match="is larger than"):
        read_log_bytes(gpx("".join(point(k) for k in range(4))), "x")


@pytest.mark.parametrize(
    ("data", "why"),
    [
        (gpx(point(1))[:-20], "not whole XML"),
        (gpx(""), "no track points"),
        (b"<?xml version='1.0'?><kml><a/></kml>", "is XML, but neither GPX nor TCX"),
        (b"<html><body/></html>", "is XML, but neither GPX nor TCX"),
        (gpx("".join(point(k, when=False) for k in range(5))), "times"),
        (gpx("<a>" * 100 + "</a>" * 100), "nested"),
        (gpx("".join(point(k) for k in (3, 2, 1))), "track point 2.*back in time"),
        (gpx("".join(point(k) for k in range(4)).replace('lat="45.000200"', 'lat="46.0"')), "leap"),
        (gpx("".join(point(k) for k in range(4)).replace('lat="45.000200"', 'lat="nan"')), "not a number|GPX"),
        (gpx("".join(point(k, "<speed>-3</speed>") for k in range(4)), "1.0"), "negative"),
    ],
)
def test_gpx_that_is_refused(data, why):
    with pytest.raises(InputError, match=why):
        read_log_bytes(data, "ride.gpx")


def test_progress_rises_to_the_end():
    data = text("time [s],speed [km/h],rpm", [(k, 30 + k % 7, 3000) for k in range(60_000)]).encode()
    told = []
    read_log_bytes(data, "x", progress=told.append)
    assert told == sorted(told) and told[-1] == 1.0 and len(told) > 2


def test_memory_stays_within_a_few_times_the_figures_kept():
    """Ten columns of which two are wanted: the text is never held whole."""
    filler = ",".join(["123.456789"] * 8)
    data = (
        "time [s],speed [km/h],a,b,c,d,e,f,g,h\n" + "".join(f"{k},{30 + k % 7},{filler}\n" for k in range(100_000))
    ).encode()
    tracemalloc.start()
    read_log_bytes(data, "x")
    peak = tracemalloc.get_traced_memory()[1]
    tracemalloc.stop()
    kept = 100_000 * 2 * 8
    # a block of 20 000 rows is held as text for a while, whatever the length of the file
    assert peak < 12 * kept + 60e6
    assert len(data) > 9e6
