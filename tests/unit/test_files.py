"""A rider's files: nothing lost where several write at once, nothing replaced unasked, and no waiting for what is no file."""

from __future__ import annotations

import csv
import os
import shutil
import signal
import subprocess
import sys
import tempfile
from io import StringIO
from pathlib import Path

import pytest
from filelock import FileLock
from support.commands import an_ordinary_user, answered, at_once, refused

from ridesim import files
from ridesim.buildfile.io import read
from ridesim.cli.output import csv_text
from ridesim.errors import InputError
from ridesim.garage import Garage, GarageError

DEMO = Path(__file__).parents[2] / "data/demo/coast-single.toml"
CURVE = "rpm,torque [N*m]\n1900,30\n3800,37\n5700,34\n7300,24.7\n"


@pytest.fixture
def bike(tmp_path):
    shutil.copy(DEMO, tmp_path / "bike.toml")
    (tmp_path / "pull.csv").write_text(CURVE, encoding="utf-8")
    return tmp_path / "bike.toml"


def backups(file: Path) -> list[Path]:
    return sorted(file.parent.glob(f"{file.name}.*.bak"))


AT_ONCE = 4


def test_as_many_at_once_save_as_many_tunes(bike):
    before = set(read(bike).record.tune)
    pull = bike.with_name("pull.csv")
    codes, said = at_once(*(["curve", pull, "--into", bike, "--name", f"t{n}"] for n in range(AT_ONCE)))
    assert codes == [0] * AT_ONCE, said
    assert set(read(bike).record.tune) == before | {f"t{n}" for n in range(AT_ONCE)}


def test_as_many_at_once_save_as_many_tunes_of_trials(bike, tmp_path, capsys):
    garage, sheet = tmp_path / "garage.sqlite3", tmp_path / "pull.csv"
    answered(capsys, "garage", "save", bike, "--bike", "mine", "--file", garage)
    air = ("--altitude", "250 m", "--temperature", "18 degC", "--humidity", "50 %")
    answered(capsys, "trial", "add", "mine", "--main-jet", "120", *air, "--file", garage)
    tune = ["trial", "tune", "mine", "--trial", "1", "--curve", sheet, "--file", garage, "--name"]
    codes, said = at_once(*([*tune, f"t{n}"] for n in range(AT_ONCE)))
    assert codes == [0] * AT_ONCE, said
    with Garage.open(garage) as opened:
        newest = opened.newest("mine")
    assert all(f"[tune.t{n}]" in newest.text for n in range(AT_ONCE)) and newest.number == 1 + AT_ONCE


def test_a_tune_that_is_there_is_replaced_only_if_asked_and_the_file_before_it_stays(bike, capsys):
    before = bike.read_bytes()
    line = ("curve", bike.with_name("pull.csv"), "--into", bike, "--name", "stock")
    assert "--replace" in refused(capsys, *line)
    assert bike.read_bytes() == before and not backups(bike)
    answered(capsys, *line, "--replace")
    assert b"24.7" in bike.read_bytes() != before
    assert [one.read_bytes() for one in backups(bike)] == [before]
    assert read(backups(bike)[0]).name


@pytest.mark.parametrize(
    "line",
    [("sheet", "bike.toml", "--output"), ("curve", "pull.csv", "--into", "bike.toml", "--name", "new", "--output"),
     ("fit", "bike.toml", "--into")],
    ids=lambda line: line[0],
)  # fmt: skip
def test_a_file_that_is_there_is_replaced_only_if_asked(line, bike, capsys, monkeypatch):
    monkeypatch.chdir(bike.parent)
    reading = '\n[[evidence]]\nkind = "roll-out"\nvalue = "2.00 +- 0.01 m"\n'
    bike.write_text(bike.read_text(encoding="utf-8") + (reading if line[0] == "fit" else ""), encoding="utf-8")
    mine = Path("mine.html" if line[0] == "sheet" else "mine.toml")
    mine.write_text("mine", encoding="utf-8")
    assert "--replace" in refused(capsys, *line, mine)
    assert mine.read_text(encoding="utf-8") == "mine"
    answered(capsys, *line, mine, "--replace")
    assert mine.stat().st_size > 1000
    assert backups(mine)[-1].read_text(encoding="utf-8") == "mine"


