"""What every screen of the app is held to."""

from __future__ import annotations

from axe_playwright_python.sync_playwright import Axe
from playwright.sync_api import Page, expect

TAGS = ["wcag2a", "wcag2aa", "wcag21a", "wcag21aa", "wcag22aa"]
ANSWERED = """() => {
  const page = document.querySelector('.page');
  const seen = page === null ? [] : [...page.querySelectorAll('[role=status].says, figcaption')].filter((e) => e.offsetParent);
  return page !== null && seen.every((e) => e.textContent.trim());
}"""
DRAWN = "() => new Promise((done) => requestAnimationFrame(() => requestAnimationFrame(done)))"  # what was changed is on the screen
OPEN = "document.querySelectorAll('details.room:not([open]) > summary').forEach((title) => title.click())"
OPENED = "() => [...document.querySelectorAll('.room > .page')].every((room) => room.childElementCount)"
UNFOLD = "document.querySelectorAll('details').forEach(d => { d.open = true })"


def faults(web: Page, rules: list[str] | None = None) -> str:
    """What of WCAG 2.2, A and AA, a page does not keep, or of some of its rules."""
    only = {"type": "rule", "values": rules} if rules else {"type": "tag", "values": TAGS}
    results = Axe().run(web, options={"runOnly": only, "resultTypes": ["violations"]})
    return "\n".join(
        f"{one['id']}: {one['help']}\n   "
        + "\n   ".join(f"{node['html'][:200]} | {node['failureSummary'][:300]}" for node in one["nodes"][:4])
        for one in results.response["violations"]
    )


def answered(web: Page) -> None:
    """Wait until the page has said and drawn what it has to say."""
    web.wait_for_function(ANSWERED)


def turn(web: Page, path: str) -> None:
    """Go to another page by the navigation, as a rider does, and wait until it has answered."""
    link = web.locator(f"nav a[href='{path}'], nav a[href^='{path}?']")
    link.click()
    expect(link).to_have_attribute("aria-current", "page")
    answered(web)


def clean(web: Page, rules: list[str] | None = None) -> None:
    """Nothing of WCAG 2.2 A or AA is broken, with everything unfolded, or nothing of some of its rules."""
    answered(web)
    web.evaluate(OPEN)
    web.wait_for_function(OPENED)
    answered(web)
    web.evaluate(UNFOLD)
    web.evaluate(DRAWN)
    found = faults(web, rules)
    assert not found, found


def fits(web: Page) -> None:
    """Nothing sticks out to the side."""
    assert web.evaluate("document.documentElement.scrollWidth <= document.documentElement.clientWidth")
