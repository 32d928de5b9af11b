"""The garage's file: how it is laid out, how it is opened, and what its faults mean to the rider."""

from __future__ import annotations

import os
import sqlite3
import time
from collections.abc import Iterator
from contextlib import contextmanager, suppress
from pathlib import Path

from ridesim.files import may_write
from ridesim.garage.records import GarageError

APPLICATION_ID = int.from_bytes(b"rdsm", "big")  # in the file's header: how a garage is told from any other SQLite file
_MAGIC = b"SQLite format 3\0"

# Step n brings a file of version n to version n + 1. A step that has been released is never edited; a new one is added.
MIGRATIONS: tuple[tuple[str, ...], ...] = (
    (
        """CREATE TABLE bike (
            id TEXT PRIMARY KEY, name TEXT NOT NULL UNIQUE, created_at TEXT NOT NULL, archived_at TEXT) STRICT""",
        """CREATE TABLE revision (
            id TEXT PRIMARY KEY, bike_id TEXT NOT NULL REFERENCES bike (id), number INTEGER NOT NULL CHECK (number > 0),
            parent_id TEXT REFERENCES revision (id), restores_id TEXT REFERENCES revision (id),
            saved_at TEXT NOT NULL, note TEXT NOT NULL, digest TEXT NOT NULL, text TEXT NOT NULL,
            UNIQUE (bike_id, number)) STRICT""",
        """CREATE TABLE trial (
            id TEXT PRIMARY KEY, bike_id TEXT NOT NULL REFERENCES bike (id), number INTEGER NOT NULL CHECK (number > 0),
            corrects_id TEXT REFERENCES trial (id), kept_at TEXT NOT NULL, archived_at TEXT,
            digest TEXT NOT NULL, body TEXT NOT NULL,
            UNIQUE (bike_id, number)) STRICT""",
        """CREATE TABLE log (
            id TEXT PRIMARY KEY, bike_id TEXT NOT NULL REFERENCES bike (id), number INTEGER NOT NULL CHECK (number > 0),
            name TEXT NOT NULL, kind TEXT NOT NULL, note TEXT NOT NULL, added_at TEXT NOT NULL, archived_at TEXT,
            size_bytes INTEGER NOT NULL, sha256 TEXT NOT NULL, digest TEXT NOT NULL, content BLOB NOT NULL,
            UNIQUE (bike_id, number)) STRICT""",
        *(
            f"""CREATE TRIGGER {table}_is_kept BEFORE DELETE ON {table}
            BEGIN SELECT RAISE (ABORT, 'the garage deletes nothing'); END"""
            for table in ("bike", "revision", "trial", "log")
        ),
        *(
            f"""CREATE TRIGGER {table}_is_final BEFORE UPDATE OF {columns} ON {table}
            BEGIN SELECT RAISE (ABORT, 'what the garage keeps is not rewritten'); END"""
            for table, columns in (
                ("bike", "id"),
                ("revision", "id, bike_id, number, parent_id, restores_id, saved_at, note, digest, text"),
                ("trial", "id, bike_id, number, corrects_id, kept_at, digest, body"),
                ("log", "id, bike_id, number, name, kind, note, added_at, size_bytes, sha256, digest, content"),
            )
        ),
    ),
)

BACKUP = "Open a backup instead, and keep this file aside for someone who can look into it."
_DAMAGED, _HELD = "is damaged", "is held by another program"
_ALLOW = "Allow reading and writing for the file and its folder, or choose another place."
_WAIT = "Close the other program or wait a moment, then try again."
_MEANS = {  # what SQLite reports -> (what is wrong, what to do); the longest matching beginning counts
    "SQLITE_NOTADB": ("is not a garage, or is damaged at its start", BACKUP),
    "SQLITE_CORRUPT": (_DAMAGED, BACKUP),
    "SQLITE_FORMAT": (_DAMAGED, BACKUP),
    "SQLITE_FULL": (
        "has no room left to write",
        "Free some space on the disk and save again; nothing saved before is lost.",
    ),
    "SQLITE_TOOBIG": ("cannot take anything this large", "Save something smaller; nothing saved before is lost."),
    "SQLITE_READONLY": ("may not be written", _ALLOW),
    "SQLITE_PERM": ("may not be used", _ALLOW),
    "SQLITE_AUTH": ("may not be used", _ALLOW),
    "SQLITE_CANTOPEN": ("cannot be opened", f"Check that its folder exists. {_ALLOW}"),
    "SQLITE_BUSY": (_HELD, _WAIT),
    "SQLITE_LOCKED": (_HELD, _WAIT),
    "SQLITE_PROTOCOL": (_HELD, _WAIT),
    "SQLITE_IOERR": (
        "cannot be read or written: the disk reports a fault",
        "Check the disk and its space, then try again.",
    ),
    "SQLITE_NOMEM": ("needs more memory than there is", "Close other programs and try again."),
    "SQLITE_CONSTRAINT": (
        "refuses what was to be written; nothing was changed",
        "Check the file with a backup at hand.",
    ),
}


