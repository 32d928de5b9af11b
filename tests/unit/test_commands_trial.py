"""Commands of trials: what they keep, what they say, how they refuse, and that a refusal keeps nothing."""

from __future__ import annotations

import itertools
from pathlib import Path

import pytest
from support.commands import held, refused

from ridesim import reference
from ridesim.buildfile.io import parse, read
from ridesim.cli.garage.trial_file import read_trials

DEMO = reference.DATA / "demo"
BIKE = "Coast single (invented)"
AIR = ("--altitude", "20 m", "--temperature", "22 degC", "--humidity", "70 %")
FIRST = ("--main-jet", "122.5", "--clip-position", "3", "--mixture-screw", "fuel", "--mixture-screw-turns-out", "2")
CURVE = "rpm;torque [N·m]\n1900;20,0\n2600;22,3\n3500;24,7\n4500;25,8\n6300;22,9\n7100;19,1\n"


def test_the_demo_story_fits_the_demo_builds():
    tables_of = read_trials(Path("trials")).trials
    coast, plateau = read(DEMO / "coast-single.toml"), read(DEMO / "plateau-single.toml")
    for table, build in ((tables_of[0], coast), (tables_of[3], plateau)):
        used = float(table["fuel_used"].removesuffix(" l")) / float(table["distance"].removesuffix(" km")) * 100
        assert used == pytest.approx(float(build.record.fuel.known_consumption[0]) * 1e8, abs=0.005)
    tune, air = plateau.record.tune["rejetted"], tables_of[3]["air"]
    assert (air["temperature"], air["pressure"], air["humidity"]) == ("16 degC", "801 hPa", "40 %")
    assert (float(tune.temperature), float(tune.pressure), float(tune.humidity)) == pytest.approx(
        (289.15, 80100.0, 0.4)
    )
    sizes = read_trials(Path("trials")).obtainable.main_jets
    assert sizes.index(tables_of[3]["settings"]["main_jet"]) == sizes.index(tables_of[0]["settings"]["main_jet"]) - 2
    assert "INVENTED" in (DEMO / "garage" / "trials.toml").read_text(encoding="utf-8").splitlines()[0]


def test_the_story_is_kept_once_and_told_in_order(stocked, ask, told):
    assert "nothing was added" in ask("trial", "add", BIKE, "--from", "trials")
    trials = told("trial", "list", BIKE)["trials"]
    assert [one["settings"]["main_jet"] for one in trials] == [125.0, 127.5, 127.5] + [120.0] * 4
    assert [one["settings"]["clip_position"] for one in trials] == [3, 3, 3, 3, 2, 2, 2]
    assert all(one["builds_on"] == before["id"] for before, one in itertools.pairwise(trials))
    assert trials[4]["put_back"] == "set the needle clip back to groove 3 from the top"
    assert "2 things were changed at once" in " ".join(ask("trial", "list", BIKE).split())
    us = " ".join(ask("trial", "list", BIKE, "--units", "us").split())
    assert "lb/ft³" in us and "freer silencer" in us and " mm" not in us


def test_the_next_trial_of_the_story_by_place(stocked, ask, told):
    high = told("trial", "next", BIKE, "--parts", "trials")
    assert (high["kind"], high["thing"], high["before"], high["after"]) == ("change", "main jet", "120", "117.5")
    assert high["settings"] | {"main_jet": 120.0} == told("trial", "list", BIKE)["trials"][-1]["settings"]
    home = told("trial", "next", BIKE, "--parts", "trials", *AIR)
    assert home["kind"] == "repeat" and "today's air alone makes it" in home["sentence"]
    out = ask("trial", "next", BIKE, "--parts", "trials", "--working")
    assert "Set the main jet back to 120" in out and "sqrt(rho0/rho)" in out and "Take care" in out
    assert "the air of the next ride is taken to be that of the latest trial" in out
    own = told("trial", "next", BIKE, "--parts", "trials", "--main-jets", "112.5,118,120")
    assert own["after"] == "118"
    none = ask("trial", "next", BIKE)
    assert "Stop here" in none and "give --main-jets" in none and "first trial are taken as stock" in none


