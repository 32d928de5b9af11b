"""The commands: what they print, and how they refuse."""

from __future__ import annotations

import json
import math
import re
import subprocess
import sys
from pathlib import Path

import pytest
from rich.cells import cell_len
from support.commands import answered, refused, run

from ridesim import reference
from ridesim.buildfile.io import read

CURVE = "rpm;torque [N·m]\n2200;32,1\n3000;36,3\n4000;40,2\n5000;40,3\n6000;37,6\n7500;28,0\n"
DEMO = reference.DATA / "demo" / "coast-single.toml"


def test_answers_prints_a_sentence_for_every_question_and_the_rest_in_full_only(capsys):
    short, full = answered(capsys, "answers", DEMO), answered(capsys, "answers", DEMO, "--full", "--working")
    for words in ("At 95 km/h the engine turns", "kW in hand", "First pushes with up to", "From rest to 100 km/h",
                  "The fitted chain of 102 links will do", "--full", "the maker's manual and local law come first"):  # fmt: skip
        assert words in short
    lift = "a_lift = (m g (b' cos th - h sin th) - F_D h_D) / H"
    for words in ("Points of tune stock", "\nAssumed\n", "\nNote\n", "\nTake care\n", lift):
        assert words in full and words not in short
    for line in full.splitlines():
        assert not line.startswith("- ") or full.count(f"{line}\n") == 1


def test_a_comparison_shows_what_changes_and_in_full_what_does_not(capsys):
    short = answered(capsys, "compare", DEMO, "--front", "15")
    full = answered(capsys, "compare", DEMO, "--front", "15", "--full")
    assert "might be" not in short and re.search(r"\bnow +planned +change\b", short)
    assert re.search(r"Power in hand +8\.1 kW +7\.2 kW +−0\.9 kW +worse *\n", short)
    assert not re.search(r" same *\n", short) and re.search(r"Peak power at the crank .* same *\n", full)
    assert "Nothing changes in: What does the engine give? " in short and "front sprocket: 14 -> 15" in short
    none = answered(capsys, "compare", DEMO, DEMO)
    assert "The two do not differ." in none and "better" not in none and "worse" not in none


@pytest.mark.parametrize("columns", [None, "60"])
@pytest.mark.parametrize(
    "arguments",
    [("answers", "coast-single", "--full"), ("compare", "coast-single", "plateau-single", "--full"),
     ("choose", "coast-single", "--front", "14:15", "--rear", "38:41", "--full", "--units", "us"), ("trial", "list", "Coast single (invented)")],
    ids=lambda arguments: arguments[0],
)  # fmt: skip
def test_nothing_is_wider_than_the_terminal_and_no_verdict_is_torn(capsys, monkeypatch, story, columns, arguments):
    monkeypatch.delenv("COLUMNS")
    if columns:
        monkeypatch.setenv("COLUMNS", columns)
    _, out, _ = run(capsys, *arguments, *(("--file", story) if arguments[0] == "trial" else ()))
    assert max(map(cell_len, out.splitlines())) <= int(columns or 80)
    assert "Traceback" not in out and out.count("\n") < 550
    for words in {"compare": (" better", " worse"), "choose": ("14/39", "Sure")}.get(arguments[0], ()):
        assert words in out


KEYS = {  # of the contract, and of what stands in a row of it
    "": "name tune front rear mass_kg cg_ahead_of_rear_axle_m cg_height_m air_density_kg_m3 power_factor rolling_circumference_m gears "
    "top_speed_kmh top_speed_gear cruise acceleration in_motion roll_on chain speedometer assumptions notes",
    "gears": "gear overall_ratio speed_per_1000_rpm_kmh speed_at_rev_limit_kmh top_speed_kmh top_speed_limited_by peak_wheel_force_n "
    "steepest_grade_percent steepest_grade_limited_by lift_ratio lift_from_rpm lift_to_rpm rider_shift_to_lift_m "
    "front_lifts_before_rear_spins comes_up comes_up_range best_upshift_rpm",
    "acceleration": "0_60_kmh_s 0_100_kmh_s 400_m_s",
    "chain": "links_exact links_to_order centre_distance_m axle_shift_m fitted_chain_will_do chain_pull_max_n",
    "roll_on": "gear 60_100_kmh_s",
}


