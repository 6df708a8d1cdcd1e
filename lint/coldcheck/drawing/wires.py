"""Wiring statements: the tree of a chain to a Chain of points and parts."""

from __future__ import annotations

from typing import TYPE_CHECKING

from lark import Token, Tree

from coldcheck.drawing.lines import KEYWORDS
from coldcheck.drawing.model import Chain, Part, Point, Problem
from coldcheck.drawing.parts import PartReader
from coldcheck.drawing.trees import as_token, as_tree

if TYPE_CHECKING:
    from coldcheck.drawing.lines import Line

_LANDMARKS = {
    "gnd": "gnd", "ground": "gnd", "chassis": "chassis", "earth": "earth", "neutral": "neutral",
    "line": "line",
}  # fmt: skip

_MEANS = dict.fromkeys(_LANDMARKS.values(), "") | {
    "line": " for the mains conductor; what is at line level has another name: OUT, LINE_OUT"
}


class WireReader:
    """Reads the chains of one line; problems collect in ``problems``."""

    def __init__(self, line: Line, problems: list[Problem]) -> None:
        self.line = line
        self.problems = problems
        self._parts = PartReader(line, problems)

    def chain(self, tree: Tree[Token]) -> Chain | None:
        """Return the chain, or ``None`` when any part or point of it could not be read."""
        before = len(self.problems)
        first, *hops = tree.children
        points: list[Point | None] = [self.point(as_token(first))]
        links: list[Part | None] = []
        for hop in hops:
            children = as_tree(hop).children
            for child in children[:-1]:
                if isinstance(child, Token):
                    links.append(None)
                    continue
                if child.data == "next":
                    points.append(None)
                links.append(self._part(child))
            points.append(self.point(as_token(children[-1])))
        if len(self.problems) > before:
            return None
        return Chain(tuple(points), tuple(links), self.line.whole())

    def point(self, token: Token, *, inside: bool = False) -> Point:
        """Return a point as written; a landmark in capitals or a reserved word is a problem.

        ``inside``: whether it may be one inside a sheet (``L/B2``).
        """
        start, end = token.start_pos or 0, token.end_pos or 0
        text = str(token)
        owner, colon, pin = text.partition(":")
        owner, dot, lead = owner.partition(".")
        landmark = _LANDMARKS.get(owner.lower())
        if landmark and owner != landmark and not (dot or colon):
            self._refuse(
                token, "a landmark in small letters", f"write {landmark}{_MEANS[landmark]}"
            )
        if owner in KEYWORDS and not (dot or colon):
            hint = f'"{owner}" begins a statement: give the point another name'
            self._refuse(token, "the name of a point", hint)
        if "/" in owner and not inside:
            hint = "what is inside a sheet is its own: join the point in the sheet line"
            self._refuse(token, "a point of this drawing", hint)
        if dot and colon:
            self._refuse(token, "a lead (V3.plate) or a pin (V3:8), not both", "")
        return Point(owner, lead if dot else None, pin if colon else None,
                     self.line.span(start, end))  # fmt: skip

    def _refuse(self, token: Token, expected: str, hint: str) -> None:
        start, end = token.start_pos or 0, token.end_pos or 0
        self.problems.append(
            self.line.problem("drawing.syntax", start, end, f'"{token}"', expected, hint)
        )

    def _part(self, tree: Tree[Token]) -> Part | None:
        """Read ``left part right``; the marks beside the bracket are polarity and direction."""
        plus = arrow = None
        body: Tree[Token] | None = None
        for child in map(as_tree, tree.children):
            marks = {t.type for t in child.children if isinstance(t, Token)}
            if child.data == "part":
                body = child
                continue
            side = "left" if body is None else "right"
            if "PLUS" in marks:
                plus = self._once(plus, side, child, "plus")
            if "FROM" in marks or "TO" in marks:
                arrow = self._once(arrow, side, child, "arrow")
        assert body is not None
        name, *fields = map(as_token, body.children)
        return self._parts.read(name, fields, plus, arrow)

    def _once(self, old: str | None, side: str, tree: Tree[Token], what: str) -> str:
        if old is not None:
            self._refuse(as_token(tree.children[0]), f"one {what} for a part", "")
        return side
