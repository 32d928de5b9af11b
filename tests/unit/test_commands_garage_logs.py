"""Logs of rides in the garage, from the command line: added, listed, taken out byte for byte, put out of sight."""

from __future__ import annotations

import json

import pytest
from support.commands import answered, refused

CONTENT = b"time [s],speed [km/h]\r\n0,36\r\n1,37\r\n\xff"


@pytest.fixture
def kept(tmp_path, capsys):
    """A garage with a bike and two logs; the words that every line ends in."""
    at = ("--file", tmp_path / "garage.sqlite3")
    answered(capsys, "garage", "save", "coast-single", "--bike", "mine", *at)
    for name in ("ride.csv", "Ride.GPX"):
        (tmp_path / name).write_bytes(CONTENT + name.encode())
        answered(capsys, "garage", "log", "add", "mine", tmp_path / name, "--note", "to work", *at)
    return at


def logs(capsys, *line):
    return json.loads(answered(capsys, "garage", "log", "list", "mine", *line, "--json"))["logs"]


def test_a_log_comes_out_as_it_went_in(kept, tmp_path, capsys):
    first, second = logs(capsys, *kept)
    assert (first["name"], first["kind"], first["note"]) == ("ride.csv", "csv", "to work") and second["kind"] == "gpx"
    for number, named in (("1", "ride.csv"), (second["id"], "Ride.GPX")):
        out = tmp_path / f"out-{named}"
        answered(capsys, "garage", "log", "take-out", "mine", number, out, *kept)
        assert out.read_bytes() == CONTENT + named.encode()
    assert "is there already" in refused(capsys, "garage", "log", "take-out", "mine", "1", out, *kept)
    assert "ride.csv" in answered(capsys, "garage", "log", "list", "mine", *kept)


def test_a_log_out_of_sight_comes_back(kept, capsys):
    answered(capsys, "garage", "log", "archive", "mine", "1", *kept)
    assert [one["name"] for one in logs(capsys, *kept)] == ["Ride.GPX"]
    assert [one["name"] for one in logs(capsys, "--archived", *kept)] == ["ride.csv"]
    answered(capsys, "garage", "log", "bring-back", "mine", "1", *kept)
    assert len(logs(capsys, *kept)) == 2


def test_a_name_that_is_there_is_said(kept, tmp_path, capsys):
    assert "another log of that name" in answered(capsys, "garage", "log", "add", "mine", tmp_path / "ride.csv", *kept)


@pytest.mark.parametrize(
    ("line", "says"),
    [(("take-out", "mine", "3", "new.csv"), "logs 1 to 2"), (("archive", "mine", "ride.csv"), "is not a log"),
     (("bring-back", "mine", "1"), "no log in the archive"), (("list", "other"), "is not in the garage"),
     (("add", "mine", "missing.csv"), "cannot be read"), (("add", "mine", "."), "is a folder"),
     (("add", "other", "ride.csv"), "is not in the garage")],
)  # fmt: skip
def test_a_refusal_names_the_place_and_keeps_nothing(line, says, kept, tmp_path, capsys, monkeypatch):
    monkeypatch.chdir(tmp_path)
    assert says in refused(capsys, "garage", "log", *line, *kept)
    assert len(logs(capsys, *kept)) == 2 and not (tmp_path / "new.csv").exists()
