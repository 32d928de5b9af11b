"""What every screen of the app is held to."""

from __future__ import annotations

import re
from urllib.parse import urlsplit

from axe_playwright_python.sync_playwright import Axe
from playwright.sync_api import Locator, Page, expect

TAGS = ["wcag2a", "wcag2aa", "wcag21a", "wcag21aa", "wcag22aa"]
LANDMARKS = ["landmark-unique", "landmark-one-main", "landmark-no-duplicate-contentinfo", "landmark-no-duplicate-banner", "region", "heading-order", "page-has-heading-one", "skip-link"]  # fmt: skip
ANSWERED = """() => {
  const page = document.querySelector('.page');
  const seen = page === null ? [] : [...page.querySelectorAll('[role=status].says, figcaption')].filter((e) => e.offsetParent);
  return page !== null && seen.every((e) => e.textContent.trim());
}"""
DRAWN = "() => new Promise((done) => requestAnimationFrame(() => requestAnimationFrame(done)))"  # what was changed is on the screen
# Contrast makes millions of colors, each with private fields in weak maps and read from its text anew: the fields stand on the
# color itself here, and a text is read once. What is found is the same.
AXE = """(() => {
class WeakMap {
  key = Symbol();
  has(one) { return Object.hasOwn(one, this.key); }
  get(one) { return this.has(one) ? one[this.key] : undefined; }
  set(one, value) { one[this.key] = value; return this; }
  delete(one) { return this.has(one) && delete one[this.key]; }
}
class WeakSet extends WeakMap { add(one) { return this.set(one, true); } }
AXE
const color = axe.commons.color.Color.prototype, read = color.parseString, known = {};
color.parseString = function (text) {
  known[text] ??= (({ r, g, b, alpha }) => ({ r, g, b, alpha }))(read.call(this, text));
  return Object.assign(this, known[text]);
};
})()""".replace("AXE", Axe().axe_script)
OPEN = "document.querySelectorAll('details.room:not([open]) > summary').forEach((title) => title.click())"
OPENED = "() => [...document.querySelectorAll('.room > .page')].every((room) => room.childElementCount)"
FOLLOW = "(to) => { history.pushState(null, '', to); dispatchEvent(new PopStateEvent('popstate')); }"  # as the app's links do
QUIET = "() => !window.dash_stores[0].getState().isLoading"  # every callback has been answered
# Rows of a table that differ from one above in their text alone are hidden: that one stands for them.
RUN = """async (options) => {
  const alike = [];
  for (const table of document.querySelectorAll('table')) {
    const met = new Set();
    for (const row of table.querySelectorAll('tbody > tr:not([hidden])')) {
      const drawn = row.outerHTML.replace(/>[^<]+</g, '>.<');
      if (met.has(drawn)) { alike.push(row); }
      met.add(drawn);
    }
  }
  alike.forEach((row) => { row.hidden = true; });
  const { violations } = await axe.run(options);
  alike.forEach((row) => { row.hidden = false; });
  return violations;
}"""
DESK, PHONE = {"width": 1280, "height": 900}, {"width": 360, "height": 740}
UNFOLD = "document.querySelectorAll('details').forEach(d => { d.open = true })"


def faults(web: Page) -> str:
    """What of WCAG 2.2, A and AA, and of landmarks and headings a page does not keep."""
    more = {rule: {"enabled": True} for rule in LANDMARKS}
    if not web.evaluate("'axe' in window"):
        web.evaluate(AXE)
    options = {"runOnly": {"type": "tag", "values": TAGS}, "resultTypes": ["violations"], "rules": more}
    violations = web.evaluate(RUN, options)
    return "\n".join(
        f"{one['id']}: {one['help']}\n   "
        + "\n   ".join(f"{node['html'][:200]} | {node['failureSummary'][:300]}" for node in one["nodes"][:4])
        for one in violations
    )


