"""How we know: every outside figure stands there with ours, and every page that answers leads to what is behind it."""

from __future__ import annotations

import json

from support.ledger.rows import rows

from dashboard import behind, pages
from dashboard.pages import how_we_know
from dashboard.url_state import State
from ridesim import proof


def test_every_outside_figure_stands_on_the_page_with_its_document():
    page = json.dumps(how_we_know.layout(State()).plan, ensure_ascii=False)
    ledger = rows()
    assert f"{len(ledger)} outside figures" in page
    shown = " ".join(page.split())
    for row in ledger:
        written = [json.dumps(row[key], ensure_ascii=False)[1:-1] for key in ("given", "printed", "title", "locator")]
        assert all(text in shown for text in written), row["id"]


def test_ours_is_shown_to_two_digits_more_than_theirs():
    line = next(
        one for topic in proof.TOPICS for e in proof.equations(topic) for one in e.printed if one.printed == "14.696"
    )
    assert how_we_know._rounded(line) == "14.69595"
    assert line.unit == "psi"


def test_every_page_that_shows_its_working_leads_to_what_is_behind_it():
    titles = {topic.key for topic in proof.TOPICS}
    assert titles == {key for keys in behind.BEHIND.values() for key in keys} | {"units"}
    for page in pages.SECTIONS.values():
        shown = json.dumps(page.layout(State()).to_plotly_json(), default=lambda one: one.to_plotly_json())
        assert ("The working, step by step" in shown) == (behind.PATH + "#" in shown), page.key
