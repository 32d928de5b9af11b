"""Every callback of the app is wired to something that is there, and nothing is there twice."""

from __future__ import annotations

import json
from collections import Counter
from typing import Any

import pytest
from support.posted import texts

from dashboard import layout, pages
from dashboard.pages.page import inside
from dashboard.url_state import State


def ids_in(component: Any) -> list[str]:
    """The ids of a component and all in it, patterns as JSON."""
    found = []
    stack = [component]
    while stack:
        one = stack.pop()
        if isinstance(one, list | tuple):
            stack.extend(one)
        elif hasattr(one, "to_plotly_json"):
            name = getattr(one, "id", None)
            if name is not None:
                found.append(name if isinstance(name, str) else json.dumps(name, sort_keys=True))
            stack.extend(getattr(one, prop) for prop in one._prop_names if prop != "id" and hasattr(one, prop))
    return found


def test_no_page_has_an_id_twice_and_none_takes_one_of_another():
    frame = ids_in(layout.layout())
    for page in pages.PAGES:
        whole = [*ids_in(page.layout(State())), *(i for s in page.sections[1:] for i in ids_in(inside(s, State())))]
        every = Counter([*frame, *whole])
        assert not [name for name, count in every.items() if count > 1], page.path
    fixed = Counter(
        name
        for section in pages.SECTIONS.values()
        for name in set(ids_in(section.layout(State())))
        if not name.startswith("{")
    )
    assert not [name for name, count in fixed.items() if count > 1]
    titles = [section.title for section in pages.SECTIONS.values()]
    assert len(titles) == len(set(titles))


def test_every_callback_touches_only_what_some_layout_has(posted):
    known = set(ids_in(layout.layout()))
    known |= {name for section in pages.SECTIONS.values() for name in ids_in(section.layout(State()))}
    missing = set()
    for one in posted.dependencies:
        names = [i["id"] for i in (*one["inputs"], *one["state"])]
        outputs = "" if one.get("no_output") else one["output"]
        names += [part.rsplit(".", 1)[0].replace("\\.", ".") for part in outputs.strip(".").split("...")]
        missing |= {name for name in names if name and not name.startswith("{") and name not in known}
    assert not missing


@pytest.mark.parametrize("page", pages.PAGES, ids=lambda page: page.name)
def test_every_page_is_turned_to_and_every_section_unfolded(posted, page):
    where = {"place.pathname": page.path, "place.search": ""}
    turned = posted.post("page.children", "desk.className", values=where)["response"]
    heads = [word for word in texts(turned["page"]["children"]) if word]
    assert heads[0] == page.name and [section.title in heads for section in page.sections]
    assert turned["desk"]["className"] == ("desk" if page.set_ups else "desk alone")
    for section in page.sections[1:]:
        name = {"kind": "room-title", "room": section.key}
        room = json.dumps({"kind": "room", "room": section.key}, separators=(",", ":"))
        assert section.lead in texts(posted.unfolded(name)["response"][room]["children"])


def test_a_section_unfolded_before_the_link_is_read_shows_what_the_address_asks_for(posted):
    title = {"kind": "room-title", "room": "sheet"}
    asked = {query: posted.unfolded(title, query, "?planned-front=17") for query in (None, "", "?planned-front=17")}
    assert asked[None] == asked["?planned-front=17"]


def test_older_addresses_lead_to_their_sections_with_what_they_ask(posted):
    for path, place in pages.OLD.items():
        answer = posted.client.get(f"{path}?planned-front=16&units=us")
        assert answer.status_code == 302
        assert answer.headers["Location"] == place.replace("#", "?planned-front=16&units=us#")
    assert {"/gears", "/chain", "/sprockets", "/pull", "/lift", "/jets", "/trials", "/own-ride", "/sheet"} <= set(
        pages.OLD
    )


def test_an_address_that_is_none_says_so(posted):
    assert posted.client.get("/nowhere").status_code == 404
    assert posted.client.get("/gearing/").status_code == 200
    turned = posted.post("page.children", "desk.className", values={"place.pathname": "/nowhere"})["response"]
    assert "There is no page at this address" in texts(turned["page"]["children"])
