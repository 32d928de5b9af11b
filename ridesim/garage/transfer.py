"""One bike as one file: written from the garage, and taken into another one, checked field by field."""

from __future__ import annotations

import base64
import hashlib
import json
from collections.abc import Callable, Iterable, Mapping
from dataclasses import dataclass
from typing import Annotated, Any, Literal

from pydantic import AfterValidator, Base64Bytes, BaseModel, ConfigDict, Field, ValidationError

from ridesim.errors import InputError, InputErrors, each
from ridesim.garage.kept import Kept
from ridesim.garage.records import (
    LARGEST_LOG,
    LONGEST_KIND,
    GarageError,
    GarageLog,
    checked_build,
    checked_id,
    checked_name,
    checked_text,
    checked_time,
    now_utc,
)
from ridesim.garage.trials import Trial, from_json, to_json, to_plain

FORMAT, VERSION = "a bike of ridesim", 1
LARGEST_FILE = 256_000_000  # bytes
MOST_ROWS = 100_000  # revisions, trials or logs of one bike
_WHERE = "import"


@dataclass(frozen=True, kw_only=True)
class Imported:
    """What came in: the name the bike has here, how much of the file was new, and what else there is to know."""

    bike: str
    new_bike: bool
    revisions: int
    trials: int
    logs: int
    notes: tuple[str, ...]


_Id = Annotated[str, AfterValidator(lambda text: checked_id(text, ""))]
_Time = Annotated[str, AfterValidator(lambda text: checked_time(text, ""))]
_Name = Annotated[str, AfterValidator(lambda text: checked_name(text, ""))]
_Kind = Annotated[str, AfterValidator(lambda text: checked_name(text, "", LONGEST_KIND))]
_Note = Annotated[str, AfterValidator(lambda text: checked_text(text, ""))]
_Build = Annotated[str, AfterValidator(lambda text: checked_build(text, ""))]


class _Part(BaseModel):
    model_config = ConfigDict(extra="forbid", frozen=True, strict=True)


class _Bike(_Part):
    id: _Id
    name: _Name
    created_at: _Time


class _Revision(_Part):
    id: _Id
    parent: _Id | None
    restores: _Id | None
    saved_at: _Time
    note: _Note
    text: _Build


class _Trial(_Part):
    corrects: _Id | None
    kept_at: _Time
    archived_at: _Time | None
    trial: Trial


class _Log(_Part):
    id: _Id
    name: _Name
    kind: _Kind
    note: _Note
    added_at: _Time
    archived_at: _Time | None
    sha256: Annotated[str, Field(pattern="^[0-9a-f]{64}$")]
    content_base64: Annotated[Base64Bytes, Field(min_length=1, max_length=LARGEST_LOG)]


class _File(_Part):
    format: Literal["a bike of ridesim"]
    version: Literal[1]
    exported_at: _Time
    bike: _Bike
    revisions: Annotated[list[_Revision], Field(min_length=1, max_length=MOST_ROWS)]
    trials: Annotated[list[_Trial], Field(max_length=MOST_ROWS)]
    logs: Annotated[list[_Log], Field(max_length=MOST_ROWS)]


