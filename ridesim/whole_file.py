"""A file put in the place of another whole or not at all."""

from __future__ import annotations

import os
import secrets
from pathlib import Path


def put_whole(target: Path, content: bytes, mode: int | None = None) -> None:
    """Write to a temporary name beside the target, then move it into place; `mode` is what the file's permissions are to be.

    Raises
    ------
    OSError
        It cannot be written; what was there stays.
    """
    temporary = target.with_name(f".{target.name[:100]}.{secrets.token_hex(4)}.part")
    try:
        with temporary.open("xb") as out:
            out.write(content)
            out.flush()
            os.fsync(out.fileno())
        if mode is not None:
            temporary.chmod(mode)
        os.replace(temporary, target)  # noqa: PTH105 - the tests stand in for it
    except BaseException:
        temporary.unlink(missing_ok=True)
        raise
