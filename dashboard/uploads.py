"""What a rider hands over as a file: small, text, and checked before anything else looks at it."""

from __future__ import annotations

import base64
import binascii

from ridesim.buildfile.io import Build, parse
from ridesim.errors import InputError
from ridesim.files import decoded

LARGEST = 1_000_000  # bytes


AGAIN = "Choose it again."


def named(name: str | None) -> str:
    """The name of a file as it is told."""
    return (name or "the file")[:80]


def raw_of(contents: str | None, where: str, largest: int, *, smaller: str, missing: str = AGAIN) -> bytes:
    """The bytes of an uploaded file of up to `largest`; `smaller` is what to do about a larger one, `missing` about one that
    did not arrive.
    """
    larger = f"is larger than {largest / 1e6:g} MB"
    if not contents or "," not in contents:
        raise InputError(where, None, f"did not arrive, or {larger}", missing)
    try:
        raw = base64.b64decode(contents.split(",", 1)[1], validate=True)
    except (binascii.Error, ValueError):
        raise InputError(where, None, "did not arrive whole", AGAIN) from None
    if len(raw) > largest:
        raise InputError(where, None, larger, smaller)
    return raw


def text_of(contents: str | None, name: str | None) -> str:
    """The text of an uploaded file; InputError when it is none."""
    where = named(name)
    fix = "A build file is a few kilobytes; is this the right file?"
    return decoded(raw_of(contents, where, LARGEST, smaller=fix), where)


def parsed(text: str) -> tuple[Build | None, str]:
    """The build of a text, or why there is none."""
    from ridesim.bike import make_bike

    try:
        build = parse(text)
        make_bike(build)
    except InputError as error:
        return None, str(error)
    return build, ""


def build_of(contents: str | None, name: str | None) -> tuple[Build | None, str]:
    """The build of an uploaded file, or why there is none."""
    try:
        return parsed(text_of(contents, name))
    except InputError as error:
        return None, str(error)
