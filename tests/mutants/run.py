"""Does a test notice when the physics is wrong? Makes mutants, runs the tests that fit, prints the survivors.

    python tests/mutants/run.py                 100 mutants, two at a time
    python tests/mutants/run.py --count 20 --first 40 --only ridesim/mechanics

A mutant is one line of the physics made wrong: an operator swapped, a sign turned, a constant or an index changed, a
comparison turned round, a term dropped, front taken for rear. Each is tried in a copy of the tree that is gone afterwards.
The seed chooses the mutants; the same seed and the same code give the same ones.
"""

from __future__ import annotations

import argparse
import ast
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
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass
from pathlib import Path
from queue import SimpleQueue

sys.path.insert(0, str(Path(__file__).parent))
from sites import Mutant, chosen

ROOT = Path(__file__).parents[2]
PHYSICS = ("components", "environment", "mechanics", "fueling", "uncertainty", "answers", "selection", "logs/fits")
WORDS = re.compile(r"words|keys|answers/(text|frames|answer)\.py|__init__")  # what makes sentences and names
KINDS = ("reference", "published", "identities", "unit")
TOO_FAR = re.compile(
    r"test_(cli|commands|garage|sheet|own_texts|files|public|units|logs_(layouts|hostile|shapes|quirks|read))"
)
WHOLE = "tests/identities/test_identities_from_scratch.py"
WITHOUT_LEDGER = ("answers", "selection", "logs", "uncertainty", "mechanics")
PER_TEST_S = 150  # a test that takes longer hangs
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
    took_s: float


def imported(path: Path, root: Path) -> set[str]:
    """The modules a test file imports, also by way of what stands in tests/support."""
    names: set[str] = set()
    left = [path]
    while left:
        new: set[str] = set()
        for node in ast.walk(ast.parse(left.pop().read_bytes())):
            if isinstance(node, ast.Import):
                new |= {alias.name for alias in node.names}
            elif isinstance(node, ast.ImportFrom) and node.module:
                new |= {node.module, *(f"{node.module}.{alias.name}" for alias in node.names)}
        helpers = (
            root / "tests" / f"{name.replace('.', '/')}.py" for name in new - names if name.startswith("support.")
        )
        left += filter(Path.exists, helpers)
        names |= new
    return names


def tests(root: Path) -> dict[str, set[str]]:
    """The test files that fit the physics, in the order of their kinds, and what each imports."""
    files = (path for kind in KINDS for path in sorted((root / "tests" / kind).glob("test_*.py")))
    return {str(path.relative_to(root)): imported(path, root) for path in files if not TOO_FAR.match(path.name)}


def fitting(module: Path, every: dict[str, set[str]]) -> list[str]:
    """What is run on a mutant of a module, in this order: its own examples, the tests that import it, three whole bikes worked
    out from scratch, the printed figures, the tests of its room, more whole bikes."""
    name = ".".join(module.with_suffix("").parts)
    room = name.split(".")[1]
    own = (
        str(module.parent / "__init__.py"),
        str(module),
    )  # a package before its modules: pytest imports them in this order
    nearest = [test for test, names in every.items() if name in names]
    ledger = [test for test in every if re.search("published|libraries", test) and room not in WITHOUT_LEDGER]
    near = [test for test, names in every.items() if any(f"{one}.".startswith(f"ridesim.{room}.") for one in names)]
    whole = f"{WHOLE}::test_the_demo_builds"
    return [*own, *dict.fromkeys(test for test in (*nearest, whole, *ledger, *near) if test != WHOLE), WHOLE]


def command(paths: list[str]) -> list[str]:
    """pytest, stopping at the first failure and looking for no smaller example of it."""
    hang = ["-o", f"faulthandler_timeout={PER_TEST_S}", "-o", "faulthandler_exit_on_timeout=true"]
    plain = ["-p", "no:randomly", "-p", "no:cacheprovider", "--tb=no", "--hypothesis-profile=mutants"]
    return [sys.executable, "-m", "pytest", "-x", "-q", *plain, *hang, *paths]


def tried(tree: Path, paths: list[str], longest_s: float | None = None) -> tuple[int | None, str]:
    """Exit code and output of the tests in a tree; None where they took too long."""
    home = tree.parent / "home"
    home.mkdir(exist_ok=True)
    places = {name: str(home) for name in ("HOME", "TMPDIR", "XDG_DATA_HOME", "XDG_CONFIG_HOME", "XDG_CACHE_HOME")}
    threads = dict.fromkeys(("OMP_NUM_THREADS", "OPENBLAS_NUM_THREADS"), "1")
    process = subprocess.Popen(
        command(paths),
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


def judged(number: int, mutant: Mutant, tree: Path, paths: list[str], longest_s: float, equal: dict) -> Outcome:
    """One mutant put into the tree, tried, and taken out again."""
    began, source = time.monotonic(), mutant.source
    key = (str(mutant.path), *mutant.lines()[1:])
    killed_by = ""
    if key not in equal:
        file = tree / mutant.path
        file.write_bytes(mutant.becomes)
        os.utime(file, (number + 1, number + 1))  # compiled code is told apart by whole seconds
        code, out = tried(tree, paths, longest_s)
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
        equivalent=equal.get(key, ""),
        took_s=time.monotonic() - began,
    )


