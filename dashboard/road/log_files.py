"""Where a browser hands over a log: one file a request, the only request that may be large."""

from __future__ import annotations

import threading
from typing import Any

from flask import Flask, Response, jsonify, request

from dashboard.road import logs
from ridesim.errors import InputError
from ridesim.roadlog.csv_shape import ROLES

PATH = "/log-file"
HAND = (*ROLES, *(f"{role}-unit" for role in logs.UNITS))  # columns and units by hand
_READING = threading.Lock()  # one at a time: what reading takes besides the samples is taken once


def register(server: Flask) -> None:
    """The address that takes a log, and the place they are kept."""
    logs.stand(server)

    @server.post(PATH)
    def take() -> tuple[Response, int]:
        """The answer is what the browser keeps, or an error in a sentence."""
        name, size = request.args.get("name"), request.content_length or 0
        if size > logs.LARGEST:
            return jsonify(error=str(logs.too_large(name, size))), 413
        raw = request.environ["wsgi.input"].read(size)  # past the limit of all other requests
        return jsonify(**taken(raw, name, {key: request.args.get(key) for key in HAND})), 200


def taken(raw: bytes, name: str | None, hand: dict[str, str | None]) -> dict[str, Any]:
    """What came of a file: what the browser keeps, or why there is nothing."""
    try:
        with _READING:
            return logs.opened(raw, name, hand)
    except InputError as error:
        return {"error": in_fields(error)}


def in_fields(error: InputError) -> str:
    """An error of reading, its mend told in the fields of the page."""
    text = str(error)
    cut = min((at for at in (text.find(" Tell it:"), text.find(" Choose with")) if at >= 0), default=-1)
    return text if cut < 0 else f"{text[:cut]} Say it under “Columns by hand” and read it again.{_among(text[cut:])}"


def _among(text: str) -> str:
    _, found, names = text.partition(" among ")
    return f" The columns are {names}" if found else ""
