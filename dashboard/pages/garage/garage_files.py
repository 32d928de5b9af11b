"""What leaves the garage as a file: one bike, or a copy of the whole, made for the moment of the download."""

from __future__ import annotations

import re
import tempfile
from datetime import date
from pathlib import Path

from flask import Flask, Response, abort

from dashboard.url_state import garage_text
from ridesim.errors import InputError
from ridesim.garage import Garage

BIKE, WHOLE = "/garage-file/bike/", "/garage-file/whole"


def register(server: Flask) -> None:
    """The two addresses that hand out a file; both are closed while the garage is."""

    @server.get(f"{BIKE}<bike>")
    def one_bike(bike: str) -> Response:
        return _told(lambda garage, folder: _bike(garage, bike, folder))

    @server.get(WHOLE)
    def whole() -> Response:
        return _told(lambda garage, folder: garage.backup(folder / f"garage {date.today():%Y-%m-%d}.sqlite3"))


def _bike(garage: Garage, bike: str, folder: Path) -> Path:
    name = next((one.name for one in (*garage.bikes(), *garage.bikes(archived=True)) if one.id == bike), None)
    if name is None:
        abort(404)
    return garage.export(name, folder / f"{safe(name)}.json")


def safe(name: str) -> str:
    """A bike's name as the name of a file anywhere.

    >>> safe("Coast single 463: (mine)")
    'Coast single 463 mine'
    """
    plain = " ".join(re.sub(r"[^A-Za-z0-9 _-]", " ", name).split())
    return plain[:60].strip() or "bike"


def _told(make: object) -> Response:
    """The file that `make` writes into a folder of its own, read whole before the folder goes."""
    if garage_text.path() is None:
        abort(404)
    try:
        with tempfile.TemporaryDirectory() as folder, garage_text.opened() as garage:
            path = make(garage, Path(folder))  # type: ignore[operator]
            data, name = path.read_bytes(), path.name
    except InputError as error:
        return Response(f"{error}\n", 409, mimetype="text/plain")
    kind = "application/json" if name.endswith(".json") else "application/vnd.sqlite3"
    return Response(
        data,
        mimetype=kind,
        headers={"Content-Disposition": f'attachment; filename="{name}"', "Cache-Control": "no-store"},
    )
