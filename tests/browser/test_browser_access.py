"""WCAG 2.2, A and AA, on every page in light and in dark, with everything unfolded."""

from __future__ import annotations

import pytest
from support.screens import clean

from dashboard import pages

pytestmark = pytest.mark.browser
QUERY = "?planned-front=16&planned-rear-tire=130/90-17"


def _check(web, place) -> None:
    web.goto(place.path + QUERY)
    web.locator(".page h1").first.wait_for()
    clean(web)


@pytest.mark.parametrize("place", pages.ALL, ids=lambda p: p.key)
def test_a_page_in_light(web, place):
    _check(web, place)


@pytest.mark.seen(dark=True)
@pytest.mark.parametrize("place", pages.ALL, ids=lambda p: p.key)
def test_a_page_in_dark(web, place):
    _check(web, place)


@pytest.mark.seen(width=360)
@pytest.mark.parametrize("place", [p for p in pages.ALL if p.key in ("gears", "bike", "sheet")], ids=lambda p: p.key)
def test_a_page_on_a_phone(web, place):
    _check(web, place)
