"""Commands about logs: they say what the library says, write what they found into a build, and refuse in words."""

from __future__ import annotations

import csv
import json
import sys

import numpy as np
import pytest
from support import commands

from ridesim import reference
from ridesim.answers import Answer
from ridesim.answers.text import sentence
from ridesim.bike import make_bike
from ridesim.buildfile.io import read
from ridesim.cli.log_given import progress
from ridesim.logs.coast_down import coast_down, coasted
from ridesim.logs.gears import geared
from ridesim.logs.pull import compared, pull_speeds, pulled
from ridesim.logs.reader import read_log
from ridesim.logs.ride import ridden
from ridesim.logs.runs import coast_speeds, runs_of

LOGS = reference.DATA / "demo" / "logs"
DEMO = reference.DATA / "demo" / "coast-single.toml"
COAST, BEFORE, AFTER, GEARS, RIDE = (
    LOGS / name for name in ("coast-down.csv", "pulls-before.csv", "pulls-after.csv", "gears.csv", "ride.gpx")
)
BUILD = ("--build", "coast-single")
PULLS = ("--before", BEFORE, "--after", AFTER, *BUILD, "--gear", 3)


def answered(capsys, *arguments: object) -> str:
    return commands.answered(capsys, "log", *arguments)


def says(out: str, answer: Answer, system: str = "metric") -> bool:
    """Whether the library's sentence was printed, and what to mind on the road with it."""
    minded = ("closed track", "speed limits", "Eyes on the road", "nothing is to be read", "maker's manual")
    return sentence(answer, system) in out.replace("\n", " ") and all(words in out for words in minded)


def refused(capsys, *arguments: object) -> str:
    return commands.refused(capsys, "log", *arguments)


@pytest.fixture(scope="module")
def bike():
    return make_bike(read(DEMO))


def coast_runs():
    log = read_log(COAST)
    fast, slow = coast_speeds([log])
    return runs_of([log], "coast-down", from_m_s=fast, to_m_s=slow)


@pytest.fixture(scope="module")
def coast(bike):
    return coasted(bike, coast_runs())


def curve(bike, path, gear=3):
    low, high = pull_speeds(bike, gear)
    return pulled(bike, runs_of([read_log(path)], "pull", from_m_s=low, to_m_s=high), gear=gear)


# ---- what is told


def test_show_tells_what_was_found(capsys):
    out, log = answered(capsys, "show", COAST), read_log(COAST)
    assert f"{log.time_s.size} samples" in out and "speed [km/h]" in out and "gaps" in out
    assert f"{log.speed_m_s.max() * 3.6:.1f} km/h" in out
    assert f"{log.speed_m_s.max() * 3600 / 1609.344:.1f} mph" in answered(capsys, "show", COAST, "--units", "us")
    told, log = json.loads(answered(capsys, "show", RIDE, "--json")), read_log(RIDE)
    assert told["samples"] == log.time_s.size and told["elevation"] and not told["engine_speed"]
    assert told["distance_m"] == pytest.approx(log.distance_m[-1])


@pytest.mark.parametrize("system", ["metric", "us"])
def test_coastdown_says_what_the_library_says(capsys, coast, system):
    out = answered(capsys, "coastdown", COAST, *BUILD, "--units", system)
    assert says(out, coast.answer, system)


def test_coastdown_hands_the_library_the_figures_of_the_build(coast, bike):
    """The same runs fitted with the figures of the file written out by hand."""
    direct = coast_down(
        coast_runs(),
        mass_kg=172.0 + 79.0 + 6.0,
        wheels_kg=0.41 / bike.front_tire.rolling_radius_m**2 + 0.56 / (1.996 / (2 * np.pi)) ** 2,
        air_density_kg_m3=bike.air.density_kg_m3,
    )
    assert coast.found.drag_area_m2.value == pytest.approx(direct.drag_area_m2.value, rel=1e-9)
    assert coast.found.rolling_resistance.value == pytest.approx(direct.rolling_resistance.value, rel=1e-9)


