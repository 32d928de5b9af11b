"""One bike as a file: it arrives whole, once, and a file that is wrong leaves nothing."""

from __future__ import annotations

import base64
import hashlib
import json
import shutil

import pytest
from support.trials import trial

from ridesim.errors import InputError
from ridesim.garage import Garage, GarageError, transfer
from ridesim.garage.trials import RangeVerdict, Verdicts


@pytest.fixture(scope="module")
def made(tmp_path_factory):
    """A garage whose bike has everything a bike can have, closed, and the file it is carried in."""
    path = tmp_path_factory.mktemp("carried") / "garage.sqlite3"
    with Garage.open(path) as one:
        first = one.save("Demo", "a = 1 # ü\r\n", note="as bought")
        one.save("Demo", "a = 2\n")
        one.restore(first.id)
        log = one.add_log("Demo", "run", bytes(range(256)), "csv", note="north")
        said = Verdicts(eighth_to_quarter=RangeVerdict(says="lean", remark="flat"))
        of_build = {"revision": first.id, "tune": "stock", "logs": (log.id,)}
        ridden = one.add_trial(
            "Demo", trial(verdicts=said, fuel_used_m3=0.0045, distance_m=98e3, note="«wind»", **of_build)
        )
        slip = one.add_trial("Demo", trial(builds_on=ridden.id))
        one.add_trial("Demo", trial(builds_on=ridden.id, put_back="117.5 back in"), corrects=slip.id)
        one.archive_row("log", one.add_log("Demo", "slip", b"x", "csv").id)
        return path, one.export("Demo", path.with_name("demo.json"))


@pytest.fixture
def garage(made, tmp_path):
    """The test's own copy of it."""
    with Garage.open(shutil.copyfile(made[0], tmp_path / "garage.sqlite3")) as one:
        yield one


@pytest.fixture
def other(tmp_path):
    with Garage.open(tmp_path / "other.sqlite3") as one:
        yield one


@pytest.fixture
def file(made):
    return made[1]


@pytest.fixture
def refused(file, other, tmp_path):
    """See a changed file refused in these words, and nothing of it come in."""

    def seen(change, says):
        whole = json.loads(file.read_text(encoding="utf-8"))
        change(whole)
        (tmp_path / "changed.json").write_text(json.dumps(whole), encoding="utf-8")
        before = [everything(other, bike.name) for bike in other.bikes()]
        with pytest.raises(InputError, match=says):
            other.import_(tmp_path / "changed.json")
        assert [everything(other, bike.name) for bike in other.bikes()] == before and other.bikes(archived=True) == ()

    return seen


def everything(garage, bike):
    logs = garage.logs(bike) + garage.logs(bike, archived=True)
    contents = [garage.log_content(one.id) for one in logs]
    return garage.history(bike), garage.trials(bike), garage.trials(bike, archived=True), logs, contents


def test_everything_that_goes_in_comes_out_equal(garage, other, file):
    came = other.import_(file)
    assert (came.bike, came.new_bike, came.revisions, came.trials, came.logs, came.notes) == ("Demo", True, 3, 3, 2, ())
    assert everything(other, "Demo") == everything(garage, "Demo")
    other.check()


def test_a_name_that_is_taken_gets_a_number(other, file):
    mine = other.save("Demo", "mine = true\n")
    other.save("Demo (2)", "mine = true\n")
    came = other.import_(file)
    assert came.bike == "Demo (3)"
    assert "'Demo (3)' here" in came.notes[0]
    assert other.history("Demo") == (mine,)


def test_both_sides_work_on_and_meet_again(garage, other, file, tmp_path):
    other.import_(file)
    here = garage.save("Demo", "a = 10\n")
    there = other.save("Demo", "a = 20\n")
    came = garage.import_(other.export("Demo", tmp_path / "back.json"))
    assert (came.revisions, came.trials, came.logs) == (1, 0, 0)
    assert "newest revision is now the file's" in came.notes[0]
    newest = garage.newest("Demo")
    assert (newest.id, newest.passed_over) == (there.id, (here.id,))
    garage.check()