def exported(kept: Kept, bike: str) -> bytes:
    """One bike with all its revisions, trials and logs, as JSON.

    Parameters
    ----------
    kept : Kept
        The rows of an open garage, read as they are at one moment.
    bike : str
        Its name there.

    Returns
    -------
    bytes
        UTF-8; logs in base64, each with its SHA-256.

    Raises
    ------
    GarageError
        No bike of that name, a row that is damaged, or more than LARGEST_FILE bytes.
    """
    with kept.reading():
        bike_id = kept.bike_id(bike)
        ((created_at,),) = kept.rows("SELECT created_at FROM bike WHERE id = ?", bike_id)
        whole = {
            "format": FORMAT,
            "version": VERSION,
            "exported_at": now_utc(),
            "bike": {"id": bike_id, "name": bike, "created_at": created_at},
            "revisions": [
                {name: getattr(one, name) for name in _Revision.model_fields} for one in kept.history(bike_id)
            ],
            "trials": [
                {name: row[name] for name in ("corrects", "kept_at", "archived_at")}
                | {"trial": to_plain(from_json(row["body"]))}
                for row in kept.trials(bike_id)
            ],
            "logs": [
                {name: getattr(log, name) for name in _Log.model_fields if name != "content_base64"}
                | {"content_base64": base64.b64encode(kept.log_content(log.id)).decode("ascii")}
                for log in kept.logs(bike_id)
            ],
        }
    data = json.dumps(whole, ensure_ascii=False, indent=1, allow_nan=False).encode("utf-8")
    if len(data) > LARGEST_FILE:
        raise GarageError(
            "bike", bike, f"makes a file of more than {LARGEST_FILE} bytes", "Use backup, which has no such limit."
        )
    return data


def take_in(kept: Kept, data: bytes) -> Imported:
    """Take in a bike that `exported` wrote. Everything new in it, or, where anything is wrong, nothing of it.

    A bike is known by its id: where it is here already, what is new of it is added, and what both have must be the same. Where its
    name is taken by another bike, a number is put behind it.

    Parameters
    ----------
    kept : Kept
        The rows of an open garage.
    data : bytes
        What the file holds; every field of it is checked.

    Returns
    -------
    Imported

    Raises
    ------
    GarageError, InputErrors
        It is no such file, by a newer ridesim, wrong in some place, or means something else by an id than this garage.
    """
    file = _read(data)
    notes: list[str] = []
    with kept.writing():
        known = kept.rows("SELECT name, archived_at FROM bike WHERE id = ?", file.bike.id)
        if known:
            name = str(known[0][0])
            if known[0][1] is not None:
                notes.append(f"{name} is in the archive; bring it back to see it.")
        else:
            name = _free_name(kept, file.bike.name)
            kept.keep_bike(file.bike.id, name, file.bike.created_at)
        if name != file.bike.name:
            notes.append(f"It is called {file.bike.name!r} in the file and {name!r} here.")
        newest = kept.newest_id(file.bike.id)
        revisions, logs = _take_revisions(kept, file), _take_logs(kept, file)
        trials = _take_trials(kept, file)
        if newest and revisions:
            notes.append(
                "The newest revision is now the file's last one; the one that was newest here is in the history."
            )
    return Imported(bike=name, new_bike=not known, revisions=revisions, trials=trials, logs=logs, notes=tuple(notes))


def _read(data: bytes) -> _File:
    try:
        return _File.model_validate_json(data)
    except ValidationError as error:
        faults = error.errors(include_url=False)
    wrong = {fault["loc"]: fault["input"] for fault in faults}
    if () in wrong or ("format",) in wrong:
        raise GarageError(_WHERE, None, "is not a file with a bike of ridesim", "Choose a file that export wrote.")
    if isinstance(wrong.get(("version",)), int) and wrong["version",] > VERSION:
        raise GarageError("import.version", wrong["version",], "was written by a newer ridesim", "Update ridesim.")
    raise InputErrors(_explained(faults))


def _explained(errors: Iterable[Mapping[str, Any]]) -> list[InputError]:
    """The faults of a file with their paths in it."""
    found: list[InputError] = []
    for one in errors:
        path = "".join(f"[{part}]" if isinstance(part, int) else f".{part}" for part in one["loc"])
        cause = one.get("ctx", {}).get("error")
        if isinstance(cause, InputError):  # one of our own checks; it names the part of the record that is wrong
            for inner in each(cause):
                inside = inner.where.partition(".")[2]
                found.append(GarageError(f"{_WHERE}{path}.{inside}".rstrip("."), inner.got, inner.problem, inner.fix))
        else:
            got = None if one["type"] == "missing" else one["input"]
            found.append(GarageError(f"{_WHERE}{path}", got, str(one["msg"]).lower(), "Export the bike again."))
    return found