def test_the_demo_logs_come_out_near_the_build_they_were_made_from(coast, bike):
    for band, truth in ((coast.found.drag_area_m2, 0.66), (coast.found.rolling_resistance, 0.019)):
        assert band.low < truth < band.high
    found = geared(read_log(GEARS), bike=bike)
    assert [g.overall_ratio.value for g in found.found.gears] == pytest.approx(list(bike.setups.ratios[0]), rel=0.012)
    before = curve(bike, BEFORE).found
    crank = 0.92 * bike.curve.torque_at(before.engine_speed_rad_s)  # standard air, at the wheel
    off = before.torque_n_m / crank - 1.0
    assert np.all(np.abs(off[1:-1]) < 0.06)


def test_another_air_gives_another_drag_area(capsys, coast):
    told = json.loads(answered(capsys, "coastdown", COAST, *BUILD, "--altitude", "2000 m", "--json"))
    assert told["f2_n_s2_m2"]["value"] == pytest.approx(coast.found.f2_n_s2_m2.value, rel=1e-6)
    assert told["drag_area_m2"]["value"] > 1.15 * coast.found.drag_area_m2.value


def test_one_way_needs_a_word_on_wind_and_slope(capsys):
    err = refused(capsys, "coastdown", COAST, *BUILD, "--time-range", "0:80")
    assert "one direction" in err
    out = answered(capsys, "coastdown", COAST, *BUILD, "--time-range", "0:80", "--wind", "1 m/s", "--slope", "0.3 %")
    assert "ridden one way only" in out


def test_two_files_are_one_set_however_each_begins(capsys, tmp_path, coast):
    """The second log begins on the way back: its runs must still be told apart from those of the first."""
    head, *rows = [line for line in COAST.read_text().splitlines() if not line.startswith("#")]
    cuts = (tmp_path / "one.csv", 0.0, 80.0), (tmp_path / "two.csv", 80.0, 1e9)
    for path, low, high in cuts:
        path.write_text("\n".join([head, *(row for row in rows if low <= float(row.split(",")[0]) < high)]))
    told = json.loads(
        answered(capsys, "coastdown", cuts[0][0], cuts[1][0], *BUILD, "--from", "100 km/h", "--to", "40 km/h", "--json")
    )
    assert [row["direction"] for row in told["rows"]] == [1, -1, 1, -1]
    assert told["drag_area_m2"]["value"] == pytest.approx(coast.found.drag_area_m2.value, rel=0.02)


def test_ways_by_hand_are_those_of_the_positions(capsys):
    by_place = json.loads(answered(capsys, "coastdown", COAST, *BUILD, "--json"))
    by_hand = json.loads(answered(capsys, "coastdown", COAST, *BUILD, "--directions", "out,back,out,back", "--json"))
    assert by_hand == json.loads(answered(capsys, "coastdown", COAST, *BUILD, "--ways", "out,back,out,back", "--json"))
    assert by_hand["drag_area_m2"] == by_place["drag_area_m2"]


@pytest.mark.parametrize("system", ["metric", "us"])
def test_pull_says_what_the_library_says(capsys, bike, system):
    out = answered(capsys, "pull", AFTER, *BUILD, "--gear", 3, "--units", system)
    assert says(out, curve(bike, AFTER).answer, system)


def test_compare_tells_real_from_noise(capsys, bike):
    out = answered(capsys, "compare", *PULLS, "--same-phone")
    before, after = curve(bike, BEFORE), curve(bike, AFTER)
    done = compared(before, after, same_receiver=True)
    assert says(out, done.answer)
    assert "more, proved" in out and "within the noise" in out
    open_question = compared(before, after)
    assert open_question.found.least_share > done.found.least_share
    assert "No difference that the runs can prove" in sentence(compared(before, before).answer)


