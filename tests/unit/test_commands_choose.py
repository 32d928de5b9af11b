"""`ridesim choose`: table, CSV, JSON, and how it refuses."""

from __future__ import annotations

import csv
import io
import json

import pytest

from ridesim.cli.main import main


def run(capsys, *arguments: str) -> tuple[int, str, str]:
    with pytest.raises(SystemExit) as caught:
        main(["choose", *arguments])
    out = capsys.readouterr()
    return int(caught.value.code or 0), out.out, out.err


def test_the_table_says_which_meet_the_limits_and_what_to_check(capsys):
    code, out, err = run(capsys, "coast-single", "--front", "14:16", "--rear", "42:46")
    assert (code, err) == (0, "")
    assert (
        "of 15 combinations meet every limit" in out
        and "unbeaten" in out
        and "limit" in out
        and "Before ordering" in out
    )


def test_json_and_csv_hold_every_combination(capsys):
    _, out, _ = run(
        capsys,
        "plateau-single",
        "--front",
        "15,16",
        "--rear",
        "44",
        "--tire",
        "120/90-17",
        "--tire",
        "130/90-17",
        "--tune",
        "stock",
        "--tune",
        "rejetted",
        "--json",
    )
    answer = json.loads(out)
    assert len(answer["candidates"]) == 8
    assert {
        "front",
        "rear",
        "rear_tire",
        "tune",
        "gears",
        "top_speed_kmh",
        "cruise",
        "acceleration",
        "roll_on",
        "chain",
        "meets_limits",
        "unbeaten",
        "falls",
    } <= set(answer["candidates"][0])
    _, out, _ = run(capsys, "coast-single", "--front", "15:16", "--rear", "44:45", "--csv")
    rows = list(csv.DictReader(io.StringIO(out)))
    assert len(rows) == 4 and {r["front"] for r in rows} == {"15", "16"}


def test_limits_on_the_line_stand_before_those_of_the_file(capsys):
    _, out, _ = run(
        capsys, "coast-single", "--front", "15", "--rear", "45", "--cruise-engine-speed-most", "4000 rev/min", "--json"
    )
    assert any("limit 4,000 rev/min" in text for text in json.loads(out)["candidates"][0]["falls"])
    _, out, _ = run(capsys, "coast-single", "--front", "15", "--rear", "45", "--cruise-engine-speed-most", "", "--json")
    assert json.loads(out)["candidates"][0]["meets_limits"]


def test_nothing_that_meets_them_names_what_to_relax(capsys):
    code, out, _ = run(capsys, "coast-single", "--top-speed-least", "300 km/h")
    assert code == 0 and "None of" in out and "relax top_speed_least" in out


@pytest.mark.parametrize(
    "arguments",
    [
        ("coast-single", "--front", "x"),
        ("coast-single", "--front", "18:13"),
        ("coast-single", "--rear", "900"),
        ("coast-single", "--tire", "banana"),
        ("coast-single", "--tune", "none"),
        ("coast-single", "--goal", "beauty"),
        ("coast-single", "--top-speed-least", "fast"),
        ("none.toml",),
        ("coast-single", "--cruise", "nan"),
        ("coast-single", "--units", "roman"),
        (
            "coast-single",
            "--front",
            "6:40",
            "--rear",
            "12:100",
            *(["--tire", "120/90-17"] + [w for n in range(100, 190, 2) for w in ("--tire", f"{n}/80-17")]),
        ),
    ],
    ids=lambda a: " ".join(a)[:40],
)
def test_refused(capsys, arguments):
    code, out, err = run(capsys, *arguments)
    assert code == 2 and out == "" and err.strip() and "Traceback" not in err


@pytest.mark.parametrize(
    ("option", "value"),
    [("--lift-least", "x"), ("--climb-least", "1e9"), ("--roll-on-most", "0"), ("--time-0-100-most", "nan"), ("--top-speed-least", "5 bananas"),
     ("--cruise-engine-speed-most", "5 km"), ("--walking-engine-speed", "-1"), ("--cruise", "nan"), ("--grade", "900 %"), ("--headwind", "x"),
     ("--tire", "banana"), ("--tune", "none"), ("--goal", "beauty"), ("--front", "x"), ("--rear", "900"), ("--units", "roman")],
)  # fmt: skip
def test_what_is_wrong_on_the_line_is_named_by_its_option(capsys, option, value):
    code, out, err = run(capsys, "coast-single", option, value)
    assert (code, out) == (2, "") and err.startswith(f"{option} = {value!r}: ")


def test_a_printed_form_is_one_of_two(capsys):
    assert "--csv: and --json do not go together" in run(capsys, "coast-single", "--csv", "--json")[2]
    _, plain, _ = run(capsys, "coast-single", "--front", "15", "--rear", "45")
    _, us, _ = run(capsys, "coast-single", "--front", "15", "--rear", "45", "--units", "us")
    assert "km/h" in plain and "lbf" not in plain and "lbf" in us and " N " not in us


def test_pairs_of_one_ratio_are_not_told_apart(capsys):
    _, out, _ = run(
        capsys,
        "coast-single",
        "--front",
        "14,16",
        "--rear",
        "42,48",
        "--cruise-engine-speed-most",
        "",
        "--top-speed-least",
        "",
        "--climb-least",
        "",
        "--json",
    )
    told = json.loads(out)["not_told_apart"]
    assert any(text.startswith("14/42") and "16/48" in text for text in told)
