"""The page that is sent says the answer before any script has run: the library's sentence, the fields, and nothing that is a rider's code."""

from __future__ import annotations

import html
import logging
import re

import pytest

from dashboard import behind, pages, queries
from dashboard.first_paint import TURN, html_of
from dashboard.static_html import static_html
from dashboard.url_state import SetUp, State, to_query
from ridesim.answers.text import sentence
from ridesim.buildfile.io import parse

PLANNED = State(planned=SetUp(front=16), cruise="112 km/h")


@pytest.fixture(scope="module")
def sent(app):
    """What is sent for an address, the part that is read first."""

    def of(path: str, state: State | str) -> str:
        query = state if isinstance(state, str) else to_query(state)
        page = app.server.test_client().get(path + query).text
        return page.partition('<div class="served">')[2].partition('<div id="react-entry-point">')[0]

    return of


def test_a_page_does_not_wait_for_ever_for_another_to_be_drawn(sent):
    with TURN:
        assert "rev/min" in sent("/gearing", PLANNED)


def words(markup: str) -> str:
    return " ".join(html.unescape(re.sub("<[^>]+>", " ", markup)).split())


@pytest.mark.parametrize("place", pages.ALL, ids=lambda place: place.name)
def test_every_page_arrives_with_its_answer_and_nothing_goes_wrong(sent, place, caplog):
    caplog.set_level(logging.ERROR)
    served = sent(place.path, PLANNED)
    assert not caplog.records
    assert len(re.findall("<h1", served)) == 1 and "Loading" not in served and " id=" not in served
    assert re.search(r'class="say[ "-].*?\w', served) or place.path in ("/", behind.PATH)
    assert f'href="{place.path}{html.escape(to_query(PLANNED))}" aria-current="page"' in served
    assert "16/41" in served, "both set-ups in words"


@pytest.mark.parametrize("system", ["metric", "us"])
def test_the_sentence_that_is_sent_is_the_librarys(sent, system):
    state = State(planned=SetUp(front=16), units=system)
    pair = queries.pair("pull", state)
    served = words(sent("/power", state))
    assert sentence(pair.now, system) in served and sentence(pair.planned, system) in served
    assert "Every figure" in served and pair.changes[0].now.label in served


def test_the_units_that_the_browser_has_chosen_hold_where_the_link_names_none(app):
    client = app.server.test_client()
    client.set_cookie("ridesim-units", "us")
    assert "Units: US" in client.get("/tires").text and "Units: metric" in client.get("/tires?units=metric").text


def test_the_fields_arrive_filled(sent):
    served = sent("/", PLANNED)
    fields = re.findall(r'<div class="served-field"><span>(.*?)</span><span>(.*?)</span></div>', served)
    assert {("Front sprocket", "14"), ("Front sprocket", "16"), ("Cruising speed", "112 km/h")} <= set(fields)


def test_a_link_that_cannot_be_used_is_told_of(sent):
    served = words(sent("/", "?front=fifteen&planned-front=16"))
    assert "fifteen" in served and "left out" in served and "16/41" in served


def test_nothing_of_a_rider_is_code(sent):
    name = "<script>alert(1)</script>\"'><b>"
    build = parse(queries.build_of("coast-single", None).text.replace("Coast single (invented)", "NAME"))
    text = build.text.replace('"NAME"', '"""' + name.replace('"', '\\"') + '"""')
    for path in ("/", "/garage"):
        served = sent(path, State(own=parse(text).text))
        assert "<script" not in served and "<b>" not in served and 'x"' not in served
    assert "alert(1)" in words(sent("/", State(own=parse(text).text)))


def test_what_only_stands_there_is_drawn_as_the_browser_draws_it():
    from dash import html as parts

    table = parts.Td("5 < 6", className="num", colSpan=2, style={"paddingLeft": "1px", "--from": "2%"}, hidden=True)
    row = parts.Tr([None, table, [parts.Br(), 7]], **{"aria-label": 'the "row"'})
    drawn = '<tr aria-label="the &quot;row&quot;"><td class="num" colspan="2" hidden style="padding-left:1px;--from:2%">5 &lt; 6</td><br>7</tr>'
    for one in (row, static_html(row)):
        assert sorted(html_of(one, {})) == sorted(drawn)
