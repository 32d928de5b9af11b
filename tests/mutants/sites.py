"""Where one line of the physics can be made wrong, and how: found in the syntax tree, written into the text."""

from __future__ import annotations

import ast
import hashlib
import re
from collections.abc import Iterator
from dataclasses import dataclass
from itertools import zip_longest
from pathlib import Path

_SWAPS = (
    "Add + -, Sub - +, Mult * /, Div / *, Pow ** *, BitAnd & |, BitOr | &, And and or, Or or and, "
    "Lt < >, Gt > <, LtE <= >=, GtE >= <=, Eq == !=, NotEq != =="
)
OPERATORS = {getattr(ast, name): (was, to) for name, was, to in (one.split() for one in _SWAPS.split(", "))}


def _each_other(pairs: str) -> dict[str, str]:
    """The words of each pair, one for the other, both ways."""
    return {a: b for pair in pairs.split(", ") for a, b in (pair.split(), pair.split()[::-1])}


TWINS = _each_other(
    "min max, minimum maximum, argmin argmax, nanmin nanmax, sin cos, any all, floor ceil, arcsin arccos"
)
PARTS = _each_other("front rear, low high, first last, up down")
NOT_PHYSICS = ("InputError", "Field", "Column", "Goal", "round", "isinstance", "within")  # calls left alone
TINIEST, LARGEST = 1e-4, 1e9  # constants beyond them guard against rounding and endless numbers


@dataclass(frozen=True, kw_only=True)
class Mutant:
    """One line of a file made wrong: bytes start to end of its source replaced by text."""

    path: Path
    source: bytes
    kind: str
    start: int
    end: int
    text: bytes

    @property
    def becomes(self) -> bytes:
        """The file with the mutant in it."""
        return self.source[: self.start] + self.text + self.source[self.end :]

    def lines(self) -> tuple[int, str, str]:
        """Number of the line, the line as it is, and as it becomes."""
        number = self.source.count(b"\n", 0, self.start)
        was, becomes = (text.decode().split("\n")[number].strip() for text in (self.source, self.becomes))
        return number + 1, was, becomes

    def is_one(self) -> bool:
        """Whether it is Python, and another program than the file."""
        try:
            return ast.dump(ast.parse(self.becomes)) != ast.dump(ast.parse(self.source))
        except SyntaxError:
            return False


