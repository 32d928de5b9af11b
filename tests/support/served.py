"""The app in a process of its own, served as a rider serves it."""

from __future__ import annotations

import subprocess
import sys
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from socket import socket


def free_port() -> int:
    with socket() as probe:
        probe.bind(("127.0.0.1", 0))
        return int(probe.getsockname()[1])


@contextmanager
def served(folder: Path, *options: str) -> Iterator[str]:
    """The address that the app prints once its port is its own, key and all; its log is app.log in the folder."""
    log = folder / "app.log"
    garage = ("--garage", str(folder / "garage.sqlite3"))
    with log.open("w", encoding="utf-8") as errors:
        process = subprocess.Popen(
            [sys.executable, "-m", "dashboard", "--port", str(free_port()), *garage, *options],
            stdout=subprocess.PIPE,
            stderr=errors,
            text=True,
        )
    try:
        line = process.stdout.readline()
        assert line.startswith("ridesim: "), "the app ended:\n" + log.read_text(encoding="utf-8")
        yield line.removeprefix("ridesim: ").strip()
    finally:
        process.terminate()
        try:
            process.wait(10)
        except subprocess.TimeoutExpired:
            process.kill()
            process.wait(10)
        process.stdout.close()
