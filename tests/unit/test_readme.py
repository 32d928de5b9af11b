"""The README: every command of its examples is run, and every line it shows is one that the command prints."""

from __future__ import annotations

import re
import shlex
from pathlib import Path

import pytest
from support.commands import answered

ROOT = Path(__file__).parents[2]
README = (ROOT / "README.md").read_text(encoding="utf-8")
# a block of commands, each with the lines it prints: shortened by leaving lines out, or by "..." within one
FENCED = re.findall(r"^```(\w*)\n(.*?)^```$", README, re.MULTILINE | re.DOTALL)
SESSIONS = [block for language, block in FENCED if not language and block.startswith("$ ridesim ")]


def plain(text: str) -> str:
    """A text whose lines may be broken and whose columns may be set otherwise."""
    return " ".join(text.split())


def test_there_are_examples():
    assert sum(block.count("$ ridesim ") for block in SESSIONS) >= 10


@pytest.mark.parametrize("block", SESSIONS, ids=lambda block: block.splitlines()[0][2:40])
def test_what_the_readme_shows_is_what_is_printed(capsys, monkeypatch, tmp_path, block):
    monkeypatch.chdir(ROOT)
    monkeypatch.setenv("COLUMNS", "80")
    monkeypatch.setenv("XDG_DATA_HOME", str(tmp_path))
    for example in block.removeprefix("$ ridesim ").split("$ ridesim "):
        command, *shown = example.splitlines()
        out, at = plain(answered(capsys, *shlex.split(command))), 0
        for piece in (piece for line in shown for piece in map(plain, line.split("...")) if piece):
            assert piece in out[at:], f"ridesim {command} does not print {piece!r} there"
            at = out.index(piece, at) + len(piece)
