"""What a rider does, done in the browser from end to end."""

from __future__ import annotations

import re
from pathlib import Path

import pytest
from playwright.sync_api import Page, expect
from support.screens import QUIET, fits, let_down, turn, visit

from dashboard import pages

pytestmark = pytest.mark.browser
FIRST = {"bike": "172 kg", "rider": "79", "tire": "120/90-17", "front": "14", "rear": "41", "torque": "35.4 N*m"}
CURVE = "2000\t30\n3000\t34\n4000\t37\n5000\t38\n6000\t36\n7000\t31"


def chosen(web: Page, field: str, option: str) -> None:
    """An option of a field that chooses."""
    let_down(web.locator(field))
    web.get_by_role("option", name=option, exact=True).locator("visible=true").first.click()


def first_answer(web: Page) -> None:
    """A few figures, one of them forgotten at first, and the answer in their place."""
    visit(web, "/")
    for key, text in FIRST.items():
        web.locator(f"#start-{key}").fill(text)
    go = web.get_by_role("button", name="Show my first answer")
    go.click()
    summary = web.locator(".error-summary")
    expect(summary).to_contain_text("Peak torque at: This is empty")
    expect(summary).to_be_focused()
    expect(summary).to_be_in_viewport()
    summary.get_by_role("link").click()
    expect(web.locator("#start-torque_at")).to_be_focused()
    web.keyboard.type("4500")
    go.click()
    answer = web.get_by_role("heading", name="My bike, 14/41, 120/90-17, first")
    expect(answer).to_be_focused()
    expect(web.locator("#start-says dd").first).to_be_in_viewport()
    expect(web.locator("#start-form")).to_be_hidden()
    expect(web.locator("#start-says")).to_contain_text("typical five-speed, a guess")


def test_a_first_answer_and_one_tooth(web):
    first_answer(web)
    was = web.locator("#start-says dd").first.inner_text()
    web.get_by_role("button", name="One tooth more in front").click()
    expect(web.locator("#strip-front")).to_have_text("15")
    expect(web.locator("#start-says dd").first).to_contain_text(f"{was} →")
    web.get_by_role("link", name="Gearing", exact=True).click()
    expect(web.locator("#field-planned-front")).to_have_value("15")
    web.goto("/")
    expect(web).to_have_url(re.compile("own="))  # a rider comes back to their own bike
    expect(web.get_by_role("heading", name="My bike, 14/41, 120/90-17, first")).to_be_visible()


# once the answers have come, the bar covers nothing at the foot of the page
FOOT_IN_VIEW = """() => {
  scrollTo(0, document.documentElement.scrollHeight);
  const [last, bar] = ['.foot a', '.strip'].map((one) => document.querySelector(one).getBoundingClientRect());
  return last.bottom <= bar.top && bar.top < innerHeight;
}"""


def test_a_first_answer_on_a_phone(phone):
    first_answer(phone)
    for page in pages.PAGES[1:]:
        turn(phone, page.path)
        fits(phone)
    turn(phone, "/gearing")
    strip = phone.get_by_role("region", name="Now and planned")
    strip.get_by_role("button", name="One tooth more, front").click()
    expect(strip).to_contain_text("→")
    phone.wait_for_function(FOOT_IN_VIEW)
    assert phone.locator(".top").bounding_box()["height"] < 160


def test_sprockets_are_ordered(web):
    visit(web, "/gearing")
    verdict = web.locator("#sprockets-verdict")
    expect(verdict).to_contain_text("Order a")
    first = verdict.inner_text()
    chosen(web, "#decide-need-wish", "The least fuel")
    expect(web).to_have_url(re.compile("need-wish=economy"))
    expect(verdict).not_to_have_text(first)
    web.locator("#decide-need-sure").fill("20 %")
    expect(web.get_by_text("must be between 50 and 99.9 %")).to_be_visible()
    web.locator("#decide-need-sure").fill("60 %")
    expect(web).to_have_url(re.compile("need-sure=60"))
    web.get_by_role("button", name="One tooth less, rear").click()
    expect(web.locator("#sprockets-chosen")).to_contain_text("To order")
    web.get_by_text("Does the chain fit?").click()
    expect(web.locator("#chain-says")).to_contain_text("links")
    expect(web).to_have_url(re.compile("#chain$"))
    web.reload()
    expect(web.locator("#chain-says")).to_contain_text("links")
    expect(web.locator("#chain > summary")).to_be_in_viewport()