def test_a_bike_in_the_archive_takes_in_and_says_where_it_is(garage, other, file, tmp_path):
    other.import_(file)
    other.archive("Demo")
    garage.save("Demo", "a = 3\n")
    came = other.import_(garage.export("Demo", tmp_path / "more.json"))
    assert came.revisions == 1
    assert "in the archive" in came.notes[0]


WRONG = {
    "format": (("format",), "something else", "is not a file with a bike"),
    "newer": (("version",), 2, "newer ridesim"),
    "extra": (("more",), 1, "import.more = 1: extra inputs"),
    "name": (("bike", "name"), " ", "import.bike.name = ' ': is empty"),
    "id": (("bike", "id"), "' OR 1=1", "import.bike.id"),
    "time": (("revisions", 0, "saved_at"), "yesterday", r"import.revisions\[0\].saved_at = 'yesterday': is not a date"),
    "text": (("revisions", 1, "text"), "a =", r"import.revisions\[1\].text.*is not valid TOML"),
    "NUL": (("revisions", 1, "note"), "\0", "NUL"),
    "type": (("revisions", 1, "note"), 7, r"import.revisions\[1\].note = 7"),
    "parent": (("revisions", 1, "parent"), "0" * 20, r"import.revisions\[1\].parent = '0{20}': is not in this garage"),
    "no revisions": (("revisions",), [], "import.revisions"),
    "air": (("trials", 0, "trial", "air", "humidity"), 55, "import.trials.0..trial.air.humidity = 55"),
    "setting": (("trials", 0, "trial", "settings", "main_jet"), "120", "import.trials.0..trial.settings.main_jet"),
    "link": (("trials", 0, "trial", "logs"), ["f" * 20], r"import.trials\[0\].trial = 'f{20}'"),
    "base64": (("logs", 0, "content_base64"), "?", "content_base64"),
    "empty log": (("logs", 0, "content_base64"), "", "content_base64"),
    "other content": (("logs", 0, "content_base64"), base64.b64encode(b"else").decode(), "does not fit the content"),
}


@pytest.mark.parametrize(("path", "value", "says"), WRONG.values(), ids=WRONG)
def test_a_wrong_field_is_named_and_nothing_comes_in(refused, path, value, says):
    def change(inner):
        for part in path[:-1]:
            inner = inner[part]
        inner[path[-1]] = value

    refused(change, says)


def test_every_missing_field_is_named(refused, file):
    for key in json.loads(file.read_text(encoding="utf-8")):
        says = "bike of ridesim" if key == "format" else rf"import\.{key}: field required"
        refused(lambda whole, key=key: whole.pop(key), says)


@pytest.mark.parametrize(
    "data",
    [b"{", b"[]", b"null", b"\xff\xfe", b"[" * 100_000, b'{"a":' * 50_000, b"1" * 10_000, b'"\\ud800"', b"PK\x03\x04"],
    ids=["cut", "list", "null", "no text", "deep list", "deep table", "long number", "half", "zip"],
)  # fmt: skip
def test_a_file_of_something_else_is_refused(other, tmp_path, data):
    (tmp_path / "else.json").write_bytes(data)
    with pytest.raises(GarageError, match="is not a file with a bike of ridesim"):
        other.import_(tmp_path / "else.json")


def test_what_is_too_large_is_refused(other, file, refused, monkeypatch):
    content = bytes(transfer.LARGEST_LOG + 1)
    log = {"content_base64": base64.b64encode(content).decode(), "sha256": hashlib.sha256(content).hexdigest()}
    refused(lambda whole: whole["logs"][0].update(log), "content_base64")
    monkeypatch.setattr(transfer, "LARGEST_FILE", file.stat().st_size - 1)
    with pytest.raises(InputError, match="is larger than"):
        other.import_(file)


def test_an_id_that_means_something_else_here_is_refused(refused, other, file):
    other.import_(file)
    for change in (
        lambda w: w["revisions"][0].update(text="a = 99\n"),
        lambda w: w["trials"][0]["trial"].update(note="else"),
        lambda w: w["logs"][0].update(name="else"),
        lambda w: w["bike"].update(id="0" * 20),
    ):
        refused(change, "is another")
