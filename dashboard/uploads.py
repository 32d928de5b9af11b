"""What a rider hands over as a file: small, text, and checked before anything else looks at it."""

from __future__ import annotations

import base64
import binascii

from ridesim.buildfile.io import Build, parse
from ridesim.errors import InputError
from ridesim.files import decoded

LARGEST = 1_000_000  # bytes


def text_of(contents: str | None, name: str | None) -> str:
    """The text of an uploaded file; InputError when it is none."""
    where = (name or "the file")[:80]
    if not contents or "," not in contents:
        raise InputError(where, None, "did not arrive, or is larger than 1 MB", "Choose it again.")
    try:
        raw = base64.b64decode(contents.split(",", 1)[1], validate=True)
    except (binascii.Error, ValueError):
        raise InputError(where, None, "did not arrive whole", "Choose it again.") from None
    if len(raw) > LARGEST:
        raise InputError(where, None, "is larger than 1 MB", "A build file is a few kilobytes; is this the right file?")
    return decoded(raw, where)


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