def test_ratios_stand_beside_the_build_and_go_without_one(capsys, bike):
    out = answered(capsys, "ratios", GEARS, *BUILD)
    assert says(out, geared(read_log(GEARS), bike=bike).answer) and "Log against build" in out
    alone = json.loads(answered(capsys, "ratios", GEARS, "--circumference", "1.996 m", "--json"))
    assert len(alone["gears"]) == 5 and alone["build_gear"] == [None] * 5 and alone["segments"]


def test_ride_goes_through_every_pair(capsys, bike, tmp_path):
    target = tmp_path / "pairs.csv"
    arguments = ("ride", RIDE, *BUILD, "--front", "14:16", "--rear", "40:42")
    out = answered(capsys, *arguments, "--csv", target)
    pairs = [(f, r) for f in (14, 15, 16) for r in (40, 41, 42)]
    done = ridden(bike, read_log(RIDE), pairs=pairs)
    assert says(out, done.answer)
    with target.open(newline="") as file:
        head, *rows = list(csv.reader(file))
    assert len(rows) == 9 and rows[0][0] == "14/41" and "[rev/min]" in head[1]
    assert float(rows[0][1]) == pytest.approx(done.found.mean_engine_rad_s[0] * 30 / np.pi, abs=0.5)
    told = json.loads(answered(capsys, *arguments, "--json"))
    assert [(p["front"], p["rear"]) for p in told["pairs"]] == list(done.pairs)
    assert [p["shifts"] for p in told["pairs"]] == done.found.shifts.tolist()
    shares = np.array([p["share_of_time"] for p in told["pairs"]])
    assert shares.shape == (9, len(told["bins_rad_s"]))
    np.testing.assert_allclose(shares.sum(axis=1), 1.0)


def test_a_habit_of_later_shifts_turns_the_engine_faster(capsys):
    early, late = (
        json.loads(answered(capsys, "ride", RIDE, *BUILD, "--habit", habit, "--json"))["pairs"][0]
        for habit in ("45 %:15 %", "80 %:40 %")
    )
    assert early["mean_engine_rad_s"] < late["mean_engine_rad_s"]


def test_columns_by_hand(capsys, tmp_path):
    path = tmp_path / "odd.csv"
    rows = "\n".join(f"{n};{n};{30 + n % 7}" for n in range(40))
    path.write_text(f"alpha;beta;gamma\n{rows}")
    err = refused(capsys, "show", path)
    assert "--time COLUMN" in err and "columns=" not in err
    err = refused(capsys, "show", path, "--time", "alpha", "--speed", "gamma", "--time-unit", "s")
    assert "--speed-unit km/h" in err
    out = answered(
        capsys, "show", path, "--time", "alpha", "--speed", "gamma", "--time-unit", "s", "--speed-unit", "km/h"
    )
    assert "up to 36.0 km/h" in out


# ---- into a build


@pytest.fixture
def build(tmp_path):
    path = tmp_path / "build.toml"
    path.write_text(DEMO.read_text() + "\n# the last word\n")
    return path


def test_coastdown_into_a_build_is_asked_for_and_keeps_its_comments(capsys, build, coast):
    was = read(build).text
    said = refused(capsys, "coastdown", COAST, "--build", build, "--into", build)
    assert "says its drag_area and rolling_resistance already. Add --replace" in said and read(build).text == was
    out = answered(capsys, "coastdown", COAST, "--build", build, "--into", build, "--replace")
    assert "road load from your coast-downs" in out
    new = read(build)
    area = new.record.road_load.drag_area
    assert float(area) == pytest.approx(coast.found.drag_area_m2.value, abs=5e-4)
    assert area.plus_minus == pytest.approx(coast.found.drag_area_m2.high - coast.found.drag_area_m2.value, abs=5e-4)
    rolling = new.record.road_load.rolling_resistance
    assert rolling == pytest.approx(coast.found.rolling_resistance.value, abs=6e-5)
    comments = [line.partition("#")[2] for line in DEMO.read_text().splitlines() if "#" in line]
    assert all(comment in new.text for comment in comments) and "# the last word" in new.text