def _free_name(kept: Kept, name: str) -> str:
    """The name, or the name with the first free number behind it."""
    taken = {known for (known,) in kept.rows("SELECT name FROM bike")}
    number, free = 2, name
    while free in taken:
        free = f"{name[:110].rstrip()} ({number})"
        number += 1
    return free


def _new(kept: Kept, kind: str, row_id: str, where: str, bike_id: str, same: Callable[[], bool]) -> bool:
    """Whether a row is new here; one that is here already must be the same."""
    rows = kept.rows(f"SELECT bike_id FROM {kind} WHERE id = ?", row_id)
    if rows and (rows[0][0] != bike_id or not same()):
        raise GarageError(f"{_WHERE}.{where}.id", row_id, f"is another {kind} in this garage", "Export the bike again.")
    return not rows


def _linked(kept: Kept, links: Iterable[tuple[str, str | None, str]], bike_id: str, where: str) -> None:
    """What a row refers to, each as its kind, its id and its key, must be here by now, and belong to the same bike."""
    for kind, row_id, key in links:
        try:
            if row_id is not None:
                kept.same_bike(kind, row_id, bike_id)
        except GarageError as error:
            raise GarageError(f"{_WHERE}.{where}.{key}", row_id, error.problem, "Export the bike again.") from None


def _take_revisions(kept: Kept, file: _File) -> int:
    taken, bike_id = 0, file.bike.id
    for place, one in enumerate(file.revisions):
        where = f"revisions[{place}]"
        plain = one.model_dump()

        def same(plain: dict[str, Any] = plain) -> bool:
            here = kept.revision(plain["id"])
            return all(getattr(here, name) == value for name, value in plain.items())

        if _new(kept, "revision", one.id, where, bike_id, same):
            links = [("revision", one.parent, "parent"), ("revision", one.restores, "restores")]
            _linked(kept, links, bike_id, where)
            kept.keep_revision(bike_id, revision_id=plain.pop("id"), **plain)
            taken += 1
    return taken


def _take_logs(kept: Kept, file: _File) -> int:
    here = {log.id: log for log in kept.logs(file.bike.id)}
    before = len(here)
    for place, one in enumerate(file.logs):
        where = f"logs[{place}]"
        if hashlib.sha256(one.content_base64).hexdigest() != one.sha256:
            problem = "does not fit the content"
            raise GarageError(f"{_WHERE}.{where}.sha256", one.sha256, problem, "Export the bike again.")
        plain = one.model_dump(exclude={"content_base64"})
        log = GarageLog(bike=file.bike.name, size_bytes=len(one.content_base64), **plain)

        def same(log: GarageLog = log) -> bool:
            return (here[log.id].name, here[log.id].sha256) == (log.name, log.sha256)

        if _new(kept, "log", one.id, where, file.bike.id, same):
            kept.keep_log(log, file.bike.id, one.content_base64)
            here[one.id] = log
    return len(here) - before


def _take_trials(kept: Kept, file: _File) -> int:
    here = {row["id"]: row["body"] for row in kept.trials(file.bike.id)}
    before = len(here)
    for place, one in enumerate(file.trials):
        where, trial = f"trials[{place}]", one.trial

        def same(trial: Trial = trial) -> bool:
            return from_json(here[trial.id]) == trial

        if _new(kept, "trial", trial.id, where, file.bike.id, same):
            links = [*((kind, row_id, "trial") for kind, row_id in trial.links()), ("trial", one.corrects, "corrects")]
            _linked(kept, links, file.bike.id, where)
            how = {"corrects": one.corrects, "archived_at": one.archived_at}
            here[trial.id] = to_json(trial)
            kept.keep_trial(file.bike.id, trial.id, here[trial.id], one.kept_at, **how)
    return len(here) - before
