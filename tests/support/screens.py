"""What every screen of the app is held to."""

from __future__ import annotations

from axe_playwright_python.sync_playwright import Axe
from playwright.sync_api import Page

TAGS = ["wcag2a", "wcag2aa", "wcag21a", "wcag21aa", "wcag22aa"]
UNFOLD = "document.querySelectorAll('details').forEach(d => { d.open = true })"


def faults(web: Page) -> str:
    """What of WCAG 2.2, A and AA, a page does not keep."""
    results = Axe().run(web, options={"runOnly": {"type": "tag", "values": TAGS}, "resultTypes": ["violations"]})
    return "\n".join(
        f"{one['id']}: {one['help']}\n   "
        + "\n   ".join(f"{node['html'][:200]} | {node['failureSummary'][:300]}" for node in one["nodes"][:4])
        for one in results.response["violations"]
    )


def clean(web: Page) -> None:
    """Nothing of WCAG 2.2 A or AA is broken, with everything unfolded."""
    web.wait_for_load_state("networkidle")
    web.evaluate(UNFOLD)
    web.wait_for_timeout(200)
    found = faults(web)
    assert not found, found


def fits(web: Page) -> None:
    """Nothing sticks out to the side."""
    assert web.evaluate("document.documentElement.scrollWidth <= document.documentElement.clientWidth")