def test_buttons_pressed_sooner_than_a_typed_figure_would_be_read(web):
    visit(web, "/gearing?front=14&planned-front=15&planned-rear=44")
    pressed = (["swap"], 15), (["swap", "swap"], 15), (["undo", "redo"], 15), (["undo", "swap", "undo"], 14)
    for names, front in pressed:
        for name in names:
            was = web.evaluate("(name) => { document.getElementById(name).click(); return location.search; }", name)
            web.wait_for_function("(was) => location.search !== was", arg=was)
        web.wait_for_timeout(700)  # what a field had to tell of what it was filled with, it has told
        web.wait_for_function(QUIET)
        expect(web).to_have_url(re.compile(rf"\?front={front}&"))
        expect(web.locator("#field-front")).to_have_value(str(front))


def test_a_tire_swapped(web):
    visit(web, "/tires")
    web.locator("#field-planned-rear-tire").fill("round and black")
    error = web.locator("[id$=field-planned-rear-tire-error]")
    expect(error).to_be_visible()
    expect(web.locator("main")).to_have_class(re.compile("dim"))
    web.locator("#field-planned-rear-tire").fill("130/90-17 M/C 68S")
    expect(error).to_have_count(0)
    swap = web.get_by_role("region", name="Does the other tire fit?")
    expect(swap).to_contain_text("130/90-17 M/C 68S")
    expect(web).to_have_url(re.compile(r"planned-rear-tire=130"))
    turn(web, "/gearing")
    expect(web.locator("#field-planned-rear-tire")).to_have_value("130/90-17 M/C 68S")


def test_stock_against_a_curve_that_is_pasted(web):
    visit(web, "/#bike")
    web.locator("#bike-points").fill(CURVE)
    web.locator("#bike-tune").fill("bench day")
    web.get_by_role("button", name="Use this curve").click()
    expect(web.locator("#field-planned-tune")).to_have_value("bench day")
    turn(web, "/power")
    expect(web.locator("#page")).to_contain_text("Did the tune gain?")
    expect(web.locator("#page")).to_contain_text("tune bench day")
    web.locator("#pull-view-image").scroll_into_view_if_needed()
    web.locator("#pull-view-graph .scatterlayer .trace").first.wait_for(state="attached")
    web.locator("#pull-back [role=slider]").focus()
    web.keyboard.press("ArrowRight")
    expect(web.locator("#pull-moved")).to_contain_text("5.0 mm farther back")
    expect(web).to_have_url(re.compile("back=5"))


def test_a_link_opened_again_shows_the_same(web, stranger, entrance):
    visit(web, "/gearing?front=fifteen&planned-front=16#cruise")
    expect(web.locator("#notice")).to_contain_text("fifteen")
    web.locator("#field-cruise").fill("65 mph")
    expect(web).to_have_url(re.compile(r"cruise=65"))
    web.get_by_role("button", name=re.compile("Units")).click()
    expect(web.locator("#cruise-said, #cruise")).to_contain_text("65 mph")
    web.get_by_role("button", name=re.compile("Theme")).click()
    said, link = web.locator("#cruise-says").inner_text(), web.url
    stranger.context.request.get(entrance, max_redirects=0)
    stranger.goto(link)
    expect(stranger.locator("#cruise-says")).to_have_text(said, use_inner_text=True)
    expect(stranger.locator("#field-cruise")).to_have_value("65 mph")
    web.reload()
    expect(web.locator("html")).to_have_attribute("data-theme", "dark")