def explained(path: Path, error: sqlite3.Error) -> GarageError:
    """What a fault of the file means to the rider, and what to do about it.

    >>> print(explained(Path("garage.sqlite3"), sqlite3.DatabaseError("malformed")).problem)
    is damaged (malformed)
    """
    name = getattr(error, "sqlite_errorname", "") or ""
    for beginning in sorted(_MEANS, key=len, reverse=True):
        if name.startswith(beginning):
            problem, fix = _MEANS[beginning]
            return GarageError("garage", str(path), problem, fix)
    return GarageError("garage", str(path), f"is damaged ({error})", BACKUP)


@contextmanager
def speaking(path: Path) -> Iterator[None]:
    """Turn the faults of SQLite and of the disk into one sentence; a misuse of the library stays what it is."""
    try:
        yield
    except (sqlite3.ProgrammingError, sqlite3.InterfaceError):
        raise
    except sqlite3.Error as error:
        raise explained(path, error) from None
    except UnicodeDecodeError:  # a damaged schema, quoted back by SQLite in what should be a sentence
        raise GarageError("garage", str(path), "is damaged", BACKUP) from None
    except OSError as error:
        raise disk_error("garage", path, error) from None


def disk_error(where: str, path: Path, error: OSError) -> GarageError:
    """A fault of the disk or of permissions, with the system's own words."""
    words = (error.strerror or type(error).__name__).lower()
    fix = "Check the path, the permissions and the space on the disk."
    return GarageError(where, str(path), f"cannot be used: {words}", fix)


@contextmanager
def writing(db: sqlite3.Connection) -> Iterator[None]:
    """All of it or none of it. The write lock is taken first, so that what is read inside is the newest."""
    db.execute("BEGIN IMMEDIATE")
    try:
        yield
        db.execute("COMMIT")
    except BaseException:
        with suppress(sqlite3.Error):  # a full disk has rolled back already; the first error is the one to tell
            if db.in_transaction:
                db.execute("ROLLBACK")
        raise


@contextmanager
def reading(db: sqlite3.Connection) -> Iterator[None]:
    """Several reads of the file as it is at one moment, whoever writes meanwhile."""
    db.execute("BEGIN")
    try:
        yield
    finally:
        if db.in_transaction:
            db.execute("ROLLBACK")


def connect(path: Path, wait_s: float) -> sqlite3.Connection:
    """Open a garage: lay out a new or empty file, bring an older one up to date, refuse anything else untouched.

    Parameters
    ----------
    path : Path
        The file; one in a place that may only be read is opened for reading.
    wait_s : float
        How long to wait for another program that is writing. [s]

    Raises
    ------
    GarageError
        A folder, a file of another program, a damaged one, one by a newer ridesim, or one that the system does not let us have.
    """
    _refuse_foreign(path)
    with speaking(path):
        read_only = path.exists() and not (may_write(path) and may_write(path.parent))
        db = sqlite3.connect(_to_read(path) if read_only else path, timeout=wait_s, isolation_level=None, uri=read_only)
        try:
            for setting in (
                "foreign_keys = ON",
                "synchronous = FULL",  # in WAL mode this puts every commit on the disk before it is reported
                "fullfsync = ON",  # where the system's sync stops at the drive's cache
                "checkpoint_fullfsync = ON",
                "trusted_schema = OFF",
                "cell_size_check = ON",
            ):
                db.execute(f"PRAGMA {setting}")
            _bring_up_to_date(db, path)
            if not read_only:
                _write_ahead(db, wait_s)
        except BaseException:
            db.close()
            raise
    return db


