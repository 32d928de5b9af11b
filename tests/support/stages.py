"""What the kernel spends where: processor time stage by stage, and how many array operations of what size.

The stages are functions of the kernel, and each owns what it does outside the stages it calls. Operations are counted in a second
copy of the kernel, in which every operator, index and NumPy call reports the size of what it works on.
"""

from __future__ import annotations

import ast
import copy
import importlib
import sys
import time
from collections import defaultdict
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from dataclasses import fields
from importlib.machinery import SourceFileLoader
from importlib.util import spec_from_file_location
from pathlib import Path
from types import FunctionType, MethodType, ModuleType
from typing import Any

import numpy as np

PACKAGE = "ridesim.mechanics"
REST = "rest"
STAGES = {  # (module that calls it, name): what the report calls it
    ("kernel", "cells_of"): "cells",
    ("kernel", "gears"): "gears' figures",
    ("limits", "_upshifts"): "gears' figures: shift points",
    ("limits", "_steepest"): "gears' figures: climb",
    ("kernel", "passage"): "passage by the engine",
    ("kernel", "cruise"): "cruise",
    ("kernel", "standing_start"): "run",
    ("run", "_planned"): "run: plan",
    ("run", "passage"): "run: passage within the limits",
    ("run", "_into"): "run: distance",
    ("kernel", "roll_on_times_s"): "roll-on",
}


class Ledger:
    """The stage that is running, and what each has used so far."""

    def __init__(self) -> None:
        self.running = [REST]
        self.since = time.process_time()
        self.time_s: dict[str, float] = defaultdict(float)
        self.operations: dict[str, int] = defaultdict(int)
        self.elements: dict[str, int] = defaultdict(int)

    def book(self) -> None:
        now = time.process_time()
        self.time_s[self.running[-1]] += now - self.since
        self.since = now

    def staged(self, function: Callable[..., Any], stage: str) -> Callable[..., Any]:
        def run(*arguments: Any, **named: Any) -> Any:
            self.book()
            self.running.append(stage)
            try:
                return function(*arguments, **named)
            finally:
                self.book()
                self.running.pop()

        return run

    def count(self, *arrays: Any) -> None:
        sizes = [a.size for a in arrays if isinstance(a, np.ndarray)]
        if sizes:
            self.operations[self.running[-1]] += 1
            self.elements[self.running[-1]] += max(sizes)

    @contextmanager
    def watching(self, modules: Callable[[str], ModuleType]) -> Iterator[None]:
        """Every stage in the given modules booked here."""
        kept = [(modules(module), name, getattr(modules(module), name)) for module, name in STAGES]
        for (module, name, function), stage in zip(kept, STAGES.values(), strict=True):
            setattr(module, name, self.staged(function, stage))
        self.since = time.process_time()
        try:
            yield
        finally:
            self.book()
            for module, name, function in kept:
                setattr(module, name, function)


def module_of_kernel(name: str) -> ModuleType:
    return importlib.import_module(f"{PACKAGE}.{name}")


def times_by_stage(work: Callable[[], object], runs: int) -> dict[str, float]:
    """Processor time of each stage in the quickest of several runs. [s]"""
    best: dict[str, float] = {}
    for _ in range(runs):
        ledger = Ledger()
        with ledger.watching(module_of_kernel):
            work()
        if not best or sum(ledger.time_s.values()) < sum(best.values()):
            best = dict(ledger.time_s)
    return best


class _Reporting(ast.NodeTransformer):
    """Operators, indices and calls handed through functions that count them."""

    def _through(self, name: str, node: Any) -> Any:
        self.generic_visit(node)
        return ast.Call(func=ast.Name(name, ast.Load()), args=[node], keywords=[])

    def visit_BinOp(self, node: ast.BinOp) -> Any:
        return self._through("_made", node)

    def visit_Compare(self, node: ast.Compare) -> Any:
        return self._through("_made", node)

    def visit_UnaryOp(self, node: ast.UnaryOp) -> Any:
        return self._through("_made", node)

    def visit_Subscript(self, node: ast.Subscript) -> Any:
        if isinstance(node.ctx, ast.Load):
            return self._through("_made", node)
        self.generic_visit(node)
        return node

    def visit_AugAssign(self, node: ast.AugAssign) -> Any:
        self.generic_visit(node)
        target = copy.copy(node.target)
        target.ctx = ast.Load()
        return [node, ast.Expr(ast.Call(func=ast.Name("_changed", ast.Load()), args=[target], keywords=[]))]

    def visit_Call(self, node: ast.Call) -> Any:
        self.generic_visit(node)
        return ast.Call(func=ast.Name("_called", ast.Load()), args=[node.func, *node.args], keywords=node.keywords)


class _Loader(SourceFileLoader):
    """Reads a module of the kernel with everything that works on arrays reporting to a ledger; views cost nothing and are left out."""

    ledger: Ledger

    def get_code(self, fullname: str) -> Any:
        tree = _Reporting().visit(ast.parse(Path(self.path).read_bytes()))
        return compile(ast.fix_missing_locations(tree), self.path, "exec", dont_inherit=True)

    def exec_module(self, module: ModuleType) -> None:
        count = self.ledger.count

        def made(value: Any) -> Any:
            if isinstance(value, np.ndarray) and value.base is None:
                count(value)
            return value

        def called(function: Any, *arguments: Any, **named: Any) -> Any:
            result = function(*arguments, **named)
            ours = isinstance(function, FunctionType) and not function.__module__.startswith("numpy")
            first = result[0] if isinstance(result, tuple) and result else result
            new = isinstance(first, np.ndarray) and first.base is None and not any(first is a for a in arguments)
            if new and not ours and not isinstance(function, (type, MethodType)):
                count(first, getattr(function, "__self__", None), *arguments)
            return result

        vars(module).update(_made=made, _called=called, _changed=count)
        super().exec_module(module)


class _Finder:
    def __init__(self, ledger: Ledger) -> None:
        self.ledger = ledger

    def find_spec(self, name: str, path: Any, target: Any = None) -> Any:
        if not name.startswith(PACKAGE + "."):
            return None
        file = str(Path(path[0]) / (name.rpartition(".")[2] + ".py"))
        loader = _Loader(name, file)
        loader.ledger = self.ledger
        return spec_from_file_location(name, file, loader=loader)


def operations_by_stage(setups: Any, curve: Any, ride: Any) -> Ledger:
    """Array operations of each stage in one run without a trace, and the elements they worked on."""
    package, ledger = importlib.import_module(PACKAGE), Ledger()
    kept = {name: sys.modules.pop(name) for name in list(sys.modules) if name.startswith(PACKAGE + ".")}
    finder = _Finder(ledger)
    sys.meta_path.insert(0, finder)
    try:
        again = module_of_kernel("setups").SetUps(**{f.name: getattr(setups, f.name) for f in fields(setups)})
        kernel = module_of_kernel("kernel")
        kernel.perform(again, curve, ride, trace=False)  # what is done once in a process is not counted
        kernel.cells_of.cache_clear()
        ledger.operations.clear()
        ledger.elements.clear()
        with ledger.watching(module_of_kernel):
            kernel.perform(again.take(slice(None)), curve, ride, trace=False)
    finally:
        sys.meta_path.remove(finder)
        for name in [name for name in sys.modules if name.startswith(PACKAGE + ".")]:
            del sys.modules[name]
        sys.modules.update(kept)
        for name, module in kept.items():
            setattr(package, name.rpartition(".")[2], module)
    return ledger
