"""One ride as many loggers would write it: every writing gives the same figures, and what cannot be told is said; out of the
way, hostile and spoilt ones are read or refused in words."""

from __future__ import annotations

import random
from datetime import UTC, datetime, timedelta

import numpy as np
import pytest
from support.hostile import csv_logs, gpx_logs, spoilt
from support.log_texts import ROWS, SPEEDS, gpx, text
from support.log_texts import point as plain_point

from ridesim import reference
from ridesim.bike import make_bike
from ridesim.buildfile.io import read as read_build
from ridesim.errors import InputError
from ridesim.logs.fits.ratios import find_ratios
from ridesim.logs.log import Found, cut, notes_of
from ridesim.logs.reader import read_log_bytes
from ridesim.logs.reading import table as rows_module
from ridesim.logs.ride import ridden
from ridesim.units import TWO_PI

SECONDS = np.arange(60.0)
SPEED = 15.0 + 5.0 * np.sin(SECONDS / 15.0)  # m/s, northward
WAY = 15.0 * SECONDS + 75.0 * (1.0 - np.cos(SECONDS / 15.0))
NORTH = 46.0 + WAY / 111195.08
BEGIN = datetime(2026, 5, 3, 9, 59, 30, tzinfo=UTC)
MOMENTS = [BEGIN + timedelta(seconds=t) for t in SECONDS]


def read(data, **how):
    return read_log_bytes(data.encode() if isinstance(data, str) else data, "ride", **how)


def table(header, *columns, mark=","):
    return text(header, zip(*columns, strict=True), mark)


def whole(log):
    """Whether a log is the ride, to what its figures were rounded to."""
    assert log.time_s.size == SECONDS.size
    np.testing.assert_allclose(log.time_s, SECONDS, atol=1e-5)
    np.testing.assert_allclose(log.speed_m_s, SPEED, atol=0.01)
    return True


@pytest.mark.parametrize(
    ("heading", "turns", "why"), [("rpm", 3.0, "never passes 3 rev/min"), ("Engine speed", 300.0, "names no unit")]
)
def test_engine_speeds_that_cannot_be_are_left_out_and_told(heading, turns, why):
    log = read(table(f"time [s],speed [m/s],{heading}", SECONDS, SPEED, np.full(60, turns)))
    assert whole(log) and log.engine_speed_rad_s is None
    assert any(why in note for note in log.notes)
    with pytest.raises(InputError, match=why):
        find_ratios(log, rolling_circumference_m=2.0)


def test_words_for_nothing_known_are_blank_cells():
    blanks = ["-", "--", "N/A", "null", "NaN", "none", "\u2013"]
    turns = [blanks[k % 7] if k % 3 else 3000 + k for k in range(60)]
    log = read(table("time [s],speed [m/s],rpm", SECONDS, SPEED, turns))
    assert whole(log)
    np.testing.assert_allclose(log.engine_speed_rad_s[:58] * 60 / TWO_PI, 3000 + SECONDS[:58])
    for timed, speeds, known in ((SECONDS, [*blanks, *SPEED[7:]], 53), ([*blanks, *SECONDS[7:]], SPEED, 53)):
        assert read(table("time [s],speed [m/s]", timed, speeds)).time_s.size == known
    timeless = read(table("time [s],speed [m/s]", [0, 1, "-", *SECONDS[3:]], SPEED))
    assert Found("rows without a time", "1", "left out", 1) in timeless.found


@pytest.mark.parametrize("factor", [1.0, 3.6])
def test_no_fix_is_no_speed_and_no_place(factor):
    speed, lat, lon = SPEED * factor, NORTH.copy(), np.full(60, 14.5)
    speed[:5], lat[:5], lon[:5] = -1.0 * factor, 0.0, 0.0
    head = f"time [s],speed [{'m/s' if factor == 1 else 'km/h'}],lat,lon"
    log = read(table(head, SECONDS, speed.round(4), lat, lon))
    assert log.time_s.size == 55 and log.speed_m_s.min() > 9
    np.testing.assert_allclose(log.north_m, WAY[5:] - WAY[5], atol=0.1)
    by_place = read(table("time [s],lat,lon", SECONDS, lat, lon))
    np.testing.assert_allclose(by_place.speed_m_s[1:-1], SPEED[6:-1], atol=0.01)
    assert Found("rows without a position", "5", "left out", 5) in by_place.found
    assert any("noisier" in note for note in by_place.notes)


def test_a_column_is_chosen_by_its_number_or_by_its_heading_written_small():
    twice = table("time [s],speed [m/s],Altitude [m],Altitude [m]", SECONDS, SPEED, SECONDS, SECONDS + 5)
    np.testing.assert_allclose(read(twice, columns={"elevation": "column 4"}).elevation_m, SECONDS + 5)
    log = read(table("T1,Velocity X,junk", SECONDS, SPEED, SPEED), columns={"time": "t1"}, units={"speed": "m/s"})
    assert whole(log)


def test_speeds_that_do_not_go_with_the_places_are_told():
    log = read(table("time [s],speed [km/h],lat,lon", SECONDS, SPEED, NORTH, np.full(60, 14.5)))
    assert any("0.28 times what the positions" in note for note in log.notes)
    assert not read(table("time [s],speed [m/s],lat,lon", SECONDS, SPEED, NORTH, np.full(60, 14.5))).notes


def test_rows_with_one_time_are_told():
    times = np.repeat(SECONDS, 5)
    log = read(table("time [s],speed [m/s]", times, np.repeat(SPEED, 5)))
    assert log.time_s.size == 60 and any("parts of a second" in note for note in log.notes)


