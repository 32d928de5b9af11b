"""The app in a process of its own, and the system's Chromium on it; a screenshot is kept of what fails only."""

from __future__ import annotations

import re
import shutil
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import Any

import pytest
from playwright.sync_api import BrowserContext, Page, expect, sync_playwright
from support.screens import PHONE, leave, watched
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
RESULT = pytest.StashKey[Any]()
expect.set_options(timeout=20_000)  # a busy machine is slow, not wrong


@pytest.fixture(scope="session")
def entrance(tmp_path_factory: pytest.TempPathFactory) -> Iterator[str]:
    """The address that the app prints, with its key."""
    with served(tmp_path_factory.mktemp("app")) as address:
        yield address


@pytest.fixture(scope="session")
def own(entrance: str, tmp_path_factory: pytest.TempPathFactory) -> Iterator[BrowserContext]:
    """The rider's own browser, known to the app: it lives in a folder, and keeps what it has compiled."""
    with sync_playwright() as playwright:
        context = playwright.chromium.launch_persistent_context(
            tmp_path_factory.mktemp("browser"),
            executable_path=_system_chromium(),
            args=ARGUMENTS,
            base_url=entrance.partition("/?")[0],
            reduced_motion="reduce",
        )
        context.request.get(entrance, max_redirects=0)
        yield context
        context.close()


def _system_chromium() -> str:
    found = next(filter(None, map(shutil.which, ("chromium", "chromium-browser", "google-chrome"))), None)
    if found is None:
        pytest.fail("the browser tests need Chromium: install your system's package")
    return found


@pytest.fixture
def stranger(own: BrowserContext, entrance: str) -> Iterator[Page]:
    """A tab, in the dark, of a browser that has never been here."""
    context = own.browser.new_context(base_url=entrance.partition("/?")[0], color_scheme="dark")
    yield context.new_page()
    context.close()


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


@pytest.hookimpl(trylast=True)
def pytest_collection_modifyitems(items: list[pytest.Item]) -> None:
    """First of all, and so in one process of several: one app and one Chromium serve them."""
    items.sort(key=lambda item: item.get_closest_marker("browser") is None)


@pytest.hookimpl(wrapper=True)
def pytest_runtest_makereport(item: pytest.Item, call: pytest.CallInfo[Any]) -> Any:
    report = yield
    if report.when == "call":
        item.stash[RESULT] = report
    return report


@pytest.fixture
def web(own: BrowserContext, request: pytest.FixtureRequest) -> Iterator[Page]:
    """The rider's tab: the same for all tests, each of which leaves it as it was."""
    yield from _looked_at(own.pages[0], request)


@pytest.fixture
def phone(own: BrowserContext, request: pytest.FixtureRequest) -> Iterator[Page]:
    """A new tab on a phone."""
    page = own.new_page()
    page.set_viewport_size(PHONE)
    yield from _looked_at(page, request)
    page.close()


def _looked_at(page: Page, request: pytest.FixtureRequest) -> Iterator[Page]:
    page.set_default_timeout(30_000)
    wrong = watched(page)
    yield page
    failed = getattr(request.node.stash.get(RESULT, None), "failed", True)
    if failed or wrong:
        KEPT.mkdir(parents=True, exist_ok=True)
        page.screenshot(path=KEPT / (re.sub(r"\W+", "_", request.node.name) + ".png"), full_page=True)
    if failed:
        page.goto("/none")
    leave(page)
    assert failed or not wrong, "the browser complained: " + "\n".join(wrong)
