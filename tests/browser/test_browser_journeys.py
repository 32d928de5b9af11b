"""What a rider does, done in the browser from end to end."""

from __future__ import annotations

import re
from pathlib import Path

import pytest
from playwright.sync_api import Page, expect

pytestmark = pytest.mark.browser
SAYS = ".page .say"
LAST_FIELD = "field-planned-front"


def opened(web: Page, path: str) -> None:
    """A page with its answer and, where it has one, its first chart."""
    web.goto(path)
    web.locator(".page .say, .paper .say-list").first.wait_for()


def test_a_first_answer_of_ones_own(web):
    opened(web, "/")
    typed = {
        "Bike, all fluids": "172 kg",
        "You, in riding gear": "79",
        "Rear tire": "120/90-17",
        "Front sprocket": "14",
        "Rear sprocket": "41",
        "Primary drive": "70/29",
        "Gears, first to top": "31/12 29/17 26/20 23/22 20/23",
        "Peak torque": "35.4 N*m",
        "Peak power": "26 hp",
    }
    form = web.get_by_role("region", name="A first answer from a few figures")
    for label, text in typed.items():
        form.get_by_label(label, exact=True).fill(text)
    form.get_by_label("at engine speed").nth(0).fill("4500")
    form.get_by_role("button", name="Show my first answer").click()
    expect(form.get_by_text("This is empty.")).to_be_visible()
    form.get_by_label("at engine speed").nth(1).fill("6200")
    form.get_by_label("The gear ratios are a guess").check()
    form.get_by_role("button", name="Show my first answer").click()
    expect(web.get_by_role("heading", name="My bike, 14/41")).to_be_visible()
    expect(web).to_have_url(re.compile(r"own="))
    web.get_by_role("link", name="How quickly does it get going?").click()
    expect(web.get_by_role("heading", level=1, name="How quickly does it get going?")).to_be_visible()
    expect(web.locator(SAYS)).to_contain_text("From rest to 100.0 km/h")
    web.get_by_text("What was assumed").click()
    expect(web.get_by_text("gear ratios are marked as a guess")).to_be_visible()


def test_a_tire_swapped(web):
    opened(web, "/tires")
    web.locator("#field-planned-rear-tire").fill("130/90-17 M/C 68S")
    expect(web.locator(SAYS).nth(1)).to_contain_text("130/90-17 M/C 68S")
    swap = web.get_by_role("region", name="What the swap does")
    expect(swap).to_contain_text("instead of 120/90-17 M/C 64S")
    expect(web).to_have_url(re.compile(r"planned-rear-tire=130"))
    web.get_by_role("link", name="Gears", exact=True).click()
    expect(web.get_by_role("heading", level=1)).to_have_text("Speed in each gear")
    expect(web.locator("#field-planned-rear-tire")).to_have_value("130/90-17 M/C 68S")
    expect(web.locator(SAYS)).to_have_count(2)


def test_two_tunes_compared(web):
    opened(web, "/pull?build=plateau-single&tune=stock")
    web.locator("#field-planned-tune").click()
    web.get_by_role("option", name="rejetted").click()
    expect(web.locator(SAYS)).to_have_count(2)
    web.locator("#pull-map-table").locator("xpath=..").locator("summary").click()
    expect(web.locator("#pull-map-table")).to_contain_text("tune rejetted gives")
    web.get_by_role("button", name="Swap").click()
    expect(web.locator("#field-tune")).to_have_value("rejetted")
    expect(web.locator("#field-planned-tune")).to_have_value("stock")


def test_a_field_broken_and_mended(web):
    opened(web, "/gears?planned-front=16")
    said = web.locator(SAYS).nth(1).inner_text()
    field = web.locator("#field-planned-rear-tire")
    field.fill("round and black")
    error = web.locator("#field-planned-rear-tire-error, [id$=field-planned-rear-tire-error]")
    expect(error).to_be_visible()
    expect(web.locator("main")).to_have_class(re.compile("dim"))
    assert web.locator(SAYS).nth(1).inner_text() == said, "the last good answer stays"
    expect(web.locator(".scatterlayer .trace").first).to_be_attached()
    field.fill("130/90-17")
    expect(error).to_have_count(0)
    expect(web.locator("main")).not_to_have_class(re.compile("dim"))
    expect(web.locator(SAYS).nth(1)).not_to_have_text(said)


