"""Logs in the browser: a coast-down opened, a stretch taken out of it, the result in the build and the top speed moved."""

from __future__ import annotations

import re

import pytest
from playwright.sync_api import Page, expect
from support.screens import clean

from dashboard import open_logs

pytestmark = pytest.mark.browser
PAGES = {
    "coast-down": ["#coast-down-demo"],
    "road-pull": ["#road-pull-before-demo", "#road-pull-after-demo"],
    "ratios": ["#ratios-demo"],
    "own-ride": ["#own-ride-demo"],
}


def opened(web: Page, key: str) -> None:
    """A page with what comes along opened on it."""
    web.goto(f"/{key}?planned-front=16")
    expect(web.locator(f"#{key}-says")).to_contain_text("Open a log")
    for button in PAGES[key]:
        web.locator(button).click()
        expect(web.locator(button.replace("-demo", "-named"))).to_contain_text("samples over")
    expect(web.locator(f"#{key}-says")).not_to_contain_text("Open a log")
    web.wait_for_load_state("networkidle")


def test_a_coast_down_from_the_log_to_another_top_speed(web):
    opened(web, "coast-down")
    says = web.locator("#coast-down-says")
    expect(says).to_contain_text("The coast-downs give a drag area of 0.636 m²")
    expect(web.locator("#coast-down-log-caption")).to_contain_text("4 runs are used")
    web.get_by_label("Use from [s]").fill("0")
    web.get_by_label("Use to [s]").fill("170")
    expect(web.locator("#coast-down-log-caption")).to_contain_text("2 runs are used")
    expect(says).not_to_contain_text("0.636 m²")
    web.get_by_label("Use to [s]").fill("900000")
    web.get_by_label("Use from [s]").fill("800000")
    expect(web.locator("#coast-down-page")).to_contain_text("holds fewer than five samples")
    expect(says).to_contain_text("The coast-downs give")  # the last good answer stays
    web.get_by_role("button", name="Whole log").click()
    expect(says).to_contain_text("0.636 m²")
    web.get_by_role("button", name="Put it into the build").click()
    taken = web.locator("#coast-down-taken")
    expect(taken).to_contain_text(re.compile(r"Top speed was [\d.]+ km/h, is now [\d.]+ km/h"))
    was, now = re.findall(r"([\d.]+) km/h", taken.text_content() or "")
    assert was != now
    expect(web).to_have_url(re.compile("own="))
    expect(web.locator("#undo")).to_be_enabled()
    web.locator("#undo").click()  # what a log wrote goes out again
    expect(web).not_to_have_url(re.compile("own="))
    web.locator("#redo").click()
    expect(web).to_have_url(re.compile("own="))
    web.goto(re.sub(r"/road(\?[^#]*)#.*", r"/power\1#run", web.url))
    expect(web.locator("#run-changes")).to_contain_text(now)
    web.goto(web.url.replace("/power", "/road").replace("#run", "#coast-down"))
    expect(says).to_contain_text("The coast-downs give")  # the browser kept the log


def plot_box(web: Page) -> dict[str, float]:
    """Where the drawn log is."""
    plot = web.locator("#coast-down-log-graph .nsewdrag").first
    plot.scroll_into_view_if_needed()
    box = plot.bounding_box()
    assert box is not None
    return dict(box)


def test_a_stretch_is_dragged_out_of_the_chart_and_stays_in_the_link(web):
    opened(web, "coast-down")
    box = plot_box(web)
    middle = box["y"] + box["height"] / 2
    web.mouse.move(box["x"] + 2, middle)
    web.mouse.down()
    web.mouse.move(box["x"] + box["width"] * 0.2, middle, steps=4)
    web.mouse.move(box["x"] + box["width"] * 0.5, middle, steps=4)
    web.mouse.up()
    expect(web.get_by_label("Use to [s]")).to_have_value(re.compile(r"1\d\d"))
    expect(web.locator("#coast-down-log-caption")).to_contain_text("2 runs are used")
    expect(web).to_have_url(re.compile(r"coast-down-from-s=[\d.]+&coast-down-to-s=1\d\d"))
    ends = [web.get_by_label(f"Stretch {end} [s]").input_value() for end in ("from", "to")]
    web.get_by_role("link", name="Run", exact=True).click()
    expect(web.locator("#run-changes")).not_to_be_empty()
    web.get_by_role("link", name="Coast-down").click()
    expect(web.locator("#coast-down-log-caption")).to_contain_text("2 runs are used")
    assert ends == [web.get_by_label(f"Stretch {end} [s]").input_value() for end in ("from", "to")]
    web.reload()
    expect(web.locator("#coast-down-log-caption")).to_contain_text("2 runs are used")
    assert ends == [web.get_by_label(f"Stretch {end} [s]").input_value() for end in ("from", "to")]


