"""First paint and slider to redraw in the real browser: reported, not asserted. Needs Chromium; close other programs first.

python -m pytest tests/bench/test_bench_browser.py -q -s
"""

from __future__ import annotations

import statistics
import time

# from a key press on a slider to the first frame in which the sentence has changed
PRESS_AND_WAIT = """
(thumb) => new Promise((done) => {
  const says = document.querySelector('[role=status].says') || document.querySelector('.says');
  const before = says.textContent;
  const begun = performance.now();
  const watch = new MutationObserver(() => {
    if (says.textContent !== before) {
      watch.disconnect();
      requestAnimationFrame(() => setTimeout(() => done(performance.now() - begun), 0));
    }
  });
  watch.observe(says, {subtree: true, childList: true, characterData: true});
  thumb.focus();
  thumb.dispatchEvent(new KeyboardEvent('keydown', {key: 'ArrowRight', code: 'ArrowRight', bubbles: true}));
  thumb.dispatchEvent(new KeyboardEvent('keyup', {key: 'ArrowRight', code: 'ArrowRight', bubbles: true}));
  setTimeout(() => { watch.disconnect(); done(-1); }, 4000);
})
"""


def test_first_paint_and_first_answer(tab, tell):
    paints, answers = [], []
    for _ in range(5):
        begun = time.perf_counter()
        tab.goto("/gears")
        tab.locator(".says", has_text="rev/min").first.wait_for()
        answers.append(time.perf_counter() - begun)
        paints.append(
            tab.evaluate(
                "performance.getEntriesByType('paint').find(p => p.name === 'first-contentful-paint').startTime"
            )
            / 1e3
        )
    tell(
        f"first paint {statistics.median(paints):.2f} s, first answer read {statistics.median(answers):.2f} s, medians of 5 (goal 1.5 to first paint)"
    )


def test_slider_to_redraw(tab, tell):
    tab.goto("/cruise")
    tab.locator(".says", has_text="rev/min").first.wait_for()
    tab.wait_for_timeout(1000)
    thumb = tab.locator("[role=slider]").first
    times = [t for t in (thumb.evaluate(PRESS_AND_WAIT) for _ in range(15)) if t > 0]
    tell(
        f"slider to redraw: median {statistics.median(times):.0f} ms of {len(times)} moves (goal 150)"
        if times
        else "the slider moved nothing"
    )
