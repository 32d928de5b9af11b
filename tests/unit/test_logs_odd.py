"""What loggers do out of the way, and sixteen hundred spoilt logs that are read or refused."""

from __future__ import annotations

import random

import numpy as np
import pytest
from support.hostile import csv_logs, gpx_logs, spoilt
from support.log_texts import ROWS, SPEEDS, gpx, point, text

from ridesim.errors import InputError
from ridesim.logs.reader import read_log_bytes
from ridesim.logs.reading import table as rows_module

REMARKS = "# a logger, version 3, exported\n# rider, bike, day\n"  # as many commas as the table has


@pytest.mark.parametrize("header", ["# time,speed [km/h],rpm", "#time,speed [km/h],rpm", "  #\ttime,speed [km/h],rpm"])
@pytest.mark.parametrize("remarks", ["", REMARKS])
def test_a_comment_is_the_header_where_there_is_no_other(header, remarks):
    for more in ("", "time,speed [m/s],rpm\n"):
        log = read_log_bytes((remarks + text(header, []) + more + text("", ROWS)[1:]).encode(), "x")
        np.testing.assert_allclose(log.speed_m_s, np.array(SPEEDS) * (3.6 if more else 1.0))
        assert any(row.what == "engine speed" and row.read_as == "rpm" for row in log.found)


@pytest.mark.parametrize("stamp", [str, lambda t: f"2026-05-03T10:00:{t:06.3f}Z"])
@pytest.mark.parametrize("delimiter", [",", ";"])
def test_it_does_not_matter_how_many_rows_are_read_at_once(monkeypatch, stamp, delimiter):
    rows = [(stamp(0.2 * k), 30 + 0.1 * k, "" if k % 2 else 3000 + k, "" if k % 5 else 100.5) for k in range(57)]
    data = text(delimiter.join(("time", "speed [km/h]", "rpm", "ele [m]")), rows, delimiter)
    data = data.replace(".", ",") if delimiter == ";" and stamp is str else data
    whole = read_log_bytes(data.encode(), "x")
    assert np.isfinite(whole.engine_speed_rad_s).all()
    monkeypatch.setattr(rows_module, "BLOCK", 10)
    pieces = read_log_bytes(data.encode(), "x")
    for name in ("time_s", "speed_m_s", "engine_speed_rad_s", "elevation_m"):
        np.testing.assert_array_equal(getattr(whole, name), getattr(pieces, name))
    assert whole.found == pieces.found


def track(encoding, declared, mark=b""):
    body = gpx("".join(point(k, "<name>Höhe</name>") for k in range(5))).decode()
    return mark + body.replace('<?xml version="1.0"?>', f'<?xml version="1.0"{declared}?>').encode(encoding)


@pytest.mark.parametrize(
    ("encoding", "declared", "mark"),
    [("utf-8", "", b""), ("utf-8", "", b"\xef\xbb\xbf"), ("utf-8", ' encoding="UTF-8"', b"\xef\xbb\xbf"),
     ("utf-16", ' encoding="UTF-16"', b""), ("utf-16", "", b""), ("utf-16-be", ' encoding="UTF-16"', b"\xfe\xff"),
     ("utf-16-le", ' encoding="utf-16"', b""), ("iso-8859-1", ' encoding="ISO-8859-1"', b""),
     ("iso-8859-1", " encoding='iso-8859-1'", b""), ("utf-8", ' encoding="UTF-16"', b"")],
)  # fmt: skip
def test_gpx_in_other_encodings(encoding, declared, mark):
    log = read_log_bytes(track(encoding, declared, mark), "ride.gpx")
    np.testing.assert_allclose(log.elevation_m, [100, 101, 102, 103, 104])


@pytest.mark.parametrize("encoding", ["utf-8", "utf-16", "iso-8859-1", "utf-16-be"])
@pytest.mark.parametrize(
    "head", ['<!DOCTYPE gpx [<!ENTITY a "aaaa"><!ENTITY b "&a;&a;">]>', '<!DOCTYPE gpx SYSTEM "file:///etc/hostname">']
)
def test_hostile_gpx_is_refused_in_every_encoding(encoding, head):
    declared = f'<?xml version="1.0" encoding="{"UTF-16" if "16" in encoding else encoding}"?>'
    data = gpx(point(1), head=head).decode().replace('<?xml version="1.0"?>', declared).encode(encoding)
    with pytest.raises(InputError, match="document type or entities"):
        read_log_bytes(data, "ride.gpx")


@pytest.mark.parametrize(
    ("data", "why"),
    [
        (track("utf-7", ' encoding="utf-7"'), "cannot be read"),
        (track("utf-8", ' encoding="rot13"'), "cannot be read"),
        (track("iso-8859-1", ' encoding="UTF-8"'), "not of its encoding"),
        (track("utf-16", "")[:-1], "not of its encoding|not whole XML"),
        (track("utf-8", "").replace(b"<gpx", b'<?xml version="1.0" encoding="utf-16"?><gpx'), "not whole XML"),
    ],
)
def test_gpx_in_no_encoding_a_log_comes_in(data, why):
    with pytest.raises(InputError, match=why):
        read_log_bytes(data, "ride.gpx")


def test_what_no_ride_does_is_left_out_and_counted():
    """Fixes lost and written as zero, a leap no tire gives, and a position a mile off."""
    speeds = 60.0 + np.arange(40)
    speeds[[10, 11, 12]], speeds[20] = 0.0, 250.0
    places = 45 + np.cumsum(speeds / 3.6) / 111_195
    places[30] += 0.02
    rows = [(t, f"{v:.1f}", f"{p:.6f}", "14.0") for t, (v, p) in enumerate(zip(speeds, places, strict=True))]
    log = read_log_bytes(text("time [s],speed [km/h],latitude,longitude", rows).encode(), "x")
    counted = {row.what: row.rows for row in log.found}
    assert counted["fixes lost and written as zero"] == 3 and counted["speeds that no tire gives"] == 1
    assert counted["positions far from where the speeds lead"] == 1
    assert log.time_s.size == 36 and log.speed_m_s.min() > 16 and log.speed_m_s.max() < 30
    assert np.isnan(log.north_m).sum() == 1


def test_a_hard_stop_and_a_start_are_a_ride():
    speeds = np.concatenate([np.full(10, 60.0), [30.0, 0.0, 0.0, 0.0, 18.0, 36.0], np.full(10, 60.0)])
    rows = [(t, f"{v:.1f}") for t, v in enumerate(speeds)]
    log = read_log_bytes(text("time [s],speed [km/h]", rows).encode(), "x")
    assert log.time_s.size == speeds.size


@pytest.mark.parametrize("seed", range(2))
@pytest.mark.parametrize("good", [csv_logs, gpx_logs], ids=["csv", "gpx"])
def test_spoilt_logs_are_read_or_refused(good, seed):
    rng, files = random.Random(seed), good()
    read = refused = 0
    for _ in range(400):
        data = spoilt(rng.choice(files), rng)
        try:
            log = read_log_bytes(data, "spoilt")
        except InputError as error:
            refused += 1
            assert str(error).isprintable() and len(str(error)) < 2000
        else:
            read += 1
            assert np.all(np.diff(log.time_s) > 0) and np.all(np.isfinite(log.speed_m_s)) and np.all(log.speed_m_s >= 0)
    assert read > 10 and refused > 80  # else the mutations are too mild or too harsh to say anything


@pytest.mark.parametrize("data", csv_logs() + gpx_logs())
def test_the_good_ones_are_read(data):
    assert read_log_bytes(data, "good").time_s.size >= 20
