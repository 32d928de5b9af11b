"""What a rider waits for in the real browser: reported, not asserted. Needs Chromium; close other programs first.

python -m pytest tests/bench/test_bench_browser.py -q -s
"""

from __future__ import annotations

import random
import statistics
import threading
import time
import urllib.request
from concurrent.futures import ThreadPoolExecutor
from http.cookiejar import CookieJar
from urllib.parse import urlsplit

import pytest
from support.served import served

from dashboard import pages

READ = """
window.seen = {};
new MutationObserver(() => {
  const now = performance.now(), living = document.querySelector('#react-entry-point .say');
  if (document.querySelector('.served .say') && !window.seen.read) { window.seen.read = now; }
  if (living && !document.querySelector('.served') && !window.seen.alive) { window.seen.alive = now; }
}).observe(document, {childList: true, subtree: true});
"""
PAINTED = "performance.getEntriesByType('paint').find(one => one.name === 'first-contentful-paint').startTime"
OVER_THE_WIRE = "performance.getEntriesByType('resource').concat(performance.getEntriesByType('navigation')).reduce((sum, one) => sum + one.transferSize, 0)"
RIDERS, LOOKS, PAUSE_S = 8, 12, 2.0


def opened(page, address: str) -> tuple[float, float, float]:
    """Until the answer is on the screen, until the page lives [ms], and what went over the wire. [bytes]"""
    page.add_init_script(READ)
    page.goto(address)
    page.wait_for_function("() => window.seen.alive")
    read, alive = page.evaluate("[window.seen.read, window.seen.alive]")
    return max(read, page.evaluate(PAINTED)), alive, page.evaluate(OVER_THE_WIRE)


@pytest.mark.parametrize("path", ["/gearing", "/tires", "/power"])
def test_first_paint_says_the_answer(tab, tell, path):
    browser, base = tab.context.browser, tab.url.partition("?")[0].rstrip("/")
    base = "{0.scheme}://{0.netloc}".format(urlsplit(base))
    cold, wire = [], 0.0
    for _ in range(3):
        context = browser.new_context(base_url=base, storage_state=tab.context.storage_state())
        *times, wire = opened(context.new_page(), path + "?planned-front=16")
        cold.append(times)
        context.close()
    page = tab.context.new_page()
    opened(page, path + "?planned-front=16")
    warm = [opened(page, path + f"?planned-front=16&cruise={speed}+km%2Fh")[:2] for speed in range(90, 95)]
    page.close()
    (a, b), (c, d) = ([statistics.median(column) / 1e3 for column in zip(*rows, strict=True)] for rows in (cold, warm))
    tell(
        f"{path}: answer on the screen {a:.2f} s cold, {c:.2f} s warm (goals 0.6, 0.4); page alive {b:.2f}, {d:.2f} s; "
        f"{wire / 1e6:.2f} MB over the wire (goal 3)"
    )


def test_slider_to_redraw(tab, tell, redrawn_ms):
    tab.goto("/gearing#cruise")
    tab.locator("#cruise-says", has_text="rev/min").wait_for()
    tab.wait_for_timeout(1500)
    tab.locator("#slider-cruise [role=slider]").first.focus()
    times = [t for t in (redrawn_ms("#cruise-says", "ArrowRight") for _ in range(25)) if t > 0]
    tell(f"slider to redraw: median {statistics.median(times):.0f} ms of {len(times)} moves (goal 100)")


def test_eight_riders_at_once(tmp_path, tell):
    """Each in a browser of their own with a bike of their own, one page after another, a look every two seconds or so."""
    with served(tmp_path) as entrance:
        base = entrance.partition("/?")[0]
        begin = threading.Barrier(RIDERS)

        def rider(number: int) -> list[float]:
            browser = urllib.request.build_opener(urllib.request.HTTPCookieProcessor(CookieJar()))
            browser.open(entrance).read()
            chance = random.Random(number)
            begin.wait()
            times = []
            for look in range(LOOKS):
                path = pages.PAGES[(look + number) % len(pages.PAGES)].path
                begun = time.perf_counter()
                browser.open(f"{base}{path}?planned-rear={38 + number}&cruise={80 + look}+km%2Fh").read()
                times.append(time.perf_counter() - begun)
                time.sleep(PAUSE_S * (0.5 + chance.random()))
            return times

        with ThreadPoolExecutor(RIDERS) as pool:
            times = sorted(1e3 * one for some in pool.map(rider, range(RIDERS)) for one in some)
    tell(
        f"{RIDERS} riders at once: a page with its answer in {statistics.median(times):.0f} ms median, "
        f"{times[int(0.95 * len(times))]:.0f} ms at the 95th percentile of {len(times)} (goal 400)"
    )
