"""Logs in the browser: opened, a stretch taken out of them by hand, by finger and by keyboard, and a result in the build."""

from __future__ import annotations

import re

import pytest
from playwright.sync_api import Locator, Page, expect
from support.screens import PHONE, turn, visit

from dashboard import open_logs

pytestmark = pytest.mark.browser
COAST = open_logs.FOLDER / open_logs.DEMOS["coast-down"]
GEARS = open_logs.FOLDER / open_logs.DEMOS["gears"]
NO_LOG = {"name": "notes.csv", "mimeType": "text/csv", "buffer": b"no log at all\n" * 20}


def chooser(web: Page, key: str) -> Locator:
    """The field of a section that files are put into."""
    return web.locator(f"#{key}-upload input[type=file]")


def unfolded(web: Page, key: str) -> None:
    """A section of the page that stands, opened, without a log as yet."""
    web.locator(f"#{key} > summary").click()
    expect(web.locator(f"#{key}-says")).to_contain_text("Open a log")


def test_a_coast_down_from_a_link_to_another_top_speed(web):
    """The link asks for its log, the log is used as the link says, the stretch is typed, and the result moves the build."""
    web.goto("/coast-down?planned-front=16&coast-down-from-s=0&coast-down-to-s=170")
    says, caption = web.locator("#coast-down-says"), web.locator("#coast-down-log-caption")
    expect(says).to_contain_text("never the log itself")
    expect(says).to_contain_text("use to 170 s")
    expect(web.locator("#coast-down-guide")).to_be_visible()
    expect(web.locator(".graph-image:visible")).to_have_count(0)
    chooser(web, "coast-down").set_input_files(COAST)
    expect(caption).to_contain_text("2 runs are used")
    expect(web.locator("#coast-down-guide")).to_be_hidden()
    expect(web.locator(".graph-image:visible")).to_have_count(2)
    typed_by_keyboard(web)
    web.get_by_label("Use to [s]").fill("900000")
    web.get_by_label("Use from [s]").fill("800000")
    expect(web.locator("#coast-down-page")).to_contain_text("holds fewer than five samples")
    expect(says).to_contain_text("The coast-downs give")  # the last good answer stays
    web.get_by_role("button", name="Whole log").click()
    expect(web).not_to_have_url(re.compile("coast-down-to-s"))  # the last good answer said 0.636 m² as well
    expect(says).to_contain_text("0.636 m²")
    put_into_the_build(web)


def typed_by_keyboard(web: Page) -> None:
    """The stretch, by the keyboard alone: both ends, a step up, and the whole log again."""
    start, end = web.get_by_label("Use from [s]"), web.get_by_label("Use to [s]")
    whole = web.get_by_role("button", name="Whole log")
    says, caption = web.locator("#coast-down-says"), web.locator("#coast-down-log-caption")
    whole.press("Enter")
    expect(caption).to_contain_text("4 runs are used")
    expect(says).to_contain_text("The coast-downs give a drag area of 0.636 m²")
    expect(web).not_to_have_url(re.compile("coast-down-to-s"))
    start.focus()
    web.keyboard.type("1")  # not what was cleared: that, typed anew within half a second, is no change to the field
    web.keyboard.press("Tab")
    expect(end).to_be_focused()
    web.keyboard.type("168")
    expect(caption).to_contain_text("2 runs are used")
    expect(says).not_to_contain_text("0.636 m²")
    web.keyboard.press("ArrowUp")
    expect(end).to_have_value("168.5")
    expect(web).to_have_url(re.compile("coast-down-from-s=1&coast-down-to-s=168.5"))


def put_into_the_build(web: Page) -> None:
    """The result moves the top speed, goes out and in again, and the log is still there afterwards."""
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
    visit(web, re.sub(r"/road(\?[^#]*)#.*", r"/power\1#run", web.url))
    expect(web.locator("#run-changes")).to_contain_text(now)
    visit(web, web.url.replace("/power", "/road").replace("#run", "#coast-down"))
    expect(web.locator("#coast-down-says")).to_contain_text("The coast-downs give")  # the browser kept the log


def plot_box(web: Page) -> dict[str, float]:
    """Where the drawn log is."""
    plot = web.locator("#coast-down-log-graph .nsewdrag").first
    plot.scroll_into_view_if_needed()
    box = plot.bounding_box()
    assert box is not None
    return dict(box)


def test_a_stretch_is_dragged_out_of_the_chart_and_stays_in_the_link(web):
    """By the mouse, then on a phone by a finger."""
    visit(web, "/road#coast-down")
    web.locator("#coast-down-demo").click()
    caption = web.locator("#coast-down-log-caption")
    expect(caption).to_contain_text("4 runs are used")
    box = plot_box(web)
    middle = box["y"] + box["height"] / 2
    web.mouse.move(box["x"] + 2, middle)
    web.mouse.down()
    web.mouse.move(box["x"] + box["width"] * 0.2, middle, steps=4)
    web.mouse.move(box["x"] + box["width"] * 0.5, middle, steps=4)
    web.mouse.up()
    ends = [web.get_by_label(f"Use {end} [s]") for end in ("from", "to")]
    expect(ends[1]).to_have_value(re.compile(r"1\d\d"))
    expect(caption).to_contain_text("2 runs are used")
    expect(web).to_have_url(re.compile(r"coast-down-from-s=[\d.]+&coast-down-to-s=1\d\d"))
    dragged = [end.input_value() for end in ends]
    turn(web, "/power")
    web.go_back()
    expect(caption).to_contain_text("2 runs are used")
    assert dragged == [end.input_value() for end in ends]
    web.set_viewport_size(PHONE)
    web.reload()
    expect(caption).to_contain_text("2 runs are used")
    assert dragged == [end.input_value() for end in ends]
    web.get_by_role("button", name="Whole log").click()
    expect(caption).to_contain_text("4 runs are used")
    drawn_by_finger(web)
    expect(ends[1]).to_have_value(re.compile(r"1\d\d"))
    expect(caption).to_contain_text("2 runs are used")


