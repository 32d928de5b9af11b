"""Commands of the bench: what they print, that they say what the library says, and how they refuse."""

from __future__ import annotations

import json
import re

import pytest
from support.commands import AIR, INTAKE, NEEDLE, answered, asked, refused

from ridesim.environment.air import air
from ridesim.fueling.circuits import circuit_answer
from ridesim.fueling.intake import HoleSaw, plan_intake
from ridesim.fueling.jets import jet_for_air
from ridesim.fueling.mixture import PROCEDURE, best_mixture_setting
from ridesim.fueling.needle import Needle, NeedleSeat, needle_change, needle_curve
from ridesim.fueling.openings import Opening, circle, openings_of
from ridesim.units import rad_s

READINGS = ((0.5, 1010), (0.875, 1075), (1.25, 1130), (1.625, 1160), (2.0, 1165), (2.375, 1150), (2.75, 1105))
IDLE = ("idle", *(f"{turns}:{speed}" for turns, speed in READINGS))
METRIC = re.compile(r"\d (mm2?|mm²|m|kPa|hPa|°C|km/h)\b")


def values(capsys, *arguments: object) -> dict:
    """The figures of a command by key."""
    return {key: one["value"] for key, one in asked(capsys, *arguments)["figures"].items()}


@pytest.mark.parametrize(
    "arguments",
    [("jets", "change", "120", "125", "--numbering", "bore"), (*AIR, "--step", "2.5"), NEEDLE, (*NEEDLE, "--new-clip", "4"),
     ("circuit", "--opening", "1/2", "--verdict", "lean"), INTAKE, IDLE],
    ids=lambda arguments: " ".join(arguments[:2]),
)  # fmt: skip
def test_every_answer_has_a_sentence_a_table_what_it_assumed_and_its_cautions(capsys, arguments):
    out = answered(capsys, *arguments)
    title, sentence, *_ = out.splitlines()
    assert title.endswith("?") and len(sentence) > 30
    assert "\nAssumed\n" in out and "\nTake care\n" in out
    working = answered(capsys, *arguments, "--working")
    assert len(working) > len(out) and " = " in working
    us = answered(capsys, *arguments, "--units", "us")
    assert not METRIC.search(us.split("\nAssumed\n")[0])
    assert isinstance(json.loads(answered(capsys, *arguments, "--json")), dict)


def test_a_jet_by_bore_and_by_flow(capsys):
    for numbering, flow in (("bore", 1.1025), ("flow", 1.05)):
        found = values(capsys, "jets", "change", "120", "126", "--numbering", numbering)
        assert found["flow"] == pytest.approx(flow) and found["torque_change"] < 0


def test_a_mixture_costs_seconds_where_a_bike_is_named(capsys):
    found = asked(capsys, "jets", "change", "120", "130", "--numbering", "bore", "--build", "coast-single")
    assert found["figures"]["roll_on_change"]["value"] > 0.1 and "in fifth" in found["sentence"]
    assert "roll_on_change" not in values(capsys, "jets", "change", "120", "130", "--numbering", "bore")


def test_the_jet_for_other_air_is_the_librarys(capsys):
    found = asked(capsys, *AIR, "--sizes", "115,117.5,120,122.5,125")["figures"]
    old = air(altitude_m=20.0, temperature_k=295.15, relative_humidity=0.70).metering_density_kg_m3
    new = air(altitude_m=1950.0, temperature_k=283.15, relative_humidity=0.40).metering_density_kg_m3
    densities = {"metering_density_kg_m3": new, "reference_metering_density_kg_m3": old}
    expected = jet_for_air(125, numbering="bore", **densities, sizes=[115, 117.5, 120, 122.5, 125])
    assert found["exact"]["value"] == round(expected.exact_size, 1)
    assert found["nearest"]["value"] == expected.nearest.size
    assert found["exact"]["low"] is None


