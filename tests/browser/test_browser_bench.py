"""The bench and the garage in the browser: a tuning season from the first trial back to stock, and a build's history."""

from __future__ import annotations

import re

import pytest
from playwright.sync_api import Page, expect
from support.screens import clean, fits, turn

pytestmark = pytest.mark.browser
BENCH = ("/jets", "/symptoms", "/needle", "/intake", "/idle")


def saved_bike(web: Page, name: str) -> None:
    """A bike in the garage, open."""
    web.goto("/garage")
    expect(web.locator("#garage-says")).to_contain_text("not in the garage")
    web.get_by_label("Name of the bike").fill(name)
    web.get_by_label("Note", exact=True).fill("as bought")
    web.get_by_role("button", name="Save the open build").click()
    expect(web.locator("#garage-says")).to_contain_text(f"{name} is open at revision 1, the newest, as it was saved.")


def chosen(web: Page, label: str, option: str) -> None:
    web.get_by_role("textbox", name=label, exact=True).or_(
        web.get_by_role("combobox", name=label, exact=True)
    ).first.click()
    web.get_by_role("option", name=re.compile(option)).locator("visible=true").first.click()


def test_two_trials_a_proposal_and_back_to_stock(web):
    saved_bike(web, "Season bike")
    web.get_by_role("link", name="Trials", exact=True).click()
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
    expect(back).to_contain_text("main jet 120")
    expect(web).not_to_have_url(re.compile("Season|own="))
    link = web.get_by_role("link", name="Make it the planned set-up").first
    expect(link).to_have_attribute("href", re.compile(r"/engine\?revision=[0-9a-f]{20}.*planned-tune=stock"))
    link.click()
    expect(web).to_have_url(
        re.compile(r"/engine\?revision=[0-9a-f]{20}")
    )  # what is as it is now may leave the link again
    expect(web.locator("#field-planned-tune")).to_have_value("stock")
    expect(web.locator(".page .say").first).to_be_visible()


def test_saved_compared_restored(web):
    saved_bike(web, "History bike")
    web.locator("#field-front").fill("16")
    expect(web.locator("#garage-says")).to_contain_text("has been edited")
    web.get_by_label("Note", exact=True).fill("one tooth more")
    web.get_by_role("button", name="Save the open build").click()
    expect(web.locator("#garage-says")).to_contain_text("open at revision 2, the newest, as it was saved")
    chosen(web, "Older", "1: as bought")
    chosen(web, "Newer", "2: one tooth more")
    expect(web.locator("#garage-diff")).to_contain_text("1 value differs between revision 1 and revision 2.")
    expect(web.locator("#garage-diff")).to_contain_text("final_drive.front")
    clean(web)
    web.get_by_role("button", name="Restore revision 1").click()
    expect(web.locator("#garage-says")).to_contain_text("open at revision 3, the newest, as it was saved")
    expect(web.locator("#field-front")).to_have_value("14")
    web.get_by_role("button", name="Archive History bike").click()
    expect(web.locator("#garage-told")).to_contain_text("in the archive, with all its history")
    web.get_by_role("button", name="Bring back History bike").click()
    expect(web.locator("#garage-told")).to_contain_text("is back")


def test_a_file_goes_out_and_comes_in(web, tmp_path):
    saved_bike(web, "Carried bike")
    with web.expect_download() as handed:
        web.get_by_role("link", name="Download Carried bike as a file").click()
    path = tmp_path / "carried.json"
    handed.value.save_as(path)
    web.locator("#garage-upload input").set_input_files(path)
    expect(web.locator("#garage-told")).to_contain_text("Taken in: Carried bike, 0 new revisions")
    junk = tmp_path / "junk.json"
    junk.write_text("{}")
    web.locator("#garage-upload input").set_input_files(junk)
    expect(web.locator("#garage-told")).to_contain_text("is not a file with a bike")
    with web.expect_download() as whole:
        web.get_by_role("link", name="Download a backup of the whole garage").click()
    assert whole.value.suggested_filename.endswith(".sqlite3")


def test_another_window_saved_meanwhile(web):
    saved_bike(web, "Shared bike")
    other = web.context.new_page()
    other.goto(web.url)
    expect(other.locator("#garage-says")).to_contain_text("as it was saved")
    for one, teeth, number in ((other, "15", "2"), (web, "17", "3")):
        one.locator("#field-front").fill(teeth)
        expect(one.locator("#garage-says")).to_contain_text("has been edited")
        one.get_by_role("button", name="Save the open build").click()
        expect(one.locator("#garage-told")).to_contain_text(f"Saved as revision {number}")
    expect(web.locator("#garage-told")).to_contain_text("Meanwhile another revision was saved: all are kept")


def test_a_jet_is_asked_by_the_keyboard_and_the_link_opens_it_again(web):
    web.goto("/jets")
    says = web.locator("#jets-says")
    expect(says).to_contain_text("Fill in Jet fitted")
    web.get_by_role("button", name="Try an example").click()
    expect(says).to_contain_text("Example In this air jet 125 runs")
    web.locator("#jets-jet").focus()
    web.keyboard.press("Control+A")
    web.keyboard.type("110")
    expect(says).to_contain_text("In this air jet 110 runs")
    expect(web).to_have_url(re.compile(r"jet=110"))
    web.keyboard.press("Control+A")
    web.keyboard.type("0")
    expect(web.locator("#jets-jet-error, .mantine-InputWrapper-error").first).to_contain_text(
        "must be a number from 5 to 1000"
    )
    expect(says).to_contain_text("jet 110 runs")
    web.reload()
    expect(web.locator("#jets-jet")).to_have_value("110")
    web.get_by_role("button", name="Units: metric").click()
    expect(web.locator("#jets-go-altitude")).to_have_value("6562 ft")
    expect(says).to_contain_text("jet 110 runs")
    expect(web).to_have_url(re.compile(r"units=us"))


def test_readings_are_typed_into_the_grid(web):
    web.goto("/idle")
    web.get_by_role("button", name="Try an example").click()
    expect(web.locator("#idle-says")).to_contain_text("1.94 turns out")
    web.get_by_label("Reading 8, turns out").fill("3.1")
    web.get_by_label("Reading 8, engine speed").fill("1020")
    expect(web).to_have_url(re.compile(r"readings=.*3\.1%3A1020"))
    web.get_by_label("Reading 8, engine speed").fill("9000")
    expect(web.get_by_text("“9000” rev/min is no idle speed")).to_be_visible()


@pytest.mark.seen(dark=True)
def test_the_pages_of_a_bike_that_is_kept_in_dark(web):
    saved_bike(web, "Night bike")
    for path in ("/trials", "/garage"):
        turn(web, path)
        clean(web)


@pytest.mark.seen(width=360)
def test_the_pages_on_a_phone(web):
    saved_bike(web, "Pocket bike")
    for path in ("/trials", "/garage", *BENCH):
        turn(web, path)
        clean(web)
        fits(web)
