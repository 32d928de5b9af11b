"""A garage that commands are run on."""

from __future__ import annotations

import json
import shutil
from collections.abc import Iterator
from pathlib import Path

import pytest
import typer
from support.commands import answered

from ridesim.cli.main import app, main


@pytest.fixture(scope="session", autouse=True)
def _one_tree() -> Iterator[None]:
    """The tree of the commands is built once in a process, as for a rider, and not for each command of a test."""
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr("ridesim.cli.main.app", typer.main.get_command(app))
        yield


@pytest.fixture
def file(tmp_path) -> Path:
    return tmp_path / "garage.sqlite3"


@pytest.fixture
def ask(capsys, file):
    """Run a command on the garage of the test, see it answer, and give what it printed."""

    def asked(*arguments: object) -> str:
        return answered(capsys, *arguments, "--file", file)

    return asked


@pytest.fixture
def told(ask):
    """The same, as the JSON object it prints."""
    return lambda *arguments: json.loads(ask(*arguments, "--json"))


@pytest.fixture(scope="module")
def story(tmp_path_factory) -> Path:
    """A garage with the demo single and its seven trials, made once by the commands."""
    made = tmp_path_factory.mktemp("story") / "garage.sqlite3"
    for arguments in (
        ("garage", "save", "coast-single", "--note", "as bought"),
        ("trial", "add", "Coast single (invented)", "--from", "trials"),
    ):
        with pytest.raises(SystemExit) as caught:
            main([*arguments, "--file", str(made)])
        assert not caught.value.code
    return made


@pytest.fixture
def stocked(story, file) -> None:
    """The test's own copy of that garage."""
    shutil.copyfile(story, file)


@pytest.fixture(autouse=True)
def _wide(monkeypatch):
    """A terminal in which sentences stay on one line; narrower ones have tests of their own."""
    monkeypatch.setenv("COLUMNS", "400")
