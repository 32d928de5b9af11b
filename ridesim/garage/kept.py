"""The rows of the garage: written whole, read back with their digests checked.

In the SQL only values vary, and the names of tables and columns, which are this module's own.
"""

from __future__ import annotations

import hashlib
import sqlite3
from collections.abc import Iterator, Sequence
from contextlib import contextmanager
from pathlib import Path
from typing import Any

from ridesim.errors import did_you_mean
from ridesim.garage.records import GarageBike, GarageError, GarageLog, Revision, checked_name, digest, new_id
from ridesim.garage.schema import BACKUP, reading, speaking, writing

_BIKES = """
    SELECT id, name, created_at, archived_at,
        (SELECT count(*) FROM revision WHERE bike_id = bike.id) AS revisions,
        (SELECT count(*) FROM trial WHERE bike_id = bike.id AND archived_at IS NULL) AS trials,
        (SELECT count(*) FROM log WHERE bike_id = bike.id AND archived_at IS NULL) AS logs
    FROM bike WHERE (archived_at IS NOT NULL) = ? ORDER BY name"""
_REVISION = """
    SELECT r.id, b.name AS bike, r.number, r.parent_id AS parent, r.restores_id AS restores, r.saved_at, r.note, r.text,
        r.bike_id, r.digest, p.number AS parent_number
    FROM revision r JOIN bike b ON b.id = r.bike_id LEFT JOIN revision p ON p.id = r.parent_id """
_TRIALS = """
    SELECT id, corrects_id AS corrects, kept_at, archived_at, digest, body FROM trial WHERE bike_id = ? ORDER BY number"""
_LOGS = """
    SELECT l.id, b.name AS bike, l.name, l.kind, l.note, l.added_at, l.archived_at, l.size_bytes, l.sha256, l.digest
    FROM log l JOIN bike b ON b.id = l.bike_id WHERE l.bike_id = ? ORDER BY l.number"""


