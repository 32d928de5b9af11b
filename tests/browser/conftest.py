"""The app in a process of its own, and the system's Chromium on it; a screenshot is kept of what fails only."""

from __future__ import annotations

import re
import shutil
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import Any

import pytest
from playwright.sync_api import Browser, BrowserType, Page, expect, sync_playwright
from support.screens import leave, watched
from support.served import served

KEPT = Path(__file__).parents[2] / "build" / "screenshots"
ARGUMENTS = [
    "--no-sandbox",
    "--disable-gpu",
    "--disable-dev-shm-usage",
    "--disable-background-networking",
    "--disable-component-update",
    "--disable-default-apps",
    "--disable-sync",
    "--no-first-run",
    "--host-resolver-rules=MAP * ~NOTFOUND , EXCLUDE 127.0.0.1",
]
Screens = Callable[[int, bool], Page]
RESULT = pytest.StashKey[Any]()
expect.set_options(timeout=20_000)  # a busy machine is slow, not wrong


def pytest_configure(config: pytest.Config) -> None:
    config.addinivalue_line("markers", "seen(width, dark): the screen of a browser test")


@pytest.fixture(scope="session")
def entrance(tmp_path_factory: pytest.TempPathFactory) -> Iterator[str]:
    """The address that the app prints, with its key."""
    with served(tmp_path_factory.mktemp("app")) as address:
        yield address


@pytest.fixture(scope="session")
def driver() -> Iterator[BrowserType]:
    with sync_playwright() as playwright:
        yield playwright.chromium


@pytest.fixture(scope="session")
def chromium(driver: BrowserType) -> Iterator[Browser]:
    """A browser for those who have never been here: each context of it knows nothing."""
    browser = driver.launch(executable_path=_system_chromium(), args=ARGUMENTS)
    yield browser
    browser.close()


def _system_chromium() -> str:
    found = next(filter(None, map(shutil.which, ("chromium", "chromium-browser", "google-chrome"))), None)
    if found is None:
        pytest.fail("the browser tests need Chromium: install your system's package")
    return found


@pytest.fixture(scope="session", autouse=True)
def _the_living_page() -> Iterator[None]:
    """A page that is opened has been answered before it lives: what a test does to it, it does to the living one."""
    with pytest.MonkeyPatch.context() as patch:
        for name in ("goto", "reload"):
            patch.setattr(Page, name, _until_it_lives(getattr(Page, name)))
        yield


def _until_it_lives(opens: Callable[..., Any]) -> Callable[..., Any]:
    def opened(page: Page, *args: Any, **more: Any) -> Any:
        answer = opens(page, *args, **more)
        page.locator(".served").wait_for(state="detached")
        return answer

    return opened


@pytest.hookimpl(wrapper=True)
def pytest_runtest_makereport(item: pytest.Item, call: pytest.CallInfo[Any]) -> Any:
    report = yield
    if report.when == "call":
        item.stash[RESULT] = report
    return report


@pytest.fixture(scope="session")
def screens(driver: BrowserType, entrance: str, tmp_path_factory: pytest.TempPathFactory) -> Iterator[Screens]:
    """New tabs of the rider's own browser, by width and theme: it lives in a folder, and keeps what it has compiled."""
    context = driver.launch_persistent_context(
        tmp_path_factory.mktemp("browser"),
        executable_path=_system_chromium(),
        args=ARGUMENTS,
        base_url=entrance.partition("/?")[0],
        reduced_motion="reduce",
    )
    context.pages[0].goto(entrance)

    def screen(width: int, dark: bool) -> Page:
        page = context.new_page()
        page.set_viewport_size({"width": width, "height": 900 if width > 600 else 740})
        page.emulate_media(color_scheme="dark" if dark else "light", reduced_motion="reduce")
        return page

    yield screen
    context.close()


@pytest.fixture
def web(screens: Screens, request: pytest.FixtureRequest) -> Iterator[Page]:
    """A new tab on the app; its width and theme come from the marker `seen`."""
    seen = request.node.get_closest_marker("seen")
    options = dict(seen.kwargs) if seen else {}
    page = screens(options.get("width", 1280), options.get("dark", False))
    page.set_default_timeout(30_000)
    wrong = watched(page)
    yield page
    failed = getattr(request.node.stash.get(RESULT, None), "failed", True)
    if failed or wrong:
        KEPT.mkdir(parents=True, exist_ok=True)
        page.screenshot(path=KEPT / (re.sub(r"\W+", "_", request.node.name) + ".png"), full_page=True)
    leave(page)
    if not failed:
        assert not wrong, "the browser complained: " + "\n".join(wrong)
