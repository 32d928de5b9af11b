"""Writers for the garage that are killed or run side by side; started as a process of its own by the tests.

    python garage_writer.py kill FOLDER KILLS SEED     fork a writer, kill -9 it at a random moment, look, KILLS times
    python garage_writer.py write FILE NAME COUNT      save COUNT revisions, all meant to follow the bike's first one
    python garage_writer.py race FOLDER FILES WRITERS  FILES times, let WRITERS processes make the same new file at once

Each prints one JSON object. The killed writer is a fork of a process that has done its imports, so that a kill costs a few
milliseconds; it opens the file after the fork, as SQLite asks.
"""

from __future__ import annotations

import json
import os
import random
import select
import signal
import sys
import time
import traceback
from collections import Counter
from pathlib import Path

from support.trials import trial

from ridesim.garage.store import Garage
from ridesim.garage.trials import Settings, Trial

TRIALS_AT_ONCE = 4  # kept in one step once an opening: all of them or none
KILLS_PER_FILE = 25  # then a new file, so that its making is under fire too
SAVES_PER_OPENING = 7  # then close and open again, so that the checkpoint at closing is under fire too


def text_of(number: int) -> str:
    """The build text of a save: a few pages at times, so that a commit is more than one write."""
    return f'count = {number}\nremark = "{"ü" * (number * 977 % 9000)}"\n'


def trials_of(number: int) -> list[Trial]:
    """Trials to keep in one step, each built on the one before it, with long remarks so that a commit is many writes."""
    made: list[Trial] = []
    for size in range(TRIALS_AT_ONCE):
        how = {"builds_on": made[-1].id if made else None, "note": str(number), "put_back": "ü" * (number * 977 % 900)}
        made.append(trial(settings=Settings(main_jet=110.0 + size), **how))
    return made


def save_until_killed(file: Path, out: int, start: int) -> None:
    """Save revision after revision, and say each one's id once save has returned; some trials after the first one."""
    number = start
    while True:
        with Garage.open(file) as garage:
            for place in range(SAVES_PER_OPENING):
                revision = garage.save("bike", text_of(number), note=str(number))
                os.write(out, f"{revision.id} {number}\n".encode())
                if place == 0:
                    garage.add_trials("bike", trials_of(number))
                    os.write(out, f"trials-{number} {number}\n".encode())
                number += 1


def killed_writer(file: Path, start: int, live_s: float, from_first_save: bool) -> dict[str, int]:
    """Let a writer live for a while, kill it, and return what it said was saved.

    The while counts from the fork, so that opening and making the file are hit, or from the first save.
    """
    reader, writer = os.pipe()
    child = os.fork()
    if child == 0:
        try:
            os.close(reader)
            save_until_killed(file, writer, start)
        except BaseException:
            traceback.print_exc()
        finally:
            os._exit(1)  # reached by a fault only
    os.close(writer)
    if from_first_save:
        select.select([reader], [], [], 30.0)
    time.sleep(live_s)
    os.kill(child, signal.SIGKILL)
    _, status = os.waitpid(child, 0)
    assert os.WIFSIGNALED(status), "the writer ended by itself"
    with os.fdopen(reader, "rb") as pipe:
        *lines, cut_off = pipe.read().decode().split("\n")
    assert not cut_off
    return {revision: int(number) for revision, number in (line.split() for line in lines)}


def kill(folder: Path, kills: int, seed: int) -> dict[str, int]:
    chance = random.Random(seed)
    said: dict[str, int] = {}
    counts = {"kills": 0, "said": 0, "steps_of_trials": 0, "before_the_first_save": 0}
    start = 0
    for count in range(kills):
        file = folder / f"garage-{seed}-{count // KILLS_PER_FILE}.sqlite3"
        if count % KILLS_PER_FILE == 0:
            counts["said"] += len(said)
            said, start = {}, 0
        from_first_save = chance.random() < 0.6
        new = killed_writer(file, start, 0.015 * chance.random(), from_first_save)
        said |= new
        with Garage.open(file) as garage:
            history = {one.id: one for one in garage.history("bike")} if garage.bikes() else {}
            kept = Counter(one.note for one in garage.trials("bike")) if garage.bikes() else Counter()
            assert set(kept.values()) <= {TRIALS_AT_ONCE}, "some trials of one step were kept and others were not"
            for name, number in said.items():
                if name.startswith("trials-"):
                    assert str(number) in kept, f"the trials of step {number} are lost"
                else:
                    assert history[name].text == text_of(number), f"revision {number} came back changed"
            for one in history.values():
                assert one.text == text_of(int(one.note)), f"revision {one.note} is torn"
            assert sorted(one.number for one in history.values()) == list(range(1, len(history) + 1))
            if count % 10 == 9:
                garage.check()
        start = max((int(one.note) + 1 for one in history.values()), default=0)
        counts["kills"] += 1
        counts["steps_of_trials"] += sum(name.startswith("trials-") for name in new)
        counts["before_the_first_save"] += not new
    counts["said"] += len(said)
    return counts


def write(file: Path, name: str, count: int) -> dict[str, list[str]]:
    with Garage.open(file, wait_s=60.0) as garage:
        first = garage.history("bike")[-1].id
        return {
            "saved": [garage.save("bike", f"{name} = {n}\n", note=f"{name} {n}", parent=first).id for n in range(count)]
        }


def race(file: Path, writers: int) -> int:
    """How many of some writers fail to make the same new file; none begins before all are there."""
    start, ready = os.pipe()
    children = []
    for number in range(writers):
        child = os.fork()
        if child == 0:
            failed = 1
            os.close(ready)
            os.read(start, 1)
            try:
                with Garage.open(file) as garage:
                    garage.save(f"bike {number}", "a = 1\n")
                failed = 0
            except BaseException:
                traceback.print_exc()
            finally:
                os._exit(failed)
        children.append(child)
    os.close(ready)
    return sum(os.waitpid(child, 0)[1] != 0 for child in children)


if __name__ == "__main__":
    what, where, *rest = sys.argv[1:]
    if what == "kill":
        answer = kill(Path(where), int(rest[0]), int(rest[1]))
    elif what == "write":
        answer = write(Path(where), rest[0], int(rest[1]))
    else:
        answer = {"failed": sum(race(Path(where) / f"g{n}", int(rest[1])) for n in range(int(rest[0])))}
    print(json.dumps(answer))