@pytest.mark.seen(width=360, dark=True)
def test_a_stretch_is_dragged_with_a_finger(web):
    opened(web, "coast-down")
    box = plot_box(web)
    touch = web.context.new_cdp_session(web)
    touch.send("Emulation.setTouchEmulationEnabled", {"enabled": True})

    def finger(kind: str, share: float) -> None:
        points = [{"x": box["x"] + box["width"] * share, "y": box["y"] + box["height"] / 2}]
        touch.send("Input.dispatchTouchEvent", {"type": kind, "touchPoints": [] if kind == "touchEnd" else points})

    finger("touchStart", 0.02)
    for share in (0.1, 0.2, 0.3, 0.4, 0.5):
        finger("touchMove", share)
    finger("touchEnd", 0.5)
    expect(web.get_by_label("Use to [s]")).to_have_value(re.compile(r"1\d\d"))
    expect(web.locator("#coast-down-log-caption")).to_contain_text("2 runs are used")


def test_a_stretch_is_typed_with_the_keyboard_alone(web):
    opened(web, "coast-down")
    web.get_by_label("Use from [s]").focus()
    web.keyboard.type("0")
    web.keyboard.press("Tab")
    expect(web.get_by_label("Use to [s]")).to_be_focused()
    web.keyboard.type("170")
    expect(web.locator("#coast-down-log-caption")).to_contain_text("2 runs are used")
    web.keyboard.press("ArrowUp")
    expect(web.get_by_label("Use to [s]")).to_have_value("170.5")
    expect(web).to_have_url(re.compile("coast-down-to-s=170.5"))
    web.get_by_role("button", name="Whole log").press("Enter")
    expect(web.locator("#coast-down-log-caption")).to_contain_text("4 runs are used")
    expect(web).not_to_have_url(re.compile("coast-down-to-s"))


def test_a_link_without_the_log_asks_for_it_and_then_uses_it_as_chosen(web):
    web.goto("/coast-down?coast-down-from-s=0&coast-down-to-s=170")
    says = web.locator("#coast-down-says")
    expect(says).to_contain_text("never the log itself")
    expect(says).to_contain_text("stretch to 170 s")
    expect(web.locator("#coast-down-guide")).to_be_visible()
    expect(web.locator(".graph-image:visible")).to_have_count(0)
    web.locator("#coast-down-upload input[type=file]").set_input_files(open_logs.FOLDER / open_logs.DEMOS["coast-down"])
    expect(web.locator("#coast-down-log-caption")).to_contain_text("2 runs are used")
    expect(web.locator("#coast-down-guide")).to_be_hidden()
    expect(web.locator(".graph-image:visible")).to_have_count(2)


