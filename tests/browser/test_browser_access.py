"""WCAG 2.2, A and AA, landmarks and headings, on every page with everything unfolded, in one tab: light on a desk, dark on a phone."""

from __future__ import annotations

import pytest
from playwright.sync_api import expect
from support.screens import answered, everywhere, faults, leave, watched

from dashboard import behind, pages

pytestmark = pytest.mark.browser
QUERY = "?planned-front=16&planned-rear-tire=130/90-17"
LOGS = ("coast-down", "road-pull-before", "road-pull-after", "ratios", "own-ride")


@pytest.fixture(scope="module")
def tab(screens):
    """One tab for all: the scripts are read once."""
    page = screens(1280, False)
    wrong = watched(page)
    yield page
    leave(page)
    assert not wrong, "the browser complained: " + "\n".join(wrong)


@pytest.mark.parametrize(
    "place", [p for p in pages.PAGES if p.path not in ("/road", "/gearing")], ids=lambda place: place.name
)
def test_a_page(tab, place):
    tab.goto(place.path + QUERY)
    everywhere(tab)


def test_the_choice_with_fields_that_cannot_be_read(tab):
    tab.goto("/gearing" + QUERY + "&need-revs-most=3900+rpm")
    tab.get_by_label("0 to 100 km/h at most").fill("slow")
    expect(tab.locator(".needs .mantine-InputWrapper-error").first).to_be_visible()  # when the hand has rested
    everywhere(tab)


def test_the_road_without_a_log_and_with_all_of_them(tab):
    tab.goto("/road" + QUERY)
    everywhere(tab)
    for key in LOGS:
        tab.locator(f"#{key}-demo").click()
        expect(tab.locator(f"#{key}-named")).to_contain_text("samples over")
    everywhere(tab)


def test_how_we_know(tab):
    tab.goto(behind.PATH)
    answered(tab)
    assert not faults(tab)
    tab.evaluate("document.querySelector('main p').style.color = '#ddd'")
    assert "color-contrast" in faults(tab), "what is pale is found"
