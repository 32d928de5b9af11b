"""The rider's own ride in the choice: its figures, its limits with their certainty, its wishes, and how it is given."""

from __future__ import annotations

import json
import re
from dataclasses import replace

import numpy as np
import pytest
from support import commands
from support.evidence import SINGLE as BUILD

import ridesim as rs
from ridesim import reference
from ridesim.bike import make_bike
from ridesim.errors import InputError
from ridesim.logs.log import Log
from ridesim.logs.ride import ridden
from ridesim.selection import GOALS, choose, held_to, verdict
from ridesim.selection import verdict_words as words
from ridesim.selection.certainty import certainty_of
from ridesim.selection.contract import row, verdict_object
from ridesim.selection.goals import LIMITED, RIDE_GOALS
from ridesim.selection.own_rides import RESTS_ON
from ridesim.selection.verdict import RIDE_WISHES
from ridesim.uncertainty.tolerances import PER_SD, perturbed

BIKE = make_bike(BUILD)
NONE = dict.fromkeys(LIMITED, "")
HIGH = {"ride_engine_speed": "4500 rev/min"}


def log(speeds, name="made up"):
    """A level ride at one sample a second."""
    speeds = np.asarray(speeds, dtype=float)
    time = np.arange(float(speeds.size))
    return Log(name=name, time_s=time, speed_m_s=speeds, distance_m=np.cumsum(speeds))


@pytest.fixture(scope="module")
def ride(tmp_path_factory):
    """The first minutes of the ride that comes along."""
    head, *points = re.split("(?=<trkpt)", reference.DATA.joinpath("demo", "logs", "ride.gpx").read_text())
    file = tmp_path_factory.mktemp("ride") / "ride.gpx"
    file.write_text(head + "".join(points[:400]) + "</trkseg></trk></gpx>")
    return file


