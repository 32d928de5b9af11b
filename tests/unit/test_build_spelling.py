"""The one key of a build file that has two spellings: centre_distance, and center_distance."""

from __future__ import annotations

import pytest

from ridesim import reference
from ridesim.buildfile.io import parse
from ridesim.errors import InputError

TEXT = (reference.DATA / "demo" / "coast-single.toml").read_text(encoding="utf-8")
AMERICAN = TEXT.replace("centre_distance =", "center_distance =")


def test_the_american_spelling_is_read_and_can_be_changed():
    build = parse(AMERICAN)
    assert build.record == parse(TEXT).record and build.record.final_drive.centre_distance is not None
    longer = build.changed({"final_drive.centre_distance": "0.6 m"})
    assert longer.record.final_drive.centre_distance == 0.6
    assert build.changed({"final_drive.centre_distance": None}).record.final_drive.centre_distance is None


def test_both_spellings_at_once_and_the_words_of_a_note_are_told_apart():
    with pytest.raises(InputError, match="twice"):
        parse(AMERICAN.replace("center_distance =", 'centre_distance = "0.6 m"\ncenter_distance ='))
    assert "# center_distance = now" in parse(f"{TEXT}\n# center_distance = now\n").text
