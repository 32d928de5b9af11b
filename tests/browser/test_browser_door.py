"""How a rider comes in: by the file that opens the browser, by a link from elsewhere, and in a tab that outlived its program."""

from __future__ import annotations

from queue import Queue

import pytest
from playwright.sync_api import expect

from dashboard import app as serving

pytestmark = pytest.mark.browser


def test_in_by_the_file_and_by_a_link_until_the_program_is_another(stranger, entrance, monkeypatch, tmp_path):
    inside = entrance.partition("/?")[0] + "/power?planned-front=15"
    note = tmp_path / "note.html"
    note.write_text(f'<a href="{inside}">hills</a>')
    stranger.goto(note.as_uri())
    stranger.get_by_role("link").click()
    expect(stranger.get_by_text("open the address that it printed")).to_be_visible()
    opened = Queue()
    monkeypatch.setattr(serving.webbrowser, "open", opened.put)
    with serving._opened(entrance.replace("/?", "/gearing?planned-front=16&")):
        stranger.goto(opened.get(timeout=20))
        expect(stranger.locator(".page .say").first).to_be_visible()
    assert stranger.url.endswith("/gearing?planned-front=16"), "the query of the link goes along"
    stranger.goto(note.as_uri())
    stranger.get_by_role("link").click()
    expect(stranger.locator(".page .say").first).to_be_visible()
    assert stranger.url == inside
    expect(stranger.locator(".served")).to_have_count(0)
    expect(stranger.locator("html")).to_have_attribute("data-theme", "dark")  # as the system prefers it
    stranger.context.clear_cookies()
    stranger.locator("#units").click()
    expect(stranger.get_by_role("alert")).to_contain_text("open the address that it printed")
