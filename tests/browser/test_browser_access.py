"""WCAG 2.2, A and AA, on every page in light and in dark, with everything unfolded."""

from __future__ import annotations

import pytest
from axe_playwright_python.sync_playwright import Axe

from dashboard import pages

pytestmark = pytest.mark.browser
TAGS = ["wcag2a", "wcag2aa", "wcag21a", "wcag21aa", "wcag22aa"]
QUERY = "?might-front=16&might-rear-tire=130/80-18"


def _found(web) -> str:
    results = Axe().run(web, options={"runOnly": {"type": "tag", "values": TAGS}, "resultTypes": ["violations"]})
    return "\n".join(
        f"{v['id']}: {v['help']}\n   "
        + "\n   ".join(n["html"][:200] + " | " + n["failureSummary"][:300] for n in v["nodes"][:4])
        for v in results.response["violations"]
    )


def _check(web, place) -> None:
    web.goto(place.path + QUERY)
    web.locator(".page h1").first.wait_for()
    web.wait_for_load_state("networkidle")
    web.evaluate("document.querySelectorAll('details').forEach(d => { d.open = true })")
    web.wait_for_timeout(150)
    assert not _found(web)


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
