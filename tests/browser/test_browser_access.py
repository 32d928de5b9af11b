"""WCAG 2.2, A and AA, landmarks and headings, on every page with everything unfolded: light on a desk, dark on a phone."""

from __future__ import annotations

import pytest
from playwright.sync_api import expect
from support.screens import everywhere, faults, visit

from dashboard import pages

pytestmark = pytest.mark.browser
QUERY = "?planned-front=16&planned-rear-tire=130/90-17"


@pytest.mark.parametrize(
    "place", [p for p in pages.ALL if p.path not in ("/road", "/gearing")], ids=lambda place: place.name
)
def test_a_page(web, place):
    web.goto(place.path + QUERY)
    everywhere(web)


def test_the_choice_with_fields_that_cannot_be_read(web):
    web.goto("/gearing" + QUERY + "&need-revs-most=3900+rpm")
    web.get_by_label("0 to 100 km/h at most").fill("slow")
    expect(web.locator(".needs .mantine-InputWrapper-error").first).to_be_visible()  # when the hand has rested
    everywhere(web)


def test_what_is_pale_is_found(web):
    visit(web, "/tires")
    web.evaluate("document.querySelector('main p').style.color = '#ddd'")
    assert "color-contrast" in faults(web)


def test_the_road_without_a_log_and_with_all_of_them(web):
    web.goto("/road" + QUERY)
    everywhere(web)
    for key in ("coast-down", "road-pull-before", "road-pull-after", "ratios", "own-ride"):
        web.locator(f"#{key}-demo").click()
        expect(web.locator(f"#{key}-named")).to_contain_text("samples over", timeout=60_000)  # pulls are fitted first
    everywhere(web)
    expect(web.locator("#road-pull-says")).to_contain_text("Proved: more power")
