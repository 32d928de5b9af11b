"""What all benches share: the report they write, and the app in a real browser."""

from __future__ import annotations

import shutil
from collections.abc import Callable, Iterator
from pathlib import Path

import pytest
from playwright.sync_api import Page, sync_playwright
from support.served import served

REPORT = Path(__file__).parents[2] / "build" / "bench.txt"
ARGUMENTS = [
    "--no-sandbox",
    "--disable-gpu",
    "--disable-dev-shm-usage",
    "--disable-background-networking",
    "--no-first-run",
]


# from a key pressed to the first frame in which a sentence has changed; the key is pressed by the test a moment later
REDRAWN = """
(says) => {
  const words = document.querySelector(says), before = words.textContent;
  let begun = null;
  addEventListener('keydown', () => { begun = performance.now(); }, {capture: true, once: true});
  window.__redrawn = new Promise((done) => {
    const watch = new MutationObserver(() => {
      if (begun !== null && words.textContent !== before) {
        watch.disconnect();
        requestAnimationFrame(() => setTimeout(() => done(performance.now() - begun), 0));
      }
    });
    watch.observe(words, {subtree: true, childList: true, characterData: true});
    setTimeout(() => { watch.disconnect(); done(-1); }, 6000);
  });
}
"""


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
def tab(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Page]:
    """A page of the app, which runs in a process of its own."""
    found = shutil.which("chromium") or shutil.which("chromium-browser") or shutil.which("google-chrome")
    with served(tmp_path_factory.mktemp("app")) as entrance, sync_playwright() as play:
        browser = play.chromium.launch(executable_path=found, args=ARGUMENTS)
        url = entrance.partition("/?")[0]
        page = browser.new_context(base_url=url, viewport={"width": 1280, "height": 900}).new_page()
        page.goto(entrance)
        yield page
        browser.close()


@pytest.fixture
def redrawn_ms(tab: Page) -> Callable[[str, str], float]:
    """Milliseconds from a key that is pressed to a redrawn sentence, found by its selector; -1 where it does not change."""

    def pressed(says: str, key: str) -> float:
        tab.evaluate(REDRAWN, says)
        tab.keyboard.press(key)
        return float(tab.evaluate("window.__redrawn"))

    return pressed
