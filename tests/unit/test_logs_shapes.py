"""One ride as many loggers would write it: every writing gives the same figures, and what cannot be told is said."""

from __future__ import annotations

from datetime import UTC, datetime, timedelta

import numpy as np
import pytest
from support.log_texts import ROWS, gpx, text

from ridesim.errors import InputError
from ridesim.logs.fits.ratios import find_ratios
from ridesim.logs.log import Found
from ridesim.logs.reader import read_log_bytes
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


def test_commas_for_everything_are_refused_in_words():
    with pytest.raises(InputError, match="cannot be told apart"):
        read("time [s],speed [km/h]\n" + "".join(f"{t},{v}\n".replace(".", ",") for t, v, _ in ROWS))


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
    from ridesim import reference
    from ridesim.bike import make_bike
    from ridesim.buildfile.io import read as read_build
    from ridesim.logs.log import cut, notes_of
    from ridesim.logs.ride import ridden

    log = read(
        table("time [s],lat,lon,Altitude GPS,Altitude baro", SECONDS, NORTH, np.full(60, 14.5), SECONDS, SECONDS)
    )
    assert len(log.notes) == 2
    runs = [cut(log, 0.0, 20.0), cut(log, 30.0, 50.0)]
    assert notes_of(runs) == log.notes
    answer = ridden(make_bike(read_build(reference.DATA / "demo" / "coast-single.toml")), log).answer
    assert set(log.notes) <= set(answer.notes)


@pytest.mark.parametrize("per", [1 / 60, 1000])
def test_a_clock_in_the_wrong_unit_shows_in_the_places(per):
    seconds = np.arange(0.0, 300.0, 3.0)
    north = 46.0 + 10.0 * seconds / 111195.08
    data = table("time,speed [m/s],lat,lon", seconds * per, np.full(100, 10.0), north, np.full(100, 14.5))
    wrong, right = {1 / 60: ("s", "min"), 1000: ("s", "ms")}[per]
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
