"""Where the answers go: closed, full or half-read outputs, and encodings that lack a letter."""

from __future__ import annotations

import errno
import io
import os
import sys
from collections.abc import Iterator
from contextlib import contextmanager, suppress
from pathlib import Path

_FULL = (errno.ENOSPC, errno.EDQUOT)


class Unread(Exception):  # noqa: N818 - no error: whoever reads has seen enough
    """The reader of standard output has gone."""


def ready() -> None:
    """Make both outputs fit to be written to: one that is closed leads nowhere, a letter it lacks becomes a mark."""
    for name in ("stdout", "stderr"):
        if getattr(sys, name) is None:
            setattr(sys, name, Path(os.devnull).open("w", encoding="utf-8"))  # noqa: SIM115 - for as long as it runs
    if isinstance(sys.stdout, io.TextIOWrapper):
        sys.stdout.reconfigure(errors="replace")


@contextmanager
def told_apart() -> Iterator[None]:
    """A reader that has gone, told apart from other faults before anyone else makes a fault of the program of it."""
    try:
        yield
    except BrokenPipeError:
        raise Unread from None


def drop() -> None:
    """Let what is still on its way to standard output lead nowhere, so that nothing complains at the end."""
    with suppress(OSError, ValueError):  # an output that is no file
        nowhere = os.open(os.devnull, os.O_WRONLY)
        os.dup2(nowhere, sys.stdout.fileno())
        os.close(nowhere)


def printable(message: str) -> str:
    """A message in which what a file name brought along can neither move the cursor nor colour the screen.

    >>> printable("a\\x1b[31mb.toml: is missing")
    'a\\\\x1b[31mb.toml: is missing'
    """
    return "".join(
        sign if sign.isprintable() or sign == "\n" else sign.encode("unicode_escape").decode() for sign in message
    )


def is_full(error: OSError) -> bool:
    """Whether standard output takes no more; a fault with a file names the file."""
    return error.filename is None and error.errno in _FULL


def complaint(error: OSError) -> str:
    """That it does, in one sentence."""
    return (
        f"standard output: cannot be written ({os.strerror(error.errno or 0).lower()}). "
        "Make room there, or send it elsewhere."
    )