def test_a_file_of_ones_own_by_the_keyboard_and_one_that_is_none(web, tmp_path):
    web.goto("/ratios")
    expect(web.locator("#ratios-says")).to_contain_text("Open a log")
    chosen = web.locator("#ratios-upload input[type=file]")
    chosen.set_input_files({"name": "notes.csv", "mimeType": "text/csv", "buffer": b"no log at all\n" * 20})
    expect(web.locator("#ratios-open-error")).to_contain_text("notes.csv")
    large = tmp_path / "large.csv"
    large.write_bytes(b"1,2\n" * (open_logs.LARGEST // 4 + 50_000))
    chosen.set_input_files(large)
    expect(web.locator("#ratios-open-error")).to_contain_text("large.csv (12.2 MB) is larger than 12 MB")
    expect(web.locator("#ratios-open-error")).to_contain_text("ridesim log")
    chosen.set_input_files(open_logs.FOLDER / open_logs.DEMOS["gears"])
    expect(web.locator("#ratios-says")).to_contain_text("The log shows 5 gears")
    expect(web.locator("#ratios-open-error")).to_be_empty()
    web.get_by_role("button", name="Remove gears.csv").focus()
    web.keyboard.press("Enter")
    expect(web.locator("#ratios-says")).to_contain_text("Open a log")
    with web.expect_file_chooser() as picker:  # the same file once more
        web.locator("#ratios-upload").click()
    picker.value.set_files(open_logs.FOLDER / open_logs.DEMOS["gears"])
    expect(web.locator("#ratios-says")).to_contain_text("The log shows 5 gears")


def test_a_log_of_a_day_is_sent_and_read(web, tmp_path):
    day = tmp_path / "day.csv"
    rows = "".join(f"{n},{(40 + n % 50) * (n < 20_000)}.125,{'x' * 40}\n" for n in range(200_000))
    day.write_text("time [s],speed [km/h],note\n" + rows)
    assert 8_000_000 < day.stat().st_size < open_logs.LARGEST
    web.goto("/own-ride?own-ride-to-s=3000")
    expect(web.locator("#own-ride-says")).to_contain_text("Open a log")
    web.locator("#own-ride-upload input[type=file]").set_input_files(day)
    expect(web.locator("#own-ride-named")).to_contain_text("day.csv: 200,000 samples", timeout=60_000)
    expect(web.locator("#own-ride-says")).not_to_contain_text("Open a log")
    assert len(web.evaluate("window.sessionStorage.getItem('own-ride-kept')")) < 300


def test_two_files_make_one_answer_and_can_be_taken_off_again(web):
    lines = (open_logs.FOLDER / open_logs.DEMOS["coast-down"]).read_text().splitlines()
    start = next(n for n, line in enumerate(lines) if line.startswith("time"))
    rows = lines[start + 1 :]
    out = [row for row in rows if float(row.split(",")[0]) <= 140]
    parts = [
        {"name": name, "mimeType": "text/csv", "buffer": "\n".join([lines[start], *part]).encode()}
        for name, part in (("ride 2.csv", out), ("ride 10.csv", rows[len(out) :]))
    ]
    web.goto("/coast-down")
    expect(web.locator("#coast-down-says")).to_contain_text("Open a log")
    web.locator("#coast-down-upload input[type=file]").set_input_files(parts[::-1])
    items = web.locator("#coast-down-named li")
    expect(items).to_have_count(2)
    expect(items.nth(0)).to_contain_text("ride 2.csv")  # in the order of their names, as a phone counts them
    web.get_by_label("Way of each run").fill("out, back, out, back")
    expect(web.locator("#coast-down-log-caption")).to_contain_text("4 runs are used")
    expect(web).to_have_url(re.compile("coast-down-ways=out"))
    bad = {"name": "notes.csv", "mimeType": "text/csv", "buffer": b"no log at all\n" * 20}
    web.locator("#coast-down-upload input[type=file]").set_input_files(bad)
    expect(web.locator("#coast-down-open-error")).to_contain_text("notes.csv")
    expect(items).to_have_count(2)
    web.get_by_label("Way of each run").fill("out, back")
    web.get_by_role("button", name="Remove ride 10.csv").click()
    expect(items).to_have_count(1)
    expect(web.locator("#coast-down-log-caption")).to_contain_text("2 runs are used")


def test_columns_by_hand_are_read_again(web):
    rows = "\n".join(f"{n};{60 + n % 7}" for n in range(200))
    web.goto("/own-ride")
    expect(web.locator("#own-ride-says")).to_contain_text("Open a log")
    file = {"name": "odd.csv", "mimeType": "text/csv", "buffer": f"alpha;gamma\n{rows}".encode()}
    web.locator("#own-ride-upload input[type=file]").set_input_files(file)
    expect(web.locator("#own-ride-open-error")).to_contain_text("Name the columns yourself")
    web.get_by_text("Name the columns yourself, if").click()
    for label, value in (("time", "alpha"), ("speed", "gamma")):
        web.get_by_label(f"Column of the {label}").fill(value)
    web.get_by_label("Unit of the speed").fill("km/h")
    web.get_by_role("button", name="Read it again").click()
    expect(web.locator("#own-ride-named")).to_contain_text("odd.csv: 200 samples")


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
    expect(says).to_contain_text("Proved: more power")
    web.get_by_label("Name of the tune").fill("re-jetted")
    web.get_by_role("button", name="Put the later curve").click()
    expect(web.locator("#road-pull-taken")).to_contain_text("as the tune re-jetted")
    expect(web.locator("#field-planned-tune")).to_have_value("re-jetted")


@pytest.mark.seen(width=360, dark=True)
def test_all_logs_on_a_phone_in_the_dark(web):
    """What to do instead of blank charts, then all four opened: nothing cut off, nothing broken."""
    web.goto("/road")
    expect(web.locator("#coast-down-guide")).to_contain_text("How to ride")
    expect(web.locator(".graph-image:visible")).to_have_count(0)
    for key in PAGES:
        opened(web, key)
    clean(web)
    assert web.evaluate("document.documentElement.scrollWidth <= document.documentElement.clientWidth")
