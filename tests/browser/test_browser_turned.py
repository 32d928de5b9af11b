"""A page that is turned while something of it is still to come: what comes late says nothing, and a second visit is told all."""

from __future__ import annotations

import re

import pytest
from playwright.sync_api import expect
from support.screens import turn, visit

pytestmark = pytest.mark.browser
CLOSE = "?need-fronts=14,16&need-rears=42,48&need-revs-most=none&need-climb-least=none&need-top-least=none"
LATER = """() => {
  window.late = [];
  window.wait = window.setTimeout;
  window.setTimeout = (what, ms, ...more) => {
    if (ms !== 250 && ms !== 900) { return window.wait(what, ms, ...more); }
    window.late.push(what);
    document.documentElement.dataset.late = window.late.length;
  };
}"""


def test_what_the_choice_of_sprockets_still_has_to_say_ends_with_its_page(web):
    visit(web, "/tires")
    web.evaluate(LATER)
    visit(web, "/gearing")
    expect(web.locator("html")).to_have_attribute("data-late", re.compile(r"[2-9]|\d\d"))
    turn(web, "/tires")
    web.evaluate("() => { window.late.splice(0).forEach((what) => what()); window.setTimeout = window.wait; }")
    expect(web.locator(".page .say").first).to_be_visible()


def test_a_second_visit_to_the_choice_is_told_all_of_it(web):
    visit(web, "/gearing" + CLOSE)
    for _ in range(2):
        expect(web.locator("#sprockets-alike")).to_contain_text("14/42 and 16/48")
        expect(web.locator("#sprockets-wanted-says")).to_contain_text("rev/min")
        turn(web, "/tires")
        turn(web, "/gearing")
    web.get_by_label("Rear sprockets available").fill("42")
    expect(web.locator("#sprockets-alike")).not_to_contain_text("14/42 and 16/48")


def test_logs_that_are_still_being_sent_end_with_their_page(web):
    held = []
    web.route("**/log-file?name=1*", lambda route: held.append(route))
    web.route("**/log-file?name=2*", lambda route: route.fulfill(json={"error": "none"}))
    visit(web, "/road#coast-down")
    files = [{"name": f"{n}.csv", "mimeType": "text/csv", "buffer": b"time,speed\n"} for n in (1, 2)]
    with web.expect_request("**/log-file?name=1*"):
        web.locator(".log-upload input[type=file]").first.set_input_files(files)
    turn(web, "/tires")
    with web.expect_response("**/log-file?name=2*"):
        held.pop().fulfill(json={"error": "none"})
    expect(web.locator(".page .say").first).to_be_visible()
