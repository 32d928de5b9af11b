"""Names of eighty letters without a space, on a phone: nothing sticks out, and a log opened by hand can name every column."""

from __future__ import annotations

import pytest
from playwright.sync_api import expect
from support.screens import PHONE, answered, clean, fits, theme, turn, visit

pytestmark = pytest.mark.browser
LONG = "Windwaterwheelworksworkshopwheel" * 2


def test_a_bike_a_needle_and_an_exhaust_with_long_names(web):
    web.set_viewport_size(PHONE)
    visit(web, "/garage")
    theme(web, "dark")
    web.get_by_label("Name of the bike").fill(LONG)
    web.get_by_label("Note", exact=True).fill(LONG)
    web.get_by_role("button", name="Save the open build").click()
    expect(web.locator("#garage-says")).to_contain_text("revision 1")
    clean(web)
    fits(web)
    turn(web, "/carburetor")
    web.get_by_text("What to try next?").click()
    form = web.get_by_role("region", name="Write down a trial")
    for needle in (f"{LONG}1", f"{LONG}2"):
        form.get_by_label("Needle", exact=True).fill(needle)
        form.get_by_label("Exhaust", exact=True).fill(needle)
        form.get_by_role("button", name="Keep this trial").click()
        expect(web.locator("#trials-list")).to_contain_text(needle[-1])
        answered(web)
    expect(web.get_by_role("region", name="Back to stock")).to_contain_text(f"{LONG}2")
    clean(web)
    fits(web)


def test_a_log_with_two_elevations_and_a_clock_without_a_unit_is_read_by_hand(web):
    """Minutes under a heading without a unit look like seconds; only the positions tell that something is wrong."""
    rows = "".join(f"{k / 20:.2f},{34 + k % 3},{46 + 2.62e-4 * k:.6f},14.5,{300 + k},{290 + k}\n" for k in range(900))
    head = "time,speed [km/h],lat,lon,Altitude GPS [m],Altitude baro [m]\n"
    web.set_viewport_size(PHONE)
    visit(web, "/road#own-ride")
    file = {"name": f"{LONG}.csv", "mimeType": "text/csv", "buffer": (head + rows).encode()}
    web.locator("#own-ride-upload input[type=file]").set_input_files(file)
    notes = web.locator("#own-ride-notes")
    expect(notes).to_contain_text("times what the positions of the log give")
    expect(notes).to_contain_text("several columns could be it")
    web.get_by_text("Name the columns yourself, if").click()
    web.get_by_label("Unit of the time").fill("min")
    web.get_by_role("button", name="Read it again").click()
    expect(notes).not_to_contain_text("times what the positions")
    expect(notes).to_contain_text("several columns could be it")
    web.get_by_label("Column of the elevation").fill("altitude baro [m]")
    web.get_by_role("button", name="Read it again").click()
    expect(notes).not_to_contain_text("several columns could be it")
    expect(notes).not_to_contain_text("no elevation")
    fits(web)
