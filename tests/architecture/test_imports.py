"""The flow does not turn back: what may import what, kept by reading the imports."""

from __future__ import annotations

import ast
from functools import cache
from pathlib import Path

import pytest

ROOT = Path(__file__).parents[2]
# each room, and the rooms below it that it may import
LIBRARY = "errors units statements reference components environment mechanics"
MAY_IMPORT = {
    "errors": "",
    "statements": "",
    "units": "errors statements",
    "reference": "",
    "files": "errors",
    "components": "errors reference units",
    "environment": "errors reference statements units",
    "mechanics": "components environment errors units",
    "uncertainty": "errors statements units",
    "buildfile": "components errors files uncertainty units",
    "bike": f"buildfile uncertainty {LIBRARY}",
    "answers": f"bike buildfile uncertainty {LIBRARY}",
    "selection": f"answers bike buildfile logs uncertainty {LIBRARY}",
    "evidence": f"answers bike buildfile selection uncertainty {LIBRARY}",
    "fueling": f"answers bike {LIBRARY}",
    "garage": "answers buildfile components environment errors files fueling statements units",
    "logs": f"answers bike buildfile files {LIBRARY}",
    "plots": "answers bike errors public selection units",
    "public": "answers bike buildfile environment errors evidence fueling logs reference selection units",
    "proof": "reference",
    "report": "answers bike errors files reference selection statements units",
}
ANYTHING = {"cli", "__main__", "__init__"}
SOURCES = sorted(ROOT.glob("ridesim/**/*.py"))


@cache
def nodes(path: Path) -> list[ast.AST]:
    return list(ast.walk(ast.parse(path.read_text(encoding="utf-8"))))


def imported(path: Path) -> set[str]:
    """Every module a file imports, also inside functions."""
    names: set[str] = set()
    for node in nodes(path):
        if isinstance(node, ast.Import):
            names |= {alias.name for alias in node.names}
        elif isinstance(node, ast.ImportFrom) and node.module:
            names |= {node.module, *(f"{node.module}.{alias.name}" for alias in node.names)}
    return names


def room(path: Path) -> str:
    return path.relative_to(ROOT / "ridesim").with_suffix("").parts[0]


@pytest.mark.parametrize("path", SOURCES, ids=lambda p: str(p.relative_to(ROOT)))
def test_the_library_knows_nothing_of_screens_and_never_turns_back(path):
    names = imported(path)
    here = room(path)
    tops = {name.split(".")[0] for name in names}
    if here not in ANYTHING:
        assert not tops & {"dash", "dash_mantine_components", "dash_ag_grid", "dashboard", "flask"}
        assert "plotly" not in tops or here == "plots"
        rooms = {name.split(".")[1] for name in names if name.startswith("ridesim.") and name.count(".") >= 1} - {here}
        known = {r for r in rooms if r in MAY_IMPORT or r == "cli"}
        forbidden = known - {*MAY_IMPORT[here].split()}
        assert not forbidden, f"{here} may not import {sorted(forbidden)}"


# the doors, and what makes rows of answers; everything else draws plain numbers
OF_ANSWERS = {"__init__.py", "charts.py", "side_view.py"}
DRAWING = [path for path in sorted(ROOT.glob("ridesim/plots/**/*.py")) if path.name not in OF_ANSWERS]


@pytest.mark.parametrize("path", DRAWING, ids=lambda p: p.name)
def test_figures_take_plain_rows(path):
    names = {name for name in imported(path) if not f"{name}.".startswith("ridesim.plots.")}
    assert not {name.split(".")[0] for name in names} & {"dash", "plotly", "ridesim", "dash_mantine_components"}


@pytest.mark.parametrize("path", sorted(ROOT.glob("dashboard/pages/**/*.py")), ids=lambda p: p.name)
def test_pages_compute_no_physics(path):
    names = imported(path)
    assert not {n for n in names if n.split(".")[0] in {"numpy", "scipy", "pandas"}}
    assert not {n for n in names if n.startswith(("ridesim.components", "ridesim.mechanics", "ridesim.environment"))}


def test_only_readers_open_files():
    readers = {"reference.py", "files.py"}
    for path in SOURCES:
        if path.name in readers or room(path) in {"logs", "garage", "cli"}:
            continue
        calls = {
            node.func.id if isinstance(node.func, ast.Name) else getattr(node.func, "attr", "")
            for node in nodes(path)
            if isinstance(node, ast.Call)
        }
        assert not calls & {"open", "read_text", "read_bytes", "write_text", "write_bytes"}, path


def test_a_record_cannot_be_changed():
    """But for what is not finished yet: private ones, and the figures a log's reader collects."""
    loose = [
        f"{path}:{node.lineno}"
        for path in SOURCES
        if room(path) != "logs"
        for node in nodes(path)
        if isinstance(node, ast.ClassDef) and not node.name.startswith("_")
        for how in map(ast.unparse, node.decorator_list)
        if how.startswith("dataclass") and "frozen=True" not in how
    ]
    assert not loose


def test_the_top_level_holds_only_what_the_house_needs():
    import subprocess

    tracked = subprocess.run(["git", "ls-files"], cwd=ROOT, capture_output=True, text=True, check=False).stdout
    tops = {line.split("/")[0] for line in tracked.splitlines() if not line.startswith(".")}
    assert tops <= {"README.md", "DEVELOPERS.md", "LICENSE", "pyproject.toml", "ridesim", "dashboard", "tests", "data"}
