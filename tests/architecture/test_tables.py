"""Every table names its sources, and every source is used."""

from __future__ import annotations

import pytest

from ridesim import reference

NAMES = sorted(p.stem for p in (reference.DATA / "reference").glob("*.csv"))


@pytest.mark.parametrize("name", NAMES)
def test_a_table_opens_and_every_row_has_its_source(name):
    assert reference.read_table(name)


def test_every_default_says_why():
    for path, default in reference.defaults().items():
        assert default["why"] and "value" in default, path


KINDS = {
    "standard",
    "regulation",
    "book",
    "paper",
    "report",
    "dataset",
    "manual",
    "library",
    "common-practice",
    "memory",
    "ours",
}


def test_a_source_has_a_title_and_says_what_kind_of_document_it_is():
    """No page of a blog, no copy of another's page, no handbook without a name: what has no document is common practice."""
    for key, source in reference.sources().items():
        assert source["title"], key
        assert source.get("kind") in KINDS, key