def _to_read(path: Path) -> str:
    """The address of a garage that may only be read. Where no one is writing it has no log beside it, and SQLite may then do
    without the files it would make there."""
    busy = any(one.exists() and one.stat().st_size for one in (Path(f"{path}-wal"), Path(f"{path}-journal")))
    return f"{path.absolute().as_uri()}?mode=ro{'' if busy else '&immutable=1'}"


def _refuse_foreign(path: Path) -> None:
    """Look at the header without SQLite, so that a foreign file is not touched, not even to recover it.

    A garage gets its application id in the transaction that makes it, so a file without it is someone else's, unless
    a journal beside it says that the first transaction did not finish, or is being finished at this moment.
    """
    with speaking(path):  # a folder, and what would never end: refused, not waited for
        odd = os.path.lexists(path) and path.exists() and not path.is_file()
    if odd:
        problem = "is a folder" if path.is_dir() else "is not a plain file"
        raise GarageError("garage", str(path), problem, "Give the path of a file, such as garage.sqlite3 in a folder.")
    for _ in range(5):
        unfinished = os.path.lexists(f"{path}-journal")
        try:
            with path.open("rb") as file:
                head = file.read(100)
        except FileNotFoundError:
            return
        except OSError as error:
            raise disk_error("garage", path, error) from None
        if not head or unfinished or head[68:72] == APPLICATION_ID.to_bytes(4, "big"):
            return
        time.sleep(0.02)
    if head.startswith(_MAGIC):
        raise GarageError(
            "garage", str(path), "is a SQLite file of another program", "Choose another file; this one was not touched."
        )
    raise GarageError("garage", str(path), "is not a garage, or is damaged at its start", BACKUP)


def _bring_up_to_date(db: sqlite3.Connection, path: Path) -> None:
    with reading(db):
        version = _version(db, path)
    if version == len(MIGRATIONS):
        return _refuse_incomplete(db, path)
    with writing(db):
        version = _version(db, path)  # again, now that no one else can change it
        for step in MIGRATIONS[version:]:
            for statement in step:
                db.execute(statement)
        db.execute(f"PRAGMA application_id = {APPLICATION_ID:d}")
        db.execute(f"PRAGMA user_version = {len(MIGRATIONS):d}")
    return _refuse_incomplete(db, path)


def _version(db: sqlite3.Connection, path: Path) -> int:
    """The layout's version, 0 for an empty file."""
    (application,) = db.execute("PRAGMA application_id").fetchone()
    (version,) = db.execute("PRAGMA user_version").fetchone()
    (things,) = db.execute("SELECT count(*) FROM sqlite_schema").fetchone()
    if application != APPLICATION_ID and (application or version or things):
        raise GarageError("garage", str(path), "is a SQLite file of another program", "Choose another file.")
    if version > len(MIGRATIONS):
        problem = f"was written by a newer ridesim (layout {version}, this one knows {len(MIGRATIONS)})"
        raise GarageError("garage", str(path), problem, "Update ridesim, or open a backup made before.")
    return int(version)


def _refuse_incomplete(db: sqlite3.Connection, path: Path) -> None:
    tables = {name for (name,) in db.execute("SELECT name FROM sqlite_schema WHERE type = 'table'")}
    missing = {"bike", "revision", "trial", "log"} - tables
    if missing:
        raise GarageError("garage", str(path), f"is damaged: it has no {', '.join(sorted(missing))} table", BACKUP)


def _write_ahead(db: sqlite3.Connection, wait_s: float) -> None:
    """Write-ahead logging. Switching it on takes the file alone for a moment; SQLite does not wait for that itself."""
    until = time.monotonic() + wait_s
    while True:
        try:
            db.execute("PRAGMA journal_mode = WAL")
            return
        except sqlite3.OperationalError as error:
            if error.sqlite_errorname != "SQLITE_BUSY" or time.monotonic() > until:
                raise
            time.sleep(0.01)
