"""The door to the garage file: where it is, whether this app may open it, and the text of one kept revision."""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import contextmanager
from functools import lru_cache
from pathlib import Path

from flask import Flask, current_app, has_app_context

from ridesim.errors import InputError
from ridesim.garage import Garage
from ridesim.garage.records import checked_id
from ridesim.garage.store import default_path

_PLACE = "RIDESIM_GARAGE"
CLOSED = "The garage is closed: this app is open to other machines, or was started without one."
OPEN_IT = "Start it with a garage file of your choice, or on this machine's own address."


class KeptText(str):
    """The text of a build that is kept in the garage, with the id of its revision: a link carries the id alone."""

    revision: str
    __slots__ = ("revision",)

    def __new__(cls, text: str, revision: str) -> KeptText:
        self = super().__new__(cls, text)
        self.revision = revision
        return self


def chosen(garage: Path | None, *, local: bool) -> Path | None:
    """The garage file to serve: the one named, else the rider's own on this machine's address, else none."""
    return garage or (default_path() if local else None)


def stand(server: Flask, garage: Path | None) -> None:
    """Say where the garage of this app is; None keeps it closed."""
    server.config[_PLACE] = garage


def path() -> Path | None:
    """Where the garage of this app is; None when it is closed."""
    return current_app.config.get(_PLACE) if has_app_context() else None


@contextmanager
def opened() -> Iterator[Garage]:
    """The garage, open for one piece of work."""
    where = path()
    if where is None:
        raise InputError("garage", None, "is closed", OPEN_IT)
    if where == default_path():
        where.parent.mkdir(parents=True, exist_ok=True)
    with Garage.open(where) as garage:
        yield garage


def kept_text(revision: str) -> KeptText:
    """The build text of a revision."""
    where = path()
    if where is None:
        raise InputError("revision", None, "is kept in a garage, and the garage is closed here", OPEN_IT)
    return KeptText(_text(str(where), checked_id(revision, "revision")), revision)


@lru_cache(maxsize=64)
def _text(where: str, revision: str) -> str:
    with opened() as garage:
        return garage.revision(revision).text
