"""A rider's files: plain ones read up to a limit, and changed under a lock, whole or not at all, what is replaced kept beside.

Beside `bike.toml` may stand `.bike.toml.lock` (empty, for those who write at the same time), `.bike.toml.part` (after a
kill, until the next save) and the newest five of `bike.toml.20310504T093000.000000Z.bak`.
"""

from __future__ import annotations

import hashlib
import os
import re
import stat
from collections.abc import Callable, Iterator
from contextlib import contextmanager, suppress
from datetime import UTC, datetime
from pathlib import Path
from typing import BinaryIO

from ridesim.errors import InputError

MOST_BACKUPS = 5
WAIT_S = 30.0  # for another program that is writing


@contextmanager
def opened(path: Path, where: str | None = None) -> Iterator[BinaryIO]:
    """A plain file open for reading; anything else, such as a pipe or a device, is refused and never waited for.

    Raises
    ------
    InputError
        It is no plain file; so is one that holds nothing, as those of /proc say of themselves.
    OSError, ValueError
        The system's own reason.
    """
    where = str(path) if where is None else where
    _refuse_odd(where, path.stat())
    handle = os.open(path, os.O_RDONLY | getattr(os, "O_NONBLOCK", 0) | getattr(os, "O_BINARY", 0))
    with os.fdopen(handle, "rb") as file:
        _refuse_odd(where, os.fstat(handle))
        yield file


def _refuse_odd(where: str, found: os.stat_result) -> None:
    if stat.S_ISDIR(found.st_mode):
        raise InputError(where, None, "is a folder, not a file", "Name the file inside it.")
    if not stat.S_ISREG(found.st_mode):
        raise InputError(where, None, "is not a plain file", "Name a file on the disk.")
    if not found.st_size:
        raise InputError(where, None, "is empty, or no plain file", "Check the name of the file.")


def read_plain(path: Path, largest: int, hint: str = "Is this the right file?") -> bytes:
    """The bytes of a plain file of at most `largest` bytes; InputError names it when it cannot be read."""
    try:
        with opened(path) as file:
            data = file.read(largest + 1)
    except InputError:
        raise
    except (OSError, ValueError) as error:
        reason = getattr(error, "strerror", None) or "not a usable file name"
        raise InputError(str(path), None, f"cannot be read ({reason})", "Check the name of the file.") from None
    if len(data) > largest:
        raise InputError(str(path), None, f"is larger than {largest / 1e6:g} MB", hint)
    return data


def decoded(data: bytes, where: str, fix: str = "Save it as UTF-8 in your editor.") -> str:
    """The text that a file holds; InputError tells the byte from which it is none."""
    try:
        return data.decode("utf-8-sig")
    except UnicodeDecodeError as error:
        raise InputError(where, None, f"is not UTF-8 text (byte {error.start})", fix) from None


def update(path: str | Path, change: Callable[[bytes | None], bytes]) -> None:
    """Change a file under its lock: every writer sees what the one before it wrote.

    Parameters
    ----------
    path : str or Path
        The file, or a link to it, which goes on pointing to it. Its permissions stay.
    change : callable
        Gets what the file holds now, None where there is none, and returns what it is to hold. What it raises goes
        through, and the file stays as it is.

    Raises
    ------
    InputError
        It cannot be written, is no plain file, or another program keeps it locked; what was there stays.
    """
    with _locked(path) as (target, mode):
        before = None if mode is None else target.read_bytes()
        content = change(before)
        if content == before:
            return
        part = _beside(target, "part")
        if before is not None:
            _keep(target, part, before, mode)
        _put(target, part, lambda part: part.write_bytes(content), mode)


def save(path: str | Path, content: bytes, *, replace: bool = False, where: str | None = None) -> None:
    """Put a file in an empty place, or in that of another where `replace` says so; `where` names it in a refusal."""
    if not replace:
        fix = "Choose another name, or add --replace: what is replaced is kept beside it."
        return create(path, lambda part: part.write_bytes(content), where=where, fix=fix)
    with _named(where):
        return update(path, lambda _: content)


def create(
    path: str | Path,
    write: Callable[[Path], object],
    *,
    where: str | None = None,
    fix: str = "Choose a name that is not taken.",
) -> None:
    """Let `write` fill a new file, however large; one that is there is never replaced."""
    with _named(where), _locked(path, fix) as (target, _):
        _put(target, _beside(target, "part"), write, None)


