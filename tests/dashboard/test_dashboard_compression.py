"""What goes over the wire: little of it, once, and only to a browser that can unpack it."""

from __future__ import annotations

import gzip
import re

import pytest

PACKED = {"Accept-Encoding": "gzip, br"}
PLOTLY = "/_dash-component-suites/plotly/package_data/plotly.min.js"
TABLE = "/_dash-component-suites/dash_ag_grid/dash_ag_grid.min.js"
MOST = 3_000_000  # bytes over the wire for a page with a chart


@pytest.fixture(scope="module")
def get(app):
    def answer(path, **more):
        with app.server.test_client().get(path, **more) as got:
            assert got.data
            return got

    return answer


def files(get) -> list[str]:
    return re.findall(r'(?:src|href)="(/(?:assets|_dash-comp)[^"]+)"', get("/gearing").text)


def test_a_page_with_its_charts_is_at_most_three_megabytes(get):
    sizes = [len(get(path, headers=PACKED).data) for path in [*files(get), PLOTLY]]
    assert 1_000_000 < sum(sizes) <= MOST


def test_the_table_library_is_no_part_of_a_page_and_can_be_had(get):
    assert not any("ag_grid" in path for path in files(get))
    assert get(TABLE, headers=PACKED).status_code == 200


def test_what_is_packed_is_the_same_unpacked(get):
    for path in (files(get)[-1], "/_dash-layout"):
        packed, plain = get(path, headers=PACKED), get(path)
        assert packed.headers["Content-Encoding"] == "gzip" and "Content-Encoding" not in plain.headers
        assert gzip.decompress(packed.data) == plain.data and len(packed.data) < len(plain.data)
        assert packed.headers["Vary"] == plain.headers["Vary"] == "Accept-Encoding"


def test_what_is_named_for_its_content_is_kept_and_an_answer_is_not(get):
    for path in files(get):
        lasting = "m=" in path or ".v" in path
        assert ("immutable" in get(path).headers["Cache-Control"]) == lasting, path
    assert get("/gearing").headers["Cache-Control"] == "no-store"
    assert get("/_dash-layout").headers["Cache-Control"] == "no-store"


def test_a_small_answer_stays_as_it_is(get):
    assert "Content-Encoding" not in get("/assets/mark.svg", headers=PACKED).headers
