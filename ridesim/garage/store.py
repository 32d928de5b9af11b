"""The garage: save a build, look back, compare, bring back; keep trials and logs; carry a bike, copy the whole."""

from __future__ import annotations

import hashlib
import sqlite3
from collections.abc import Callable, Sequence
from contextlib import closing
from pathlib import Path
from types import TracebackType
from typing import TYPE_CHECKING, Literal

from ridesim.files import create, read_plain, sync_folder
from ridesim.garage.kept import Kept
from ridesim.garage.records import (
    LARGEST_LOG,
    LONGEST_KIND,
    GarageBike,
    GarageError,
    GarageLog,
    Revision,
    checked_build,
    checked_name,
    checked_text,
    new_id,
    now_utc,
)
from ridesim.garage.schema import connect, speaking

if TYPE_CHECKING:
    from ridesim.garage.changes import Difference
    from ridesim.garage.transfer import Imported
    from ridesim.garage.trials import Trial


def default_path() -> Path:
    """Where the garage is when no path is given: the folder the system sets aside for a user's data."""
    from platformdirs import user_data_path

    return user_data_path("ridesim", appauthor=False) / "garage.sqlite3"


class Garage:
    """One garage file, open. Use it in the thread that opened it; opening is cheap.

    A damaged file, a full disk or a missing permission raises GarageError, which says what to do; whatever was saved
    before is as it was.

    Examples
    --------
    >>> import tempfile
    >>> with tempfile.TemporaryDirectory() as folder, Garage.open(f"{folder}/garage.sqlite3") as garage:
    ...     first = garage.save("Hill single", "[final_drive]\\nrear = 44", note="as bought")
    ...     second = garage.save("Hill single", "[final_drive]\\nrear = 46", parent=first.id)
    ...     print(*garage.diff(first.id, second.id).changes)
    final_drive.rear: 44 -> 46
    """

    def __init__(self, kept: Kept) -> None:
        self._kept = kept

    @classmethod
    def open(cls, path: str | Path | None = None, *, wait_s: float = 10.0) -> Garage:
        """Open the garage at a path, or the user's own; it is made if there is none.

        Raises GarageError for a folder, a foreign or damaged file, one written by a newer ridesim, and one that may not
        be written. wait_s is how long to wait for another program that is writing. [s]
        """
        where = default_path() if path is None else Path(path)
        if "\0" in str(where):
            raise GarageError("garage", str(where), "is not a path", "Give the path of a file.")
        if path is None and not where.parent.exists():
            with speaking(where):
                where.parent.mkdir(parents=True, exist_ok=True)
                sync_folder(where.parent.parent)
        return cls(Kept(where, connect(where, wait_s)))

    @property
    def path(self) -> Path:
        """The garage's file."""
        return self._kept.path

    def close(self) -> None:
        """Close the file; what is saved is on the disk already."""
        self._kept.db.close()

    def __enter__(self) -> Garage:
        return self

    def __exit__(
        self, kind: type[BaseException] | None, error: BaseException | None, trace: TracebackType | None
    ) -> None:
        self.close()

    # ---- bikes

    def bikes(self, *, archived: bool = False) -> tuple[GarageBike, ...]:
        """The bikes in use, or those in the archive, by name."""
        return self._kept.bikes(archived)

    def archive(self, bike: str) -> None:
        """Put a bike out of sight with all its history; bring_back undoes it. GarageError where no bike has that name."""
        self._kept.set_archived("bike", self._kept.bike_id(bike), now_utc())

    def bring_back(self, bike: str) -> None:
        """Take a bike out of the archive; one that is in use stays as it is."""
        self._kept.set_archived("bike", self._kept.bike_id(bike), None)

    # ---- revisions

    def save(self, bike: str, toml_text: str, *, note: str = "", parent: str | None = None) -> Revision:
        """Keep a build as a new revision; a bike not yet known is added.

        Parameters
        ----------
        bike : str
            Its name in the garage; one line of at most 120 characters.
        toml_text : str
            TOML; whether it is a whole bike is for ridesim.buildfile.io to say, so that half-done work can be kept.
        note : str
            A few words kept with it.
        parent : str, optional
            The id of the revision that was edited; the newest unless given. Where it is no longer the newest, this save is kept as
            well, and passed_over of what comes back names the revisions it was made without knowing.

        Returns
        -------
        Revision

        Raises
        ------
        InputError
            A name, text or note that cannot be kept, a bike in the archive, or a parent that is not this bike's.

        Examples
        --------
        >>> import tempfile
        >>> with tempfile.TemporaryDirectory() as folder, Garage.open(f"{folder}/garage.sqlite3") as garage:
        ...     base = garage.save("mine", "rear = 44")
        ...     here, there = (garage.save("mine", f"rear = {teeth}", parent=base.id) for teeth in (46, 47))
        ...     (there.number, there.passed_over == (here.id,), garage.newest("mine").text)
        (3, True, 'rear = 47')
        """
        checked_name(bike, "bike")
        checked_build(toml_text, "build")
        checked_text(note, "note")
        with self._kept.writing():
            if parent is not None or self._kept.rows("SELECT 1 FROM bike WHERE name = ?", bike):
                bike_id = self._kept.bike_in_use(bike)
            else:
                bike_id = new_id()
                self._kept.keep_bike(bike_id, bike, now_utc())
            if parent is not None:
                self._kept.same_bike("revision", parent, bike_id)
            saved = self._kept.keep_revision(
                bike_id, toml_text, note, now_utc(), parent=parent or self._kept.newest_id(bike_id)
            )
        return self._kept.revision(saved)

    def revise(self, bike: str, change: Callable[[Revision], str], *, note: str = "") -> Revision:
        """Keep what `change` makes of the newest revision, while no one else can save: nothing saved before it is passed over.

        `change` gets the newest revision and gives the TOML text of the next one; what it raises goes through, and nothing is kept.
        """
        checked_text(note, "note")
        with self._kept.writing():
            bike_id = self._kept.bike_in_use(bike)
            newest = self.newest(bike)
            text = checked_build(change(newest), "build")
            saved = self._kept.keep_revision(bike_id, text, note, now_utc(), parent=newest.id)
        return self._kept.revision(saved)

    def restore(self, revision: str, *, note: str = "") -> Revision:
        """Make an older revision the newest again, as a new revision; nothing in between is lost.

        What comes back has the id of the old one as its `restores`, and "back to revision 3" as its note unless one is given.
        """
        checked_text(note, "note")
        with self._kept.writing():
            old = self._kept.revision(revision)
            bike_id = self._kept.bike_in_use(old.bike)
            how = {"parent": self._kept.newest_id(bike_id), "restores": revision}
            note = note or f"back to revision {old.number}"
            saved = self._kept.keep_revision(bike_id, old.text, note, now_utc(), **how)
        return self._kept.revision(saved)

    def revision(self, revision: str) -> Revision:
        """One revision by its id."""
        return self._kept.revision(revision)

    def history(self, bike: str) -> tuple[Revision, ...]:
        """Every revision of a bike, newest first."""
        return self._kept.history(self._kept.bike_id(bike))[::-1]

    def newest(self, bike: str) -> Revision:
        """The newest revision of a bike; GarageError where no bike has that name."""
        newest = self._kept.newest_id(self._kept.bike_id(bike))
        if newest is None:
            raise GarageError("bike", bike, "has no revision", "Save its build first.")
        return self._kept.revision(newest)

    def diff(self, old: str, new: str) -> Difference:
        """What differs between two revisions, given by their ids, key by key; see ridesim.garage.changes.difference."""
        from ridesim.garage.changes import difference

        return difference(self._kept.revision(old).text, self._kept.revision(new).text)

    # ---- trials

    def add_trial(self, bike: str, trial: Trial, *, corrects: str | None = None) -> Trial:
        """Keep a trial. With corrects it takes the place of an earlier one, which goes to the archive.

        Parameters
        ----------
        bike : str
            One in use.
        trial : Trial
            Its id must be new here; the trial it builds on, its revision and its logs must be this bike's.
        corrects : str, optional
            The id of the trial whose place it takes.

        Raises
        ------
        GarageError
            An id that is here already, or one that leads nowhere or to another bike.
        """
        with self._kept.writing():
            kept_at = self._keep_trials(self._kept.bike_in_use(bike), (trial,), corrects)
            if corrects is not None:
                self._kept.set_archived_now("trial", corrects, kept_at)
        return trial

    def add_trials(self, bike: str, trials: Sequence[Trial]) -> tuple[Trial, ...]:
        """Keep several trials in one step: all of them, or none. A trial may build on one before it among them."""
        with self._kept.writing():
            self._keep_trials(self._kept.bike_in_use(bike), trials)
        return tuple(trials)

    def _keep_trials(self, bike_id: str, trials: Sequence[Trial], corrects: str | None = None) -> str:
        """Keep trials inside a change that is under way; the time they are kept at."""
        from ridesim.garage.trials import to_json

        kept_at = now_utc()
        for trial in trials:
            if self._kept.rows("SELECT 1 FROM trial WHERE id = ?", trial.id):
                fix = "Make a new trial, and say which one it corrects."
                raise GarageError("trial", trial.id, "is in the garage already", fix)
            for kind, linked in trial.links() + ((("trial", corrects),) if corrects is not None else ()):
                self._kept.same_bike(kind, linked, bike_id)
            self._kept.keep_trial(bike_id, trial.id, to_json(trial), kept_at, corrects=corrects)
        return kept_at

    def trials(self, bike: str, *, archived: bool = False) -> tuple[Trial, ...]:
        """The trials of a bike in the order they were ridden, or those in the archive."""
        from ridesim.garage.trials import from_json, in_order

        rows = self._kept.trials(self._kept.bike_id(bike))
        return in_order(from_json(row["body"]) for row in rows if (row["archived_at"] is not None) == archived)

    # ---- logs

    def add_log(self, bike: str, name: str, content: bytes | str | Path, kind: str, *, note: str = "") -> GarageLog:
        """Keep a log with a bike: its bytes, or the path of the file that holds them.

        Parameters
        ----------
        bike : str
            One in use.
        name, kind : str
            What to call it, and what it is, such as "csv".
        content : bytes or path
            1 byte to LARGEST_LOG; they come back as they were given.
        note : str
            A few words kept with it.

        Raises
        ------
        InputError
            It is empty or too large, or its file cannot be read.
        """
        checked_name(name, "log")
        checked_name(kind, "log.kind", LONGEST_KIND)
        checked_text(note, "note")
        data = content if isinstance(content, bytes) else read_plain(Path(content), LARGEST_LOG)
        if not 0 < len(data) <= LARGEST_LOG:
            fix = "Keep it in parts, or leave it out if empty."
            raise GarageError("log", name, f"has {len(data)} bytes, not 1 to {LARGEST_LOG}", fix)
        with self._kept.writing():
            bike_id = self._kept.bike_in_use(bike)
            log = GarageLog(
                id=new_id(),
                bike=bike,
                name=name,
                kind=kind,
                note=note,
                added_at=now_utc(),
                archived_at=None,
                size_bytes=len(data),
                sha256=hashlib.sha256(data).hexdigest(),
            )
            self._kept.keep_log(log, bike_id, data)
        return log

    def logs(self, bike: str, *, archived: bool = False) -> tuple[GarageLog, ...]:
        """The logs of a bike in the order they were kept, or those in the archive, without their content."""
        return tuple(
            log for log in self._kept.logs(self._kept.bike_id(bike)) if (log.archived_at is not None) == archived
        )

    def log_content(self, log: str) -> bytes:
        """The bytes of a log, as they were given."""
        return self._kept.log_content(log)

    # ---- out of sight and back

    def archive_row(self, kind: Literal["trial", "log"], row_id: str) -> None:
        """Put a trial or a log out of sight; bring_back_row undoes it."""
        self._kept.set_archived(kind, row_id, now_utc())

    def bring_back_row(self, kind: Literal["trial", "log"], row_id: str) -> None:
        """Take a trial or a log out of the archive."""
        self._kept.set_archived(kind, row_id, None)

    # ---- carrying and keeping safe

    def export(self, bike: str, path: str | Path) -> Path:
        """Write one bike, with all its revisions, trials and logs, to a new JSON file; one that is there is refused, never replaced."""
        from ridesim.garage.transfer import exported

        data = exported(self._kept, bike)
        create(path, lambda part: part.write_bytes(data))
        return Path(path)

    def import_(self, path: str | Path) -> Imported:
        """Take in a bike from a file that export wrote; what is in the garage already is not taken twice.

        Raises
        ------
        InputError
            The file cannot be read, or anything in it is wrong: its place is told, and nothing of it is kept.

        Examples
        --------
        >>> import tempfile
        >>> with tempfile.TemporaryDirectory() as folder, Garage.open(f"{folder}/here") as here, Garage.open(f"{folder}/there") as there:
        ...     build = here.save("mine", "rear = 44")
        ...     carried = here.export("mine", f"{folder}/mine.json")
        ...     [there.import_(carried).revisions for _ in range(2)]
        [1, 0]
        """
        from ridesim.garage.transfer import LARGEST_FILE, take_in

        return take_in(self._kept, read_plain(Path(path), LARGEST_FILE))

    def backup(self, path: str | Path) -> Path:
        """Copy the whole garage, as it is at this moment, to a new file, and check the copy before it gets its name."""
        target = Path(path)
        create(target, lambda part: self._copy_to(part, target))
        return target

    def check(self) -> None:
        """Go through the whole file; GarageError says so if anything in it is damaged."""
        self._kept.refuse_unsound(self._kept.db)
        for bike in self.bikes() + self.bikes(archived=True):
            self._kept.history(bike.id)
            self._kept.trials(bike.id)
            for log in self._kept.logs(bike.id):
                self._kept.log_content(log.id)

    def _copy_to(self, temporary: Path, target: Path) -> None:
        with speaking(target), closing(sqlite3.connect(temporary, isolation_level=None)) as copy:
            self._kept.db.backup(copy)
            copy.execute("PRAGMA journal_mode = DELETE")  # the copy is one file, with nothing beside it
            self._kept.refuse_unsound(copy)