def told(outcome: Outcome) -> str:
    """What became of a mutant, and its change."""
    state = f"SURVIVED {outcome.took_s:.0f} s"
    if outcome.equivalent:
        state = f"EQUIVALENT: {outcome.equivalent}"
    elif outcome.killed_by:
        state = f"killed in {outcome.took_s:.0f} s by {outcome.killed_by}"
    return shown(outcome.number, outcome.mutant, state)


def shown(number: int, mutant: Mutant, state: str = "") -> str:
    line, was, becomes = mutant.lines()
    return f"{number:3} {mutant.path}:{line} ({mutant.kind}) {state}\n    - {was}\n    + {becomes}"


def asked() -> argparse.Namespace:
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("--count", type=int, default=100, help="mutants to try (100)")
    parser.add_argument(
        "--first", type=int, default=0, help="number of the first of them, to go on where a run stopped (0)"
    )
    parser.add_argument("--seed", type=int, default=1, help="chooses the mutants (1)")
    parser.add_argument("--workers", type=int, default=2, help="tried at the same time (2)")
    parser.add_argument("--only", default="ridesim", help="mutants of this file or folder alone")
    parser.add_argument("--list", action="store_true", help="print them and try none")
    parser.add_argument("--trust", action="store_true", help="do not first see that every test passes without a mutant")
    return parser.parse_args()


def main() -> int:
    ask = asked()
    for ended in (signal.SIGINT, signal.SIGTERM):
        signal.signal(ended, signal.default_int_handler)  # so that the copies go, whoever ends the run
    equal = tomllib.loads((Path(__file__).parent / "equivalent.toml").read_text(encoding="utf-8"))["mutant"]
    reasons = {(one["file"], one["was"], one["becomes"]): one["reason"] for one in equal}
    with tempfile.TemporaryDirectory(prefix="mutants-", ignore_cleanup_errors=True) as place:
        trees: SimpleQueue[Path] = SimpleQueue()
        for n in range(ask.workers):
            trees.put(tree := copied(Path(place) / str(n)))
        files = [path.relative_to(tree) for room in PHYSICS for path in sorted((tree / "ridesim" / room).glob("*.py"))]
        files = [path for path in files if not WORDS.search(str(path)) and str(path).startswith(ask.only)]
        mutants = list(itertools.islice(chosen(tree, files, ask.seed), ask.first, ask.first + ask.count))
        numbers = range(ask.first, ask.first + len(mutants))
        if ask.list:
            print("\n".join(map(shown, numbers, mutants)))
            return 0
        every = tests(tree)
        paths = [fitting(mutant.path, every) for mutant in mutants]
        longest_s = None if ask.trust else without_any(tree, list(dict.fromkeys(path for one in paths for path in one)))

        def one(number: int, mutant: Mutant, chosen_paths: list[str]) -> Outcome:
            tree = trees.get()
            try:
                outcome = judged(number, mutant, tree, chosen_paths, longest_s or 3600.0, reasons)
            finally:
                trees.put(tree)
            print(told(outcome), flush=True)
            return outcome

        with ThreadPoolExecutor(ask.workers) as pool:
            try:
                return summed_up(list(pool.map(one, numbers, mutants, paths)))
            except KeyboardInterrupt:
                for pid in tuple(RUNNING):
                    os.killpg(pid, signal.SIGKILL)
                raise


def without_any(tree: Path, paths: list[str]) -> float:
    """See that every test passes without a mutant; how long a mutant may take, from how long that took. [s]"""
    began = time.monotonic()
    code, out = tried(tree, paths)
    if code:
        sys.exit(f"The tests are red without a mutant:\n{out}")
    print(f"Without a mutant every test passes, in {time.monotonic() - began:.0f} s.", flush=True)
    return 60 + 3 * (time.monotonic() - began)


def summed_up(found: list[Outcome]) -> int:
    """The survivors once more, and the share of the others."""
    alive = [outcome for outcome in found if not outcome.killed_by and not outcome.equivalent]
    same = sum(bool(outcome.equivalent) for outcome in found)
    killed = len(found) - same - len(alive)
    print("\n" + "\n".join(map(told, alive)))
    print(
        f"{killed} of {len(found) - same} killed, {len(alive)} survived; {same} more are the same program in other words"
    )
    return int(killed < GOAL * (len(found) - same))


if __name__ == "__main__":
    sys.exit(main())
