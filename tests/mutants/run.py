"""Does a test notice when the physics is wrong? Makes mutants, runs the tests that fit, prints the survivors.

    python tests/mutants/run.py                 100 mutants, two at a time
    python tests/mutants/run.py --count 20 --first 40 --only ridesim/mechanics

A mutant is one line of the physics made wrong: an operator swapped, a sign turned, a constant or an index changed, a
comparison turned round, a term dropped, front taken for rear. Each is tried in a copy of the tree that is gone afterwards.
The seed chooses the mutants; the same seed and the same file give the same ones.
"""

from __future__ import annotations

import argparse
import itertools
import os
import re
import shutil
import signal
import subprocess
import sys
import tempfile
import time
import tomllib
from collections import Counter
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass
from pathlib import Path
from queue import SimpleQueue
from typing import Literal

sys.path.insert(0, str(Path(__file__).parent))
from sites import Mutant, chosen

ROOT = Path(__file__).parents[2]
PHYSICS = ("components", "environment", "mechanics", "fueling", "uncertainty", "answers", "selection", "logs/fits")
WORDS = re.compile(r"words|keys|answers/(text|frames|answer)\.py|__init__")  # what makes sentences and names
KINDS = ("published", "reference", "identities", "regression", "unit")
TOO_FAR = tuple(f"test_{name}" for name in ("files", "garage_", "own_texts", "logs_odd", "logs_layouts", "sheet"))
FIRST = ("tests/regression/test_regression_demo.py", "tests/published/test_published.py",
         "tests/unit/test_answer_record.py", "tests/identities/test_identities_meaning.py")  # fmt: skip
AT_MOST_S = 1800.0  # of one round of tests on one mutant
PER_TEST_S = 60  # a test that takes longer hangs
MEMORY_BYTES = 6 << 30
NO_FILE, NO_TESTS = 4, 5  # exit codes of pytest
GOAL = 0.95
RUNNING: set[int] = set()  # process groups to end when the run is interrupted


@dataclass(frozen=True)
class Outcome:
    """What became of a mutant: killed, survived, or equivalent, the same program in other words; and all of that as it is printed."""

    became: Literal["killed", "survived", "equivalent"]
    told: str


def tests_of(tree: Path) -> dict[str, str]:
    """The files of tests, and their texts."""
    found = (path for kind in KINDS for path in sorted((tree / "tests" / kind).glob("test_*.py")))
    near = [path for path in found if not path.name.startswith(TOO_FAR)]
    return {str(path.relative_to(tree)): path.read_text(encoding="utf-8") for path in near}


def rounds_of(tests: dict[str, str], mutant: Mutant) -> tuple[list[str], ...]:
    """Files to run on a mutant, round by round: those that see most and those that name most of its file; the next; all others."""
    module = str(mutant.path)[:-3].replace("/", ".")
    room, _, name = module.rpartition(".")
    defined = set(re.findall(r"^(?:def|class) ([A-Za-z]\w{5,})", mutant.source.decode(), re.MULTILINE))

    def names(file: str) -> int:
        """How much a file of tests speaks of the file of the mutant: its module, what it defines, its room."""
        text = tests[file]
        named = sum(bool(re.search(rf"\b{one}\b", text)) for one in defined)
        return 4 * (module in text) + 2 * min(3, named) + 2 * (name.partition("_")[0] in file) + (room in text)

    others = [file for file in sorted(tests, key=names, reverse=True) if file not in FIRST]
    return [str(mutant.path), *FIRST, *others[:5]], others[5:18], others[18:]


def tried(tree: Path, options: list[str], longest_s: float | None = None) -> tuple[int | None, str]:
    """Exit code and output of the tests in a tree, up to the first failure and with no smaller example of it; None where it took too long."""
    hang = ["-o", f"faulthandler_timeout={PER_TEST_S}", "-o", "faulthandler_exit_on_timeout=true"]
    plain = ["-p", "no:randomly", "-p", "no:cacheprovider", "--tb=no", "--hypothesis-profile=mutants"]
    home = tree.parent / "home"
    home.mkdir(exist_ok=True)
    places = {name: str(home) for name in ("HOME", "TMPDIR", "XDG_DATA_HOME", "XDG_CONFIG_HOME", "XDG_CACHE_HOME")}
    threads = dict.fromkeys(("OMP_NUM_THREADS", "OPENBLAS_NUM_THREADS"), "1")
    process = subprocess.Popen(
        [sys.executable, "-m", "pytest", "-x", "-q", *plain, *hang, *options],
        cwd=tree,
        env={**os.environ, **places, **threads, "PYTHONPATH": str(tree)},
        stdout=subprocess.PIPE,
        stderr=subprocess.STDOUT,
        text=True,
        start_new_session=True,
        preexec_fn=_with_bounded_memory,
    )
    RUNNING.add(process.pid)
    try:
        out, _ = process.communicate(timeout=longest_s)
    except subprocess.TimeoutExpired:
        return None, "took too long"
    finally:
        if process.poll() is None:
            os.killpg(process.pid, signal.SIGKILL)
            process.wait()
        RUNNING.discard(process.pid)
        shutil.rmtree(home, ignore_errors=True)
    return process.returncode, out


def _with_bounded_memory() -> None:
    import resource

    resource.setrlimit(resource.RLIMIT_AS, (MEMORY_BYTES, MEMORY_BYTES))


