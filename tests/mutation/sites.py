"""What can be changed in a rule: its limits by a tenth, its comparisons and signs once."""

from __future__ import annotations

import ast
from dataclasses import dataclass
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from collections.abc import Iterator

OPPOSITE: dict[type[ast.cmpop], tuple[str, str]] = {
    ast.Lt: ("<", ">="),
    ast.LtE: ("<=", ">"),
    ast.Gt: (">", "<="),
    ast.GtE: (">=", "<"),
    ast.Eq: ("==", "!="),
    ast.NotEq: ("!=", "=="),
    ast.Is: ("is", "is not"),
    ast.IsNot: ("is not", "is"),
    ast.In: ("in", "not in"),
    ast.NotIn: ("not in", "in"),
}
TENTH = (0.9, 1.1)


@dataclass(frozen=True, slots=True)
class Site:
    """One change: the bytes from ``start`` to ``end`` become ``new``; ``kind`` names it."""

    line: int
    kind: str
    start: int
    end: int
    new: str

    def changed(self, text: str) -> str:
        raw = text.encode()
        return (raw[: self.start] + self.new.encode() + raw[self.end :]).decode()

    def told(self, text: str) -> str:
        """The line as it stands, and what becomes of the part."""
        was = text.encode()[self.start : self.end].decode()
        return f"{text.splitlines()[self.line - 1].strip()}  [{was.strip()} -> {self.new.strip()}]"


def sites(text: str) -> list[Site]:
    """Every change of a module, in its order."""
    tree, places = ast.parse(text), _Places(text)
    found = [*_limits(tree, places), *_conditions(tree, places)]
    return sorted(found, key=lambda s: (s.start, s.new))


class _Places:
    """Byte offsets of nodes."""

    def __init__(self, text: str) -> None:
        self.raw = text.encode()
        self._starts = [0]
        for line in self.raw.splitlines(keepends=True):
            self._starts.append(self._starts[-1] + len(line))

    def start(self, node: ast.expr) -> int:
        return self._starts[node.lineno - 1] + node.col_offset

    def end(self, node: ast.expr) -> int:
        return self._starts[(node.end_lineno or 1) - 1] + (node.end_col_offset or 0)


def _limits(tree: ast.Module, places: _Places) -> Iterator[Site]:
    """The numbers of every statement at module level that makes a threshold."""
    for statement in tree.body:
        if isinstance(statement, ast.Assign) and "Threshold" in ast.unparse(statement.value):
            for node in ast.walk(statement.value):
                if isinstance(node, ast.Constant) and type(node.value) in (int, float):
                    start, end = places.start(node), places.end(node)
                    for share in TENTH:
                        new = repr(float(f"{node.value * share:.6g}"))
                        yield Site(node.lineno, "limit", start, end, new)


def _conditions(tree: ast.Module, places: _Places) -> Iterator[Site]:
    """Comparisons turned round and minus signs taken away, in the functions."""
    functions = (n for n in tree.body if isinstance(n, ast.FunctionDef | ast.ClassDef))
    bodies = (s for f in functions for s in f.body)
    for node in (n for s in bodies for n in ast.walk(s)):
        if isinstance(node, ast.Compare):
            yield from _turned(node, places)
        elif isinstance(node, ast.UnaryOp) and isinstance(node.op, ast.USub):
            start = places.start(node)
            yield Site(node.lineno, "sign", start, start + 1, "")


def _turned(node: ast.Compare, places: _Places) -> Iterator[Site]:
    left = node.left
    for op, right in zip(node.ops, node.comparators, strict=True):
        was, new = OPPOSITE[type(op)]
        between = places.raw[places.end(left) : places.start(right)]
        if between.count(was.encode()) == 1:
            start = places.end(left) + between.index(was.encode())
            yield Site(node.lineno, "comparison", start, start + len(was), new)
        left = right
