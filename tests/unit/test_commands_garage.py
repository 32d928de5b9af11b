"""Commands of the garage: what they keep, what they say, how they refuse, and that a refusal keeps nothing."""

from __future__ import annotations

import json

import pytest
from support.commands import answered, held, refused, run

from ridesim import reference

DEMO = reference.DATA / "demo"
BIKE = "Coast single (invented)"


def test_a_build_is_kept_once_and_comes_back_with_its_comments(ask, told):
    assert "kept as revision 1" in ask("garage", "save", "coast-single", "--note", "as bought")
    assert "nothing was added" in ask("garage", "save", DEMO / "coast-single.toml")
    assert ask("garage", "show", BIKE) == (DEMO / "coast-single.toml").read_text(encoding="utf-8")
    assert told("garage", "list")["bikes"][0]["revisions"] == 1
    assert "as bought" in ask("garage", "history", BIKE)


def test_the_history_is_compared_and_brought_back(ask, told):
    ask("garage", "save", "coast-single", "--bike", "mine")
    ask("garage", "save", "plateau-single", "--bike", "mine")
    changes = {one["path"]: (one["old"], one["new"]) for one in told("garage", "diff", "mine")["changes"]}
    assert changes["final_drive.rear"] == (41, 43)
    assert changes["tune.rejetted.note"] == (None, "fourth trial")
    assert "final_drive.rear" in ask("garage", "diff", "mine", "1", "2")
    assert "revision 1 brought back as revision 3" in ask("garage", "restore", "mine", "1")
    assert ask("garage", "show", "mine") == ask("garage", "show", "mine", "1") != ask("garage", "show", "mine", "2")
    history = told("garage", "history", "mine")["revisions"]
    assert [one["number"] for one in history] == [3, 2, 1]
    assert "brings back revision 1" in ask("garage", "history", "mine")
    assert ask("garage", "show", "mine", history[1]["id"]) == ask("garage", "show", "mine", "2")
    assert "Nothing differs" in ask("garage", "diff", "mine", "1", "3")


def test_the_archive_is_a_way_there_and_back(ask, told):
    ask("garage", "save", "coast-single", "--bike", "mine")
    for way, archived in (("archive", ["--archived"]), ("bring-back", [])):
        ask("garage", way, "mine")
        assert [one["name"] for one in told("garage", "list", *archived)["bikes"]] == ["mine"]
        assert told("garage", "list", *([] if archived else ["--archived"]))["bikes"] == []


def test_a_bike_is_carried_to_another_garage_whole_and_not_twice(stocked, ask, told, capsys, tmp_path):
    carried, other = tmp_path / "bike.json", tmp_path / "other.sqlite3"
    ask("garage", "export", BIKE, carried)
    for revisions, trials in ((1, 7), (0, 0)):
        code, out, _ = run(capsys, "garage", "import", carried, "--file", other, "--json")
        assert code == 0 and (json.loads(out)["revisions"], json.loads(out)["trials"]) == (revisions, trials)
    _, out, _ = run(capsys, "trial", "list", BIKE, "--file", other, "--json")
    assert json.loads(out) == told("trial", "list", BIKE)


def test_a_backup_is_a_garage_and_check_says_sound_or_damaged(stocked, ask, file, capsys, tmp_path):
    copy = tmp_path / "copy.sqlite3"
    ask("garage", "backup", copy)
    assert held(copy) == held(file)
    assert "sound; 1 bike, 1 revision" in ask("garage", "check")
    data = copy.read_bytes()
    at = data.rindex(b"wheelbase = ")
    copy.write_bytes(data[:at] + b"wheelbose" + data[at + 9 :])
    assert "damaged" in refused(capsys, "garage", "check", "--file", copy)


def test_half_done_work_is_kept_when_asked(ask, tmp_path, capsys, file):
    half = tmp_path / "half.toml"
    half.write_text("name = 'half'  # more to come\n", encoding="utf-8")
    assert "is missing" in refused(capsys, "garage", "save", half, "--file", file) and not file.exists()
    ask("garage", "save", half, "--unfinished", "--bike", "half")
    assert ask("garage", "show", "half") == half.read_text(encoding="utf-8")


def test_a_build_that_cannot_be_answered_is_refused_before_anything_is_written(ask, capsys, file, tmp_path):
    text = (DEMO / "coast-single.toml").read_text(encoding="utf-8")
    spoilt = tmp_path / "spoilt.toml"
    spoilt.write_text(text.replace("rear = 41", "rear = 900"), encoding="utf-8")
    said = refused(capsys, "garage", "save", spoilt, "--file", file)
    assert "final_drive.rear" in said == refused(capsys, "answers", spoilt) and not file.exists()
    ask("garage", "save", spoilt, "--bike", "mine", "--unfinished")