def test_a_coast_down_takes_the_place_of_another_road_load(capsys, tmp_path, coast):
    target = tmp_path / "twin.toml"
    twin = reference.DATA / "demo" / "road-twin.toml"
    answered(capsys, "coastdown", COAST, *BUILD, "--into", twin, "-o", target)
    load = read(target).record.road_load
    assert load.coast_down is None and float(load.drag_area) == pytest.approx(coast.found.drag_area_m2.value, abs=5e-4)


def test_pull_into_a_build_is_a_tune_at_the_wheel(capsys, build, bike):
    answered(capsys, "pull", AFTER, "--build", build, "--gear", 3, "--name", "re-jetted", "--into", build)
    new = read(build)
    tune = new.record.tune["re-jetted"]
    assert (tune.measured_at, tune.standard) == ("wheel", "SAE J1349") and tune.curve_error > 0
    found = curve(bike, AFTER).found
    again = make_bike(new, tune="re-jetted")  # back through the build: the power that reaches the wheel on that day
    inside = found.engine_speed_rad_s[(found.engine_speed_rad_s <= again.curve.last_rad_s)]
    wheel = again.curve.torque_at(inside) * float(again.setups.efficiency[0])
    assert wheel == pytest.approx(found.torque_n_m[: inside.size], rel=2e-3)


def test_as_measured_keeps_the_air_of_the_day(capsys, build, bike):
    raw = ("--standard", "as measured", "--name", "raw")
    answered(capsys, "pull", AFTER, "--build", build, "--gear", 3, *raw, "--into", build)
    tune = read(build).record.tune["raw"]
    assert tune.standard == "as measured" and tune.pressure is not None
    assert tune.temperature == pytest.approx(bike.air.temperature_k, abs=0.01)


def test_beside_json_the_saving_is_told_on_standard_error(capsys, build):
    code, out, err = commands.run(
        capsys, "log", "coastdown", COAST, "--build", build, "--into", build, "--replace", "--json"
    )
    assert code == 0 and json.loads(out)["rows"] and "road load" in err


# ---- refusals


