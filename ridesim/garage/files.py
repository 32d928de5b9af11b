"""Files that come and go whole: read up to a limit, written under a temporary name and then moved into place."""

from __future__ import annotations

import os
from collections.abc import Callable
from pathlib import Path

from ridesim.errors import InputError
from ridesim.garage.records import GarageError, new_id
from ridesim.garage.schema import disk_error, sync_folder


def read_limited(path: Path, largest: int, where: str) -> bytes:
    """The bytes of a plain file of at most `largest` bytes."""
    try:
        if path.exists() and not path.is_file():  # a folder, or something that never ends
            raise GarageError(where, str(path), "is not a plain file", "Give the path of a file.")
        with path.open("rb") as file:
            data = file.read(largest + 1)
    except InputError:
        raise
    except (OSError, ValueError) as error:
        raise _unusable(where, path, error) from None
    if len(data) > largest:
        raise GarageError(where, str(path), f"is larger than {largest} bytes", "Choose a smaller file, or split it.")
    return data


def written_whole(path: Path, write: Callable[[Path], object]) -> Path:
    """Let `write` fill a temporary file, put it on the disk, then give it its name; nothing is replaced."""
    temporary = path.with_name(f".{path.name[:100]}.{new_id()}.part") if path.name else path
    try:
        if os.path.lexists(path):
            raise GarageError("path", str(path), "is there already", "Choose a name that is not taken.")
        if not path.parent.is_dir():
            raise GarageError(
                "path", str(path), "is in a folder that does not exist", "Make the folder, or choose another."
            )
        try:
            write(temporary)
            with temporary.open("rb+") as file:
                os.fsync(file.fileno())
            temporary.rename(path)
        finally:
            temporary.unlink(missing_ok=True)
    except InputError:
        raise
    except (OSError, ValueError) as error:
        raise _unusable("path", path, error) from None
    sync_folder(path.parent)
    return path


def _unusable(where: str, path: Path, error: OSError | ValueError) -> GarageError:
    if isinstance(error, OSError):
        return disk_error(where, path, error)
    return GarageError(where, str(path), "is not a path", "Give the path of a file.")
