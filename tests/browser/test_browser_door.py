"""How a rider comes in: by the file that opens the browser, by a link from elsewhere, and in a tab that outlived its program."""

from __future__ import annotations

from queue import Queue

import pytest
from playwright.sync_api import expect

from dashboard import app as serving

pytestmark = pytest.mark.browser


@pytest.fixture
def stranger(chromium):
    """A tab of a browser that has never been here."""
    context = chromium.new_context()
    yield context.new_page()
    context.close()


def test_the_file_that_opens_the_browser_leads_in_with_the_links_query(stranger, entrance, monkeypatch):
    opened = Queue()
    monkeypatch.setattr(serving.webbrowser, "open", opened.put)
    with serving._opened(entrance.replace("/?", "/gearing?planned-front=16&")):
        stranger.goto(opened.get(timeout=20))
        expect(stranger.locator(".page .say").first).to_be_visible()
    assert stranger.url.endswith("/gearing?planned-front=16")


def test_a_link_from_elsewhere_leads_in_who_is_known(stranger, entrance, tmp_path):
    inside = entrance.partition("/?")[0] + "/power?planned-front=15"
    note = tmp_path / "note.html"
    note.write_text(f'<a href="{inside}">hills</a>')
    stranger.goto(note.as_uri())
    stranger.get_by_role("link").click()
    expect(stranger.get_by_text("open the address that it printed")).to_be_visible()
    stranger.goto(entrance)
    expect(stranger.locator("h1")).to_be_visible()
    for _ in range(2):
        stranger.goto(note.as_uri())
        stranger.get_by_role("link").click()
        expect(stranger.locator(".page .say").first).to_be_visible()
        assert stranger.url == inside


def test_a_tab_that_the_program_no_longer_knows_says_so(stranger, entrance):
    stranger.goto(entrance)
    stranger.goto(entrance.partition("/?")[0] + "/gears")
    expect(stranger.locator(".page .say").first).to_be_visible()
    stranger.context.clear_cookies()
    stranger.locator("#units").click()
    expect(stranger.get_by_role("alert")).to_contain_text("open the address that it printed")
