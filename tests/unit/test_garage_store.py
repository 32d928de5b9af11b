"""The garage keeps what it is given, loses nothing, and can go back."""

from __future__ import annotations

import sqlite3

import pytest

from ridesim.errors import InputError
from ridesim.garage import Garage, GarageError, records, schema

OLD = 'name = "Demo"  # ours\r\n[final_drive]\nfront = 15\nrear = 44\n'
NEW = OLD.replace("44", "46")


@pytest.fixture
def garage(tmp_path):
    with Garage.open(tmp_path / "garage.sqlite3") as one:
        yield one


def test_a_build_comes_back_with_its_comments_and_line_ends_and_every_save_is_a_revision(garage):
    saved = garage.save("Demo", OLD, note="as bought")
    assert (saved.text, saved.note, saved.number, saved.parent) == (OLD, "as bought", 1, None)
    assert garage.revision(saved.id) == saved == garage.newest("Demo")
    again = garage.save("Demo", OLD)
    assert again.parent == saved.id and garage.history("Demo") == (again, saved)


def test_a_restore_is_a_new_revision(garage):
    first = garage.save("Demo", OLD)
    second = garage.save("Demo", NEW)
    back = garage.restore(first.id)
    assert (back.text, back.parent, back.restores, back.number) == (OLD, second.id, first.id, 3)
    assert back.note == "back to revision 1"
    assert garage.revision(second.id).text == NEW


def test_an_archived_bike_is_out_of_sight_and_comes_back_whole(garage):
    first = garage.save("Demo", OLD)
    garage.archive("Demo")
    assert garage.bikes() == ()
    assert [bike.name for bike in garage.bikes(archived=True)] == ["Demo"]
    with pytest.raises(GarageError, match="Bring it back"):
        garage.save("Demo", NEW)
    with pytest.raises(GarageError, match="Bring it back"):
        garage.restore(first.id)
    garage.bring_back("Demo")
    garage.bring_back("Demo")
    assert garage.history("Demo") == (first,)
    assert garage.bikes()[0].archived_at is None


def test_nothing_can_be_deleted_or_rewritten(garage):
    garage.save("Demo", OLD)
    garage.add_log("Demo", "run", b"t,v\n", "csv")
    for statement in (
        *(f"DELETE FROM {table}" for table in ("bike", "revision", "log")),
        "UPDATE revision SET text = ''",
        "UPDATE log SET content = x'00'",
        "UPDATE bike SET id = 'x'",
    ):
        with pytest.raises(sqlite3.IntegrityError):
            garage._kept.db.execute(statement)
    garage.check()


def test_logs_come_back_byte_by_byte(garage, tmp_path):
    garage.save("Demo", OLD)
    (tmp_path / "run.csv").write_bytes(bytes(range(256)))
    from_path = garage.add_log("Demo", "run", tmp_path / "run.csv", "csv", note="north")
    from_bytes = garage.add_log("Demo", "run", b"\0\xff", "gpx")
    assert garage.log_content(from_path.id) == bytes(range(256))
    assert garage.log_content(from_bytes.id) == b"\0\xff"
    assert garage.logs("Demo") == (from_path, from_bytes)


@pytest.mark.parametrize(
    ("name", "text", "note", "says"),
    [
        ("", OLD, "", "is empty"),
        (" Demo", OLD, "", "space"),
        ("De\nmo", OLD, "", "line break"),
        ("D" * 121, OLD, "", "longer than 120"),
        (None, OLD, "", "is not text"),
        ("De\0mo", OLD, "", "NUL"),
        ("Demo", "a = \0", "", "NUL"),
        ("Demo", "a = '\ud800'", "", "half of a character"),
        ("Demo", "a = ", "", "is not valid TOML"),
        ("Demo", 'a = "' + "é" * 600_000 + '"', "", "longer than 1000000 bytes"),
        ("Demo", "a = 1" + "0" * 5000, "", "thousands of digits"),
        ("Demo", OLD, "x" * 4001, "longer than 4000"),
        ("Demo", OLD, 3, "is not text"),
        ("Demo", b"a = 1", "", "is not text"),
    ],
)
def test_what_cannot_be_kept_is_refused_and_leaves_nothing(garage, name, text, note, says):
    with pytest.raises(InputError, match=says):
        garage.save(name, text, note=note)
    assert garage.bikes() == ()


