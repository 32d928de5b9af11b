"""A log on its way: checked when it is opened, kept by the browser packed, sent along with each question, and never kept here."""

from __future__ import annotations

import base64
import binascii
import zlib
from collections.abc import Mapping
from functools import lru_cache
from typing import Any

from ridesim import tables
from ridesim.errors import InputError
from ridesim.roadlog import Log, read_log, read_log_bytes

LARGEST = 1_400_000  # bytes; as an upload it must fit into the largest request
LARGEST_WORDS = "1.4 MB"
FOLDER = tables.DATA / "demo" / "logs"
DEMOS = {
    "coast-down": "coast-down.csv",
    "before": "pulls-before.csv",
    "after": "pulls-after.csv",
    "gears": "gears.csv",
    "ride": "ride.gpx",
}
ROLES = ("time", "speed", "engine speed")
Data = Mapping[str, Any]


def raw_of(contents: str | None, name: str | None) -> tuple[bytes, str]:
    """The bytes of an uploaded log and its name; InputError when it did not arrive or is too large."""
    where = (name or "the log")[:80]
    if not isinstance(contents, str) or "," not in contents:
        raise InputError(where, None, "did not arrive", "Choose it again.")
    if len(contents) > LARGEST * 4 // 3 + 200:
        raise too_large(where)
    try:
        raw = base64.b64decode(contents.split(",", 1)[1], validate=True)
    except (binascii.Error, ValueError):
        raise InputError(where, None, "did not arrive whole", "Choose it again.") from None
    if len(raw) > LARGEST:
        raise too_large(where)
    return raw, where


def too_large(where: str) -> InputError:
    """A log that does not fit into a page."""
    return InputError(
        where,
        None,
        f"is larger than {LARGEST_WORDS}, the most for a page",
        "Cut it to the ride you mean, or use the command line (ridesim log), which takes 200 MB.",
    )


def opened(contents: str | None, name: str | None, hand: Mapping[str, str | None]) -> dict[str, Any]:
    """What the browser keeps of a log that reads well; `hand` are columns and units chosen by hand, by their field.

    Raises
    ------
    InputError
        With the line and the reason, for everything that is not a log.
    """
    raw, where = raw_of(contents, name)
    columns = {role: str(hand[role]).strip()[:120] for role in ROLES if hand.get(role)}
    units = {"speed": str(hand["speed-unit"]).strip()[:20]} if hand.get("speed-unit") else {}
    read_log_bytes(raw, where, columns=columns or None, units=units or None)
    packed = base64.b64encode(zlib.compress(raw, 6)).decode("ascii")
    return {"name": where, "packed": packed, "columns": columns, "units": units}


def demo(key: str) -> dict[str, Any]:
    """What the browser keeps of a log that comes along."""
    return {"demo": key}


def log_of(data: Data) -> Log:
    """The log that the browser kept, read again; InputError when it was tampered with."""
    if isinstance(data, Mapping) and data.get("demo") in DEMOS:
        return _demo(str(data["demo"]))
    try:
        raw = _unpacked(str(data["packed"]))
        columns, units = dict(data["columns"]), dict(data["units"])
        name = str(data["name"])
    except (KeyError, TypeError, ValueError, zlib.error, binascii.Error):
        raise InputError("log", None, "is not as it was kept", "Open it again.") from None
    plain = all(isinstance(x, str) for pair in (*columns.items(), *units.items()) for x in pair)
    if not plain:
        raise InputError("log", None, "is not as it was kept", "Open it again.")
    return read_log_bytes(raw, name, columns=columns or None, units=units or None)


def _unpacked(packed: str) -> bytes:
    """The bytes of a kept log, never more of them than an upload may have."""
    if len(packed) > 2 * LARGEST:
        raise ValueError("too long")
    unpacker = zlib.decompressobj()
    raw = unpacker.decompress(base64.b64decode(packed, validate=True), LARGEST + 1)
    if len(raw) > LARGEST or not unpacker.eof:
        raise ValueError("too long")
    return raw


@lru_cache(maxsize=len(DEMOS))
def _demo(key: str) -> Log:
    return read_log(FOLDER / DEMOS[key])