def test_tolerances_of_the_air_become_a_band(capsys):
    given = [{"20 m": "20 +- 50 m", "22 degC": "22 +- 3 degC"}.get(one, one) for one in AIR]
    found = asked(capsys, *given, "--step", "2.5")["figures"]["exact"]
    # 3 K in 295 K and 50 m in about 8400 m; at 70 % those 3 K are 338 Pa of vapor more in 101.1 kPa, which take the place of
    # dry air and count 2 - 0.38 times; a quarter of it all in the bore
    expected = 0.25 * (3 / 295.15 + 50 / 8400 + 1.62 * 338 / 101.1e3)
    assert (found["high"] / found["low"] - 1) / 2 == pytest.approx(expected, rel=0.04)
    assert f"{found['low']:g} to {found['high']:g}"[:3] in answered(capsys, *given, "--step", "2.5")


def test_the_air_of_a_build_and_what_the_line_changes_of_it(capsys):
    to = ("--to-altitude", "1950 m", "--to-temperature", "10 degC", "--to-humidity", "40 %", "--step", "2.5")
    by_build = values(capsys, "jets", "air", "125", "--numbering", "bore", "--from-build", "coast-single", *to)
    by_hand = values(capsys, *AIR, "--step", "2.5")
    assert by_build["exact"] == by_hand["exact"] and by_build["roll_on_change"] > 0
    other = ("--from-build", "coast-single", "--to-build", "coast-single", "--to-altitude", "1950 m")
    thin = values(capsys, "jets", "air", "125", "--numbering", "bore", *other, "--step", "2.5")
    # the build's thermometer stood at 20 m: another altitude has that of the standard atmosphere there
    there = air(altitude_m=1950.0, temperature_k=288.15 - 0.0065 * 1950, relative_humidity=0.70)
    assert thin["come"] == pytest.approx(there.density_kg_m3)


def test_what_the_line_leaves_out_of_the_air_is_assumed_and_told(capsys):
    assert "(the build's air)" in " ".join(answered(capsys, "altitude", "--help").split())
    short = ("jets", "air", "125", "--numbering", "bore", "--from-altitude", "0 m", "--to-altitude", "9000 ft")
    out = answered(capsys, *short, "--step", "2.5")
    assert "air.temperature assumed 15 °C" in out and "--to-humidity assumed 50 %" in out
    assert "10 °C more would change the density by" in out


def test_the_needles_table_is_the_librarys(capsys):
    own = Needle(straight_diameter_m=2.515e-3, taper_start_m=0.026, length_m=0.066, end_diameter_m=1.6e-3)
    seat = NeedleSeat(needle_jet_bore_m=2.6e-3, main_jet_bore_m=1.25e-3, seat_to_jet_m=0.026, full_lift_m=0.036)
    rows = asked(capsys, *NEEDLE, "--rows", "5")["tables"][0]["rows"]
    expected = needle_curve(own, seat, clip=3, lifts_m=[0.0, 0.009, 0.018, 0.027, 0.036])
    assert [row["effective_area_m2"] for row in rows] == pytest.approx(list(expected.effective_area_m2))
    moved = values(capsys, *NEEDLE, "--new-clip", "4", "--rows", "2")
    fine = needle_change(own, seat, clip=3, new_clip=4)
    assert 1 + moved["greatest"] == pytest.approx(fine.greatest_ratio, rel=1e-3)
    by_bore = list(NEEDLE)
    by_bore[by_bore.index("125")] = "1.25 mm"
    same = asked(capsys, *by_bore, "--rows", "5")["tables"][0]["rows"]
    assert [row["main_jet_share"] for row in same] == pytest.approx([row["main_jet_share"] for row in rows])


def test_another_needle_keeps_what_is_not_named(capsys):
    same, thin = (
        asked(capsys, *NEEDLE, *other)["tables"][0]["rows"]
        for other in (("--new-end", "1.6 mm"), ("--new-straight", "2.495 mm"))
    )
    assert [row["richer"] for row in same] == pytest.approx([0.0] * 9)
    assert all(row["richer"] > 0.0 for row in thin)
    assert "the other needle" in answered(capsys, *NEEDLE, "--new-straight", "2.495 mm")