def test_a_margin_of_nothing_holds_a_leaner_jet_back(stocked, told):
    day = ("--altitude", "0 m", "--temperature", "15", "--humidity", "0")
    told("trial", "add", BIKE, "--three-quarters-to-full", "rich", *day)
    stock = ("--stock", "4", "--main-jets", "117.5,120", *day)
    assert told("trial", "next", BIKE, *stock, "--lean-margin", "5 %")["after"] == "117.5"
    held_back = told("trial", "next", BIKE, *stock, "--lean-margin", "0 %")
    assert held_back["after"] is None and held_back["kind"] == "ask"  # the other verdicts were not given


def test_trend_and_the_way_back(stocked, ask, told):
    rows = told("trial", "trend", BIKE, "--parts", "trials")["tables"][0]["rows"]
    assert rows[0]["main_richness"] == pytest.approx(rows[0]["air_richness"])
    assert rows[1]["main_richness"] == pytest.approx((127.5 / 125) ** 2 * rows[1]["air_richness"])
    assert "1 is stock, more is richer" in ask("trial", "trend", BIKE)
    back = told("trial", "undo", BIKE, "--parts", "trials")
    rows = back["tables"][0]["rows"]
    assert [one["thing"] for one in rows] == ["pilot jet", "needle clip", "main jet", "exhaust"]
    assert [one["part"] for one in rows] == ["pilot jet 40", None, "main jet 125", "exhaust stock"]
    assert "Put the main jet back from 120 to 125." in ask("trial", "undo", BIKE)


def test_trials_by_options_keep_what_is_not_named(ask, told):
    ask("garage", "save", "coast-single", "--bike", "mine")
    one = told("trial", "add", "mine", *FIRST, *AIR, "--ridden-at", "2024-05-04T09:30:00Z", "--intake-holes", "none",
               "--three-quarters-to-full", "lean: plug white", "--fuel-used", "4 l", "--distance", "80 km")["trials"][0]  # fmt: skip
    assert one["verdicts"]["three_quarters_to_full"] == {"says": "lean", "remark": "plug white"}
    air = {"altitude_m": 20.0, "temperature_k": 295.15, "humidity": pytest.approx(0.7), "pressure_pa": None}
    assert one["air"] == air
    assert (one["fuel_used_m3"], one["distance_m"], one["settings"]["intake_holes_m"]) == (0.004, 80000.0, [])
    two = told("trial", "add", "mine", "--main-jet", "125", "--air-of-build")["trials"][0]
    assert two["settings"] == one["settings"] | {"main_jet": 125.0} and two["builds_on"] == one["id"]
    assert two["put_back"] == "set the main jet back to 122.5"
    assert two["air"] == one["air"]
    mended = told("trial", "add", "mine", "--corrects", "1", "--three-quarters-to-full", "rich", "--humidity", "65 %")
    (mended,) = mended["trials"]
    assert mended["settings"] == one["settings"] and mended["ridden_at"] == one["ridden_at"]
    assert (mended["air"]["humidity"], mended["air"]["altitude_m"]) == (0.65, 20.0)
    listed = told("trial", "list", "mine")["trials"]
    assert [trial["id"] for trial in listed] == [mended["id"], two["id"]]  # it keeps its place
    assert [trial["id"] for trial in told("trial", "list", "mine", "--archived")["trials"]] == [one["id"]]


def test_a_file_without_ids_read_twice_is_kept_once(ask, told, tmp_path):
    story = tmp_path / "story.toml"
    day = "[trial.air]\naltitude = 250\ntemperature = 14\nhumidity = 60\n"
    story.write_text(
        f"[[trial]]\nridden_at = 2024-05-04T11:30:00+02:00\n{day}[trial.settings]\nmain_jet = 122.5\nintake_holes = [25, '1 in']\n"
        f"[[trial]]\nridden_at = '2024-05-05T09:30:00Z'\n{day}[trial.settings]\nmain_jet = 125\n",
        encoding="utf-8",
    )
    ask("garage", "save", "coast-single", "--bike", "mine")
    for _ in range(2):
        ask("trial", "add", "mine", "--from", story)
    trials = told("trial", "list", "mine")["trials"]
    assert [one["settings"]["main_jet"] for one in trials] == [122.5, 125.0]
    assert trials[0]["ridden_at"] == "2024-05-04T09:30:00Z"
    assert trials[1]["settings"]["intake_holes_m"] == pytest.approx([0.025, 0.0254])


