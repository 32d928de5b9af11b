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
from collections.abc import Iterable
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass
from pathlib import Path
from queue import SimpleQueue

from coverage import CoverageData

sys.path.insert(0, str(Path(__file__).parent))
from sites import Mutant, chosen

ROOT = Path(__file__).parents[2]
PHYSICS = ("components", "environment", "mechanics", "fueling", "uncertainty", "answers", "selection", "logs/fits")
WORDS = re.compile(r"words|keys|answers/(text|frames|answer)\.py|__init__")  # what makes sentences and names
KINDS = ("ridesim", *(f"tests/{kind}" for kind in ("published", "reference", "identities", "regression", "unit")))
TOO_FAR = (
    "files",
    "garage_*",
    "own_texts",
    "logs_hostile",
    "logs_layouts",
    "sheet",
)  # of physics: files, processes, texts
AT_MOST_S = 120.0  # of tests on one mutant
AT_MOST = 500  # tests on one mutant
PER_TEST_S = 60  # a test that takes longer hangs
MEMORY_BYTES = 6 << 30
GOAL = 0.95
RUNNING: set[int] = set()  # process groups to end when the run is interrupted


@dataclass(frozen=True, kw_only=True)
class Outcome:
    """What became of a mutant: killed by a test, survived, or the same program in other words."""

    mutant: Mutant
    number: int
    killed_by: str
    equivalent: str
    tests: int
    took_s: float


@dataclass(frozen=True, kw_only=True)
class Reach:
    """Which tests run a line, seen once without a mutant, and how long each takes."""

    data: CoverageData
    took_s: dict[str, float]

    def tests(self, tree: Path, mutant: Mutant) -> list[str]:
        """The tests to run on a mutant, the quickest first: those that run its line, then those that run another of its file.

        What a shared fixture runs counts for all tests of that file.
        """
        by_line = self.data.contexts_by_lineno(str(tree / mutant.path))
        first, last = mutant.span()
        at_line = self._named(context for line in range(first, last + 1) for context in by_line.get(line, ()))
        in_file = self._named(context for contexts in by_line.values() for context in contexts)
        ordered = [
            *sorted(at_line, key=self.took_s.__getitem__),
            *sorted(in_file - at_line, key=self.took_s.__getitem__),
        ]
        until = itertools.accumulate(self.took_s[test] for test in ordered)
        return [test for test, sum_s in zip(ordered, until, strict=True) if sum_s < AT_MOST_S][:AT_MOST]

    def _named(self, contexts: Iterable[str]) -> set[str]:
        parts = {tuple(context.rpartition("|")[::2]) for context in contexts if context}
        files = {test.partition("::")[0] for test, phase in parts if phase == "setup"}
        return {test for test in self.took_s if test.partition("::")[0] in files} | (
            {test for test, _ in parts} & self.took_s.keys()
        )


def without_any(tree: Path, workers: int) -> Reach:
    """Run every test without a mutant: all must pass."""
    code, out = tried(
        tree,
        [
            "-n",
            str(workers),
            "--cov=ridesim",
            "--cov-report=",
            "--cov-context=test",
            "-vv",
            "--durations=0",
            "--durations-min=0.0005",
            *(f"--ignore-glob=*/test_{name}.py" for name in TOO_FAR),
            *KINDS,
        ],
    )
    if code:
        sys.exit(f"The tests are red without a mutant:\n{out[-3000:]}")
    took_s = dict.fromkeys(re.findall(r"PASSED (\S.*?)\s*$", out, re.MULTILINE), 0.0)
    for seconds, test in re.findall(r"^([\d.]+)s (?:setup|call) +(.*?)\s*$", out, re.MULTILINE):
        took_s[test] = took_s.get(test, 0.0) + float(seconds)
    data = CoverageData(str(tree / ".coverage"))
    data.read()
    return Reach(data=data, took_s=took_s)


def command(options: list[str]) -> list[str]:
    """pytest, stopping at the first failure and looking for no smaller example of it."""
    hang = ["-o", f"faulthandler_timeout={PER_TEST_S}", "-o", "faulthandler_exit_on_timeout=true"]
    plain = ["-p", "no:randomly", "-p", "no:cacheprovider", "--tb=no", "--hypothesis-profile=mutants"]
    return [sys.executable, "-m", "pytest", "-x", "-q", *plain, *hang, *options]


