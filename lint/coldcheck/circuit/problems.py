"""Collects what the circuit cannot make sense of, as data with its place in the text."""

from __future__ import annotations

import re
from difflib import get_close_matches
from itertools import islice
from typing import TYPE_CHECKING

from coldcheck.drawing.model import Problem

if TYPE_CHECKING:
    from collections.abc import Iterable

    from coldcheck.drawing.model import Drawing, Span

UNKNOWN_NAME = "drawing.unknown-name"
UNKNOWN_LEAD = "drawing.unknown-lead"
UNKNOWN_TYPE = "drawing.unknown-type"
USED_TWICE = "drawing.name-used-twice"
BAD_VALUE = "drawing.bad-value"
NOT_SUPPORTED = "drawing.not-supported"
SHEET_NOT_READ = "drawing.sheet-not-read"

_MANY = 200
"""Among more names than these only some are looked at: a hint is not worth more."""

_MAINS = ("line", "neutral", "earth")

_DECLARES = re.compile(
    r"^\s*(transformer|primary|winding|tube|output|pot|switch|jack|signal|type|sheet)\b|\["
)


class ProblemLog:
    """Problems in the order they were met. A line the parser complained about is left alone."""

    def __init__(self, drawing: Drawing) -> None:
        self._drawing = drawing
        self._known = {(p.span.file, p.span.line, p.rule) for p in drawing.problems}
        self.problems: list[Problem] = []
        self._noted: set[Problem | tuple[Span, str]] = set()

    def add(self, span: Span, rule: str, found: str, expected: str, hint: str = "") -> None:
        """Note one problem, unless the same one is already noted for that place.

        A slip in a sheet is one slip, however many instances of the sheet repeat it.
        """
        problem = Problem(span, rule, found, expected, hint, self._line(span))
        in_a_sheet = span.file != self._drawing.file
        key = (span, rule) if in_a_sheet else problem
        if (span.file, span.line, rule) not in self._known and key not in self._noted:
            self._noted.add(key)
            self.problems.append(problem)

    def declared_in_vain(self, name: str) -> bool:
        """Whether an unreadable line seems to be the one that declares ``name``.

        Its leads are then not reported a second time as unknown.
        """
        own = name.rpartition("/")[2]  # a sheet's own lines do not know its instance
        tube = re.sub(r"(?<=\d)[A-Z]$", "", own)  # V1A is declared by the line of V1
        word = re.compile(rf"(?<![\w.])(?:{re.escape(own)}|{re.escape(tube)})(?![\w])")
        lines = [p.source_line or self._line(p.span) for p in self._drawing.problems[:_MANY]]
        return any(
            (_DECLARES.search(line) or "--" not in line) and word.search(line) for line in lines
        )

    def wound_in_vain(self, lead: str | None) -> bool:
        """Whether an unreadable line seems to be that of the winding that a lead is of."""
        first = (lead or "").partition(".")[0]
        line = re.compile(rf"\s*(primary|winding)\s+{re.escape(first)}\s")
        return bool(first) and any(
            line.match(p.source_line or self._line(p.span)) for p in self._drawing.problems[:_MANY]
        )

    def _line(self, span: Span) -> str:
        return self._drawing.line(span)


def nearest(word: str, names: Iterable[str]) -> str | None:
    """The name that looks most like ``word``, upper and lower case being the same.

    A short word must share its first letter, or ``B1`` would be offered for ``R1``; and no name of
    the mains is offered for a word that only resembles it (``line`` for ``LIFT``).
    """
    word = word.casefold()
    folded = {name.casefold(): name for name in islice(names, 2 * _MANY)}
    if len(word) <= 3 or len(folded) > _MANY:
        folded = {low: name for low, name in folded.items() if low[:1] == word[:1]}
    if len(folded) > _MANY:
        folded = dict(islice(folded.items(), _MANY))
    close = get_close_matches(word, folded, n=3, cutoff=0.5)
    sure = get_close_matches(word, _MAINS, n=3, cutoff=0.75)
    meant = [name for name in close if name not in _MAINS or name in sure]
    return folded[meant[0]] if meant else None


def did_you_mean(word: str, names: Iterable[str]) -> str:
    """A hint that offers the nearest name, or an empty text."""
    near = nearest(word, names)
    return f"did you mean {near}?" if near else ""


def listed(words: Iterable[str], joint: str = "and") -> str:
    """``a, b and c``."""
    items = list(words)
    if len(items) < 2:
        return "".join(items)
    return f"{', '.join(items[:-1])} {joint} {items[-1]}"
