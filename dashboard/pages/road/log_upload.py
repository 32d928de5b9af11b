"""Where a browser hands over a log: one file a request, the only request that may be large."""

from __future__ import annotations

import threading
from typing import Any

from flask import Flask, Response, jsonify, request

from dashboard import open_logs
from ridesim.errors import InputError
from ridesim.logs.reader import ROLES
from ridesim.logs.reading.shape import HeadingError

PATH = "/log-file"
HAND = (*ROLES, *(f"{role}-unit" for role in open_logs.UNITS))  # columns and units by hand
_READING = threading.Lock()  # one at a time: what reading takes besides the samples is taken once


def register(server: Flask) -> None:
    """The address that takes a log, and the place they are kept."""
    open_logs.stand(server)

    @server.post(PATH)
    def take() -> tuple[Response, int]:
        """The answer is what the browser keeps, or an error in a sentence."""
        name, size = request.args.get("name"), request.content_length or 0
        if size > open_logs.LARGEST:
            return jsonify(error=str(open_logs.too_large(name, size))), 413
        raw = request.environ["wsgi.input"].read(size)  # past the limit of all other requests
        return jsonify(**taken(raw, name, {key: request.args.get(key) for key in HAND})), 200


def taken(raw: bytes, name: str | None, hand: dict[str, str | None]) -> dict[str, Any]:
    """What came of a file: what the browser keeps, or why there is nothing."""
    try:
        with _READING:
            return open_logs.opened(raw, name, hand)
    except InputError as error:
        return {"error": in_fields(error)}


def in_fields(error: InputError) -> str:
    """An error of reading, what to do about it told in the fields of the page."""
    if not isinstance(error, HeadingError):
        return str(error)
    among = ", ".join(repr(name[:40]) for name in error.headings[:30]) if error.asks == "column" else ""
    fix = "Say it under “Name the columns yourself” and read it again." + (
        f" The columns are {among}." if among else ""
    )
    return str(InputError(error.where, error.got, error.problem, fix))