def tried(tree: Path, options: list[str], longest_s: float | None = None) -> tuple[int | None, str]:
    """Exit code and output of the tests in a tree; None where they took too long."""
    home = tree.parent / "home"
    home.mkdir(exist_ok=True)
    places = {name: str(home) for name in ("HOME", "TMPDIR", "XDG_DATA_HOME", "XDG_CONFIG_HOME", "XDG_CACHE_HOME")}
    threads = dict.fromkeys(("OMP_NUM_THREADS", "OPENBLAS_NUM_THREADS"), "1")
    process = subprocess.Popen(
        command(options),
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


def judged(number: int, mutant: Mutant, tree: Path, tests: list[str], same: dict[tuple[str, ...], str]) -> Outcome:
    """One mutant put into the tree, tried, and taken out again."""
    began, source = time.monotonic(), mutant.source
    key = (str(mutant.path), *mutant.lines()[1:])
    killed_by = ""
    if key not in same:
        file, names = tree / mutant.path, tree.parent / "tests.txt"
        names.write_text("\n".join(tests), encoding="utf-8")
        file.write_bytes(mutant.becomes)
        os.utime(file, (number + 1, number + 1))  # compiled code is told apart by whole seconds
        code, out = tried(tree, [f"@{names}"], 60 + 5 * AT_MOST_S) if tests else (0, "")
        file.write_bytes(source)
        os.utime(file, (0, 0))
        if code:
            first = re.search(r"^(?:FAILED|ERROR) (.*?)(?: - .*)?$", out, re.MULTILINE)
            killed_by = first[1] if first else "a test that hung" if "Timeout" in out else out.strip()[-200:]
        elif code is None:
            killed_by = out
    return Outcome(
        mutant=mutant,
        number=number,
        killed_by=killed_by,
        equivalent=same.get(key, ""),
        tests=len(tests),
        took_s=time.monotonic() - began,
    )


def in_words(outcome: Outcome) -> str:
    """What became of a mutant, and its change."""
    state = f"SURVIVED {outcome.tests} tests in {outcome.took_s:.0f} s"
    if outcome.equivalent:
        state = f"EQUIVALENT: {outcome.equivalent}"
    elif outcome.killed_by:
        state = f"killed in {outcome.took_s:.0f} s by {outcome.killed_by}"
    return shown(outcome.number, outcome.mutant, state)


def shown(number: int, mutant: Mutant, state: str = "") -> str:
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
        files = [path.relative_to(tree) for room in PHYSICS for path in sorted((tree / "ridesim" / room).glob("*.py"))]
        files = [path for path in files if not WORDS.search(str(path)) and str(path).startswith(given.only)]
        mutants = list(itertools.islice(chosen(tree, files, given.seed), given.first, given.first + given.count))
        numbers = range(given.first, given.first + len(mutants))
        if given.list:
            print("\n".join(map(shown, numbers, mutants)))
            return 0
        began = time.monotonic()
        reach = without_any(tree, given.workers)
        print(f"Without a mutant all {len(reach.took_s)} tests pass, in {time.monotonic() - began:.0f} s.", flush=True)
        lists = [reach.tests(tree, mutant) for mutant in mutants]

        def one(number: int, mutant: Mutant, tests: list[str]) -> Outcome:
            tree = trees.get()
            try:
                outcome = judged(number, mutant, tree, tests, reasons)
            finally:
                trees.put(tree)
            print(in_words(outcome), flush=True)
            return outcome

        with ThreadPoolExecutor(given.workers) as pool:
            try:
                return summed_up(list(pool.map(one, numbers, mutants, lists)))
            except KeyboardInterrupt:
                for pid in tuple(RUNNING):
                    os.killpg(pid, signal.SIGKILL)
                raise


def summed_up(outcomes: list[Outcome]) -> int:
    """The survivors once more, and the share of the others."""
    alive = [outcome for outcome in outcomes if not outcome.killed_by and not outcome.equivalent]
    same = sum(bool(outcome.equivalent) for outcome in outcomes)
    killed = len(outcomes) - same - len(alive)
    print("\n" + "\n".join(map(in_words, alive)))
    print(
        f"{killed} of {len(outcomes) - same} killed, {len(alive)} survived; {same} more are the same program in other words"
    )
    return int(killed < GOAL * (len(outcomes) - same))


if __name__ == "__main__":
    sys.exit(main())
