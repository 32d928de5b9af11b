"""Files that will not do, and disks that fail: one sentence, and the old state intact."""

from __future__ import annotations

import contextlib
import random
import resource
import sqlite3
import sys
from pathlib import Path

import pytest
from support.trials import trial

from ridesim.errors import InputError
from ridesim.garage import Garage, GarageError

RIDDEN = trial(note="ü" * 3000)
TEXT = "[final_drive]\nrear = 45\n"


@pytest.fixture
def file(tmp_path):
    """A garage with a bike, closed."""
    path = tmp_path / "garage.sqlite3"
    with Garage.open(path) as garage:
        garage.save("Demo", TEXT)
        garage.add_log("Demo", "run", b"0123456789" * 2000, "csv")
        garage.add_trial("Demo", RIDDEN)
    return path


def refused(path, says):
    """Opening is refused with one sentence and a mend, and the file is as it was, with nothing beside it."""
    before = path.read_bytes() if path.is_file() else None
    beside = sorted(path.parent.iterdir())
    with pytest.raises(GarageError, match=says) as caught:
        Garage.open(path)
    assert caught.value.fix
    assert "\n" not in str(caught.value)
    if before is not None:
        assert path.read_bytes() == before
    assert sorted(path.parent.iterdir()) == beside


def test_what_is_no_garage(tmp_path):
    refused(tmp_path, "is a folder")
    (tmp_path / "letter.txt").write_text("Dear bike, " * 100)
    refused(tmp_path / "letter.txt", "is not a garage")
    for path, says in ((tmp_path / "nowhere" / "garage.sqlite3", "cannot be opened"), ("gar\0age", "is not a path")):
        with pytest.raises(GarageError, match=says):
            Garage.open(path)


@pytest.mark.parametrize("journal", ["DELETE", "WAL"])
@pytest.mark.parametrize("application", [0, 77])
def test_a_sqlite_file_of_another_program_is_not_touched(tmp_path, journal, application):
    db = sqlite3.connect(tmp_path / "other.db")
    db.execute(f"PRAGMA journal_mode = {journal}")
    db.execute(f"PRAGMA application_id = {application}")
    db.execute("CREATE TABLE bike (id)")
    db.commit()
    db.close()
    refused(tmp_path / "other.db", "another program")


def test_a_foreign_file_with_a_journal_beside_it_is_refused(tmp_path):
    with contextlib.closing(sqlite3.connect(tmp_path / "other.db")) as db:
        db.execute("CREATE TABLE bike (id)")
    (tmp_path / "other.db-journal").write_bytes(b"")
    with pytest.raises(GarageError, match="another program"):
        Garage.open(tmp_path / "other.db")


@pytest.mark.parametrize(
    ("statement", "says"),
    [("PRAGMA user_version = 99", r"newer ridesim.*Update ridesim"), ("DROP TABLE trial", "no trial table")],
)
def test_a_layout_that_is_not_ours(file, statement, says):
    with contextlib.closing(sqlite3.connect(file)) as db:
        db.execute(statement)
    with pytest.raises(GarageError, match=says):
        Garage.open(file)


