"""Every table names its sources, every source is used, and the built wheel carries them all."""

from __future__ import annotations

import os
import subprocess
import sys
import zipfile
from pathlib import Path

import pytest

from ridesim import reference

NAMES = sorted(p.stem for p in (reference.DATA / "reference").glob("*.csv"))


@pytest.mark.parametrize("name", NAMES)
def test_a_table_opens_and_every_row_has_its_source(name):
    assert reference.read_table(name)


def test_what_is_second_hand_does_not_count_as_read():
    second_hand = {key for key, source in reference.sources().items() if "second-hand" in source.get("note", "")}
    for path in sorted((reference.DATA / "reference").glob("*.csv")):
        rows = reference.read_table(path.stem)
        assert {
            row["locator"] for row in rows if row["standing"] == "READ" and row["source"] in second_hand
        } == set(), path


def test_every_default_says_why():
    for path, default in reference.defaults().items():
        assert default["why"] and "value" in default, path


KINDS = [
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
]


def test_a_source_has_a_title_and_says_what_kind_of_document_it_is():
    """No page of a blog, no copy of another's page, no handbook without a name: what has no document is common practice."""
    for key, source in reference.sources().items():
        assert source["title"], key
        assert source.get("kind") in KINDS, key


ROOT = Path(__file__).parents[2]


@pytest.fixture(scope="module")
def unpacked(tmp_path_factory):
    """The wheel, built from this tree and unpacked."""
    from hatchling.builders.wheel import WheelBuilder

    folder = tmp_path_factory.mktemp("wheel")
    artifact = next(WheelBuilder(str(ROOT)).build(directory=str(folder), versions=["standard"]))
    target = folder / "site"
    with zipfile.ZipFile(artifact) as archive:
        archive.extractall(target)
    return target


def test_every_data_file_is_in_the_wheel(unpacked):
    expected = {p.relative_to(ROOT / "data") for p in (ROOT / "data").rglob("*") if p.is_file()}
    within = unpacked / "ridesim" / "data"
    found = {p.relative_to(within) for p in within.rglob("*") if p.is_file()}
    assert found == expected and expected
    assert (unpacked / "ridesim" / "py.typed").is_file()


def test_every_table_opens_from_the_wheel(unpacked):
    code = (
        "from ridesim import reference; import pathlib; assert 'site' in str(reference.DATA), reference.DATA\n"
        "for p in sorted((reference.DATA / 'reference').glob('*.csv')): assert reference.read_table(p.stem), p\n"
        "from ridesim.cli.main import main; main(['answers', 'coast-single', '--json'])"
    )
    done = subprocess.run(
        [sys.executable, "-P", "-c", code],
        cwd=unpacked,
        capture_output=True,
        text=True,
        env={**os.environ, "PYTHONPATH": str(unpacked)},
        check=False,
    )
    assert done.returncode == 0, done.stderr
    assert '"top_speed_kmh"' in done.stdout