@pytest.mark.parametrize(
    ("arguments", "words"),
    [
        (("show", "nowhere.csv"), "nowhere.csv"),
        (("coastdown", COAST, "--build", "no-such-build"), "no-such-build"),
        (("coastdown", COAST, *BUILD, "--directions", "out,back"), "--directions"),
        (("coastdown", COAST, *BUILD, "--directions", "up"), "--directions"),
        (("coastdown", COAST, *BUILD, "--time-range", "5"), "--time-range"),
        (("coastdown", COAST, *BUILD, "--time-range", "900:950"), "--time-range"),
        (("coastdown", COAST, *BUILD, "--from", "fast"), "--from"),
        (("coastdown", COAST, *BUILD, "--altitude", "high"), "--altitude"),
        (("coastdown", COAST, *BUILD, "--to", "-1"), "--to = '-1': must be between 0 and 430 km/h"),
        (("pull", AFTER, *BUILD, "--gear", 3, "--to", "1e308"), "--to = '1e308': must be between 0 and 430 km/h"),
        (("coastdown", COAST, *BUILD, "-o", "x.toml"), "--output"),
        (("coastdown", COAST, *BUILD, "--from", "20 km/h", "--to", "90 km/h"), "--from"),
        (("coastdown", RIDE, *BUILD, "--from", "150 km/h", "--to", "20 km/h"), "ride.gpx"),
        (("coastdown", COAST, *BUILD, "--wind", "1e308"), "--wind"),
        (("coastdown", COAST, *BUILD, "--slope", "-100 %"), "--slope"),
        (("coastdown", COAST, *BUILD, "--altitude", ""), "--altitude"),
        (("coastdown", COAST, *BUILD, "--speed-unit", " "), "--speed-unit"),
        (("show", COAST, "--speed-unit", "bananas"), "--speed-unit = 'bananas': is not a unit of speed."),
        (("show", COAST, "--time-unit", "nan"), "--time-unit = 'nan': is not a unit of time."),
        (("show", COAST, "--speed", "bananas"), "--speed = 'bananas': is not a column"),
        (("coastdown", COAST, *BUILD, "--into", "coast-single"), "--into = 'coast-single': is a demo build."),
        (("coastdown", COAST, *BUILD, "--into", DEMO, "-o", LOGS), "logs"),
        (("pull", AFTER, *BUILD, "--gear", 3, "--name", "x", "--into", DEMO, "-o", LOGS), "logs"),
        (("compare", *PULLS, "--before-humidity", ""), "--before-humidity"),
        ((), "Usage"),
        (("pull", AFTER, *BUILD, "--gear", 9), "--gear"),
        (("pull", AFTER, *BUILD, "--gear", 3, "--name", "x"), "--into"),
        (("pull", AFTER, *BUILD, "--gear", 3, "--name", "bad name", "--into", DEMO, "-o", "x.toml"), "--name"),
        (("pull", AFTER, *BUILD, "--gear", 3, "--name", "a]\n[b", "--into", DEMO, "-o", "x.toml"), "--name"),
        (("pull", RIDE, *BUILD, "--gear", 3), "ride.gpx"),
        (("compare", *PULLS, "--after-altitude", "x"), "--after-altitude"),
        (("ratios", GEARS), "--circumference"),
        (("ratios", COAST, *BUILD), "engine speed"),
        (("ratios", GEARS, *BUILD, "--gears", 8), "--gears"),
        (("ride", RIDE, *BUILD, "--front", "a:b"), "--front"),
        (("ride", RIDE, *BUILD, "--front", "70:60"), "--front"),
        (("ride", RIDE, *BUILD, "--habit", "1"), "--habit"),
        (("ride", RIDE, *BUILD, "--habit", "50 %:49 %"), "--habit"),
        (("ride", RIDE, *BUILD, "--lugging", "slow"), "--lugging"),
        (("ride", RIDE, *BUILD, "--csv", DEMO), "--csv"),
    ],
    ids=lambda value: " ".join(str(one).rsplit("/", 1)[-1] for one in value) if isinstance(value, tuple) else "",
)
def test_refusals_name_what_and_where(capsys, arguments, words):
    assert words in refused(capsys, *arguments)


def test_both_days_of_a_comparison_are_read_before_the_power_of_either_is_worked_out(capsys, monkeypatch):
    monkeypatch.setattr("ridesim.logs.pull.pulled", lambda *_, **__: pytest.fail("worked out"))
    assert "--after-directions" in refused(capsys, "compare", *PULLS, "--after-directions", "x")


def test_a_refusal_in_a_file_names_the_line(capsys, tmp_path):
    path = tmp_path / "spoilt.csv"
    path.write_text("time [s],speed [km/h]\n" + "\n".join(f"{n},{40 + n}" for n in range(5)) + "\n6,4000\n")
    err = refused(capsys, "show", path)
    assert "spoilt.csv" in err and "line 7" in err


def test_a_refused_result_leaves_the_build_alone(capsys, build):
    before = build.read_bytes()
    refused(capsys, "coastdown", COAST, "--build", build, "--time-range", "0:80", "--into", build)
    assert build.read_bytes() == before


# ---- the rest


def test_a_bar_shows_on_a_terminal_alone(monkeypatch):
    with progress("Reading") as told:
        assert told is None
    monkeypatch.setattr(sys.stderr, "isatty", lambda: True, raising=False)
    with progress("Reading") as told:
        assert told is not None
        told(0.5)


def test_the_commands_start_without_what_only_their_sums_need():
    code = (
        "import sys; import ridesim.cli.log; "
        "print([m for m in ('scipy', 'pandas', 'gpxpy', 'pint', 'ridesim.logs') if m in sys.modules]); "
        "from ridesim.logs.reader import read_log; from ridesim.logs.fits.ratios import find_ratios; "
        f"find_ratios(read_log({str(GEARS)!r}), rolling_circumference_m=2.0); "
        "print([m for m in ('scipy', 'pandas') if m in sys.modules])"
    )
    assert commands.python(code) == ["[]", "[]"]
