"""Every callback of the app is wired to something that is there, and nothing is there twice."""

from __future__ import annotations

import json
from collections import Counter
from typing import Any

import pytest

from dashboard import layout, pages
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
    for page in pages.ALL:
        every = Counter([*frame, *ids_in(page.layout(State()))])
        assert not [name for name, count in every.items() if count > 1], page.key
    fixed = Counter(
        name for page in pages.ALL for name in set(ids_in(page.layout(State()))) if not name.startswith("{")
    )
    assert not [name for name, count in fixed.items() if count > 1]


def test_every_callback_touches_only_what_some_layout_has(posted):
    known = set(ids_in(layout.layout())) | {name for page in pages.ALL for name in ids_in(page.layout(State()))}
    missing = set()
    for one in posted.dependencies:
        names = [i["id"] for i in (*one["inputs"], *one["state"])]
        outputs = "" if one.get("no_output") else one["output"]
        names += [part.rsplit(".", 1)[0].replace("\\.", ".") for part in outputs.strip(".").split("...")]
        missing |= {name for name in names if name and not name.startswith("{") and name not in known}
    assert not missing


def test_the_layouts_are_made_of_what_the_browser_knows(posted):
    assert posted.client.get("/_dash-layout").status_code == 200


@pytest.mark.parametrize("page", pages.ALL, ids=lambda p: p.key)
def test_every_page_is_turned_to_by_its_path(posted, page):
    answer = posted.post(
        "page.children",
        values={"place.pathname": page.path, "place.search": ""},
        outputs={"id": "page", "property": "children"},
    )
    heads = list(json.dumps(answer).lower().split('"type": "h1"'))
    assert len(heads) >= 2 or page.key == "sheet"


def test_a_path_that_is_none_leads_to_the_start(posted):
    assert pages.at("/nowhere").path == "/"
    assert pages.at("/gears/").key == "gears"


def test_pages_have_paths_and_names_of_their_own():
    for what in ("key", "path", "name"):
        values = [getattr(page, what) for page in pages.ALL]
        assert len(values) == len(set(values))