def test_the_newest_five_backups_stay_and_nothing_else_is_swept_away(tmp_path):
    file = tmp_path / "bike.toml"
    others = {"bike.toml.bak", "bike.toml.20310504.bak", "other.toml.20310504T093000.000000Z.bak"}
    for name in others:
        (tmp_path / name).touch()
    for n in range(9):
        files.save(file, f"{n}".encode(), replace=True)
    dated = [one.read_text() for one in backups(file) if one.name not in others]
    assert dated == ["3", "4", "5", "6", "7"] and file.read_text() == "8"
    assert others < {one.name for one in tmp_path.iterdir()}


def test_what_a_kill_leaves_is_cleared_at_the_next_save(bike):
    killed = f"""
import os, signal
from pathlib import Path
from ridesim import files
os.replace = lambda *_: os.kill(os.getpid(), signal.SIGKILL)
files.save(Path({str(bike)!r}), b"half", replace=True)
"""
    before = bike.read_bytes()
    done = subprocess.run([sys.executable, "-c", killed], check=False)
    assert done.returncode == -signal.SIGKILL
    assert bike.read_bytes() == before and list(bike.parent.glob(".*.part"))
    files.save(bike, b"whole", replace=True)
    assert bike.read_bytes() == b"whole" and not list(bike.parent.glob(".*.part"))


def test_a_file_that_another_keeps_locked_is_refused_in_one_sentence(bike, capsys, monkeypatch):
    monkeypatch.setattr(files, "WAIT_S", 0.05)
    before = bike.read_bytes()
    with FileLock(bike.with_name(".bike.toml.lock")):
        said = refused(capsys, "curve", bike.with_name("pull.csv"), "--into", bike, "--name", "new")
    assert "another program" in said and bike.read_bytes() == before


def test_a_change_that_fails_is_told_as_what_it_is_and_changes_nothing(bike):
    def broken(_):
        raise ZeroDivisionError

    before = bike.read_bytes()
    with pytest.raises(ZeroDivisionError):
        files.update(bike, broken)
    assert bike.read_bytes() == before and not backups(bike)


def test_a_name_as_long_as_the_disk_allows_can_be_saved_again(tmp_path):
    file = tmp_path / f"{'b' * 250}.toml"
    for content in (b"1", b"2"):
        files.save(file, content, replace=True)
    assert file.read_bytes() == b"2" and len(list(tmp_path.glob("*.bak"))) == 1


READERS = {
    "answers": ("answers", "{}"),
    "check": ("check", "{}"),
    "compare": ("compare", "coast-single", "{}"),
    "choose": ("choose", "{}"),
    "curve": ("curve", "{}", "--into", "bike.toml", "--name", "new"),
    "curve into": ("curve", "pull.csv", "--into", "{}", "--name", "new"),
    "log": ("log", "show", "{}"),
    "pull": ("log", "pull", "{}", "--build", "coast-single", "--gear", "3"),
    "idle": ("idle", "{}"),
    "trials": ("trial", "add", "Demo", "--from", "{}", "--file", "g.sqlite3"),
    "parts": ("trial", "next", "Demo", "--parts", "{}", "--file", "g.sqlite3"),
    "garage save": ("garage", "save", "{}", "--file", "new.sqlite3"),
    "garage import": ("garage", "import", "{}", "--file", "new.sqlite3"),
    "garage list": ("garage", "list", "--file", "{}"),
    "garage as a new one": ("garage", "save", "coast-single", "--file", "{}"),
}


@pytest.fixture
def no_waiting():
    """Whoever waits for a pipe is woken, and fails."""

    def woken(*_):
        raise AssertionError("it waited")

    before = signal.signal(signal.SIGALRM, woken)
    signal.alarm(60)
    yield
    signal.alarm(0)
    signal.signal(signal.SIGALRM, before)


@pytest.mark.usefixtures("no_waiting")
@pytest.mark.parametrize("reader", READERS)
def test_what_is_no_plain_file_is_refused_at_once(reader, bike, capsys, monkeypatch):
    monkeypatch.chdir(bike.parent)
    os.mkfifo("pipe")
    Path("folder").mkdir()
    with Garage.open("g.sqlite3") as garage:
        garage.save("Demo", DEMO.read_text(encoding="utf-8"))
    before = {one.name for one in bike.parent.iterdir()}
    for odd, problem in {
        "pipe": "plain file",
        "/dev/zero": "plain file",
        "folder": "folder",
        "/proc/self/mem": "plain file",
    }.items():
        said = refused(capsys, *(one.format(odd) for one in READERS[reader]))
        assert Path(odd).name in said
        assert problem in said or (
            odd == "/proc/self/mem" and "garage" in reader
        )  # which tells a foreign file by its first bytes
        assert {one.name for one in bike.parent.iterdir()} - before <= {".bike.toml.lock"}


