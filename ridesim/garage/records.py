"""What the garage hands out, and the checks on what it takes in: names, notes, times, digests."""

from __future__ import annotations

import hashlib
import json
import os
from dataclasses import dataclass
from datetime import UTC, datetime, timedelta

from ridesim.buildfile.toml_text import LARGEST_FILE, tables_of
from ridesim.errors import InputError

LARGEST_LOG = 32_000_000  # bytes; a day's ride logged ten times a second is a tenth of it
LONGEST_NAME, LONGEST_KIND, LONGEST_NOTE = 120, 40, 4000  # characters


class GarageError(InputError):
    """The garage file cannot be used, or cannot take what was given; what it held before is as it was."""


@dataclass(frozen=True, kw_only=True)
class GarageBike:
    """A bike in the garage, with how much is kept about it. archived_at is None while it is in use."""

    id: str
    name: str
    created_at: str
    archived_at: str | None
    revisions: int
    trials: int
    logs: int


@dataclass(frozen=True, kw_only=True)
class Revision:
    """One saved state of a bike's build: its TOML text, comments and all.

    number counts the saves of the bike from 1. parent is the revision it was edited from. passed_over lists the
    revisions that were already newer than that parent when this one was saved: another window saved in between, and
    both are kept. restores is the older revision this one brought back, if any.
    """

    id: str
    bike: str
    number: int
    parent: str | None
    restores: str | None
    saved_at: str
    note: str
    text: str
    passed_over: tuple[str, ...] = ()


@dataclass(frozen=True, kw_only=True)
class GarageLog:
    """A log kept with a bike; its content is read apart, because it may be large."""

    id: str
    bike: str
    name: str
    kind: str
    note: str
    added_at: str
    archived_at: str | None
    size_bytes: int
    sha256: str


def new_id() -> str:
    """Eighty random bits: the same thing keeps its id in every garage it is carried to.

    >>> checked_id(new_id(), "id") != new_id()
    True
    """
    return os.urandom(10).hex()


def now_utc() -> str:
    """The time now, ISO 8601 in UTC, to the millisecond."""
    return datetime.now(UTC).isoformat(timespec="milliseconds").replace("+00:00", "Z")


def digest(*parts: object) -> str:
    """SHA-256 over texts, numbers and None in their order, so that a flipped bit in a kept row is noticed.

    >>> digest("a", None)[:8] == digest("a", None)[:8] != digest("a", "")[:8]
    True
    """
    return hashlib.sha256(json.dumps(parts).encode("ascii")).hexdigest()


def checked_id(text: object, where: str) -> str:
    """An id as new_id makes it; InputError where it is none.

    >>> checked_id("00f1a2b3c4d5e6f7a8b9", "trial.builds_on")
    '00f1a2b3c4d5e6f7a8b9'
    """
    if not isinstance(text, str) or len(text) != 20 or not set(text) <= set("0123456789abcdef"):
        raise InputError(where, text, "is not an id of this garage", "An id is 20 of the characters 0-9 and a-f.")
    return text


def checked_text(text: object, where: str, longest: int = LONGEST_NOTE) -> str:
    """A text that can be kept and comes back the same: no NUL, no half characters, not too long.

    Parameters
    ----------
    text : object
        What was given.
    where : str
        Its place, for the refusal.
    longest : int
        In characters.

    Returns
    -------
    str
        The text, untouched.

    Raises
    ------
    InputError
        It is no text, or one that cannot be kept.

    Examples
    --------
    >>> checked_text("two lines\\nare one note", "note")
    'two lines\\nare one note'
    """
    if not isinstance(text, str):
        raise InputError(where, text, "is not text", "Write it as text.")
    if len(text) > longest:
        raise InputError(where, text, f"is longer than {longest} characters", "Shorten it.")
    if "\0" in text:
        raise InputError(where, text, "has a NUL character in it", "Take the NUL character out.")
    if any("\ud800" <= character <= "\udfff" for character in text):
        raise InputError(where, text, "has half of a character in it", "Type the text again, or copy it anew.")
    return text


def checked_name(text: object, where: str, longest: int = LONGEST_NAME) -> str:
    """A name: one line, not empty, nothing invisible at either end; InputError says which of these it is not.

    >>> checked_name("Coast single (invented)", "bike")
    'Coast single (invented)'
    >>> checked_name(" Coast single", "bike")
    Traceback (most recent call last):
    ridesim.errors.InputError: bike = ' Coast single': starts or ends with a space. Take the space away.
    """
    name = checked_text(text, where, longest)
    if not name.strip():
        raise InputError(where, text, "is empty", "Give it a name.")
    if name != name.strip():
        raise InputError(where, text, "starts or ends with a space", "Take the space away.")
    if not name.isprintable():
        raise InputError(where, text, "has a line break or an invisible character", "Write it on one line.")
    return name


def checked_time(text: object, where: str) -> str:
    """An ISO 8601 time in UTC, kept as written.

    >>> checked_time("2031-05-04T09:30:00Z", "ridden_at")
    '2031-05-04T09:30:00Z'
    """
    fix = "Write the time in UTC, such as 2031-05-04T09:30:00Z."
    try:
        time = datetime.fromisoformat(text) if isinstance(text, str) and len(text) <= 40 else None
    except ValueError:
        time = None
    if time is None:
        raise InputError(where, text, "is not a date with a time", fix)
    if time.utcoffset() != timedelta(0):
        raise InputError(where, text, "is not in UTC", fix)
    return str(text)


def checked_build(text: object, where: str) -> str:
    """A build's TOML text that can be kept and compared; whether it is a whole bike is for build.parse to say.

    >>> checked_build("[final_drive]\\nrear = 45  # as bought", "build")
    '[final_drive]\\nrear = 45  # as bought'
    """
    whole = checked_text(text, where, LARGEST_FILE)
    if len(whole.encode("utf-8")) > LARGEST_FILE:
        raise InputError(where, text, f"is longer than {LARGEST_FILE} bytes", "Take out what is not part of the bike.")
    tables_of(whole, where)
    return whole
