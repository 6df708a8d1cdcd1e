"""Amounts in statements: read, sorted into roles by their units, refused with their place."""

from __future__ import annotations

import re
from itertools import pairwise
from typing import TYPE_CHECKING, TypeVar

from lark import Token, Tree

from coldcheck.drawing.lines import FORMS
from coldcheck.drawing.trees import amounts_of, as_token, ends_of, sub_of
from coldcheck.drawing.values import (
    QUANTITIES,
    SYMBOLS,
    Amount,
    BadValue,
    Lacks,
    is_ohms,
    parse_amount,
    slip,
)

if TYPE_CHECKING:
    from collections.abc import Iterable

    from coldcheck.drawing.lines import Line
    from coldcheck.drawing.model import Problem, Span
    from coldcheck.drawing.units import Quantity

Got = TypeVar("Got")
_TAPS = "taps are written from the smallest to the whole: 4/8/16 ohm"


class Refused(Exception):  # noqa: N818 - never leaves the statement reader
    """The statement cannot be made; its problem is already recorded."""


class AmountReader:
    """What the readers of statements share: amounts, and problems with their place."""

    def __init__(self, line: Line, problems: list[Problem]) -> None:
        self.line = line
        self.problems = problems

    def amount(
        self, tree: Tree[Token], unit: str | None, default: str | None, *, positive: bool = False
    ) -> Amount:
        """Read an ``amount`` tree; ``unit`` is the one it must have (None or "": any)."""
        text = " ".join(map(str, tree.children))
        try:
            amount = parse_amount(text, "" if unit == "" else default)
        except BadValue as bad:
            expected = bad.expected
            if unit and bad.lacks is not Lacks.KIND:
                expected = QUANTITIES[unit]
            word = self.line.text.split(None, 1)[0]
            hint = bad.hint or slip(text) or f"the form is: {FORMS.get(word, '')}"
            self.add(bad.rule, *ends_of(tree), bad.found, expected, hint)
            raise Refused from None
        if unit and amount.unit != unit:
            self.wrong_unit(tree, QUANTITIES[unit])
            raise Refused
        if positive and amount.number <= 0:
            self.refuse(tree, "a value above zero")
            raise Refused
        return amount

    def roles(
        self,
        amounts: Iterable[Tree[Token]],
        slots: dict[str, list[str]],
        tree: Tree[Token],
        first_default: str | None = None,
    ) -> dict[str, Amount]:
        """Sort amounts into named roles by their unit; a role filled twice is a problem."""
        got: dict[str, Amount] = {}
        for index, node in enumerate(amounts):
            default = first_default if index == 0 else None
            coded = "ohm" in slots and is_ohms(" ".join(map(str, node.children)))
            try:
                amount = self.amount(node, None, "ohm" if coded else default, positive=True)
            except Refused:
                continue
            free = [role for role in slots.get(amount.unit, []) if role not in got]
            if free:
                got[free[0]] = amount
            elif amount.unit in slots:
                many = "one value" if len(slots[amount.unit]) == 1 else "two values"
                self.refuse(node, f"no more than {many} in {SYMBOLS[amount.unit]}")
            else:
                expected = " or ".join(QUANTITIES[u] for u in slots)
                line = f"an {tree.data}" if tree.data[0] in "aeiou" else f"a {tree.data}"
                self.wrong_unit(node, f"{expected} in {line} line")
        return got

    def untapped(
        self, node: Tree[Token], unit: str, default: str | None = None
    ) -> tuple[Tree[Token], tuple[Amount, ...]]:
        """Part an amount with taps, ``4/8/16 ohm``, into its last value and the taps below it.

        A leading 0, the end they are counted from, is left out. Raises Refused.
        """
        number, *words = node.children
        pieces = str(number).split("/")
        if len(pieces) == 1:
            return node, ()
        bare = [re.fullmatch(r"[\d.]+", piece) is not None for piece in pieces]
        if any(bare) and not all(bare):
            self.refuse(node, "taps in one unit, written once or at each of them", _TAPS)
            raise Refused
        if pieces[0].strip("0.") == "":
            del pieces[0]
        first = as_token(number)
        nodes = [Tree(node.data, [Token.new_borrow_pos(first.type, p, first), *words])
                 for p in pieces]  # fmt: skip
        found = [self.amount(n, unit, default, positive=True) for n in nodes]
        if any(a.number >= b.number for a, b in pairwise(found)):
            self.refuse(node, "taps that rise to the whole winding", _TAPS)
            raise Refused
        return nodes[-1], tuple(found[:-1])

    def needed(self, got: dict[str, Amount], role: str, unit: str, tree: Tree[Token]) -> Quantity:
        """Return a role that must be filled; refuse the statement where it is not."""
        if role in got:
            return got[role].quantity
        if not self.problems:
            start = len(self.line.text) - len(self.line.text.lstrip())
            self.add("drawing.syntax", start, len(self.line.text.rstrip()),
                      f"a {tree.data} line without {SYMBOLS[unit]}", QUANTITIES[unit],
                      f"the form is: {FORMS[str(tree.data)]}")  # fmt: skip
        raise Refused

    def sub_share(
        self, tree: Tree[Token], name: str, default: Got, *, low: float = 1e-9, below: float
    ) -> float | Got:
        """Return a percentage given after a keyword as a fraction, or ``default``."""
        sub = sub_of(tree, name)
        if sub is None:
            return default
        node = amounts_of(sub)[0]
        amount = self.amount(node, "percent", None)
        share = amount.number / 100
        if not low <= share <= below:
            self.refuse(node, f"a share from {low * 100:.0f} % to {below * 100:.0f} %")
        return share

    # -- problems --------------------------------------------------------------------------

    def span(self, token: Token) -> Span:
        """Return the place of a token."""
        return self.line.span(*ends_of(token))

    def refuse(self, node: Token | Tree[Token], expected: str, hint: str = "") -> None:
        """Add a syntax problem at a node."""
        start, end = ends_of(node)
        found = " ".join(self.line.text[start:end].split())
        found = found if found.startswith('"') else f'"{found}"'
        self.add("drawing.syntax", start, end, found, expected, hint)

    def wrong_unit(self, node: Tree[Token], expected: str) -> None:
        """Add a wrong-unit problem at an amount."""
        start, end = ends_of(node)
        found = f'"{" ".join(self.line.text[start:end].split())}"'
        self.add("drawing.wrong-unit", start, end, found, expected)

    def add(
        self, rule: str, start: int, end: int, found: str, expected: str, hint: str = ""
    ) -> None:
        """Add a problem at a stretch of the line."""
        self.problems.append(self.line.problem(rule, start, end, found, expected, hint))


def quantity_of(got: dict[str, Amount], role: str) -> Quantity | None:
    """Return a role as a quantity, or ``None`` where it was not given."""
    return got[role].quantity if role in got else None