def test_a_link_opened_again_shows_the_same(web, entrance):
    opened(web, "/cruise")
    web.locator("#field-planned-front").fill("16")
    web.locator("#field-cruise").fill("65 mph")
    expect(web).to_have_url(re.compile(r"cruise=65"))
    web.get_by_role("button", name=re.compile("Units")).click()
    expect(web.locator(SAYS).nth(1)).to_contain_text("65.0 mph")
    said, link = web.locator(".says").inner_text(), web.url
    other = web.context.browser.new_context(base_url=link)
    page = other.new_page()
    page.goto(entrance)
    page.goto(link)
    expect(page.locator(SAYS)).to_have_count(2)
    assert page.locator(".says").inner_text() == said
    expect(page.locator("#field-cruise")).to_have_value("65 mph")
    other.close()


def test_a_bad_link_opens_and_says_what_was_left_out(web):
    opened(web, "/gears?front=fifteen&planned-front=16")
    expect(web.locator("#notice")).to_contain_text("fifteen")
    expect(web.locator("#field-front")).to_have_value("14")
    expect(web.locator("#field-planned-front")).to_have_value("16")


@pytest.mark.seen(width=360)
def test_a_phone_in_the_garage(web):
    for path in ("/", "/bike", "/gears?planned-front=16", "/tires?planned-rear-tire=130/90-17", "/lift", "/sheet"):
        opened(web, path)
        assert web.evaluate("document.documentElement.scrollWidth") <= 360, path
    opened(web, "/gears")
    web.locator("#set-ups > summary").click()
    web.locator("#field-planned-front").fill("16")
    expect(web.locator(SAYS)).to_have_count(2)
    web.locator("#menu > summary").click()
    web.get_by_role("link", name="Cruise", exact=True).click()
    expect(web.get_by_role("heading", level=1)).to_have_text("What does cruising take?")
    expect(web.locator(SAYS)).to_have_count(2)
    assert not web.locator("#menu").evaluate("menu => menu.open"), "the pages fold away once one is chosen"
    assert web.evaluate("document.documentElement.scrollWidth") <= 360


def test_the_keyboard_alone(web):
    opened(web, "/gears")
    web.keyboard.press("Tab")
    expect(web.locator(".skip")).to_be_focused()
    web.keyboard.press("Enter")
    expect(web.locator("main")).to_be_focused()
    seen = set()
    web.evaluate("document.activeElement.blur()")
    web.locator(".skip").focus()
    for _ in range(110):
        web.keyboard.press("Tab")
        seen.add(web.evaluate("document.activeElement.id || document.activeElement.textContent.slice(0, 20)"))
        if "set-up is as it" in seen or web.evaluate("document.activeElement.tagName") == "BODY":
            break
    assert {"field-front", LAST_FIELD, "field-cruise", "Cruise", "units"} <= seen
    assert "Table" in seen, "the focus comes out of the fields again: no trap"
    web.locator("#field-planned-front").focus()
    web.keyboard.press("ArrowUp")
    expect(web.locator(SAYS)).to_have_count(2)
    web.locator("#slider-cruise [role=slider]").focus()
    before = web.locator(SAYS).first.inner_text()
    web.keyboard.press("ArrowRight")
    expect(web.locator(SAYS).first).not_to_have_text(before)
    outline = web.evaluate(
        """(document.querySelector("nav a[href^='/cruise']").focus(), getComputedStyle(document.activeElement).outlineStyle)"""
    )
    assert outline != "none"


def test_a_build_goes_out_as_a_file_and_comes_back(web, tmp_path):
    opened(web, "/bike?build=road-twin")
    with web.expect_download() as taken:
        web.get_by_role("button", name="Save as a file").click()
    saved = tmp_path / "twin.toml"
    taken.value.save_as(saved)
    text = saved.read_text(encoding="utf-8")
    assert 'name = "Road twin (invented)"' in text
    saved.write_text(text.replace("Road twin (invented)", "Twin from a file"), encoding="utf-8")
    web.locator("#bike-upload input[type=file]").set_input_files(saved)
    expect(web.locator(SAYS)).to_contain_text("Twin from a file")
    wrong = tmp_path / "wrong.toml"
    wrong.write_text("name = 3", encoding="utf-8")
    web.locator("#bike-upload input[type=file]").set_input_files(wrong)
    expect(web.locator("#bike-upload-error")).to_contain_text("masses")
    expect(web.locator(SAYS)).to_contain_text("Twin from a file")


