"""Writers killed in the midst of it, a power cut, and two programs at once: nothing that was reported saved is lost."""

from __future__ import annotations

import json
import os
import random
import shutil
import subprocess
import sys
from pathlib import Path

import pytest
from support import garage_writer

from ridesim.garage import Garage

WRITER = Path(garage_writer.__file__)
KILLS, AT_ONCE = 100, 2
EACH = 100  # saves of two programs that write at once


def start(*arguments: object) -> subprocess.Popen[str]:
    return subprocess.Popen(
        [sys.executable, str(WRITER), *map(str, arguments)],
        stdout=subprocess.PIPE,
        stderr=subprocess.PIPE,
        text=True,
        env=os.environ | {"PYTHONPATH": os.pathsep.join(filter(None, sys.path))},
    )


def answer(process: subprocess.Popen[str]) -> dict:
    said, complained = process.communicate(timeout=300)
    assert process.returncode == 0, f"{process.args}\n{complained}"
    return json.loads(said)


@pytest.mark.slow
def test_kills_lose_no_revision_that_was_reported_saved(tmp_path):
    """kill -9 while files are made, revisions committed, logs checkpointed and files closed; trials kept in one step
    are all there or none; every kill is looked at."""
    seed = random.randrange(1_000_000)
    found = [answer(one) for one in [start("kill", tmp_path, KILLS // AT_ONCE, seed + n) for n in range(AT_ONCE)]]
    assert sum(one["kills"] for one in found) == KILLS
    assert sum(one["said"] for one in found) > KILLS // 4  # the writers did write
    assert sum(one["steps_of_trials"] for one in found) > 0
    assert sum(one["before_the_first_save"] for one in found) < KILLS  # and were not all killed before they began


def test_two_programs_that_write_at_once_lose_nothing(tmp_path):
    with Garage.open(tmp_path / "g") as garage:
        first = garage.save("bike", "a = 1\n")
    both = [start("write", tmp_path / "g", name, EACH) for name in ("one", "other")]
    saved = [revision for process in both for revision in answer(process)["saved"]]
    with Garage.open(tmp_path / "g") as garage:
        history = garage.history("bike")
        assert {revision.id for revision in history} == {first.id, *saved}
        assert [revision.number for revision in history] == list(range(1 + 2 * EACH, 0, -1))
        by_note = {revision.note: revision for revision in history}
        for name in ("one", "other"):
            assert all(by_note[f"{name} {n}"].text == f"{name} = {n}\n" for n in range(EACH))
        assert len(history[0].passed_over) == 2 * EACH - 1  # all the others were meant to follow the same first one
        garage.check()


def test_programs_that_make_the_same_file_at_once_all_succeed(tmp_path):
    assert answer(start("race", tmp_path, 8, 4)) == {"failed": 0}
    for number in range(8):
        with Garage.open(tmp_path / f"g{number}") as garage:
            assert len(garage.bikes()) == 4
            garage.check()


@pytest.mark.parametrize("tail", ["gone", "garbage"])
def test_a_power_cut_keeps_every_revision_whose_commit_reached_the_disk(tmp_path, tail):
    """The write-ahead log as it may be found after a power cut: whole up to some byte, and nothing or garbage after it."""
    chance = random.Random(7)
    file = tmp_path / "g"
    committed: list[tuple[str, int]] = []
    with Garage.open(file) as garage:
        for number in range(12):
            revision = garage.save("bike", garage_writer.text_of(number))
            committed.append((revision.id, Path(f"{file}-wal").stat().st_size))
        database, log = file.read_bytes(), Path(f"{file}-wal").read_bytes()
    assert committed[-1][1] == len(log), "a checkpoint came in between"
    lengths = [size for _, size in committed] + [chance.randrange(len(log)) for _ in range(20)]
    for number, length in enumerate(lengths):
        folder = tmp_path / f"{tail}{number}"
        folder.mkdir()
        (folder / "g").write_bytes(database)
        rest = chance.randbytes(len(log) - length) if tail == "garbage" else b""
        (folder / "g-wal").write_bytes(log[:length] + rest)
        with Garage.open(folder / "g") as garage:
            garage.check()
            kept = {revision.id for revision in garage.history("bike")} if garage.bikes() else set()
            assert {revision for revision, size in committed if size <= length} == kept
        shutil.rmtree(folder)
