"""The commands: what they print, and how they refuse."""

from __future__ import annotations

import json
import subprocess
import sys
from pathlib import Path

import pytest

from ridesim import tables
from ridesim.build import read
from ridesim.cli import main

DEMO = tables.DATA / "demo" / "trail-single.toml"


def run(capsys, *arguments: str) -> tuple[int, str, str]:
    """Exit code, standard output, standard error of a command."""
    with pytest.raises(SystemExit) as caught:
        main([str(a) for a in arguments])
    out = capsys.readouterr()
    return int(caught.value.code or 0), out.out, out.err


def test_answers_prints_a_sentence_for_every_question(capsys):
    code, out, err = run(capsys, "answers", DEMO)
    assert (code, err) == (0, "")
    for words in (
        "At 105.0 km/h the engine turns",
        "kW in hand",
        "First pushes with up to",
        "From rest to 100.0 km/h",
        "The fitted chain of 108 links will do",
        "Take care",
    ):
        assert words in out


def test_us_units_leave_no_metric_sentence(capsys):
    _, out, _ = run(capsys, "answers", DEMO, "--units", "us")
    sentences = [line for line in out.splitlines() if line.startswith(("At ", "First ", "From rest", "Stock:"))]
    assert len(sentences) >= 4
    assert all(unit not in line for line in sentences for unit in ("km/h", " N ", "kW", " m "))


def test_working_prints_the_steps(capsys):
    _, plain, _ = run(capsys, "answers", DEMO)
    _, working, _ = run(capsys, "answers", DEMO, "--working")
    assert "a_lift = (m g (b cos th - h sin th) - F_D h_D) / H" in working
    assert "a_lift" not in plain


def test_json_has_the_keys_of_the_contract(capsys):
    code, out, err = run(
        capsys,
        "answers",
        DEMO,
        "--json",
        "--front",
        "16",
        "--grade",
        "3 %",
        "--headwind",
        "4 m/s",
        "--cruise",
        "90 km/h",
    )
    answer = json.loads(out)
    assert (code, err) == (0, "")
    assert answer["front"] == 16 and answer["cruise"][-1]["speed_kmh"] == pytest.approx(90)
    assert set(answer) == {
        "name",
        "tune",
        "front",
        "rear",
        "mass_kg",
        "cg_ahead_of_rear_axle_m",
        "cg_height_m",
        "air_density_kg_m3",
        "power_factor",
        "rolling_circumference_m",
        "gears",
        "top_speed_kmh",
        "top_speed_gear",
        "cruise",
        "acceleration",
        "roll_on",
        "chain",
        "speedometer",
        "assumptions",
        "notes",
    }
    assert set(answer["gears"][0]) == {
        "gear",
        "overall_ratio",
        "speed_per_1000_rpm_kmh",
        "speed_at_rev_limit_kmh",
        "top_speed_kmh",
        "top_speed_limited_by",
        "peak_wheel_force_n",
        "steepest_grade_percent",
        "steepest_grade_limited_by",
        "lift_ratio",
        "lift_from_rpm",
        "lift_to_rpm",
        "rider_shift_to_lift_m",
        "front_lifts_before_rear_spins",
        "best_upshift_rpm",
    }
    assert set(answer["acceleration"]) == {"0_60_kmh_s", "0_100_kmh_s", "400_m_s"}
    assert set(answer["chain"]) == {
        "links_exact",
        "links_to_order",
        "centre_distance_m",
        "axle_shift_m",
        "fitted_chain_will_do",
        "chain_pull_max_n",
    }
    assert set(answer["roll_on"][0]) == {"gear", "60_100_kmh_s"}


def test_a_null_has_its_reason(capsys):
    _, out, _ = run(capsys, "answers", DEMO, "--json", "--grade", "60 %")
    answer = json.loads(out)
    assert answer["acceleration"]["0_100_kmh_s"] is None
    assert any("100 km/h is not reached" in note for note in answer["notes"])