class _Sites(ast.NodeVisitor):
    """Walks what is computed, and leaves annotations, messages and texts alone."""

    def __init__(self, path: Path, source: bytes) -> None:
        self.path, self.source, self.found = path, source, []  # type: Path, bytes, list[Mutant]
        self.starts = [0]
        for line in source.split(b"\n"):
            self.starts.append(self.starts[-1] + len(line) + 1)
        self.names = set(re.findall(rb"\w+", source))

    def span(self, node: ast.expr) -> tuple[int, int]:
        return self.starts[node.lineno - 1] + node.col_offset, self.starts[node.end_lineno - 1] + node.end_col_offset

    def text(self, node: ast.expr) -> bytes:
        return self.source[slice(*self.span(node))]

    def add(self, kind: str, start: int, end: int, text: bytes) -> None:
        if b"\n" not in self.source[start:end] and text != self.source[start:end]:
            self.found.append(Mutant(path=self.path, source=self.source, kind=kind, start=start, end=end, text=text))

    def between(self, kind: str, left: ast.expr, operator: ast.AST, right: ast.expr) -> None:
        """Swap the operator that stands between two operands."""
        was, becomes = OPERATORS.get(type(operator), ("\0", ""))
        at = self.source.find(was.encode(), self.span(left)[1], self.span(right)[0])
        if at >= 0:
            self.add(kind, at, at + len(was), becomes.encode())

    def visit_BinOp(self, node: ast.BinOp) -> None:
        if not any(map(_is_no_term, (node.left, node.right))):
            self.between("operator", node.left, node.op, node.right)
            if isinstance(node.op, ast.Add | ast.Sub | ast.Mult):
                for kept in (node.left, node.right):
                    self.add("dropped term", *self.span(node), b"(" + self.text(kept) + b")")
        self.generic_visit(node)

    def visit_Compare(self, node: ast.Compare) -> None:
        self.between("comparison", node.left, node.ops[0], node.comparators[0])
        self.generic_visit(node)

    def visit_BoolOp(self, node: ast.BoolOp) -> None:
        self.between("and, or", node.values[0], node.op, node.values[1])
        self.generic_visit(node)

    def visit_UnaryOp(self, node: ast.UnaryOp) -> None:
        if isinstance(node.op, ast.USub | ast.Not | ast.Invert):
            self.add("sign", *self.span(node), b"(" + self.text(node.operand) + b")")
        self.generic_visit(node)

    def visit_IfExp(self, node: ast.IfExp) -> None:
        if any(isinstance(part, ast.JoinedStr) for part in (node.body, node.orelse)):
            return  # it chooses between sentences
        text = b"(%b if %b else %b)" % tuple(self.text(n) for n in (node.orelse, node.test, node.body))
        self.add("branches", *self.span(node), text)
        self.generic_visit(node)

    def visit_Constant(self, node: ast.Constant) -> None:
        value = node.value
        if type(value) in (int, float) and (not value or TINIEST <= abs(value) <= LARGEST):
            changed = value + 1 if isinstance(value, int) or not value else value * 1.1
            self.add("constant", *self.span(node), f"{changed:.12g}".encode())

    def visit_Subscript(self, node: ast.Subscript) -> None:
        self.visit(node.value)
        for part in ast.walk(node.slice):
            if isinstance(part, ast.Constant) and type(part.value) is int:
                self.add("index", *self.span(part), b"1" if part.value == 0 else b"0")

    def named(self, name: str, end: int) -> None:
        """A name that has a twin used in the same file: front for rear, low for high, min for max."""
        twin = TWINS.get(name) or "_".join(PARTS.get(part, part) for part in name.split("_"))
        if twin != name and (name in TWINS or twin.encode() in self.names):
            self.add("twin", end - len(name), end, twin.encode())

    def visit_Name(self, node: ast.Name) -> None:
        if isinstance(node.ctx, ast.Load):
            self.named(node.id, self.span(node)[1])

    def visit_Attribute(self, node: ast.Attribute) -> None:
        if isinstance(node.ctx, ast.Load):
            self.named(node.attr, self.span(node)[1])
        self.visit(node.value)

    def visit_Call(self, node: ast.Call) -> None:
        name = getattr(node.func, "attr", getattr(node.func, "id", ""))
        if name in ("linspace", "geomspace"):  # how many points is a matter of looks
            self.visit(node.args[0]), self.visit(node.args[1])
        elif name not in NOT_PHYSICS:
            self.generic_visit(node)

    def visit_AnnAssign(self, node: ast.AnnAssign) -> None:
        if node.value is not None:
            self.visit(node.value)

    def visit_FunctionDef(self, node: ast.FunctionDef) -> None:
        for part in (*node.args.defaults, *filter(None, node.args.kw_defaults), *node.body):
            self.visit(part)

    def visit(self, node: ast.AST) -> None:
        if not isinstance(node, ast.Raise | ast.Assert | ast.JoinedStr | ast.Import | ast.ImportFrom):
            super().visit(node)


def _is_no_term(node: ast.AST) -> bool:
    """A text, a list, or a hair that guards against rounding."""
    if isinstance(node, ast.Constant):
        return isinstance(node.value, str | bytes) or 0 < abs(node.value or 0) < TINIEST
    return isinstance(node, ast.JoinedStr | ast.Tuple | ast.List)


def chosen(root: Path, paths: list[Path], seed: int) -> Iterator[Mutant]:
    """Mutants without end of choice: one of each file in turn, its kinds evenly, each mutant once. What is drawn from a file hangs on
    that file alone, so that a change elsewhere leaves its mutants as they were.
    """

    def drawn(*parts: str) -> bytes:
        return hashlib.sha256("\n".join((str(seed), *parts)).encode()).digest()

    def of_file(path: Path) -> Iterator[Mutant]:
        by_kind: dict[str, list[Mutant]] = {}
        for mutant in mutants_of(path, (root / path).read_bytes()):
            by_kind.setdefault(mutant.kind, []).append(mutant)
        for kind in by_kind.values():
            kind.sort(key=lambda one: drawn(str(path), one.kind, *one.lines()[1:]))
        ordered = [by_kind[kind] for kind in sorted(by_kind, key=lambda kind: drawn(str(path), kind))]
        return (one for turn in zip_longest(*ordered) for one in turn if one is not None and one.is_one())

    turns = zip_longest(*map(of_file, sorted(paths, key=lambda path: drawn(str(path)))))
    return (mutant for turn in turns for mutant in turn if mutant is not None)


def mutants_of(path: Path, source: bytes) -> list[Mutant]:
    """Every mutant of a file, those among them that are no Python or no other program."""
    sites = _Sites(path, source)
    sites.visit(ast.parse(source))
    return sites.found