def test_unknown_things_are_refused_by_name(garage):
    saved = garage.save("Hill single", OLD)
    other = garage.save("Second", OLD)
    for misspelt in (garage.history, garage.archive):
        with pytest.raises(GarageError, match="Did you mean 'Hill single'"):
            misspelt("Hill singel")
    for asked in (
        lambda: garage.restore(None),
        lambda: garage.diff(saved.id, "'; DROP TABLE bike; --"),
        lambda: garage.bring_back_row("trial", "x"),
        lambda: garage.log_content("x"),
    ):
        with pytest.raises(GarageError, match="is not in this garage"):
            asked()
    with pytest.raises(GarageError, match="belongs to another bike"):
        garage.save("Second", OLD, parent=saved.id)
    assert garage.history("Second") == (other,)


@pytest.mark.parametrize("content", [b"", b"x" * (records.LARGEST_LOG + 1)], ids=["empty", "too large"])
def test_a_log_has_a_size(garage, content):
    garage.save("Demo", OLD)
    with pytest.raises(GarageError, match="bytes"):
        garage.add_log("Demo", "run", content, "csv")


def test_a_committed_revision_is_on_the_disk(garage):
    """WAL with synchronous FULL: SQLite syncs the log at every commit (sqlite.org/pragma.html#pragma_synchronous)."""
    asked = {"journal_mode": "wal", "synchronous": 2, "foreign_keys": 1, "fullfsync": 1}
    found = {name: garage._kept.db.execute(f"PRAGMA {name}").fetchone()[0] for name in asked}
    assert found == asked


def test_a_backup_is_the_whole_garage_in_one_checked_file(garage, tmp_path):
    saved = garage.save("Demo", OLD)
    log = garage.add_log("Demo", "run", b"t,v\n", "csv")
    copy = garage.backup(tmp_path / "backup.sqlite3")
    garage.save("Demo", NEW)
    beside = {path.name for path in tmp_path.iterdir() if path.name.startswith((".", "backup"))}
    assert beside == {"backup.sqlite3", ".backup.sqlite3.lock"}
    with Garage.open(copy) as other:
        other.check()
        assert other.history("Demo") == (saved,)
        assert other.log_content(log.id) == b"t,v\n"


def test_a_misuse_of_the_library_is_not_passed_off_as_a_damaged_file(garage):
    garage.close()
    with pytest.raises(sqlite3.ProgrammingError):
        garage.bikes()


class TestMigrations:
    ADDED = "ALTER TABLE bike ADD COLUMN color TEXT"

    @pytest.fixture
    def saved(self, tmp_path):
        with Garage.open(tmp_path / "g") as garage:
            return garage.save("Demo", OLD)

    def test_an_older_file_is_brought_up_to_date_with_all_it_holds(self, saved, tmp_path, monkeypatch):
        step = (self.ADDED, "UPDATE bike SET color = 'red'")
        monkeypatch.setattr(schema, "MIGRATIONS", (*schema.MIGRATIONS, step))
        for _ in range(2):
            with Garage.open(tmp_path / "g") as garage:
                assert garage.history("Demo") == (saved,)
                assert garage._kept.rows("SELECT color FROM bike")[0]["color"] == "red"
                assert garage._kept.rows("PRAGMA user_version")[0]["user_version"] == 2

    def test_a_step_that_fails_leaves_the_old_layout(self, saved, tmp_path, monkeypatch):
        monkeypatch.setattr(schema, "MIGRATIONS", (*schema.MIGRATIONS, (self.ADDED, "UPDATE nothing SET a = 1")))
        with pytest.raises(GarageError):
            Garage.open(tmp_path / "g")
        monkeypatch.undo()
        with Garage.open(tmp_path / "g") as garage:
            assert garage.history("Demo") == (saved,)
            assert garage._kept.rows("PRAGMA user_version")[0]["user_version"] == 1
            assert "color" not in {row[1] for row in garage._kept.rows("PRAGMA table_info(bike)")}