@pytest.fixture
def shared():
    """A garage in a folder that an ordinary user can reach, and may not write to."""
    folder = Path(tempfile.mkdtemp())
    with Garage.open(folder / "garage.sqlite3") as garage:
        garage.save("Demo", DEMO.read_text(encoding="utf-8"))
    yield folder / "garage.sqlite3"
    folder.chmod(0o700)
    shutil.rmtree(folder)


READS = {("list",): "1 bike", ("show", "Demo"): "[final_drive]", ("check",): "sound", ("history", "Demo"): "newest"}


@pytest.mark.parametrize(("of_file", "of_folder"), [(0o444, 0o755), (0o444, 0o777), (0o666, 0o555), (0o444, 0o555)])
def test_a_garage_that_may_only_be_read_can_be_listed_and_read(shared, of_file, of_folder, capsys):
    for line in READS:  # the user may not be allowed to read the program itself
        answered(capsys, "garage", *line, "--file", shared)
    shared.chmod(of_file)
    shared.parent.chmod(of_folder)
    before = shared.read_bytes()
    with an_ordinary_user():
        for line, says in READS.items():
            assert says in answered(capsys, "garage", *line, "--file", shared)
        assert "may not be written" in refused(capsys, "garage", "archive", "Demo", "--file", shared)
    assert shared.read_bytes() == before and [one.name for one in shared.parent.iterdir()] == [shared.name]


def test_a_garage_that_may_only_be_read_shows_what_another_is_writing(shared, capsys):
    shared.parent.chmod(0o755)
    with Garage.open(shared) as garage:
        garage.save("Other", DEMO.read_text(encoding="utf-8"))
        answered(capsys, "garage", "list", "--file", shared)
        with an_ordinary_user():
            assert "2 bikes" in answered(capsys, "garage", "list", "--file", shared)


def test_a_folder_that_may_not_be_written_to_is_refused_at_once(shared):
    shared.parent.chmod(0o755)
    with an_ordinary_user(), pytest.raises(InputError, match="folder that may not be written"):
        files.save(shared.parent / "new.toml", b"")


@pytest.mark.parametrize(
    ("name", "says"), [("garage.sqlite3", "permission denied"), ("new.sqlite3", "cannot be opened")]
)
def test_a_garage_that_may_not_be_read_or_made_is_refused(shared, name, says):
    shared.chmod(0)
    shared.parent.chmod(0o555)
    with an_ordinary_user(), pytest.raises(GarageError, match=says) as caught:
        Garage.open(shared.with_name(name))
    assert caught.value.fix


TEXTS = ["=1+1", "+1+1", "-1+1", "@SUM(1)", " =1", '"=1', "＝1", "=", "-"]
PARTED = {"x;=1": "x;'=1", "x; @1;y": "x;' @1;y", "x\t-y": "x\t'-y", "x\r\n=1": "x\r'\n'=1", 'x;"=1"': "x;'\"=1\"",
          "\t=1": "'\t'=1", "\r=1": "'\r'=1", ";+y": ";'+y"}  # fmt: skip
NUMBERS = ["-5.2", "+5", "1e-3", "5", -5.2, 7, "-1e3"]


def test_a_cell_that_a_spreadsheet_would_run_is_guarded_and_a_number_is_not():
    texts, numbers, parted = csv.reader(StringIO(csv_text([TEXTS, NUMBERS, PARTED]), newline=""))
    assert texts == [f"'{text}" for text in TEXTS]
    assert numbers == [str(number) for number in NUMBERS]
    assert parted == list(PARTED.values())
    plain = ["13;-5.2", "a;b", "x - y; z", "a-b"]
    assert csv_text([plain]) == ",".join(plain) + "\n"


def test_every_csv_goes_through_the_one_guard():
    root = Path(files.__file__).parent.parent
    writers = [
        path.name
        for room in ("ridesim", "dashboard")
        for path in root.glob(f"{room}/**/*.py")
        if any(one in path.read_text(encoding="utf-8") for one in ("csv.writer", "DictWriter", "to_csv"))
    ]
    assert writers == ["output.py"]
