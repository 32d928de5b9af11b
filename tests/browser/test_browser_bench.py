"""A tuning season, a build's history with its way back, and the fuel pages in US units, each from end to end."""

from __future__ import annotations

import re

import pytest
from playwright.sync_api import Page, expect
from support.screens import clean, let_down, visit

pytestmark = pytest.mark.browser


def saved_bike(web: Page, name: str) -> None:
    """A bike in the garage, open."""
    visit(web, "/garage")
    expect(web.locator("#garage-says")).to_contain_text("not in the garage")
    web.get_by_label("Name of the bike").fill(name)
    web.get_by_label("Note", exact=True).fill("as bought")
    web.get_by_role("button", name="Save the open build").click()
    expect(web.locator("#garage-says")).to_contain_text(f"{name} is open at revision 1, the newest, as it was saved.")


def opened(web: Page, page: str, section: str) -> None:
    """A section of a page, by its names."""
    web.get_by_role("link", name=page, exact=True).click()
    title = web.locator("summary").filter(has_text=section)
    title.wait_for()
    if not title.evaluate("title => title.parentElement.open"):
        title.click()


def chosen(web: Page, label: str, option: str) -> None:
    field = web.get_by_role("textbox", name=label, exact=True).or_(web.get_by_role("combobox", name=label, exact=True))
    let_down(field.first)
    web.get_by_role("option", name=re.compile(option)).locator("visible=true").first.click()


def test_two_trials_a_proposal_and_back_to_stock(web):
    saved_bike(web, "Season bike")
    opened(web, "Carburetor", "What to try next?")
    says = web.locator("#trials-says")
    expect(says).to_contain_text("Ride it once as the maker set it")
    web.locator("#trials-main-jets").fill("115, 117.5, 120, 122.5, 125")
    form = web.get_by_role("region", name="Write down a trial")
    form.get_by_label("Main jet", exact=True).fill("many")
    form.get_by_role("button", name="Keep this trial").click()
    expect(form).to_contain_text("“many” cannot be read")
    form.get_by_label("Main jet", exact=True).fill("120")
    for place in ("Closed to 1/8", "1/8 to 1/4", "1/4 to 3/4"):
        chosen(web, f"{place} throttle", "^Right$")
    chosen(web, "3/4 to full throttle", "^Lean$")
    form.get_by_role("button", name="Keep this trial").click()
    expect(says).to_contain_text("Go from main jet 120 to 122.5: it is lean at 3/4 to full throttle.")
    clean(web)
    form.get_by_role("button", name="Fill in what is proposed").click()
    expect(form.get_by_label("Main jet", exact=True)).to_have_value("122.5")
    for place in ("Closed to 1/8", "1/8 to 1/4", "1/4 to 3/4", "3/4 to full"):
        chosen(web, f"{place} throttle", "^Right$")
    form.get_by_role("button", name="Keep this trial").click()
    expect(says).to_contain_text("Leave it: it is right at every throttle opening")
    back = web.get_by_role("region", name="Back to stock")
    expect(back).to_contain_text("Put the main jet back from 122.5 to 120.")
    expect(web).not_to_have_url(re.compile("Season|own="))
    web.get_by_role("link", name="Make it the planned set-up").first.click()
    expect(web).to_have_url(re.compile(r"/power\?revision=[0-9a-f]{20}"))
    expect(web.locator("#field-planned-tune")).to_have_value("stock")


def test_a_history_undone_kept_and_brought_back(web):
    saved_bike(web, "History bike")
    says, front, dialog = web.locator("#garage-says"), web.locator("#field-front"), web.locator("dialog.ask")
    web.get_by_role("link", name="Gearing", exact=True).click()
    front.fill("16")
    expect(web).to_have_url(re.compile("front=16"))
    web.get_by_role("button", name="Undo").click()
    expect(front).to_have_value("14")
    web.locator("main").focus()
    web.keyboard.press("Control+Shift+Z")
    expect(front).to_have_value("16")
    opened(web, "My bike", "What the answers are computed from")
    let_down(web.locator("#bike-demo"))
    web.get_by_role("option", name="road-twin").click()
    expect(dialog).to_contain_text("changes that are not saved")
    dialog.get_by_role("button", name="Keep mine").click()
    expect(dialog).to_have_count(0)
    web.go_back()  # turns the page, and leaves the bike as it is
    expect(web).to_have_url(re.compile(r"/gearing\?.*front=16"))
    expect(front).to_have_value("16")
    web.get_by_role("link", name="Garage", exact=True).click()
    expect(says).to_contain_text("has been edited")
    web.get_by_label("Note", exact=True).fill("two teeth more")
    web.get_by_role("button", name="Save the open build").click()
    expect(says).to_contain_text("open at revision 2, the newest, as it was saved")
    chosen(web, "Older", "1: as bought")
    chosen(web, "Newer", "2: two teeth more")
    expect(web.locator("#garage-diff")).to_contain_text("1 value differs between revision 1 and revision 2.")
    web.get_by_role("button", name="Restore revision 1").click()
    expect(says).to_contain_text("open at revision 3, the newest, as it was saved")
    web.get_by_role("button", name="Archive History bike").click()
    expect(web.locator("#garage-told")).to_contain_text("in the archive, with all its history")


def test_fuel_in_us_units_from_an_example_to_ones_own(web):
    visit(web, "/carburetor?units=us#jets")
    says, note = web.locator("#jets-says"), web.locator("#jets-example-note")
    expect(says).to_contain_text("Fill in Jet fitted")
    web.locator("#jets").get_by_role("button", name="Try an example").click()
    expect(says).to_contain_text("Example In this air jet 125 runs")
    expect(web.locator("#jets-go-altitude")).to_have_value("6500 ft")
    web.locator("#jets-jet").fill("110")
    expect(says).to_contain_text("jet 110 runs")
    expect(note).not_to_contain_text("Jet fitted")
    web.locator("#jets-go-altitude").fill("8,200")
    expect(web).to_have_url(re.compile(r"go-altitude=8%2C200\+ft"))
    web.locator("#jets-jet").fill("0")
    expect(web.locator("#jets")).to_contain_text("must be a number from 5 to 1000")
    expect(says).to_contain_text("jet 110 runs")
    web.get_by_role("button", name="Units: US").click()
    expect(web.locator("#jets-go-altitude")).to_have_value("2499 m")
    web.get_by_role("button", name="Units: metric").click()
    expect(web).to_have_url(re.compile("units=us"))
    web.goto("/power#run")  # the choice is remembered where a link names none
    expect(web).to_have_url(re.compile("units=us"))
    expect(web.locator("#run-says")).to_contain_text("From rest to 60 mph")
    expect(web.locator("#run-says")).to_contain_text("the quarter mile in")