@contextmanager
def _named(where: str | None) -> Iterator[None]:
    """Name an option in what is wrong with the file it gives."""
    try:
        yield
    except InputError as error:
        if where is None:
            raise
        raise InputError(where, error.where, error.problem, error.fix) from None


@contextmanager
def _locked(path: str | Path, new: str = "") -> Iterator[tuple[Path, int | None]]:
    """The file a path leads to, for this process alone, with its permissions; None where there is no file.

    `new` is what to do where there is one, and must not be.
    """
    from filelock import FileLock, Timeout

    try:
        target = Path(os.path.realpath(path))
        _mode(target, path, new)
    except InputError:
        raise
    except (OSError, ValueError) as error:
        raise _unwritable(path, error) from None
    if not target.parent.is_dir():
        raise InputError(str(path), None, "is in a folder that does not exist", "Make the folder, or choose another.")
    if not may_write(target.parent):
        raise InputError(str(path), None, "is in a folder that may not be written to", "Choose another folder.")
    try:
        with FileLock(_beside(target, "lock"), timeout=WAIT_S):
            yield target, _mode(target, path, new)  # again, for another may have made it meanwhile
    except Timeout:
        fix = "Wait until the other one is done, then try again."
        raise InputError(str(path), None, "is being written by another program", fix) from None
    except OSError as error:
        raise _unwritable(path, error) from None


def _unwritable(path: str | Path, error: OSError | ValueError) -> InputError:
    reason = getattr(error, "strerror", None) or "not a usable file name"
    return InputError(str(path), None, f"cannot be written ({reason})", "Choose another folder or name.")


def _mode(target: Path, path: str | Path, new: str) -> int | None:
    """The permissions of what is to be replaced; what is no plain file, or closed to writing, is refused."""
    if not os.path.lexists(target):
        return None
    mode = target.stat().st_mode
    if not stat.S_ISREG(mode):
        raise InputError(str(path), None, "is not a plain file", "Name the file to write.")
    if new:
        raise InputError(str(path), None, "is there already", new)
    if not may_write(target):
        raise InputError(str(path), None, "may not be written to", "Lift its write protection, or choose another name.")
    return stat.S_IMODE(mode)


def may_write(path: Path) -> bool:
    """Whether the one who asks may write to a file, or make one in a folder."""
    return os.access(path, os.W_OK, effective_ids=os.access in os.supports_effective_ids)


def _beside(target: Path, ending: str) -> Path:
    return target.with_name(f".{_short(target)}.{ending}")


def _short(target: Path) -> str:
    """The file's name, or what stands for one so long that nothing can be put behind it."""
    name = target.name
    return name if len(os.fsencode(name)) < 200 else hashlib.sha256(os.fsencode(name)).hexdigest()[:32]


def _put(target: Path, part: Path, write: Callable[[Path], object], mode: int | None) -> None:
    """Fill a part beside the target and move it into place; under the lock, what is there in its name is left from a kill."""
    part.unlink(missing_ok=True)
    try:
        part.touch(exist_ok=False)
        if mode is not None:
            part.chmod(mode)
        write(part)
        with part.open("rb+") as file:
            os.fsync(file.fileno())
        os.replace(part, target)  # noqa: PTH105 - the tests stand in for it
    except BaseException:
        part.unlink(missing_ok=True)
        raise
    sync_folder(target.parent)


def _keep(target: Path, part: Path, content: bytes, mode: int | None) -> None:
    """A dated copy of what is about to be replaced; the newest MOST_BACKUPS stay."""
    name = f"{_short(target)}.{datetime.now(UTC):%Y%m%dT%H%M%S.%fZ}.bak"
    _put(target.with_name(name), part, lambda part: part.write_bytes(content), mode)
    dated = re.compile(re.escape(_short(target)) + r"\.\d{8}T\d{6}\.\d{6}Z\.bak")
    kept = sorted(one.name for one in target.parent.iterdir() if dated.fullmatch(one.name))
    for name in kept[:-MOST_BACKUPS]:
        target.with_name(name).unlink(missing_ok=True)


def sync_folder(folder: Path) -> None:
    """Put a folder's new entries on the disk, where the system allows it."""
    with suppress(OSError):
        handle = os.open(folder, os.O_RDONLY)
        try:
            os.fsync(handle)
        finally:
            os.close(handle)