def test_json_has_the_keys_of_the_contract(capsys):
    ride = ("--grade", "3 %", "--headwind", "4 m/s", "--cruise", "90 km/h")
    answer = json.loads(answered(capsys, "answers", DEMO, "--json", "--front", "16", *ride))
    assert answer["front"] == 16 and answer["cruise"][-1]["speed_kmh"] == pytest.approx(90)
    for place, keys in KEYS.items():
        part = answer[place] if place else answer
        assert set(part[0] if isinstance(part, list) else part) == set(keys.split())


def test_a_null_has_its_reason(capsys):
    _, out, _ = run(capsys, "answers", DEMO, "--json", "--grade", "60 %")
    answer = json.loads(out)
    assert answer["acceleration"]["0_100_kmh_s"] is None
    assert any("100 km/h is not reached" in note for note in answer["notes"])


def test_two_files_compare_with_their_tires_and_tunes(capsys):
    out = answered(capsys, "compare", DEMO, DEMO.with_name("plateau-single.toml"))
    assert "Does the other tire fit, and what does it do?" in out and "What did the tune gain?" in out
    told = json.loads(answered(capsys, "compare", DEMO, "--tire", "130/90-17", "--json"))
    assert told["might_be"]["rolling_circumference_m"] != told["now"]["rolling_circumference_m"]


def test_wanted_as_json_is_in_si(capsys):
    found = json.loads(
        answered(capsys, "wanted", DEMO, "--engine-speed", "4800 rev/min", "--speed", "105 km/h", "--json")
    )
    value = {key: one["value"] for key, one in found["figures"].items()}
    wanted = 4800 * math.pi / 30
    assert value["wanted"] == pytest.approx(wanted) and value["speed"] == pytest.approx(105 / 3.6)
    # turns of the crank for one of the wheel, which rolls 1.996 m in it
    assert value["ratio"] == pytest.approx((4800 / 60) / (105 / 3.6 / 1.996), rel=1e-9)
    assert found["figures"]["ratio"]["low"] < value["ratio"] < found["figures"]["ratio"]["high"]
    first, *others = found["tables"][0]["rows"]
    assert all(abs(first["off"]) <= abs(one["off"]) for one in others)
    for one in (first, *others):
        assert one["final"] == pytest.approx(one["rear"] / one["front"])
        assert one["engine_speed"] == pytest.approx(wanted * one["final"] / value["final"])
        assert one["off"] == pytest.approx(one["engine_speed"] / wanted - 1, abs=1e-9)


def test_a_curve_comes_in_from_csv_and_comments_stay(capsys, tmp_path):
    sheet = tmp_path / "pull.csv"
    sheet.write_text("rpm;power [hp]\n2500;12,1\n4000;22,4\n6000;31,0\n7400;27,5\n", encoding="utf-8")
    target = tmp_path / "mine.toml"
    how = ("--name", "third trial", "--at", "wheel", "--standard", "SAE J1349")
    answered(capsys, "curve", sheet, "--into", DEMO, *how, "-o", target)
    build = read(target)
    assert build.record.tune["third trial"].points_are == "hp"
    assert "# chalk mark, rider seated, three turns" in build.text
    code, out, _ = run(capsys, "answers", target, "--tune", "third trial")
    assert code == 0 and "Tune third trial:" in out


@pytest.mark.parametrize(
    "arguments",
    [("answers", "x" * 300), ("compare", DEMO), ("wanted", DEMO, "--engine-speed", "0", "--speed", "100"),
     ("wanted", DEMO, "--engine-speed", "5000", "--speed", "100", "--front", "x"),
     ("wanted", DEMO, "--engine-speed", "5000", "--speed", "100", "--front", "13,16"),
     ("wanted", DEMO, "--engine-speed", "5000", "--speed", "100", "--gear", "9"),
     ("curve", DEMO, "--into", DEMO, "--name", "x", "-o", "/nonexistent/x"),
     ("curve", "{sheet}", "--into", DEMO, "--name", "x", "--standard", "mine", "-o", "{new}"),
     ("curve", "{sheet}", "--into", DEMO, "--name", "x", "--unit", "", "-o", "{new}"),
     ("answers",), ("answers", DEMO, "--nonsense"), ("nonsense",)],
    ids=str,
)  # fmt: skip
def test_refused_input_exits_2_with_a_message_and_nothing_on_standard_output(capsys, tmp_path, arguments):
    (tmp_path / "pull.csv").write_text(CURVE, encoding="utf-8")
    places = {"sheet": tmp_path / "pull.csv", "new": tmp_path / "new.toml"}
    said = refused(capsys, *(str(one).format(**places) for one in arguments))
    assert "--gear" not in arguments or said.startswith("--gear = 9: ")
    assert not places["new"].exists()