@pytest.fixture
def sheet(tmp_path) -> Path:
    """A power curve of a bench."""
    (tmp_path / "pull.csv").write_text(CURVE, encoding="utf-8")
    return tmp_path / "pull.csv"


def test_a_tune_from_a_trial_names_it_and_takes_its_air(stocked, ask, told, sheet):
    ask("trial", "tune", BIKE, "--trial", "4", "--curve", sheet, "--name", "rejetted", "--at", "wheel", "--activate")
    newest = told("garage", "show", BIKE)
    record = parse(newest["text"]).record
    made, written = record.tune["rejetted"], read(DEMO / "plateau-single.toml").record.tune["rejetted"]
    assert made.trial == told("trial", "list", BIKE)["trials"][3]["id"]
    assert (made.standard, made.measured_at) == ("as measured", "wheel")
    for name in ("temperature", "pressure", "humidity"):
        assert float(getattr(made, name)) == pytest.approx(float(getattr(written, name)))
    assert record.active.tune == "rejetted"
    assert (newest["number"], newest["note"]) == (2, "tune rejetted from trial 4")
    assert "# chalk mark, rider seated, three turns" in newest["text"]
    corrected = ("--standard", "SAE J1349", "--name", "bench")
    ask("trial", "tune", BIKE, "--trial", made.trial, "--curve", sheet, *corrected)
    record = parse(ask("garage", "show", BIKE)).record
    assert record.tune["bench"].temperature is None and record.active.tune == "rejetted"


def test_no_barometer_means_the_standard_atmosphere_at_the_place(stocked, ask, sheet):
    ask("trial", "tune", BIKE, "--trial", "7", "--curve", sheet, "--name", "high")
    # ISO 2533, 2900 m: 101325 (1 - 0.0065 x 2900 / 288.15)^5.2559 = 71005 Pa, written to 0.1 hPa
    assert float(parse(ask("garage", "show", BIKE)).record.tune["high"].pressure) == pytest.approx(71005, abs=6)


# ---- refusals


REFUSED = [
    (("trial", "add", BIKE), "says nothing"),
    (("trial", "add", "nothing", *FIRST, *AIR), "bike"),
    (("trial", "add", BIKE, "--main-jet", "125"), "--altitude"),
    (("trial", "add", BIKE, "--clip-position", "99", *AIR), "--clip-position"),
    (("trial", "add", BIKE, "--three-quarters-to-full", "perfect", *AIR), "--three-quarters-to-full"),
    (("trial", "add", BIKE, "--main-jet", "125", "--altitude", "high"), "--altitude"),
    (("trial", "add", BIKE, *FIRST, *AIR, "--temperature", "290"), "--temperature = '290': must be a number from 200 to 340 K."),
    (("trial", "add", BIKE, *FIRST, *AIR, "--humidity", "140 %"), "--humidity = '140 %': must be a number from 0 to 1."),
    (("trial", "add", BIKE, *FIRST, *AIR, "--intake-open-area", "3 m^2"), "--intake-open-area = '3 m^2': must be a number from 0 to 0.1 m2."),
    (("trial", "add", BIKE, *FIRST, *AIR, "--intake-holes", "3 m"), "--intake-holes = '3 m': must be a number from 0.0005 to 0.2 m."),
    (("trial", "add", BIKE, *FIRST, *AIR, "--fuel-used", "4 l", "--distance", "1 mm"), "--distance = '1 mm': must be a number from 1 to 1e+07 m."),
    (("trial", "add", BIKE, "--main-jet", "125", *AIR, "--ridden-at", "2024-05-04T09:30:00"), "--ridden-at"),
    (("trial", "add", BIKE, "--main-jet", "125", *AIR, "--fuel-used", "3 l"), "--fuel-used"),
    (("trial", "add", BIKE, "--main-jet", "125", *AIR, "--fuel-used", "much", "--distance", "3 km"), "--fuel-used"),
    (("trial", "add", BIKE, "--main-jet", "125", *AIR, "--corrects", "9"), "--corrects"),
    (("trial", "add", BIKE, "--main-jet", "125", "--from", "trials"), "--from"),
    (("trial", "add", BIKE, "--from", "coast-single"), "is not a key of a trial file"),
    (("trial", "trend", BIKE, "--stock", "9"), "--stock"),
    (("trial", "next", BIKE, "--main-jets", "122.5,big"), "--main-jets"),
    (("trial", "next", BIKE, "--clip-grooves", "0"), "--clip-grooves"),
    (("trial", "next", BIKE, "--lean-margin", "90 %"), "--lean-margin"),
    (("trial", "next", BIKE, "--altitude", "20 m"), "--temperature"),
    (("trial", "tune", BIKE, "--trial", "9", "--curve", "{sheet}", "--name", "x"), "--trial"),
    (("trial", "tune", BIKE, "--trial", "4", "--curve", "{sheet}", "--name", "x.y"), "--name"),
    (("trial", "tune", BIKE, "--trial", "4", "--curve", "{sheet}", "--name", "x", "--standard", "mine"), "standard"),
]  # fmt: skip