def test_the_users_own_folder_is_the_default(capsys, tmp_path, monkeypatch):
    monkeypatch.setattr("platformdirs.user_data_path", lambda *_, **__: tmp_path / "data")
    code, _, err = run(capsys, "garage", "list")
    assert code == 2 and "Save a build first" in err and not (tmp_path / "data").exists()
    assert run(capsys, "garage", "save", "coast-single")[0] == 0
    assert BIKE in run(capsys, "garage", "list")[1] and (tmp_path / "data" / "garage.sqlite3").exists()


# ---- refusals


REFUSED = [
    (("garage", "save", "coast-single", "--bike", " "), "bike"),
    (("garage", "save", "coast-single", "--unfinished"), "--bike"),
    (("garage", "save", "coast-single", "--note", "x" * 5000), "note"),
    (("garage", "history", "Coast singel (invented)"), "Did you mean"),
    (("garage", "show", BIKE, "7"), "revision"),
    (("garage", "diff", BIKE), "there is no revision before 1"),
    (("garage", "restore", BIKE, "0"), "revision"),
    (("garage", "export", BIKE, "/nonexistent/folder/bike.json"), "folder that does not exist"),
    (("garage", "import", DEMO / "garage" / "trials.toml"), "import"),
    (("garage", "backup", DEMO / "garage" / "trials.toml"), "is there already"),
]  # fmt: skip


@pytest.mark.parametrize(
    ("arguments", "named"), REFUSED, ids=lambda value: " ".join(map(str, value)) if isinstance(value, tuple) else ""
)
def test_a_refusal_names_the_place_and_keeps_nothing(stocked, capsys, file, tmp_path, arguments, named):
    before, there = held(file), sorted(tmp_path.iterdir())
    assert named in refused(capsys, *arguments, "--file", file)
    assert held(file) == before and sorted(tmp_path.iterdir()) == there


@pytest.mark.parametrize(
    "command",
    [("list",), ("history", "x"), ("show", "x"), ("diff", "x"), ("restore", "x", "1"), ("archive", "x"), ("bring-back", "x"),
     ("export", "x", "y.json"), ("backup", "z.sqlite3"), ("check",), ("import", "no-such.json"),
     ("save", "coast-single", "--note", "x" * 5000)],
    ids=lambda command: command[0],
)  # fmt: skip
def test_a_garage_that_is_not_there_is_not_made_by_a_question(capsys, file, command):
    refused(capsys, "garage", *command, "--file", file)
    assert not list(file.parent.iterdir())


def test_an_empty_file_is_made_a_garage_by_a_save_alone(capsys, file):
    file.touch()
    assert "is empty" in refused(capsys, "garage", "list", "--file", file)
    assert file.read_bytes() == b"" and list(file.parent.iterdir()) == [file]
    assert run(capsys, "garage", "save", "coast-single", "--file", file)[0] == 0


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
    assert "another log of that name" in answered(capsys, "garage", "log", "add", "mine", tmp_path / "ride.csv", *kept)


def test_a_log_out_of_sight_comes_back(kept, capsys):
    answered(capsys, "garage", "log", "archive", "mine", "1", *kept)
    assert [one["name"] for one in logs(capsys, *kept)] == ["Ride.GPX"]
    assert [one["name"] for one in logs(capsys, "--archived", *kept)] == ["ride.csv"]
    answered(capsys, "garage", "log", "bring-back", "mine", "1", *kept)
    assert len(logs(capsys, *kept)) == 2


@pytest.mark.parametrize(
    ("line", "says"),
    [(("take-out", "mine", "3", "new.csv"), "logs 1 to 2"), (("archive", "mine", "ride.csv"), "is not a log"),
     (("bring-back", "mine", "1"), "no log in the archive"), (("add", "mine", "missing.csv"), "cannot be read")],
)  # fmt: skip
def test_a_refusal_of_a_log_names_the_place_and_keeps_nothing(line, says, kept, tmp_path, capsys, monkeypatch):
    monkeypatch.chdir(tmp_path)
    assert says in refused(capsys, "garage", "log", *line, *kept)
    assert len(logs(capsys, *kept)) == 2 and not (tmp_path / "new.csv").exists()