def test_a_file_cut_short(file):
    whole = file.read_bytes()
    for length in (50, 100, 4096, 5000, len(whole) // 2, len(whole) - 4096):
        file.write_bytes(whole[:length])
        with pytest.raises(GarageError), Garage.open(file) as garage:
            garage.check()


def test_flipped_bytes_are_noticed_or_harmless(file):
    """Whatever byte is wrong, what comes back is what was kept, or one sentence; never another text, never a crash."""
    whole = file.read_bytes()
    chance = random.Random(20310504)
    noticed = 0
    for place in [*range(100), *(chance.randrange(len(whole)) for _ in range(300))]:
        damaged = bytearray(whole)
        damaged[place] ^= chance.randrange(1, 256)
        file.write_bytes(damaged)
        try:
            with Garage.open(file) as garage:
                for bike in garage.bikes():
                    for revision in garage.history(bike.name):
                        assert revision.text == TEXT
                    assert all(one == RIDDEN for one in garage.trials(bike.name))
                    for log in garage.logs(bike.name):
                        assert garage.log_content(log.id) == b"0123456789" * 2000
                garage.check()
        except InputError as error:
            noticed += 1
            assert "\n" not in str(error)
        for beside in (f"{file}-wal", f"{file}-shm"):
            Path(beside).unlink(missing_ok=True)
    assert noticed > 80  # a third of the file is the log, and every byte of that is checked


def test_a_backup_of_a_damaged_garage_is_not_given_its_name(file, tmp_path):
    damaged = bytearray(file.read_bytes())
    damaged[4096:8192] = b"\xff" * 4096
    file.write_bytes(damaged)
    with pytest.raises(GarageError, match="damaged"), Garage.open(file) as garage:
        garage.backup(tmp_path / "backup.sqlite3")
    assert [path.name for path in tmp_path.iterdir() if "backup" in path.name] == [".backup.sqlite3.lock"]


def test_a_full_disk_says_so_and_keeps_what_was_there(file):
    with Garage.open(file) as garage:
        before = garage.history("Demo")
        (pages,) = garage._kept.db.execute("PRAGMA page_count").fetchone()
        garage._kept.db.execute(f"PRAGMA max_page_count = {pages}")
        with pytest.raises(GarageError, match=r"no room left.*Free some space"):
            for number in range(1000):
                garage.save("Demo", f'remark = "{"x" * 5000}{number}"')
        with pytest.raises(GarageError, match="no room left"):
            garage.add_log("Demo", "run", b"x" * 100_000, "csv")
        assert garage.history("Demo") == before
        garage.check()
        garage._kept.db.execute("PRAGMA max_page_count = 1000000")
        garage.save("Demo", TEXT, note="room again")
    with Garage.open(file) as garage:
        assert [revision.note for revision in garage.history("Demo")] == ["room again", ""]


@contextlib.contextmanager
def write_fails_after(size):
    """A file size limit makes write() fail as a full or broken disk does, in the midst of a commit."""
    soft, hard = resource.getrlimit(resource.RLIMIT_FSIZE)
    kept, sys.dont_write_bytecode = sys.dont_write_bytecode, True  # a module first read now would be kept by half
    resource.setrlimit(resource.RLIMIT_FSIZE, (size, hard))
    try:
        yield
    finally:
        resource.setrlimit(resource.RLIMIT_FSIZE, (soft, hard))
        sys.dont_write_bytecode = kept


def test_a_disk_that_stops_taking_bytes(file):
    with Garage.open(file) as garage:
        before = garage.history("Demo")
        with write_fails_after(60_000), pytest.raises(GarageError) as caught:
            garage.add_log("Demo", "run", b"x" * 1_000_000, "csv")
        assert caught.value.fix
        assert garage.history("Demo") == before
        assert len(garage.logs("Demo")) == 1
        garage.save("Demo", TEXT, note="works again")
        garage.check()


def test_an_export_that_finds_no_room_leaves_nothing(file, tmp_path):
    with (
        Garage.open(file) as garage,
        write_fails_after(5_000),
        pytest.raises(InputError, match="File too large"),
    ):
        garage.export("Demo", tmp_path / "demo.json")
    assert [path.name for path in tmp_path.iterdir() if "json" in path.name] == [".demo.json.lock"]


def test_another_program_that_holds_the_file(file):
    with (
        contextlib.closing(sqlite3.connect(file, isolation_level=None)) as db,
        Garage.open(file, wait_s=0.05) as garage,
    ):
        db.execute("BEGIN IMMEDIATE")
        with pytest.raises(GarageError, match="held by another program"):
            garage.save("Demo", TEXT)
        assert garage.history("Demo")[0].text == TEXT  # readers do not wait for a writer
        db.execute("ROLLBACK")
        garage.save("Demo", TEXT)