@pytest.mark.parametrize(
    ("arguments", "named"), REFUSED, ids=lambda value: " ".join(map(str, value)) if isinstance(value, tuple) else ""
)
def test_a_refusal_names_the_place_and_keeps_nothing(stocked, capsys, file, tmp_path, sheet, arguments, named):
    before, there = held(file), sorted(tmp_path.iterdir())
    arguments = [str(one).format(sheet=sheet) for one in arguments]
    assert named in refused(capsys, *arguments, "--file", file)
    assert held(file) == before and sorted(tmp_path.iterdir()) == there


BAD_FILES = {
    "a time outside the calendar": ("[[trial]]\nridden_at = 9999-12-31T23:59:59-12:00\n{day}", "trial 1: ridden_at = '9999-12-31"),
    "no trial": ("[obtainable]\nmain_jets = [120]\n", "has no trial"),
    "a trial that is none": ("trial = [3]\n", "trial 1"),
    "trials that are none": ("trial = 3\n", "is not a list"),
    "unknown key": ("[[trial]]\nriden_at = 1\n", "ridden_at"),
    "no air": ("[[trial]]\nridden_at = 2024-05-04T09:30:00Z\n", "air.altitude"),
    "local time": ("[[trial]]\nridden_at = 2024-05-04T09:30:00\n{day}", "ridden_at"),
    "odd id": ("[[trial]]\nid = ['x']\nridden_at = 2024-05-04T09:30:00Z\n{day}", "trial.id"),
    "builds on nothing": ("[[trial]]\nbuilds_on = ['x']\nridden_at = 2024-05-04T09:30:00Z\n{day}", "builds_on"),
    "a log that is not there": ("[[trial]]\nlogs = ['{id}']\nridden_at = 2024-05-04T09:30:00Z\n{day}", "revision or log"),
    "the second is bad": (
        "[[trial]]\nridden_at = 2024-05-04T09:30:00Z\n{day}[trial.settings]\nmain_jet = 122.5\n"
        "[[trial]]\nridden_at = 2024-05-05T09:30:00Z\n{day}[trial.settings]\nmain_jet = 'big'\n", "trial 2: settings.main_jet"),
    "odd stock": ("[stock]\nsettings = 3\n", "stock"),
    "odd sizes": ("[obtainable]\nmain_jets = 'all'\n", "obtainable.main_jets"),
    "odd margin": ("[margin]\nrichness = 9\n", "margin.richness"),
    "an id taken": ("[[trial]]\nid = '1d0e0000000000000001'\nridden_at = 2024-05-04T09:30:00Z\n{day}", "kept already"),
}  # fmt: skip


@pytest.mark.parametrize("name", BAD_FILES)
def test_a_bad_file_of_trials_is_refused_whole(stocked, capsys, file, tmp_path, name):
    content, named = BAD_FILES[name]
    day = "[trial.air]\naltitude = 250\ntemperature = 14\nhumidity = 60\n"
    story = tmp_path / "story.toml"
    story.write_text(content.replace("{day}", day).replace("{id}", "0" * 20), encoding="utf-8")
    before = held(file)
    assert named in refused(capsys, "trial", "add", BIKE, "--from", story, "--file", file)
    assert held(file) == before
