"""What all benches share: the report they write, and the app in a real browser."""

from __future__ import annotations

import shutil
import socket
import subprocess
import sys
import time
import urllib.request
from collections.abc import Callable, Iterator
from pathlib import Path

import pytest
from playwright.sync_api import Page, sync_playwright

REPORT = Path(__file__).parents[2] / "build" / "bench.txt"
ARGUMENTS = [
    "--no-sandbox",
    "--disable-gpu",
    "--disable-dev-shm-usage",
    "--disable-background-networking",
    "--no-first-run",
]


@pytest.fixture(scope="session")
def tell() -> Iterator[Callable[[str], None]]:
    """Write a line of the report, on the terminal and in build/bench.txt."""
    lines: list[str] = []

    def line(text: str) -> None:
        lines.append(text)
        print("\n" + text)

    yield line
    REPORT.parent.mkdir(exist_ok=True)
    REPORT.write_text("\n".join(lines) + "\n", encoding="utf-8")


@pytest.fixture(scope="module")
def tab() -> Iterator[Page]:
    """A page of the app, which runs in a process of its own."""
    with socket.socket() as probe:
        probe.bind(("127.0.0.1", 0))
        port = int(probe.getsockname()[1])
    process = subprocess.Popen(
        [sys.executable, "-m", "dashboard", "--port", str(port)], stdout=subprocess.DEVNULL, stderr=subprocess.DEVNULL
    )
    url = f"http://127.0.0.1:{port}"
    for _ in range(300):
        try:
            urllib.request.urlopen(url, timeout=5).read()
            break
        except OSError:
            time.sleep(0.1)
    found = shutil.which("chromium") or shutil.which("chromium-browser") or shutil.which("google-chrome")
    with sync_playwright() as play:
        browser = play.chromium.launch(executable_path=found, args=ARGUMENTS)
        yield browser.new_context(base_url=url, viewport={"width": 1280, "height": 900}).new_page()
        browser.close()
    process.terminate()
    process.wait(10)
