"""The choice of sprockets as a rider makes it: needs typed, a point or a row taken, by hand and by keyboard alone."""

from __future__ import annotations

import re
from urllib.parse import urlencode

import pytest
from playwright.sync_api import expect
from support.screens import PHONE, fits, let_down, visit

pytestmark = pytest.mark.browser
MANY = "?" + urlencode(
    {
        "build": "plateau-single",
        "need-fronts": "13:19",
        "need-rears": "38:52",
        "need-tires": "120/90-17, 130/90-17, 140/80-17, 4.60-17, 110/90-17, 120/80-17",
        "need-tunes": "stock\nrejetted",
    }
)
SAYS = "#sprockets-says p"
ROW = "#sprockets-grid .ag-center-cols-container .ag-row[row-index='{}']"
PAIR = "#sprockets-grid .ag-pinned-left-cols-container .ag-row[row-index='{}'] .ag-cell"


def opened(web, query: str = "") -> None:
    """The page with its answer, its chart and its table."""
    visit(web, "/gearing" + query)
    web.locator(SAYS).wait_for()
    web.locator("#sprockets-choice-image").scroll_into_view_if_needed()
    web.locator("#sprockets-choice-graph .scatterlayer .trace").first.wait_for()
    web.locator(ROW.format(0)).wait_for()


def on_a_phone(web) -> None:
    """Nothing is wider, with the table of the chart and what misses a limit folded or not."""
    web.set_viewport_size(PHONE)
    web.locator(ROW.format(0)).wait_for()
    fits(web)
    web.locator("#sprockets-choice-table").locator("xpath=..").locator("summary").click()
    web.locator("#sprockets-missed").click()
    expect(web.locator("#sprockets-grid .ag-root")).to_have_attribute("aria-rowcount", re.compile(r"^(92|1261)$"))
    fits(web)


def test_a_limit_typed_is_held_and_goes_into_the_link_and_other_figures_are_traded(web):
    opened(web)
    field = web.get_by_label("Engine speed at most")
    expect(field).to_have_attribute("placeholder", "4700 rev/min")
    before = web.locator(SAYS).inner_text()
    field.fill("4600")
    expect(web.locator(SAYS)).not_to_have_text(before)
    expect(web).to_have_url(re.compile(r"need-revs-most=4600\+rev%2Fmin"))
    tight = web.locator(SAYS).inner_text()
    field.fill("4600 kg")
    expect(web.locator("[id$=sprockets-revs-most-error]")).to_contain_text("“4600 kg”")
    expect(web.locator("#sprockets-page")).to_have_class(re.compile("dim"))
    assert web.locator(SAYS).inner_text() == tight, "the last good answer stays"
    field.fill("none")
    expect(web.locator("#sprockets-page")).not_to_have_class(re.compile("dim"))
    expect(web.locator(SAYS)).not_to_have_text(tight)
    let_down(web.locator("#sprockets-across"))
    web.get_by_role("option", name="Top speed").click()
    expect(web.locator("#sprockets-choice-graph .xtitle")).to_have_text("Top speed [km/h]")
    let_down(web.locator("#sprockets-up"))
    web.get_by_role("option", name="Top speed").click()
    expect(web.get_by_text("is on the other axis already")).to_be_visible()
    expect(web.locator("#sprockets-choice-graph .ytitle")).to_contain_text("Wheel force in first")
    expect(web.locator(SAYS)).to_contain_text("between top speed and wheel force in first")
    said = web.locator(SAYS).inner_text()
    web.set_viewport_size(PHONE)
    web.reload()
    expect(web.locator(SAYS)).to_have_text(said)
    expect(web.get_by_label("Engine speed at most")).to_have_value("none")
    on_a_phone(web)


def test_a_point_becomes_the_planned_pair(web):
    opened(web, "?need-fronts=14:16&need-rears=44:46")
    point = web.locator("#sprockets-choice-graph .scatterlayer .point").first
    web.locator("#sprockets-choice-image").scroll_into_view_if_needed()
    box = point.bounding_box()
    web.mouse.move(box["x"] + box["width"] / 2, box["y"] + box["height"] / 2)
    web.locator("#sprockets-choice-graph .hoverlayer .hovertext").wait_for()
    web.mouse.down()
    web.mouse.up()
    expect(web).to_have_url(re.compile(r"planned-(front|rear)="))
    chosen = web.locator("#sprockets-chosen")
    expect(chosen).to_contain_text("To order")
    expect(chosen).to_contain_text("Before the chain is cut")
    front, rear = web.locator("#field-planned-front").input_value(), web.locator("#field-planned-rear").input_value()
    expect(chosen.locator("h3").first).to_contain_text(f"For {front}/{rear}")


def test_a_row_becomes_the_planned_pair_by_hand_and_by_keyboard_alone(web):
    opened(web, MANY)
    web.locator(ROW.format(1)).click()
    pair = web.locator(PAIR.format(1)).inner_text()
    expect(web.locator("#field-planned-front")).to_have_value(pair.split("/")[0])
    expect(web.locator("#field-planned-rear")).to_have_value(pair.split("/")[1])
    expect(web.locator(".ag-row-selected").first).to_contain_text(pair)
    web.evaluate("document.activeElement.blur()")
    web.locator("#sprockets-chain").focus()
    for _ in range(30):
        web.keyboard.press("Tab")
        if web.evaluate("!!document.activeElement.closest('#sprockets-grid')"):
            break
    for _ in range(5):
        web.keyboard.press("ArrowDown")
    focused = web.locator("#sprockets-grid .ag-cell-focus")
    row = focused.evaluate("cell => cell.closest('.ag-row').getAttribute('row-index')")
    assert int(row) >= 3
    web.keyboard.press("Enter")
    pair = web.locator(PAIR.format(row)).inner_text()
    expect(web.locator("#field-planned-rear")).to_have_value(pair.split("/")[1])
    expect(web.locator("#sprockets-chosen h3")).to_contain_text(f"For {pair}")
    assert web.evaluate("!!document.activeElement.closest('#sprockets-grid')"), "the focus stays in the table"
    for key in ("Tab", "Escape"):  # one stop, which both leave
        web.locator(PAIR.format(1)).click()
        web.keyboard.press("ArrowDown")
        assert web.evaluate("!!document.activeElement.closest('.ag-root-wrapper')")
        web.keyboard.press(key)
        assert not web.evaluate("!!document.activeElement.closest('.ag-root-wrapper')"), key
        assert web.evaluate("document.activeElement !== document.body"), key
    on_a_phone(web)
