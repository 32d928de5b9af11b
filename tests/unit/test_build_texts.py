"""Texts of TOML that are no plain build: names and brackets of any depth, and the key that has two spellings."""

from __future__ import annotations

import pytest
from support.commands import refused

from ridesim import reference
from ridesim.buildfile.io import parse
from ridesim.cli.garage.trial_file import read_trials
from ridesim.errors import InputError

DEEP = {
    "heading": lambda n: f"[{'.'.join('a' * n)}]\n",
    "tune": lambda n: f"[tune.{'.'.join('a' * n)}]\n",
    "list of tables": lambda n: f"[[{'.'.join('a' * n)}]]\n",
    "key": lambda n: f"{'.'.join('a' * n)} = 1\n",
    "quoted key": lambda n: f"{'.'.join(['a', chr(34) + 'b' + chr(34)] * (n // 2))} = 1\n",
    "quantity": lambda n: f"[masses]\nbike.{'.'.join('a' * n)} = 1\n",
    "brackets": lambda n: f"a = {'[' * n}{']' * n}\n",
    "braces": lambda n: f"a = {'{a=' * n}1{'}' * n}\n",
}


@pytest.mark.parametrize("parts", [30, 1500, 20_000])
@pytest.mark.parametrize("shape", DEEP)
def test_names_and_brackets_of_any_depth_are_refused_with_a_sentence(shape, parts):
    with pytest.raises(InputError) as caught:
        parse(DEEP[shape](parts), "bike.toml")
    assert "bike.toml" in str(caught.value) and ("deep" in str(caught.value) or "dots" in str(caught.value))


def test_a_line_of_dots_in_a_comment_is_no_name():
    with pytest.raises(InputError) as caught:
        parse(f"# {'.' * 5000}\n# {'. ' * 5000}\n")
    assert "name: is missing" in str(caught.value)


def test_no_command_falls_over_them(tmp_path, capsys):
    file = tmp_path / "deep.toml"
    file.write_text(DEEP["braces"](1500), encoding="utf-8")
    garage = tmp_path / "garage.sqlite3"
    refused(capsys, "answers", file)
    refused(capsys, "garage", "save", file, "--unfinished", "--bike", "x", "--file", garage)
    with pytest.raises(InputError):
        read_trials(file)
    assert not garage.exists()


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