def test_the_keyboard_alone(web):
    visit(web, "/gearing#gears")
    expect(web.locator("#gears-says")).not_to_be_empty()
    web.locator(".skip").first.focus()
    web.keyboard.press("Enter")
    expect(web.locator("main")).to_be_focused()
    seen: list[str] = []
    web.locator(".skip").first.focus()
    while "Table" not in seen and len(seen) < 90:
        web.keyboard.press("Tab")
        seen.append(web.evaluate("document.activeElement.id || document.activeElement.textContent.slice(0, 20)"))
    assert {"field-front", "field-planned-front", "field-cruise", "Power", "units", "strip-front-more"} <= set(seen)
    assert "Table" in seen, "the focus comes out of the fields again: no trap"
    web.locator("#field-planned-front").focus()
    web.keyboard.press("ArrowUp")
    expect(web.locator("#gears-says .say")).to_have_count(2)
    web.locator("#slider-cruise [role=slider]").focus()
    before, speed = web.locator("#gears-says").inner_text(), web.locator("#field-cruise").input_value()
    web.keyboard.press("ArrowRight")
    expect(web.locator("#gears-says")).not_to_have_text(before, use_inner_text=True)
    expect(web.locator("#field-cruise")).not_to_have_value(speed)  # the field follows when the hand rests
    web.locator("#cruise > summary").focus()
    web.keyboard.press("Enter")
    expect(web.locator("#cruise-says")).to_contain_text("km/h")


def test_a_build_goes_out_comes_back_and_is_mended(web, tmp_path):
    visit(web, "/?build=road-twin#bike")
    expect(web.locator("#bike-points")).to_have_value(re.compile("^2800"))
    with web.expect_download() as taken:
        web.get_by_role("button", name="Save as a file").click()
    saved = tmp_path / "twin.toml"
    taken.value.save_as(saved)
    text = saved.read_text(encoding="utf-8")
    assert 'name = "Road twin (invented)"' in text
    saved.write_text(text.replace("Road twin (invented)", "Twin from a file"), encoding="utf-8")
    upload = web.locator("#bike-upload input[type=file]")
    upload.set_input_files(saved)
    expect(web.locator("#bike-said")).to_contain_text("Twin from a file")
    wrong = tmp_path / "wrong.toml"
    wrong.write_text("name = 3", encoding="utf-8")
    upload.set_input_files(wrong)
    expect(web.locator("#bike-upload-error")).to_contain_text("masses")
    expect(web.locator("#bike-said")).to_contain_text("Twin from a file")
    form = web.locator("#bike-form")
    field = form.get_by_label("Rider", exact=True)
    field.fill("8800 kg")
    field.press("Tab")
    expect(form.get_by_text("must be at most 250 kg")).to_be_visible()
    field.fill("194 lb")
    field.press("Tab")
    expect(form.get_by_text("must be at most 250 kg")).to_have_count(0)
    assert web.evaluate("document.activeElement.tagName") == "INPUT", "the focus stays among the fields"
    turn(web, "/power")
    web.locator("#pull").get_by_text("What was assumed").click()
    own = web.get_by_label(re.compile("Your own: efficiency"))
    own.fill("1.9")
    own.press("Enter")
    expect(web.locator(".assumption").get_by_text("must be at most 1")).to_be_visible()
    own.fill("0.91")
    own.press("Enter")
    expect(web.locator(".assumption").get_by_text("must be at most 1")).to_have_count(0)


def test_the_sheet_is_printed_and_taken_away(web, tmp_path):
    from pypdf import PdfReader

    visit(web, "/garage?planned-front=16#sheet")
    web.locator("#sheet-force-graph .scatterlayer .trace").first.wait_for()
    for paper in ("A4", "Letter"):
        target = Path(tmp_path) / f"{paper}.pdf"
        web.pdf(path=target, format=paper)
        printed = PdfReader(target).pages
        text = printed[0].extract_text()
        assert len(printed) <= 2 and "The decision" in text and "Make both alike" not in text
    with web.expect_download() as taken:
        web.get_by_role("button", name="PDF, US letter").click()
    taken.value.save_as(tmp_path / "sheet.pdf")
    box = PdfReader(tmp_path / "sheet.pdf").pages[0].mediabox
    assert (round(float(box.width)), round(float(box.height))) == (612, 792)
