"""Where answers go: outputs that are closed, full, half read, or in an encoding of their own."""

from __future__ import annotations

import json
import os
import re
import subprocess
import sys
from pathlib import Path

import pytest
from support.commands import AIR, answered

PROGRAM = (sys.executable, "-m", "ridesim")
ROOT = Path(__file__).parents[2]


@pytest.mark.parametrize(
    "arguments",
    [("choose", "coast-single", "--csv"), ("--help",)],
    ids=lambda arguments: arguments[0],
)
def test_an_output_that_nobody_reads_is_no_fault(arguments):
    """As in `ridesim answers coast-single | head -1`: the reader has gone before the first word."""
    reader, writer = os.pipe()
    os.close(reader)
    done = subprocess.run([*PROGRAM, *arguments], stdout=writer, stderr=subprocess.PIPE, cwd=ROOT, check=False)
    os.close(writer)
    assert (done.returncode, done.stderr) == (0, b"")


def closed(number: int, *arguments: str) -> subprocess.CompletedProcess[str]:
    """A command run with one of its outputs closed, as a shell's `>&-` does it."""
    code = f"import os, sys; os.close({number}); os.execv(sys.executable, [sys.executable, '-m', 'ridesim', *sys.argv[1:]])"
    return subprocess.run(
        [sys.executable, "-c", code, *arguments], capture_output=True, text=True, cwd=ROOT, check=False
    )


def test_a_closed_output_is_no_fault_and_a_refusal_never_goes_to_the_other_one():
    told = closed(1, "circuit", "--opening", "1/2")
    assert (told.returncode, told.stdout, told.stderr) == (0, "", "")
    told = closed(2, "answers", "no-such-build")
    assert (told.returncode, told.stdout, told.stderr) == (2, "", "")


@pytest.mark.skipif(not Path("/dev/full").exists(), reason="no device that is always full")
@pytest.mark.parametrize("arguments", [("circuit", "--opening", "1/2"), ("schema",)], ids=str)
def test_a_full_disk_behind_the_output_is_told_in_a_sentence(arguments):
    with Path("/dev/full").open("w") as full:
        done = subprocess.run(
            [*PROGRAM, *arguments], stdout=full, stderr=subprocess.PIPE, text=True, cwd=ROOT, check=False
        )
    assert done.returncode == 1
    assert done.stderr.startswith("standard output: cannot be written") and done.stderr.count("\n") == 1


def test_an_output_without_the_letters_gets_marks_for_them_and_json_stays_json():
    env = os.environ | {"PYTHONIOENCODING": "ascii"}
    printed, told = (
        subprocess.run([*PROGRAM, "answers", "coast-single", *more], capture_output=True, cwd=ROOT, check=True, env=env)
        for more in ((), ("--json",))
    )
    assert b"?" in printed.stdout and printed.stderr == b""
    assert any("°C" in text for text in json.loads(told.stdout.decode("utf-8"))["assumptions"])


def test_a_comparison_is_the_same_to_the_last_digit_in_every_process():
    """Sums are taken in one order, whatever order a process keeps its sets in."""
    command = [*PROGRAM, "compare", "coast-single", "plateau-single", "--json"]
    seeded = (os.environ | {"PYTHONHASHSEED": seed} for seed in ("1", "2"))
    told = {subprocess.run(command, capture_output=True, cwd=ROOT, check=True, env=env).stdout for env in seeded}
    assert len(told) == 1


METRIC = re.compile(r".*\d ?(?:km/h|km|mm|m|kg|N|N·m|kW|°C|hPa|kPa|l|l/100 km|m/s|m²|mm²|kg/m3)(?![\w/·²³]).*")
OF_METRIC_LAW = ("(100 km/h)", "0.1 V2 + 4 km/h")  # a limit of the build file, and a regulation
LOGS = ROOT / "data" / "demo" / "logs"


@pytest.mark.parametrize(
    "arguments",
    [
        ("answers", "plateau-single", "--full"),
        ("compare", "coast-single", "--front", "15", "--tire", "130/90-17 M/C 68S", "--full"),
        ("choose", "coast-single", "--front", "13:15", "--rear", "40:42", "--log", LOGS / "ride.gpx", "--full"),
        ("altitude", "coast-single", "--from", "300 ft", "--to", "7200 ft", "--jet", "125"),
        (*AIR, "--step", "2.5"),
        ("measure-next", "coast-single"),
        ("log", "coastdown", LOGS / "coast-down.csv", "--build", "coast-single"),
        ("log", "ratios", LOGS / "gears.csv", "--build", "coast-single"),
        ("log", "ride", LOGS / "ride.gpx", "--build", "coast-single"),
    ],
    ids=lambda arguments: " ".join(map(str, arguments[:2])),
)
def test_nothing_is_told_in_metric_units_to_a_rider_who_asks_for_us_units(capsys, monkeypatch, arguments):
    monkeypatch.setenv("COLUMNS", "1000")
    told = answered(capsys, *arguments, "--units", "us")
    assert arguments[0] != "answers" or ("From rest to 60 mph" in told and "quarter mile" in told)
    for law in OF_METRIC_LAW:
        told = told.replace(law, "")
    assert METRIC.findall(told) == []