def rolling(seconds=600, seed=3):
    """Now faster, now slower, never at a stand."""
    rng = np.random.default_rng(seed)
    knots = rng.uniform(12.0, 30.0, seconds // 20 + 2)
    return log(np.interp(np.arange(seconds), 20.0 * np.arange(knots.size), knots))


def chosen(logs, fronts=(13, 14, 15), rears=(37, 41, 45), **limits):
    held = held_to(BUILD.record.limits, **{**NONE, **HIGH, **limits})
    return choose(BUILD, fronts=fronts, rears=rears, limits=held, logs=logs)


def test_an_hour_at_one_speed_is_above_an_engine_speed_all_of_the_time_or_never():
    v = 26.0
    choice = chosen([log(np.full(600, v))])
    for one in choice.candidates:
        ratio = BIKE.primary * BIKE.gears[-1] * one.rear / one.front
        speed = v / float(BIKE.rear_tire.rolling_radius_m) * ratio
        assert one.figures["ride_time_above"] == pytest.approx(float(speed > choice.high_rad_s), abs=0.02)
        assert one.figures["ride_range"] == pytest.approx(float(BUILD.record.fuel.tank) / one.figures["ride_fuel"])
        assert row(one)["ride"]["fuel_l_per_100km"] == pytest.approx(1e5 * 1e3 * one.figures["ride_fuel"])  # m3/m
    told = verdict_object(verdict(choice))["ride"]
    assert (told["distance_km"], told["moving_h"]) == pytest.approx((0.6 * v, 600 / 3600), rel=0.01)
    assert min(choice.figures["ride_time_above"]) < 0.02 < 0.98 < max(choice.figures["ride_time_above"])


def test_the_figures_of_several_rides_are_those_of_each_replay_added_up():
    rides = [rolling(600), rolling(900, seed=8)]
    choice = chosen(rides)
    pairs = [(one.front, one.rear) for one in choice.candidates]
    each = [ridden(BIKE, ride, pairs=pairs) for ride in rides]
    moving, way = (sum(getattr(one.found, name) for one in each) for name in ("moving_s", "distance_m"))
    for n, pair in enumerate(pairs):
        rows = [(one.found, one.pairs.index(pair)) for one in each]
        fuel, shifts = sum(f.fuel_m3[k] for f, k in rows), sum(f.shifts[k] for f, k in rows)
        # 4,500 rev/min is where a bin of 250 rev/min begins
        above = sum(f.share_of_time[k][f.bins_rad_s >= choice.high_rad_s - 1e-6].sum() * f.moving_s for f, k in rows)
        told = choice.candidates[n].figures
        assert told["ride_fuel"] == pytest.approx(fuel / way) and told["ride_shifts"] == pytest.approx(
            3600 * shifts / moving
        )
        assert told["ride_time_above"] == pytest.approx(above / moving)


def test_the_certainty_of_a_ride_agrees_with_bikes_drawn_from_the_tolerances():
    ride = rolling(240)
    build = BUILD.changed({"tires.rear.rollout": "1.996 +- 0.02 m", "masses.rider": "84 +- 6 kg"})
    middle = choose(build, fronts=[14], rears=[41], limits=held_to(build.record.limits, **NONE, **HIGH), logs=[ride])
    figures = middle.candidates[0].figures
    limits = {
        "ride_time_above_most": f"{100 * figures['ride_time_above'] + 2:.2f} %",
        "ride_fuel_most": f"{1e8 * figures['ride_fuel'] * 1.02:.3f} l/100km",
        "ride_range_least": f"{figures['ride_range'] / 1e3 * 1.01:.2f} km",
    }
    held = held_to(build.record.limits, **{**NONE, **HIGH, **limits})
    choice = choose(build, fronts=[14], rears=[41], limits=held, logs=[ride])
    found, bike = certainty_of(choice), make_bike(build)
    rng, met = np.random.default_rng(5), dict.fromkeys(limits, 0)
    draws = 150
    for _ in range(draws):
        errors = rng.standard_normal((1, len(bike.tolerances))) / PER_SD
        raw = perturbed(bike.raw, bike.tolerances, errors)
        moved = {name for one in bike.tolerances for name in one.moves}
        drawn = replace(bike, raw=raw | {name: float(raw[name][0]) for name in moved})
        one = ridden(drawn, ride).found
        figures = {
            "ride_time_above": one.share_of_time[0][one.bins_rad_s >= choice.high_rad_s - 1e-6].sum(),
            "ride_fuel": one.fuel_m3_per_m[0],
            "ride_range": float(drawn.raw["tank_m3"]) / one.fuel_m3_per_m[0],
        }
        for name in limits:
            goal = RIDE_GOALS[LIMITED[name]]
            met[name] += goal.better * (figures[goal.key] - float(getattr(choice.limits, name))) >= 0
    for n, name in enumerate(found.names):
        if name in limits:
            assert found.by_limit[n, 0] == pytest.approx(met[name] / draws, abs=0.11), name


def test_what_a_replay_rests_on_is_what_moves_it():
    """Every raw figure of the bike that is not named leaves the replay as it is."""
    ride = rolling(120)
    own = ridden(BIKE, ride).found
    rest = [name for name, value in BIKE.raw.items() if name not in RESTS_ON | {"ratios"} and np.isfinite(value)]
    changed = replace(BIKE, raw=dict(BIKE.raw) | {name: 1.05 * BIKE.raw[name] for name in rest})
    other = ridden(changed, ride).found
    assert other.fuel_m3[0] == own.fuel_m3[0] and (other.share_of_time == own.share_of_time).all()
    light = replace(BIKE, raw=dict(BIKE.raw) | {"fuel_density_kg_m3": 0.95 * BIKE.raw["fuel_density_kg_m3"]})
    assert ridden(light, ride).found.fuel_m3[0] == pytest.approx(own.fuel_m3[0] / 0.95)


@pytest.mark.parametrize("wish", RIDE_WISHES)
def test_a_verdict_meets_the_limits_of_the_ride_and_speaks_of_it(wish):
    choice = chosen([rolling()], ride_time_above_most="60 %", ride_range_least="180 km")
    decided = verdict(choice, wish=wish)
    one = decided.candidate
    assert decided.action in ("keep", "order") and one.meets_limits
    assert one.figures["ride_time_above"] <= 0.6 and one.figures["ride_range"] >= 180e3
    assert "of your ride above 4,500 rev/min (limit 60.0 %" in words.sentence(decided)
    assert any(text.startswith("on your ride (") for text in words.reasons(decided))
    if wish in ("economy", "shifts"):
        key = RIDE_WISHES[wish]
        holding = decided.certainty.rows[decided.certainty.overall >= 0.9]
        assert one.figures[key] <= 1.0151 * choice.figures[key][holding].min()


def test_a_limit_of_the_ride_that_nothing_meets_is_relaxed_until_it_holds():
    decided = verdict(chosen([rolling()], ride_fuel_most="2 l/100km"))
    assert decided.action == "none" and [one.limit for one in decided.relax] == ["ride_fuel_most"]
    again = verdict(chosen([rolling()], ride_fuel_most=f"{1e8 * decided.relax[0].end:.2f} l/100km"))
    assert again.action != "none" and again.choice.candidates[decided.relax[0].row].meets_limits


def test_without_a_ride_its_limits_are_told_and_its_wishes_and_goals_refused():
    limits = held_to(BUILD.record.limits, ride_fuel_most="4 l/100km", ride_range_least="200 km")
    choice = choose(BUILD, fronts=[14], rears=[41], limits=limits)
    assert any(note.startswith("ride_fuel_most, ride_range_least: not held") for note in choice.notes)
    assert set(choice.figures) == set(GOALS)
    with pytest.raises(InputError, match="wish"):
        verdict(choice, wish="shifts")
    with pytest.raises(InputError, match="goal"):
        choose(BUILD, goals=["ride_fuel", "first_force"])


def test_a_notebook_gives_a_path_or_logs(ride):
    bike = rs.demo("coast-single")
    found = rs.choose(bike, front=14, rear=range(39, 43), log=ride, ride_time_above_most="40 %", **HIGH)
    assert "of your ride above 4,500 rev/min" in str(found.verdict)
    assert "Fuel on your ride [l/100 km]" in found.to_frame().columns
    both = rs.choose(bike, front=14, rear=41, log=[rolling(), rolling(seed=9)])
    assert len(both.choice.crossing.logs) == 2
    with pytest.raises(InputError, match="too short"):
        rs.choose(bike, front=14, rear=41, log=log(np.full(20, 20.0), name="too short"))


def run(capsys, *arguments):
    return commands.run(capsys, "choose", "coast-single", "--front", "14", "--rear", "39:42", *arguments)


def test_the_command_takes_files_and_logs_of_the_garage(capsys, tmp_path, ride):
    garage = tmp_path / "garage.sqlite3"
    commands.answered(capsys, "garage", "save", "coast-single", "--file", garage)
    for _ in range(2):
        commands.answered(capsys, "garage", "log", "add", "Coast single (invented)", ride, "--file", garage)
    limits = ("--max-ride-time-above", "30 %", "--ride-engine-speed", "4500 rev/min", "--json")
    code, by_file, _ = run(capsys, "--log", ride, *limits)
    told = json.loads(by_file)
    assert code == 0 and "ride_time_above_most" in told["verdict"]["certainty"] and told["candidates"][0]["ride"]
    assert told["verdict"]["ride"]["above_engine_rpm"] == pytest.approx(4500)
    kept = json.loads(run(capsys, "--log", "garage:2", "--garage", garage, *limits)[1])
    assert kept["verdict"] == told["verdict"]
    every = json.loads(run(capsys, "--log", "garage", "--garage", garage, *limits)[1])
    assert len(every["verdict"]["ride"]["logs"]) == 2
    assert every["verdict"]["ride"]["shifts_per_hour"] == pytest.approx(told["verdict"]["ride"]["shifts_per_hour"])
    _, table, _ = run(capsys, "--log", ride, "--units", "us")
    assert "Ride above" in table and "Shifts/h" in table and "[mpg]" in table
    assert "ride_fuel_si" in run(capsys, "--log", ride, "--csv")[1].splitlines()[0]


@pytest.mark.parametrize(
    ("line", "where"),
    [
        (("--max-ride-fuel", "4 l/100km"), "--max-ride-fuel = '4 l/100km': needs a ride"),
        (("--wish", "shifts"), "--wish = 'shifts': needs a ride"),
        (("--log", "none.gpx"), "none.gpx: cannot be read"),
        (("--log", "garage", "--garage", "none.sqlite3"), "--garage = 'none.sqlite3': is not there"),
        (("--log", "ride.gpx", "--max-ride-time-above", "120 %"), "--max-ride-time-above = '120 %': must be at most"),
        (("--log", "ride.gpx", "--max-ride-shifts-per-hour", "x"), "--max-ride-shifts-per-hour = 'x': "),
        (("--log", "ride.gpx", "--min-ride-range", "nan km"), "--min-ride-range = 'nan km': "),
    ],
)
def test_what_will_not_do_is_refused_by_its_option(capsys, monkeypatch, ride, line, where):
    monkeypatch.chdir(ride.parent)
    code, out, err = run(capsys, *line)
    assert (code, out) == (2, "") and err.startswith(where) and "Traceback" not in err
