"""The pages show a rider's own texts as they were written: in words, in tables, and on charts, which read tags of their own."""

from __future__ import annotations

import json
import re

import pytest
from support.own_texts import HOSTILE, same_but_for

from dashboard import pages
from dashboard.url_state import SetUp, State, to_query
from ridesim.plots.style import verbatim

POSTED = ("start", "bike", *(s.key for page in pages.PAGES[1:4] for s in page.sections), "sheet")


def state(build) -> State:
    return State(own=build.text, planned=SetUp(front=16, rear_tire="130/80-18", tune=next(iter(build.record.tune))))


def shown(told, packed):
    """What is shown, but for links, which hold the build itself, and digests."""
    if isinstance(told, dict):
        return {key: shown(one, packed) for key, one in told.items()}
    if isinstance(told, list):
        return [shown(one, packed) for one in told]
    hidden = isinstance(told, str) and ("own=" in told or packed in told or re.fullmatch("-?[0-9a-f]{12,16}", told))
    return "" if hidden else told


@pytest.mark.parametrize("hostile", [HOSTILE[0] + HOSTILE[4], HOSTILE[1] + HOSTILE[5], HOSTILE[2] + HOSTILE[3]])
def test_every_page_holds_it_as_it_was_written(posted, hostile):
    def told(build):
        query = to_query(state(build))
        said = [posted.page(page, query) for page in POSTED]
        return json.loads(
            json.dumps(shown(said, build.text)).replace(json.dumps(verbatim(hostile))[1:-1], json.dumps(hostile)[1:-1])
        )

    assert same_but_for(told, hostile) > 20