class Kept:
    """The rows of one open garage file, each with its columns by their names here."""

    def __init__(self, path: Path, db: sqlite3.Connection) -> None:
        self.path, self.db = path, db
        db.row_factory = sqlite3.Row

    def rows(self, sql: str, *values: object) -> list[Any]:
        """All rows of a query."""
        with speaking(self.path):
            return self.db.execute(sql, values).fetchall()

    @contextmanager
    def writing(self) -> Iterator[None]:
        """One change to the file: all of it, or none of it and one sentence why."""
        with speaking(self.path), writing(self.db):
            yield

    @contextmanager
    def reading(self) -> Iterator[None]:
        """Several reads of the file as it was at one moment."""
        with speaking(self.path), reading(self.db):
            yield

    # ---- bikes

    def bikes(self, archived: bool) -> tuple[GarageBike, ...]:
        """The bikes in use or those in the archive, by name, with how much is kept about each."""
        return tuple(GarageBike(**row) for row in self.rows(_BIKES, archived))

    def bike_id(self, name: str) -> str:
        """The id of a bike, in use or not; GarageError with a near name where there is none of that name."""
        rows = self.rows("SELECT id FROM bike WHERE name = ?", checked_name(name, "bike"))
        if not rows:
            raise self.unknown_bike(name)
        return str(rows[0][0])

    def bike_in_use(self, name: str) -> str:
        """The id of a bike that may be added to: one in the archive must come back first."""
        bike_id = self.bike_id(name)
        if self.rows("SELECT 1 FROM bike WHERE id = ? AND archived_at IS NOT NULL", bike_id):
            raise GarageError("bike", name, "is in the archive", "Bring it back first, or use another name.")
        return bike_id

    def unknown_bike(self, name: str) -> GarageError:
        """That a bike is not here, with the name that may have been meant."""
        names = [known for (known,) in self.rows("SELECT name FROM bike ORDER BY name")]
        return GarageError(
            "bike", name, "is not in the garage", did_you_mean(name, names) if names else "Save its build first."
        )

    def keep_bike(self, bike_id: str, name: str, created_at: str) -> None:
        """Add a bike, inside a change that is under way."""
        self._insert("bike", id=bike_id, name=name, created_at=created_at)

    def _insert(self, table: str, **values: object) -> None:
        marks = ", ".join("?" * len(values))
        self.db.execute(f"INSERT INTO {table} ({', '.join(values)}) VALUES ({marks})", tuple(values.values()))

    def set_archived(self, kind: str, row_id: str, archived_at: str | None) -> None:
        """Into the archive (a time) or out of it (None); doing it twice changes nothing."""
        with self.writing():
            self.set_archived_now(kind, row_id, archived_at)

    def set_archived_now(self, kind: str, row_id: str, archived_at: str | None) -> None:
        """The same, inside a change that is under way."""
        if kind != "bike":
            self.bike_of(kind, row_id)
        change = f"UPDATE {kind} SET archived_at = ? WHERE id = ? AND (archived_at IS NULL) = ?"
        self.db.execute(change, (archived_at, row_id, archived_at is not None))

    def bike_of(self, kind: str, row_id: str) -> str:
        """The bike a revision, trial or log belongs to."""
        rows = self.rows(f"SELECT bike_id FROM {kind} WHERE id = ?", row_id)
        if not rows:
            raise GarageError(kind, row_id, "is not in this garage", f"Choose a {kind} of the bike.")
        return str(rows[0][0])

    def same_bike(self, kind: str, row_id: str, bike_id: str) -> None:
        """Refuse a revision, trial or log that is not here, or belongs to another bike."""
        if self.bike_of(kind, row_id) != bike_id:
            raise GarageError(kind, row_id, "belongs to another bike", f"Choose a {kind} of this bike.")

    def next_number(self, kind: str, bike_id: str) -> int:
        """What the next revision, trial or log of a bike is counted as: numbers start at 1 and none is used twice."""
        return int(self.rows(f"SELECT coalesce(max(number), 0) + 1 FROM {kind} WHERE bike_id = ?", bike_id)[0][0])

    # ---- revisions

    def keep_revision(
        self,
        bike_id: str,
        text: str,
        note: str,
        saved_at: str,
        *,
        parent: str | None,
        restores: str | None = None,
        revision_id: str | None = None,
    ) -> str:
        """Add a revision with its digest, inside a change that is under way; its id, a new one unless given."""
        revision_id = revision_id or new_id()
        self._insert(
            "revision",
            id=revision_id,
            bike_id=bike_id,
            number=self.next_number("revision", bike_id),
            parent_id=parent,
            restores_id=restores,
            saved_at=saved_at,
            note=note,
            digest=digest(revision_id, bike_id, parent, restores, saved_at, note, text),
            text=text,
        )
        return revision_id

    def newest_id(self, bike_id: str) -> str | None:
        """The id of the newest revision of a bike; None where none is kept."""
        rows = self.rows("SELECT id FROM revision WHERE bike_id = ? ORDER BY number DESC LIMIT 1", bike_id)
        return str(rows[0][0]) if rows else None

    def revision(self, revision_id: str) -> Revision:
        """A revision by its id, with what it passed over; GarageError where it is not here, or is not as it was kept."""
        rows = self.rows(_REVISION + "WHERE r.id = ?", revision_id)
        if not rows:
            raise GarageError("revision", revision_id, "is not in this garage", "Choose one from the bike's history.")
        (row,) = rows
        between = "SELECT id FROM revision WHERE bike_id = ? AND number > ? AND number < ? ORDER BY number"
        passed = self.rows(between, row["bike_id"], row["parent_number"] or 0, row["number"])
        return self._revision(row, [one for (one,) in passed])

    def history(self, bike_id: str) -> tuple[Revision, ...]:
        """Every revision of a bike, the oldest first, each with what it passed over; GarageError where one is not as it was kept."""
        rows = self.rows(_REVISION + "WHERE r.bike_id = ? ORDER BY r.number", bike_id)
        ids = [row["id"] for row in rows]
        after = {one: place for place, one in enumerate(ids, start=1)}
        return tuple(self._revision(row, ids[after.get(row["parent"], 0) : place]) for place, row in enumerate(rows))

    def _revision(self, row: sqlite3.Row, passed_over: Sequence[str]) -> Revision:
        kept = dict(row)
        bike_id, stored, _ = (kept.pop(name) for name in ("bike_id", "digest", "parent_number"))
        one = Revision(**kept, passed_over=tuple(passed_over))
        parts = (one.id, bike_id, one.parent, one.restores, one.saved_at, one.note, one.text)
        self.refuse_damaged("revision", one.id, stored, digest(*parts))
        return one

    # ---- trials

    def keep_trial(
        self,
        bike_id: str,
        trial_id: str,
        body: str,
        kept_at: str,
        *,
        corrects: str | None,
        archived_at: str | None = None,
    ) -> None:
        """Add a trial as its JSON text with its digest, inside a change that is under way."""
        self._insert(
            "trial",
            id=trial_id,
            bike_id=bike_id,
            number=self.next_number("trial", bike_id),
            corrects_id=corrects,
            kept_at=kept_at,
            archived_at=archived_at,
            digest=digest(trial_id, bike_id, corrects, kept_at, body),
            body=body,
        )

    def trials(self, bike_id: str) -> list[Any]:
        """Every trial of a bike, those in the archive too, in the order kept: columns by name, the body as text."""
        rows = self.rows(_TRIALS, bike_id)
        for row in rows:
            trial_id, corrects, kept_at, _, stored, body = row
            self.refuse_damaged("trial", trial_id, stored, digest(trial_id, bike_id, corrects, kept_at, body))
        return rows

    # ---- logs

    def keep_log(self, log: GarageLog, bike_id: str, content: bytes) -> None:
        """Add a log with its digest, inside a change that is under way."""
        self._insert(
            "log",
            bike_id=bike_id,
            number=self.next_number("log", bike_id),
            digest=_log_digest(log, bike_id),
            content=content,
            **{name: value for name, value in vars(log).items() if name != "bike"},
        )

    def logs(self, bike_id: str) -> tuple[GarageLog, ...]:
        """Every log of a bike, those in the archive too, in the order they were kept, without their content."""
        found = []
        for row in map(dict, self.rows(_LOGS, bike_id)):
            stored = row.pop("digest")
            found.append(log := GarageLog(**row))
            self.refuse_damaged("log", log.id, stored, _log_digest(log, bike_id))
        return tuple(found)

    def log_content(self, log_id: str) -> bytes:
        """The bytes of a log; GarageError where they are not those that were kept."""
        rows = self.rows("SELECT sha256, content FROM log WHERE id = ?", log_id)
        if not rows:
            raise GarageError("log", log_id, "is not in this garage", "Choose one of the bike's logs.")
        ((stored, content),) = rows
        self.refuse_damaged("log", log_id, stored, hashlib.sha256(content).hexdigest())
        return bytes(content)

    def refuse_damaged(self, kind: str, row_id: object, stored: object, computed: str) -> None:
        """Refuse what was kept where its digest, worked out anew, is another than the one kept with it."""
        if stored != computed:
            problem = f"is damaged: the {kind} {row_id} is not as it was kept"
            raise GarageError("garage", str(self.path), problem, BACKUP)

    def refuse_unsound(self, db: sqlite3.Connection) -> None:
        """SQLite's own look at a whole file: its pages, its indexes, its references."""
        with speaking(self.path):
            found = db.execute("PRAGMA integrity_check(1)").fetchall()
            dangling = db.execute("PRAGMA foreign_key_check").fetchall()
        if [said for (said,) in found] != ["ok"] or dangling:
            raise GarageError("garage", str(self.path), "is damaged", BACKUP)


def _log_digest(log: GarageLog, bike_id: str) -> str:
    return digest(log.id, bike_id, log.name, log.kind, log.note, log.added_at, log.size_bytes, log.sha256)