@pytest.mark.parametrize("verdict", ["lean", "rich", "right"])
def test_the_circuit_says_which_part_which_way_and_what_first(capsys, verdict):
    out = " ".join(answered(capsys, "circuit", "--opening", "3/8", "--verdict", verdict).split())
    assert str(circuit_answer(0.375, verdict)) in out
    assert ("How to tell" in out) == (verdict != "right")
    signs = answered(capsys, "circuit", "--opening", "3/8")
    assert "Lean" in signs and "coughs or gasps" in signs and "black smoke" in signs


def test_the_intake_plan_is_the_librarys_and_every_step_back_ends_at_stock(capsys):
    found = json.loads(answered(capsys, *INTAKE, "--json"))
    saws = [HoleSaw(diameter_m=d, most=6) for d in (0.022, 0.030, 0.038)]
    expected = plan_intake([Opening(shape="rectangle", length_m=0.042, width_m=0.040)], saws, wanted_over_stock=1.85)
    assert found["sets"][0]["holes"] == [[0.030, 2]] == [list(pair) for pair in expected.nearest.holes]
    assert found["found"] == expected.found
    assert found["plugging"][-1]["over_stock"] == pytest.approx(1.0)
    out = answered(capsys, *INTAKE)
    assert "2 of 30.0 mm" in out and "Step by step back to stock" in out
    assert "2 of 1.18 in" in answered(capsys, *INTAKE, "--units", "us")


@pytest.mark.parametrize(
    ("written", "opening"),
    [
        ("circle 40 mm", circle(diameter_m=0.04)),
        ("40", circle(diameter_m=0.04)),
        ("2 circles 1.5 in", circle(diameter_m=0.0381, count=2)),
        ("2 slots 60 x 18 mm", Opening(shape="slot", length_m=0.06, width_m=0.018, count=2)),
        ("slot 18 x 60", Opening(shape="slot", length_m=0.06, width_m=0.018)),
        ("3 x rectangle 38mm x 5cm", Opening(shape="rectangle", length_m=0.05, width_m=0.038, count=3)),
    ],
)
def test_a_stock_opening_as_it_may_be_written(written, opening):
    (found,) = openings_of(written, "")
    assert found.area_m2 == pytest.approx(opening.area_m2)


def test_the_wanted_area_in_three_ways_and_openings_that_add_up(capsys):
    stock = ("intake", "--stock", "1000 mm^2", "--stock", "900 mm^2", "--saws", "22,30,38")
    ways = [values(capsys, *stock, "--wanted", one) for one in ("+50 %", "150 %", "2850 mm^2")]
    assert [one["wanted"] for one in ways] == pytest.approx([2.85e-3] * 3)


def test_the_idle_from_the_line_and_from_a_file(capsys, tmp_path):
    expected = best_mixture_setting([t for t, _ in READINGS], [rad_s(n) for _, n in READINGS])
    by_line = json.loads(answered(capsys, *IDLE, "--json"))
    sheets = {
        "plain.csv": "turns out,engine speed [rev/min]\n" + "".join(f"{t},{n}\n" for t, n in READINGS),
        "commas.csv": "\ufeffUmdrehungen;U/min\r\n" + "".join(f"{t};{n}\r\n".replace(".", ",") for t, n in READINGS),
        "bare.csv": "".join(f"{t}\t{n} rev/min\n" for t, n in READINGS),
    }
    for name, content in sheets.items():
        (tmp_path / name).write_text(content, encoding="utf-8")
        found = json.loads(answered(capsys, "idle", tmp_path / name, "--json"))
        assert found == by_line
    best = by_line["figures"]["best"]
    assert best["value"] == pytest.approx(expected.best_turns)
    assert (best["low"], best["high"]) == pytest.approx((expected.low_turns, expected.high_turns))
    air_screw = answered(capsys, *IDLE, "--screw", "air", "--useful", "2:4")
    assert "too lean" in air_screw  # an air screw leans outwards, so best inside its range is too lean


def test_the_procedure_is_printed_step_by_step(capsys):
    out = " ".join(answered(capsys, "idle", "--procedure").split())
    assert all(f"{number}. {line}" in out for number, line in enumerate(PROCEDURE, start=1))
    assert json.loads(answered(capsys, "idle", "--procedure", "--json"))["procedure"] == list(PROCEDURE)


