"""The keyboard alone: what is skipped, tables that are one stop with arrows inside, and the way out of each."""

from __future__ import annotations

import pytest
from playwright.sync_api import expect
from support.screens import visit

pytestmark = pytest.mark.browser
FOCUS = "document.activeElement.id || document.activeElement.getAttribute('aria-label') || document.activeElement.textContent.slice(0, 40)"


def test_skip_links_and_a_grid_that_is_one_stop(web):
    web.goto("/tires")
    for words in ("Skip to the answer", "Skip to the two set-ups"):
        web.keyboard.press("Tab")
        expect(web.get_by_role("link", name=words)).to_be_focused()
    visit(web, "/#bike")
    first = web.get_by_label("Engine speed of point 1", exact=True)
    first.focus()
    web.keyboard.press("ArrowDown")
    expect(web.get_by_label("Engine speed of point 2", exact=True)).to_be_focused()
    web.keyboard.press("End")
    web.keyboard.press("ArrowRight")
    expect(web.get_by_label("Value of point 2", exact=True)).to_be_focused()
    web.keyboard.press("ArrowUp")
    expect(web.get_by_label("Value of point 1", exact=True)).to_be_focused()
    out = []
    for key, back in (("Tab", False), ("Escape", False), ("Shift+Tab", True)):
        first.focus()
        web.keyboard.press(key)
        assert not web.evaluate("!!document.activeElement.closest('.cells')"), key
        out.append((web.evaluate(FOCUS), back))
    assert out[0][0] == out[1][0] != out[2][0]
