"""WCAG 2.2, A and AA, on every page with everything unfolded; in the dark, what a theme can change: its contrasts."""

from __future__ import annotations

import pytest
from support.screens import clean, turn

from dashboard import pages

pytestmark = pytest.mark.browser
QUERY = "/?planned-front=16&planned-rear-tire=130/90-17"


@pytest.fixture(scope="module")
def tab(screens, watched):
    """A tab of each width and theme, in which page after page is turned to, as a rider does: the scripts are read once."""
    opened = {}

    def of(width: int, dark: bool):
        if (width, dark) not in opened:
            page = screens(width, dark).new_page()
            opened[width, dark] = page, watched(page)
            page.goto(QUERY)
        return opened[width, dark]

    yield of
    for page, _ in opened.values():
        page.close()


@pytest.mark.parametrize(
    ("place", "width", "dark"),
    [pytest.param(page, 1280, dark, id=f"{page.name}-{'dark' if dark else 'light'}") for dark in (False, True) for page in pages.PAGES]
    + [pytest.param(page, 360, False, id=f"{page.name}-phone") for page in pages.PAGES if page.name in ("My bike", "Gearing", "Garage")],
)  # fmt: skip
def test_a_page(tab, place, width, dark):
    web, wrong = tab(width, dark)
    if place.path == "/":
        web.goto(QUERY)
    else:
        turn(web, place.path)
    clean(web, ["color-contrast", "link-in-text-block"] if dark else None)
    assert not wrong, "the browser complained: " + "\n".join(wrong)