def test_a_logger_quicker_than_its_receiver():
    """Ten rows a second of a place that is new once a second; then a stand, which stays."""
    lat = np.repeat(np.concatenate([NORTH, np.full(20, NORTH[-1])]), 10)
    log = read(table("time [s],lat,lon", np.arange(800) / 10, lat, np.full(800, 14.5)))
    np.testing.assert_allclose(np.interp(SECONDS[2:-2], log.time_s, log.speed_m_s), SPEED[2:-2], atol=0.05)
    assert log.speed_m_s[-100:].max() == 0.0
    (held,) = (int(row.read_as) for row in log.found if row.what == "positions held")
    assert 59 * 9 <= held <= 61 * 9


# ---- tracks


def point(k, extra="", lat=None):
    place = NORTH[k] if lat is None else lat
    return f'<trkpt lat="{place:.8f}" lon="14.5"><time>{MOMENTS[k]:%Y-%m-%dT%H:%M:%SZ}</time>{extra}</trkpt>'


def speed_of(k, factor=1.0):
    return f'<extensions><a:x xmlns:a="urn:own"><a:speed>{SPEED[k] * factor:.4f}</a:speed></a:x></extensions>'


@pytest.mark.parametrize(("factor", "unit"), [(1.0, "m/s"), (3.6, "km/h, proved"), (1 / 0.44704, "mph, proved")])
def test_the_unit_of_a_speed_in_an_extension_is_held_against_the_places(factor, unit):
    log = read(gpx("".join(point(k, speed_of(k, factor)) for k in range(60))))
    assert whole(log)
    assert any(row.what == "speed" and row.detail.startswith(unit) for row in log.found)


def test_segments_in_the_wrong_order_are_put_right_and_overlapping_ones_refused():
    one, two = "".join(map(point, range(30))), "".join(map(point, range(30, 60)))
    apart = "</trkseg></trk><trk><trkseg>"
    log = read(gpx(two + apart + one))
    np.testing.assert_allclose(log.speed_m_s[1:-1], SPEED[1:-1], atol=0.01)
    assert any(row.what == "segments" for row in log.found)
    assert not any(row.what == "segments" for row in read(gpx(one + apart + two)).found)
    with pytest.raises(InputError, match="back in time"):
        read(gpx(one + apart + "".join(map(point, range(10, 60)))))


def test_points_without_a_fix_and_speeds_of_minus_one():
    lost = "".join(point(k, "<speed>-1</speed>", lat=0.0) for k in range(5)).replace('lon="14.5"', 'lon="0"')
    log = read(
        gpx(lost + "".join(point(k, f"<speed>{SPEED[k] if k > 9 else -1}</speed>") for k in range(5, 60)), "1.0")
    )
    np.testing.assert_allclose(log.speed_m_s, SPEED[10:], atol=0.01)


def test_a_stand_is_a_stand_although_its_positions_wander():
    rng = np.random.default_rng(5)
    lat = np.concatenate([NORTH, np.full(60, NORTH[-1])]) + rng.normal(0, 0.5, 120) / 111195
    log = read(table("time [s],lat,lon", np.arange(120.0), lat, np.full(120, 14.5)))
    assert np.mean(log.speed_m_s[65:] == 0.0) > 0.9
    np.testing.assert_allclose(log.speed_m_s[3:55], SPEED[3:55], atol=1.5)


def test_what_is_to_be_minded_of_a_log_stands_with_its_answers():
    log = read(
        table("time [s],lat,lon,Altitude GPS,Altitude baro", SECONDS, NORTH, np.full(60, 14.5), SECONDS, SECONDS)
    )
    assert len(log.notes) == 2
    runs = [cut(log, 0.0, 20.0), cut(log, 30.0, 50.0)]
    assert notes_of(runs) == log.notes
    answer = ridden(make_bike(read_build(reference.DATA / "demo" / "coast-single.toml")), log).answer
    assert set(log.notes) <= set(answer.notes)


@pytest.mark.parametrize(("per", "wrong", "right"), [(1 / 60, "s", "min"), (1000, "s", "ms")])
def test_a_clock_in_the_wrong_unit_shows_in_the_places(per, wrong, right):
    seconds = np.arange(0.0, 300.0, 3.0)
    north = 46.0 + 10.0 * seconds / 111195.08
    data = table("time,speed [m/s],lat,lon", seconds * per, np.full(100, 10.0), north, np.full(100, 14.5))
    assert any("times what the positions" in note for note in read(data, units={"time": wrong}).notes)
    log = read(data, units={"time": right})
    assert not any("times what the positions" in note for note in log.notes)
    np.testing.assert_allclose(log.time_s, seconds, atol=1e-9)


@pytest.mark.parametrize("nothing", [-32768, -9999])
def test_an_elevation_that_is_not_known_is_not_taken_for_one(nothing):
    heights = [nothing if k < 9 else 300 + k for k in range(60)]
    for data in (
        table("time [s],speed [m/s],ele [m]", SECONDS, SPEED, heights),
        gpx("".join(point(k, speed_of(k)).replace("<time>", f"<ele>{heights[k]}</ele><time>") for k in range(60))),
    ):
        log = read(data)
        assert whole(log) and np.isnan(log.elevation_m[:7]).all()
        np.testing.assert_allclose(log.elevation_m[9:], heights[9:])


# ---- out of the way, hostile and spoilt

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
    body = gpx("".join(plain_point(k, "<name>Höhe</name>") for k in range(5))).decode()
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
    data = gpx(plain_point(1), head=head).decode().replace('<?xml version="1.0"?>', declared).encode(encoding)
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