def changed(arguments: tuple[str, ...], **options: str) -> tuple[str, ...]:
    """The arguments with some options written otherwise."""
    made = list(arguments)
    for name, value in options.items():
        made[made.index(f"--{name.replace('_', '-')}") + 1] = value
    return tuple(made)


@pytest.mark.parametrize(
    ("arguments", "named"),
    [
        (("jets", "change", "120", "125"), "--numbering"),
        (AIR, "--sizes"),
        ((*AIR, "--step", "0"), "--step"),
        ((*AIR, "--sizes", "130,x"), "--sizes"),
        ((*changed(AIR, from_altitude="high"), "--step", "2.5"), "--from-altitude"),
        ((*changed(AIR, to_humidity="140 %"), "--step", "2.5"), "--to-humidity"),
        ((*AIR, "--step", "2.5", "--density-uncertainty", "80 %"), "--density-uncertainty"),
        (("jets", "air", "125", "--numbering", "bore", "--to-altitude", "1 m", "--step", "1"), "--from-altitude"),
        (NEEDLE[:-2], "--full-lift"),
        (changed(NEEDLE, straight="2.7 mm"), "--needle-jet = '2.6 mm': "),
        (changed(NEEDLE, clip="9"), "--clip = 9: "),
        ([*NEEDLE, "--new-clip", "9"], "--new-clip = 9: "),
        ([*NEEDLE, "--new-end", "1.7 mm", "--new-clip", "0"], "--new-clip = 0: "),
        (changed(NEEDLE, **{"full-lift": "60 mm"}), "--full-lift = '60 mm': "),
        (changed(NEEDLE, length="20 mm"), "--length"),
        (changed(NEEDLE, main_jet="wide"), "--main-jet"),
        ((*NEEDLE, "--taper", "1 deg"), "--taper"),
        ((*NEEDLE, "--new-length", "10 mm"), "--new-length"),
        ((*NEEDLE, "--rows", "1"), "--rows"),
        (("circuit", "--opening", "1/0"), "--opening"),
        (("circuit", "--opening", "-10 %"), "--opening"),
        (changed(INTAKE, stock="triangle 40 mm"), "--stock"),
        (changed(INTAKE, stock="circle 40 km"), "--stock"),
        (changed(INTAKE, wanted="1.5"), "--wanted"),
        (changed(INTAKE, saws=",".join(map(str, range(20, 40)))), "--saws"),
        (changed(INTAKE, most="0"), "--most"),
        ((*INTAKE, "--tolerance", "90 %"), "--tolerance"),
        ((*INTAKE, "--stock-coefficient", "0.6"), "--stock-coefficient"),
        ((*INTAKE, "--stock-coefficient", "0.9:0.6"), "--stock-coefficient"),
        ((*INTAKE, "--show", "0"), "--show"),
        (("idle",), "readings"),
        (("idle", "1.5:1160", "2"), "reading 2"),
        (("idle", "1.5:1160", "2:fast"), "reading 2"),
        ((*IDLE, "--useful", "3:1"), "--useful"),
        ((*IDLE, "--coverage", "100 %"), "--coverage"),
        ((*IDLE, "--reading-step", "-5"), "--reading-step"),
        ((*IDLE, "--procedure"), "--procedure"),
        (tuple(one.replace(":1", ":9") for one in IDLE), "readings.engine_speed"),
    ],
    ids=str,
)  # fmt: skip
def test_refused_input_exits_2_names_the_place_and_prints_nothing(capsys, arguments, named):
    assert named in refused(capsys, *arguments)


@pytest.mark.parametrize(
    ("content", "says"),
    [(b"turns,speed\n", "readings"), (b"1,1000\n2\n", "line 2"), (b"1,1000\n2,x\n", "line 2"), (b'"1,1000\n', "is not CSV"),
     (b"\xff\xfe\x00bad", "UTF-8"), (b"a" * 1_100_000, "larger than")],
    ids=lambda value: repr(value[:12]),
)  # fmt: skip
def test_a_hostile_file_of_readings_is_refused(capsys, tmp_path, content, says):
    sheet = tmp_path / "readings.csv"
    sheet.write_bytes(content)
    assert says in refused(capsys, "idle", sheet)