@pytest.mark.parametrize(
    ("option", "value"),
    [("--front", "0"), ("--rear", "900"), ("--tune", "stok"), ("--tire", "banana"), ("--front-tire", "0"), ("--cruise", "nan"),
     ("--grade", "900 %"), ("--headwind", "1e9 m/s")],
    ids=str,
)  # fmt: skip
def test_what_is_wrong_on_the_line_is_named_by_its_option(capsys, option, value):
    for command in ("answers", "compare"):
        assert refused(capsys, command, DEMO, "--rear", "44", option, value).startswith(f"{option} = ")


@pytest.mark.parametrize(
    ("arguments", "says"),
    [(("answers", DEMO, "--front", "fifteen"), "--front = 'fifteen': "), (("answers", DEMO, "--front=1.5"), "--front = '1.5': "),
     (("answers", DEMO, "--units", "imperial"), "--units = 'imperial': "), (("needle", "--clip", "nan"), "--clip = 'nan': "),
     (("sheet", DEMO, "-o", "a\0b.pdf"), "--output / -o = 'a\\x00b.pdf': "), (("jets", "change", "120", "big", "--numbering", "bore"), "new_size = 'big': is not a number"),
     (("answers", DEMO, "--front", "x" * 500), "is not a whole number"), (("answers", DEMO, "--units", "x" * 500), "is not one of 'metric', 'us'"),
     (("app", "--port", "99999"), "--port = '99999': must be at most 65535")],
    ids=lambda value: str(value)[:60],
)  # fmt: skip
def test_a_value_of_the_wrong_kind_is_refused_as_any_other(capsys, arguments, says):
    err = refused(capsys, *arguments)
    assert says.lower() in err.lower() and "--help" in err and err.count("\n") == 1 and len(err) < 200


@pytest.mark.parametrize(
    "arguments",
    [("A" * 20_000,), ("--" + "A" * 9000,), ("garage", "A" * 3000), ("answers", DEMO, "--" + "A" * 9000), ("log", "show", "--" + "A" * 9000),
     ("answers", DEMO, "A" * 3000), ("answers", DEMO, *["a"] * 3000), ("answers", DEMO, "--" + "\U000e0001" * 60),
     ("answers", "\U000e0001" * 3000), ("answers", DEMO, "--tune", "\U000e0001" * 3000)],
    ids=lambda arguments: arguments[0][:9] + " " + str(arguments[-1])[:9].encode("unicode_escape").decode(),
)  # fmt: skip
def test_what_the_line_has_too_much_of_is_told_in_short(capsys, arguments):
    said = refused(capsys, *arguments).split("Error: ")[-1]
    assert len(said) < 300 and said.removesuffix("\n").isprintable()


def test_a_family_without_a_command_prints_its_help(capsys):
    help_of = run(capsys, "log")[2]
    assert "Commands:\n" in help_of and "coastdown" in help_of and "\\n" not in help_of


def test_of_many_problems_the_first_fifty_are_told(capsys, tmp_path):
    (tmp_path / "many.toml").write_text(
        DEMO.read_text(encoding="utf-8") + "".join(f"\n[odd{k}]\n" for k in range(3000)), encoding="utf-8"
    )
    *told, rest = refused(capsys, "check", tmp_path / "many.toml").splitlines()
    assert len(told) == 50 and rest == "and 2950 more"


