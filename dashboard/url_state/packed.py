"""A build file's text as a short word for a link, and back."""

from __future__ import annotations

import base64
import binascii
import zlib

from ridesim.errors import InputError

LONGEST_WORD = 40_000  # characters of a link given to one build
LARGEST_TEXT = 200_000  # bytes a word may unpack to: a small word must not fill the memory
_FIX = "Ask for the link again, or send the build file itself."


def pack(text: str) -> str:
    """The text packed for a link.

    >>> unpack(pack('name = "Mine"'))
    'name = "Mine"'
    """
    return base64.urlsafe_b64encode(zlib.compress(text.encode("utf-8"), 9)).decode("ascii").rstrip("=")


def unpack(word: str) -> str:
    """The text of a packed word; InputError when it is none, or unpacks to more than a build file can be."""
    if len(word) > LONGEST_WORD:
        raise InputError("own", None, "is longer than a link can carry", _FIX)
    try:
        raw = base64.b64decode(word + "=" * (-len(word) % 4), altchars=b"-_", validate=True)
        unpacker = zlib.decompressobj()
        text = unpacker.decompress(raw, LARGEST_TEXT)
        if not unpacker.eof:
            raise InputError("own", None, "is cut short or unpacks to more than 200 kB", _FIX)
        return text.decode("utf-8")
    except (binascii.Error, ValueError, zlib.error) as error:
        if isinstance(error, InputError):
            raise
        raise InputError("own", None, "is not a packed build", _FIX) from None