def test_a_figure_of_the_build_edited_with_its_error_beside_it(web):
    opened(web, "/bike")
    form = web.locator("#bike-form")
    field = form.get_by_label("Rider", exact=True)
    field.fill("8800 kg")
    field.press("Tab")
    expect(form.get_by_text("must be at most 250 kg")).to_be_visible()
    field.fill("194 lb")
    field.press("Tab")
    expect(form.get_by_text("must be at most 250 kg")).to_have_count(0)
    expect(web).to_have_url(re.compile("own="))
    assert web.evaluate("document.activeElement.tagName") == "INPUT", "the focus stays among the fields"


def test_a_power_curve_typed_in_the_grid_is_drawn_and_used(web):
    opened(web, "/bike")
    web.locator("#bike-curve-graph").scroll_into_view_if_needed()
    web.locator("#bike-curve-graph .scatterlayer .trace").wait_for()
    web.get_by_label("Value of point 3").fill("47")
    expect(web.locator("#bike-points")).to_have_value(re.compile(r"3500\t47"))
    web.get_by_role("textbox", name="Tune a new name").or_(web.locator("#bike-tune")).first.fill("bench day")
    web.get_by_role("button", name="Use this curve").click()
    expect(web.locator("#field-planned-tune")).to_have_value("bench day")
    expect(web.locator("#field-tune")).to_have_value("stock")
    web.get_by_role("link", name="Engine", exact=True).click()
    expect(web.locator(SAYS).nth(1)).to_contain_text("47.0 N·m")


def test_an_assumption_replaced_where_it_is_told(web):
    opened(web, "/gears?build=road-twin")
    web.get_by_text("What was assumed").click()
    field = web.get_by_label(re.compile("Your own: efficiency"))
    field.fill("1.9")
    field.press("Enter")
    expect(web.locator(".assumption").get_by_text("must be at most 1")).to_be_visible()
    field.fill("0.91")
    field.press("Enter")
    expect(web).to_have_url(re.compile("own="))


@pytest.mark.parametrize("paper", ["A4", "Letter"])
def test_the_sheet_prints_on_one_page(web, tmp_path, paper):
    from pypdf import PdfReader

    opened(web, "/sheet?planned-front=16")
    web.locator("#sheet-force-graph .scatterlayer .trace").first.wait_for()
    target = Path(tmp_path) / "sheet.pdf"
    web.pdf(path=target, format=paper)
    pages = PdfReader(target).pages
    assert len(pages) == 1
    text = pages[0].extract_text()
    assert "The decision" in text and "Take care" in text and "Make both alike" not in text


def test_the_sheet_is_taken_away_as_a_pdf(web, tmp_path):
    from pypdf import PdfReader

    opened(web, "/sheet?planned-front=16")
    with web.expect_download() as taken:
        web.get_by_role("button", name="PDF, US letter").click()
    taken.value.save_as(tmp_path / "sheet.pdf")
    box = PdfReader(tmp_path / "sheet.pdf").pages[0].mediabox
    assert (round(float(box.width)), round(float(box.height))) == (612, 792)


def test_the_theme_stays_with_the_browser(web):
    opened(web, "/gears")
    web.get_by_role("button", name=re.compile("Theme")).click()
    expect(web.locator("html")).to_have_attribute("data-theme", "dark")
    opened(web, "/cruise")
    expect(web.locator("html")).to_have_attribute("data-theme", "dark")
    assert "theme" not in web.url


def test_the_rider_moved_back_on_the_lift_page(web):
    opened(web, "/lift?back=120+mm")
    expect(web.locator("#lift-moved")).to_contain_text("120.0 mm farther back")
    web.locator("#lift-back [role=slider]").focus()
    web.keyboard.press("ArrowRight")
    expect(web.locator("#lift-moved")).to_contain_text("125.0 mm farther back")
    expect(web).to_have_url(re.compile("back=125"))