def test_names_of_the_rider_are_told_in_short(capsys, tmp_path):
    long = spoilt_by(tmp_path, {"[tune.stock]": f"[tune.{'t' * 5000}]"})
    assert all(line.count("t") < 260 for line in refused(capsys, "answers", long).splitlines())
    assert refused(capsys, "answers", DEMO, "--tune", "s" * 5000).count("s") < 100


def spoilt_by(tmp_path, slips):
    """The demo with some texts of it written otherwise."""
    text = DEMO.read_text(encoding="utf-8")
    for old, new in slips.items():
        assert old in text
        text = text.replace(old, new)
    (tmp_path / "spoilt.toml").write_text(text, encoding="utf-8")
    return tmp_path / "spoilt.toml"


def test_of_two_files_the_one_with_the_fault_is_named(capsys, tmp_path):
    spoilt = spoilt_by(tmp_path, {"rear = 41": "rear = 900"})
    for files in ((spoilt, DEMO), (DEMO, spoilt)):
        for command in (("compare",), ("sheet", "-o", tmp_path / "sheet.pdf")):
            assert refused(capsys, *command, *files).startswith(f"{spoilt}: final_drive.rear = 900: ")
    assert refused(capsys, "compare", DEMO, tmp_path / "gone.toml").startswith(
        f"{tmp_path / 'gone.toml'}: cannot be read"
    )
    assert refused(capsys, "compare", DEMO, spoilt.with_name("sound.toml"), "--front", "0").count("sound.toml") == 1
    assert refused(capsys, "compare", DEMO, DEMO, "--front", "0").startswith("--front = 0: ")
    assert not (tmp_path / "sheet.pdf").exists()


@pytest.mark.parametrize(
    "slips",
    [{"0.5909 m": "0.2 m", "rear = 41": "rear = 100"}, {"0.019 +- 0.003": "0.3 +- 0.2"}],
    ids=["axle too near", "wide tolerance"],
)  # fmt: skip
def test_check_finds_nothing_usable_that_answers_refuses(capsys, tmp_path, slips):
    spoilt = spoilt_by(tmp_path, slips)
    assert refused(capsys, "check", spoilt) == refused(capsys, "answers", spoilt, "--json")


def test_a_demo_is_found_by_a_near_name_and_is_not_written_into(capsys, tmp_path, monkeypatch):
    assert "Did you mean 'coast-single'" in refused(capsys, "answers", "coast-singel")
    monkeypatch.chdir(tmp_path)
    Path("pull.csv").write_text(CURVE, encoding="utf-8")
    assert refused(capsys, "curve", "pull.csv", "--into", "coast-single", "--name", "x").startswith(
        "--into = 'coast-single': "
    )
    assert refused(capsys, "curve", "pull.csv", "--into", DEMO, "--name", " ", "-o", "new.toml").startswith(
        "--name = ' ': "
    )
    assert [one.name for one in tmp_path.iterdir()] == ["pull.csv"]


def test_files_that_are_no_builds_are_refused(capsys, tmp_path):
    odd = {"empty": b"", "nul": b"\0" * 300, "bytes": bytes(range(256)) * 9, "other": "name = 'é'".encode("utf-16"),
           "deep": b"a = " + b"[" * 4000 + b"]" * 4000, "long": b"# x\n" * 400_000}  # fmt: skip
    files = [tmp_path, tmp_path / "gone.toml", "", "x" * 300, "a\0b", "\ud800.toml", "/dev/zero"]
    for name, content in odd.items():
        files.append(tmp_path / f"{name}.toml")
        files[-1].write_bytes(content)
    for file in files:
        refused(capsys, "answers", file)
    assert refused(capsys, "answers", "a\x1b[31mb.toml").startswith("a\\x1b[31mb.toml: ")  # which colors no screen


def test_a_whole_process_refuses_without_a_traceback(tmp_path):
    bad = spoilt_by(tmp_path, {"rear = 41": "rear = 900"})
    line = [sys.executable, "-m", "ridesim", "answers", str(bad), "--json"]
    done = subprocess.run(line, capture_output=True, text=True, cwd=Path(__file__).parents[2], check=False)
    assert done.returncode == 2 and done.stdout == ""
    assert "final_drive.rear = 900" in done.stderr and "Traceback" not in done.stderr
