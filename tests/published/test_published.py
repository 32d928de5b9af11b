"""Every figure that a named document prints, to the digits printed, and the ledger in which they stand with all others."""

from __future__ import annotations

import csv
from collections import Counter
from dataclasses import replace

import pytest
from support.ledger import rows as ledger
from support.ledger import ship
from support.whole_bikes import BIKES

from ridesim import proof
from ridesim.reference import sources

pytestmark = pytest.mark.published

PRINTED = ledger.printed()
DOCUMENTS = {"standard", "regulation", "book", "paper", "report", "dataset", "manual"}


@pytest.mark.parametrize("case", PRINTED, ids=str)
def test_matches_the_printed_figure(case):
    assert case.inside, (
        f"computed {case.compute():.10g}, printed {case.printed} {case.unit}, allowed +-{case.allowed:.3g}"
    )


def test_no_id_is_used_twice():
    assert [name for name, number in Counter(case.id for case in ledger.cases()).items() if number > 1] == []


def test_every_figure_stands_in_a_document_that_was_read():
    """What is second-hand, from memory or common practice is told in the ledger, but is no figure of a document."""
    assert {case.standing for case in PRINTED} == {"read", "derived"}
    assert {case.standing for case in ledger.unread()} == {"second-hand", "from memory", "common practice"}
    found = {case.source: sources()[case.source] for case in PRINTED}
    assert [key for key, source in found.items() if source["kind"] not in DOCUMENTS] == []
    assert [key for key, source in found.items() if "second-hand" in source.get("note", "")] == []


def test_no_document_counts_for_more_than_its_share_and_there_are_enough():
    by_standing, by_document = ledger.counts({"standing": case.standing, "source": case.source} for case in PRINTED)
    assert {key: number for key, number in by_document.items() if number > ledger.MOST_OF_ONE_DOCUMENT} == {}
    assert by_standing["read"] >= 400 and len(by_document) >= 45


@pytest.mark.parametrize(
    ("change", "said"),
    [
        ({"locator": " "}, "where in the document"),
        ({"source": "a blog"}, "not in sources.toml"),
        ({"standing": "hearsay"}, "standing"),
        ({"tolerance": 1.0, "reason": ""}, "needs a reason"),
    ],
)
def test_a_row_that_cannot_be_found_again_is_refused(change, said):
    with pytest.raises(ValueError, match=said):
        replace(PRINTED[0], **change)


def test_a_wrong_figure_is_seen():
    case = next(case for case in PRINTED if case.tolerance is None)
    assert not replace(case, printed=f"{float(case.printed) + 2.2 * case.half_last_digit:.12g}").inside


def test_the_ledger_is_written_whole():
    """Every case once, under the names of COLUMNS, all inside what is allowed."""
    written = ledger.write()
    with ledger.LEDGER.open(encoding="utf-8", newline="") as lines:
        read = list(csv.DictReader(lines))
    assert read == written and tuple(read[0]) == ledger.COLUMNS
    assert len(read) == len(ledger.cases()) and {row["inside"] for row in read} == {"yes"}
    assert sum(ledger.counts(read)[0].values()) == len(read)
    assert all(row["function"].startswith("ridesim.") for row in read)


def test_what_the_wheel_carries_is_what_the_tests_compute():
    """Stale? PYTHONPATH=tests python -m support.ledger.ship writes data/proof anew."""
    shipped, fresh = shipped_rows("printed"), ship.printed()
    computed = [[float(row.pop("computed")) for row in rows] for rows in (shipped, fresh)]
    assert shipped == fresh
    assert computed[0] == pytest.approx(computed[1], rel=1e-9, abs=1e-12)  # the last digits are the machine's
    whole, times, *libraries = shipped_rows("checks")
    again = ship.by_libraries()
    worst = [[float(row.pop("worst")) for row in rows] for rows in (libraries, again)]
    assert libraries == again and worst[0] == pytest.approx(worst[1], rel=0.2, abs=1e-12)
    assert f"{len(BIKES)} whole bikes" in whole["what"] and f"{ship.STEPPED} bikes" in times["what"]


def test_every_printed_figure_stands_under_its_equation_and_every_check_keeps_its_bound():
    listed = Counter(one.name for topic in proof.TOPICS for one in proof.equations(topic))
    assert set(listed.values()) == {1}
    assert {row["function"] for row in ship.printed()} <= set(listed)
    assert all(0.0 <= check.worst <= check.allowed and check.figures > 1 for check in proof.checks())


def shipped_rows(name: str) -> list[dict[str, str]]:
    with (ship.FOLDER / f"{name}.csv").open(encoding="utf-8", newline="") as lines:
        return list(csv.DictReader(lines))
