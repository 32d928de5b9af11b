"""First paint and slider to redraw in the real browser: reported, not asserted. Needs Chromium; close other programs first.

python -m pytest tests/bench/test_bench_browser.py -q -s
"""

from __future__ import annotations

import shutil
import socket
import statistics
import subprocess
import sys
import time
import urllib.request
from collections.abc import Iterator

import pytest
from playwright.sync_api import Page, sync_playwright

ARGUMENTS = [
    "--no-sandbox",
    "--disable-gpu",
    "--disable-dev-shm-usage",
    "--disable-background-networking",
    "--no-first-run",
]
# from a key press on a slider to the first frame in which the sentence has changed
PRESS_AND_WAIT = """
(thumb) => new Promise((done) => {
  const says = document.querySelector('[role=status].says') || document.querySelector('.says');
  const before = says.textContent;
  const begun = performance.now();
  const watch = new MutationObserver(() => {
    if (says.textContent !== before) {
      watch.disconnect();
      requestAnimationFrame(() => setTimeout(() => done(performance.now() - begun), 0));
    }
  });
  watch.observe(says, {subtree: true, childList: true, characterData: true});
  thumb.focus();
  thumb.dispatchEvent(new KeyboardEvent('keydown', {key: 'ArrowRight', code: 'ArrowRight', bubbles: true}));
  thumb.dispatchEvent(new KeyboardEvent('keyup', {key: 'ArrowRight', code: 'ArrowRight', bubbles: true}));
  setTimeout(() => { watch.disconnect(); done(-1); }, 4000);
})
"""


@pytest.fixture(scope="module")
def tab() -> Iterator[Page]:
    """A page of the app, in a process of its own."""
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


def test_first_paint_and_first_answer(tab):
    paints, answers = [], []
    for _ in range(5):
        begun = time.perf_counter()
        tab.goto("/gears")
        tab.locator('.says', has_text='rev/min').first.wait_for()
        answers.append(time.perf_counter() - begun)
        paints.append(
            tab.evaluate(
                "performance.getEntriesByType('paint').find(p => p.name === 'first-contentful-paint').startTime"
            )
            / 1e3
        )
    print(
        f"\nfirst paint {statistics.median(paints):.2f} s, first answer read {statistics.median(answers):.2f} s, medians of 5 (goal 1.5 to first paint)"
    )


def test_slider_to_redraw(tab):
    tab.goto("/cruise")
    tab.locator('.says', has_text='rev/min').first.wait_for()
    tab.wait_for_timeout(1000)
    thumb = tab.locator("[role=slider]").first
    times = [t for t in (thumb.evaluate(PRESS_AND_WAIT) for _ in range(15)) if t > 0]
    print(
        f"\nslider to redraw: median {statistics.median(times):.0f} ms of {len(times)} moves (goal 150)"
        if times
        else "\nthe slider moved nothing"
    )