def test_compare_one_file_with_options_and_two_files(capsys):
    code, out, _ = run(capsys, "compare", DEMO, "--front", "16")
    assert code == 0 and "front sprocket: 15 -> 16" in out and "better" in out
    code, out, _ = run(capsys, "compare", DEMO, DEMO.with_name("trail-single-regeared.toml"))
    assert code == 0 and "What does the tire swap do?" in out and "What did the tune gain?" in out
    code, out, _ = run(capsys, "compare", DEMO, "--tire", "130/80-18", "--json")
    assert (
        code == 0
        and json.loads(out)["might_be"]["rolling_circumference_m"] != json.loads(out)["now"]["rolling_circumference_m"]
    )


def test_wanted_gives_the_ratio_and_the_nearest_pairs(capsys):
    code, out, _ = run(
        capsys,
        "wanted",
        DEMO,
        "--engine-speed",
        "4800 rev/min",
        "--speed",
        "105 km/h",
        "--front",
        "13:17",
        "--rear",
        "38:48",
    )
    assert code == 0 and "the overall ratio must be 5.69" in out and "Nearest sprocket pairs" in out


def test_a_curve_comes_in_from_csv_and_comments_stay(capsys, tmp_path):
    sheet = tmp_path / "pull.csv"
    sheet.write_text("rpm;power [hp]\n2500;12,1\n4000;22,4\n6000;31,0\n7400;27,5\n", encoding="utf-8")
    target = tmp_path / "mine.toml"
    code, _, _ = run(
        capsys,
        "curve",
        sheet,
        "--into",
        DEMO,
        "--name",
        "third trial",
        "--at",
        "wheel",
        "--standard",
        "SAE J1349",
        "-o",
        target,
    )
    build = read(target)
    assert code == 0 and build.record.tune["third trial"].points_are == "hp"
    assert "# chalk mark, rider seated, three turns" in build.text
    code, out, _ = run(capsys, "answers", target, "--tune", "third trial")
    assert code == 0 and "Third trial:" in out


def test_the_schema_is_json(capsys):
    code, out, _ = run(capsys, "schema")
    assert code == 0 and json.loads(out)["title"] == "ridesim build file"


@pytest.mark.parametrize(
    "arguments",
    [
        ("answers", "no-such-file.toml"), ("answers", "x" * 300), ("answers", "y" * 300 + ".toml"),
        ("answers", "."),
        ("answers", DEMO, "--front", "0"),
        ("answers", DEMO, "--tune", "stok"),
        ("answers", DEMO, "--cruise", "fast"),
        ("answers", DEMO, "--cruise", "nan"),
        ("answers", DEMO, "--grade", "900 %"),
        ("answers", DEMO, "--headwind", "1e9 m/s"),
        ("answers", DEMO, "--tire", "banana"),
        ("compare", DEMO),
        ("answers", DEMO, "--rear", "900"),
        ("wanted", DEMO, "--engine-speed", "0", "--speed", "100"),
        ("wanted", DEMO, "--engine-speed", "5000", "--speed", "100", "--front", "x"),
        ("wanted", DEMO, "--engine-speed", "5000", "--speed", "100", "--gear", "9"),
        ("curve", DEMO, "--into", DEMO, "--name", "x", "-o", "/nonexistent/x"),
        ("answers",),
        ("answers", DEMO, "--nonsense"),
        ("nonsense",),
    ],
    ids=str,
)
def test_refused_input_exits_2_with_a_message_and_nothing_on_standard_output(capsys, arguments):
    code, out, err = run(capsys, *arguments)
    assert code == 2
    assert out == "" and err.strip() and "Traceback" not in err


def test_a_whole_process_refuses_without_a_traceback(tmp_path):
    bad = tmp_path / "bad.toml"
    bad.write_text(DEMO.read_text(encoding="utf-8").replace("rear = 45", "rear = 900"), encoding="utf-8")
    done = subprocess.run(
        [sys.executable, "-m", "ridesim", "answers", str(bad), "--json"],
        capture_output=True,
        text=True,
        cwd=Path(__file__).parents[2],
        check=False,
    )
    assert done.returncode == 2 and done.stdout == ""
    assert "final_drive.rear = 900" in done.stderr and "Traceback" not in done.stderr