def answered(web: Page) -> None:
    """Wait until the page has said and drawn what it has to say."""
    web.wait_for_function(ANSWERED)


def visit(web: Page, address: str) -> None:
    """Go to an address as by a link within the app, and wait until it has answered; a new tab loads it."""
    if web.url == "about:blank":
        web.goto(address)
    else:
        web.evaluate(FOLLOW, address)
    expect(web.locator("nav [aria-current=page]")).to_have_attribute(
        "href", re.compile(rf"^{re.escape(urlsplit(address).path)}(\?|$)")
    )
    answered(web)
    web.wait_for_function(QUIET)  # else what is done to a field can be lost to the link that still fills it


def turn(web: Page, path: str) -> None:
    """Go to another page by the navigation, as a rider does, and wait until it has answered."""
    link = web.locator(f"nav a[href='{path}'], nav a[href^='{path}?']")
    link.click()
    expect(link).to_have_attribute("aria-current", "page")
    answered(web)


def let_down(field: Locator) -> None:
    """Open the list of a field that chooses, once all is said: a page that still moves hides what the field has let down."""
    field.page.wait_for_function(QUIET)
    field.click()


def clean(web: Page) -> None:
    """Nothing of WCAG 2.2 A or AA is broken, with everything unfolded."""
    answered(web)
    web.evaluate(OPEN)
    web.wait_for_function(OPENED)
    answered(web)
    web.evaluate(UNFOLD)
    web.add_style_tag(content=".dim * { opacity: 1 !important; }")  # what is out of date is pale on purpose
    web.evaluate(DRAWN)
    found = faults(web)
    assert not found, found


def fits(web: Page) -> None:
    """Nothing sticks out to the side."""
    web.wait_for_function("() => document.documentElement.scrollWidth <= document.documentElement.clientWidth")


def everywhere(web: Page) -> None:
    """A page that is opened is clean in the light on a desk and in the dark on a phone, and nothing sticks out: checked in place."""
    looks = {"light": DESK, "dark": PHONE}
    first = web.locator("html").get_attribute("data-theme")
    for name in sorted(looks, key=lambda name: name != first):
        theme(web, name)
        web.set_viewport_size(looks[name])
        clean(web)
        fits(web)


def theme(web: Page, name: str) -> None:
    """The page in the light or in the dark, by its own switch."""
    if web.locator("html").get_attribute("data-theme") != name:
        web.locator("#theme-switch").click()
    expect(web.locator("html")).to_have_attribute("data-theme", name)


def watched(page: Page) -> list[str]:
    """Everything the browser complains of from now on while a tab is used."""
    wrong: list[str] = []
    page.on("console", lambda m: wrong.append(f"{m.type}: {m.text}") if m.type == "error" else None)
    page.on("pageerror", lambda e: wrong.append(f"page: {e}"))
    page.on("response", lambda r: wrong.append(f"HTTP {r.status} {r.url}") if r.status >= 400 else None)
    page.on("requestfailed", lambda r: wrong.append(f"failed: {r.url}") if "127.0.0.1" not in r.url else None)
    return wrong


def leave(web: Page) -> None:
    """Go where no page is, once all is said: the app shows its first state, and the browser remembers nothing of what was done."""
    web.unroute_all()
    web.wait_for_function(QUIET)
    # not to another link at once: what the page says to that would come when it is gone
    web.evaluate(FOLLOW, "/none" + urlsplit(web.url)._replace(scheme="", netloc="", path="", fragment="").geturl())
    expect(web.get_by_role("heading", name="There is no page")).to_be_visible()
    web.evaluate(FOLLOW, "/none?units=metric")
    web.set_viewport_size(DESK)
    web.evaluate("document.getElementById('set-ups').open = true")  # a page that is loaded on a phone has them folded
    theme(web, "light")
    web.wait_for_function(QUIET)
    web.evaluate("() => { localStorage.clear(); sessionStorage.clear(); }")
    web.context.clear_cookies(name="ridesim-units")
