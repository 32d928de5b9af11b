"""Logs in the browser: a coast-down opened, a stretch taken out of it, the result in the build and the top speed moved."""

from __future__ import annotations

import re

import pytest
from axe_playwright_python.sync_playwright import Axe
from playwright.sync_api import Page, expect

from dashboard import logs

pytestmark = pytest.mark.browser
TAGS = ["wcag2a", "wcag2aa", "wcag21a", "wcag21aa", "wcag22aa"]
PAGES = {
    "coast-down": ["#coast-down-demo"],
    "road-pull": ["#road-pull-before-demo", "#road-pull-after-demo"],
    "ratios": ["#ratios-demo"],
    "own-ride": ["#own-ride-demo"],
}


def clean(web: Page) -> None:
    """Nothing of WCAG 2.2 A or AA is broken, with everything unfolded."""
    web.wait_for_load_state("networkidle")
    web.evaluate("document.querySelectorAll('details').forEach(d => { d.open = true })")
    web.wait_for_timeout(200)
    results = Axe().run(web, options={"runOnly": {"type": "tag", "values": TAGS}, "resultTypes": ["violations"]})
    found = [
        f"{v['id']}: {v['help']} | " + " | ".join(n["html"][:160] for n in v["nodes"][:4])
        for v in results.response["violations"]
    ]
    assert not found, "\n".join(found)


def opened(web: Page, key: str) -> None:
    """A page with what comes along opened on it."""
    web.goto(f"/{key}?might-front=16")
    expect(web.locator(f"#{key}-says")).to_contain_text("Open a log")
    for button in PAGES[key]:
        web.locator(button).click()
        expect(web.locator(button.replace("-demo", "-named"))).to_contain_text("samples over")
    expect(web.locator(f"#{key}-says")).not_to_contain_text("Open a log")
    web.wait_for_load_state("networkidle")


def test_a_coast_down_from_the_log_to_another_top_speed(web):
    opened(web, "coast-down")
    says = web.locator("#coast-down-says")
    expect(says).to_contain_text("The coast-downs give a drag area of 0.614 m²")
    expect(web.locator("#coast-down-log-caption")).to_contain_text("4 runs are used")
    web.get_by_label("Stretch from [s]").fill("0")
    web.get_by_label("Stretch to [s]").fill("170")
    expect(web.locator("#coast-down-log-caption")).to_contain_text("2 runs are used")
    expect(says).not_to_contain_text("0.614 m²")
    web.get_by_label("Stretch to [s]").fill("900000")
    web.get_by_label("Stretch from [s]").fill("800000")
    expect(web.locator("#coast-down-page")).to_contain_text("holds fewer than five samples")
    expect(says).to_contain_text("The coast-downs give")  # the last good answer stays
    web.get_by_role("button", name="Whole log").click()
    expect(says).to_contain_text("0.614 m²")
    web.get_by_role("button", name="Put it into the build").click()
    taken = web.locator("#coast-down-taken")
    expect(taken).to_contain_text(re.compile(r"Top speed was [\d.]+ km/h, is now [\d.]+ km/h"))
    was, now = re.findall(r"([\d.]+) km/h", taken.text_content() or "")
    assert was != now
    expect(web).to_have_url(re.compile("own="))
    web.get_by_role("link", name="Run", exact=True).click()
    expect(web.locator("#run-changes")).to_contain_text(now)
    web.get_by_role("link", name="Coast-down").click()
    expect(says).to_contain_text("0.614 m²")  # the browser kept the log


def test_a_stretch_is_dragged_out_of_the_chart(web):
    opened(web, "coast-down")
    plot = web.locator("#coast-down-log-graph .nsewdrag").first
    plot.scroll_into_view_if_needed()
    box = plot.bounding_box()
    assert box is not None
    middle = box["y"] + box["height"] / 2
    web.mouse.move(box["x"] + 2, middle)
    web.mouse.down()
    web.mouse.move(box["x"] + box["width"] * 0.2, middle, steps=4)
    web.mouse.move(box["x"] + box["width"] * 0.5, middle, steps=4)
    web.mouse.up()
    expect(web.get_by_label("Stretch to [s]")).to_have_value(re.compile(r"1\d\d"))
    expect(web.locator("#coast-down-log-caption")).to_contain_text("2 runs are used")


def test_a_file_of_ones_own_by_the_keyboard_and_one_that_is_none(web, tmp_path):
    web.goto("/ratios")
    expect(web.locator("#ratios-says")).to_contain_text("Open a log")
    chosen = web.locator("#ratios-upload input[type=file]")
    chosen.set_input_files({"name": "notes.csv", "mimeType": "text/csv", "buffer": b"no log at all\n" * 20})
    expect(web.locator("#ratios-open-error")).to_contain_text("notes.csv")
    large = tmp_path / "large.csv"
    large.write_bytes(b"1,2\n" * (logs.LARGEST // 4 + 50_000))
    chosen.set_input_files(large)
    expect(web.locator("#ratios-open-error")).to_contain_text("is larger than 1.4 MB")
    chosen.set_input_files(logs.FOLDER / logs.DEMOS["gears"])
    expect(web.locator("#ratios-says")).to_contain_text("The log shows 5 gears")
    expect(web.locator("#ratios-open-error")).to_be_empty()
    web.locator("#ratios-close").focus()
    web.keyboard.press("Enter")
    expect(web.locator("#ratios-says")).to_contain_text("Open a log")


def test_two_tabs_never_see_each_others_log(web, screens):
    opened(web, "own-ride")
    other = screens(1280, True).new_page()
    other.goto("/own-ride")
    expect(other.locator("#own-ride-says")).to_contain_text("Open a log")
    expect(other.locator("#own-ride-named")).to_be_empty()
    other.close()


def test_pulls_before_and_after(web):
    opened(web, "road-pull")
    says = web.locator("#road-pull-says")
    expect(says).to_contain_text("Proved: more power from 4500 to 6500 rev/min")
    web.get_by_label("Name of the tune").fill("re-jetted")
    web.get_by_role("button", name="Put the later curve").click()
    expect(web.locator("#road-pull-taken")).to_contain_text("as the tune re-jetted")
    expect(web.locator("#field-might-tune")).to_have_value("re-jetted")


@pytest.mark.parametrize("key", PAGES)
def test_an_opened_log_in_light(web, key):
    opened(web, key)
    clean(web)


@pytest.mark.seen(width=360, dark=True)
@pytest.mark.parametrize("key", PAGES)
def test_an_opened_log_on_a_phone_in_the_dark(web, key):
    opened(web, key)
    clean(web)
    assert web.evaluate("document.documentElement.scrollWidth <= document.documentElement.clientWidth")