def copied(place: Path) -> Path:
    """A copy of the tree to make wrong."""
    tree = place / "tree"
    leave = shutil.ignore_patterns("__pycache__", ".*", "build")
    for name in ("ridesim", "dashboard", "data", "tests"):
        shutil.copytree(ROOT / name, tree / name, ignore=leave)
    for name in ("pyproject.toml", "README.md", "DEVELOPERS.md"):
        shutil.copy2(ROOT / name, tree / name)
    return tree


def judged(number: int, mutant: Mutant, tree: Path, tests: dict[str, str], same: dict[tuple[str, ...], str]) -> Outcome:
    """One mutant put into the tree, tried, and taken out again."""
    if reason := same.get((str(mutant.path), *mutant.lines()[1:])):
        return Outcome("equivalent", shown(number, mutant, f"EQUIVALENT: {reason}"))
    began, file = time.monotonic(), tree / mutant.path
    file.write_bytes(mutant.becomes)
    os.utime(file, (number + 1, number + 1))  # compiled code is told apart by whole seconds
    try:
        for n, files in enumerate(rounds_of(tests, mutant), start=1):
            code, out = tried(tree, files, AT_MOST_S)
            if code == NO_FILE:
                sys.exit(out)
            if code not in (0, NO_TESTS):
                first = re.search(r"^(?:FAILED|ERROR) (.*?)(?: - .*)?$", out, re.MULTILINE)
                by = first[1] if first else "a test that hung" if "Timeout" in out else out.strip()[-200:]
                state = f"killed in round {n}, {time.monotonic() - began:.0f} s, by {by}"
                return Outcome("killed", shown(number, mutant, state))
        return Outcome("survived", shown(number, mutant, f"SURVIVED in {time.monotonic() - began:.0f} s"))
    finally:
        file.write_bytes(mutant.source)
        os.utime(file, (0, 0))


def shown(number: int, mutant: Mutant, state: str = "") -> str:
    """A mutant, what became of it, and its change."""
    line, was, becomes = mutant.lines()
    return f"{number:3} {mutant.path}:{line} ({mutant.kind}) {state}\n    - {was}\n    + {becomes}"


def options() -> argparse.Namespace:
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("--count", type=int, default=100, help="mutants to try (100)")
    parser.add_argument(
        "--first", type=int, default=0, help="number of the first of them, to go on where a run stopped (0)"
    )
    parser.add_argument("--seed", type=int, default=1, help="chooses the mutants (1)")
    parser.add_argument("--workers", type=int, default=2, help="tried at the same time (2)")
    parser.add_argument("--only", default="ridesim", help="mutants of this file or folder alone")
    parser.add_argument("--list", action="store_true", help="print them and try none")
    return parser.parse_args()


def main() -> int:
    given = options()
    for ended in (signal.SIGINT, signal.SIGTERM):
        signal.signal(ended, signal.default_int_handler)  # so that the copies go, whoever ends the run
    same = tomllib.loads((Path(__file__).parent / "equivalent.toml").read_text(encoding="utf-8"))["mutant"]
    reasons = {(one["file"], one["was"], one["becomes"]): one["reason"] for one in same}
    with tempfile.TemporaryDirectory(prefix="mutants-", ignore_cleanup_errors=True) as place:
        Path(place).chmod(0o755)  # some tests run as another user
        trees: SimpleQueue[Path] = SimpleQueue()
        for n in range(given.workers):
            trees.put(tree := copied(Path(place) / str(n)))
        files = [path.relative_to(tree) for room in PHYSICS for path in sorted((tree / "ridesim" / room).rglob("*.py"))]
        files = [path for path in files if not WORDS.search(str(path)) and str(path).startswith(given.only)]
        mutants = list(itertools.islice(chosen(tree, files, given.seed), given.first, given.first + given.count))
        numbers = range(given.first, given.first + len(mutants))
        if given.list:
            print("\n".join(map(shown, numbers, mutants)))
            return 0
        tests = tests_of(tree)
        code, out = tried(tree, ["-n", str(given.workers), "ridesim", *tests])
        if code:
            sys.exit(f"The tests are red without a mutant:\n{out[-3000:]}")

        def one(number: int, mutant: Mutant) -> Outcome:
            tree = trees.get()
            try:
                outcome = judged(number, mutant, tree, tests, reasons)
            finally:
                trees.put(tree)
            print(outcome.told, flush=True)
            return outcome

        with ThreadPoolExecutor(given.workers) as pool:
            try:
                return summed_up(list(pool.map(one, numbers, mutants)))
            except KeyboardInterrupt:
                for pid in tuple(RUNNING):
                    os.killpg(pid, signal.SIGKILL)
                raise


def summed_up(outcomes: list[Outcome]) -> int:
    """The survivors once more, and the share of the others."""
    became = Counter(outcome.became for outcome in outcomes)
    others = became["killed"] + became["survived"]
    print("", *(outcome.told for outcome in outcomes if outcome.became == "survived"), sep="\n")
    print(
        f"{became['killed']} of {others} killed, {became['survived']} survived; "
        f"{became['equivalent']} more are the same program in other words"
    )
    return int(became["killed"] < GOAL * others)


if __name__ == "__main__":
    sys.exit(main())