def drawn_by_finger(web: Page) -> None:
    """A finger from the left end of the chart to its middle."""
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
    touch.send("Emulation.setTouchEmulationEnabled", {"enabled": False})


def test_files_of_ones_own(web, phone, tmp_path):
    """On one page: one log by the keyboard, one of a day, one whose columns are named by hand, and two that make one answer."""
    visit(web, "/road#ratios")
    expect(web.locator("#ratios-says")).to_contain_text("Open a log")
    one_file_and_what_is_none(web, tmp_path)
    unfolded(web, "own-ride")
    a_log_of_a_day(web, tmp_path)
    visit(phone, "/road#own-ride")  # another tab never sees it
    expect(phone.locator("#own-ride-says")).to_contain_text("Open a log")
    expect(phone.locator("#own-ride-named")).to_be_empty()
    columns_by_hand(web)
    unfolded(web, "coast-down")
    two_files_make_one_answer(web)


def one_file_and_what_is_none(web: Page, tmp_path) -> None:
    error, says = web.locator("#ratios-open-error"), web.locator("#ratios-says")
    chooser(web, "ratios").set_input_files(NO_LOG)
    expect(error).to_contain_text("notes.csv")
    large = tmp_path / "large.csv"
    large.write_bytes(b"1,2\n" * (open_logs.LARGEST // 4 + 50_000))
    chooser(web, "ratios").set_input_files(large)
    expect(error).to_contain_text("large.csv (12.2 MB) is larger than 12 MB")
    expect(error).to_contain_text("ridesim log")
    chooser(web, "ratios").set_input_files(GEARS)
    expect(says).to_contain_text("The log shows 5 gears")
    expect(error).to_be_empty()
    web.get_by_role("button", name="Remove gears.csv").focus()
    web.keyboard.press("Enter")
    expect(says).to_contain_text("Open a log")
    with web.expect_file_chooser() as picker:  # the same file once more
        web.locator("#ratios-upload").click()
    picker.value.set_files(GEARS)
    expect(says).to_contain_text("The log shows 5 gears")


def a_log_of_a_day(web: Page, tmp_path) -> None:
    """Long, it is sent beside the callbacks, and the browser keeps only its word."""
    day = tmp_path / "day.csv"
    rows = "".join(f"{n},{40 + n % 50}.125,{'x' * 4000}\n" for n in range(2_000))
    day.write_text("time [s],speed [km/h],note\n" + rows)
    assert 8_000_000 < day.stat().st_size < open_logs.LARGEST
    chooser(web, "own-ride").set_input_files(day)
    expect(web.locator("#own-ride-named")).to_contain_text("day.csv: 2,000 samples")
    expect(web.locator("#own-ride-says")).not_to_contain_text("Open a log")
    assert len(web.evaluate("window.sessionStorage.getItem('own-ride-kept')")) < 300


def columns_by_hand(web: Page) -> None:
    rows = "\n".join(f"{n};{60 + n % 7}" for n in range(200))
    file = {"name": "odd.csv", "mimeType": "text/csv", "buffer": f"alpha;gamma\n{rows}".encode()}
    chooser(web, "own-ride").set_input_files(file)
    expect(web.locator("#own-ride-open-error")).to_contain_text("Name the columns yourself")
    ride = web.locator("#own-ride")
    ride.get_by_text("Name the columns yourself, if").click()
    for label, value in (("time", "alpha"), ("speed", "gamma")):
        ride.get_by_label(f"Column of the {label}").fill(value)
    ride.get_by_label("Unit of the speed").fill("km/h")
    ride.get_by_role("button", name="Read it again").click()
    expect(web.locator("#own-ride-named")).to_contain_text("odd.csv: 200 samples")


def two_files_make_one_answer(web: Page) -> None:
    """They stand in the order of their names, are read together, and one is taken off again."""
    lines = COAST.read_text().splitlines()
    start = next(n for n, line in enumerate(lines) if line.startswith("time"))
    rows = lines[start + 1 :]
    out = [row for row in rows if float(row.split(",")[0]) <= 140]
    parts = [
        {"name": name, "mimeType": "text/csv", "buffer": "\n".join([lines[start], *part]).encode()}
        for name, part in (("ride 2.csv", out), ("ride 10.csv", rows[len(out) :]))
    ]
    chooser(web, "coast-down").set_input_files(parts[::-1])
    items, caption = web.locator("#coast-down-named li"), web.locator("#coast-down-log-caption")
    expect(items).to_have_count(2)
    expect(items.nth(0)).to_contain_text("ride 2.csv")  # as a phone counts them
    ways = web.get_by_label("Direction of each run")
    ways.fill("out, back, out, back")
    expect(caption).to_contain_text("4 runs are used")
    expect(web).to_have_url(re.compile("coast-down-ways=out"))
    chooser(web, "coast-down").set_input_files(NO_LOG)
    expect(web.locator("#coast-down-open-error")).to_contain_text("notes.csv")
    expect(items).to_have_count(2)
    web.get_by_role("button", name="Remove ride 10.csv").click()
    expect(items).to_have_count(1)
    ways.fill("out, back")
    expect(caption).to_contain_text("2 runs are used")
