"""The fields of a part in its bracket: where one is written, and another value in its place."""

from __future__ import annotations

import re
from itertools import pairwise
from math import isclose
from typing import TYPE_CHECKING

from coldcheck.drawing.values import BadValue, parse_amount
from coldcheck.serve.edits import Edit
from coldcheck.serve.words import PART, words_of

if TYPE_CHECKING:
    from collections.abc import Iterable

    from coldcheck.circuit.model import Branch
    from coldcheck.serve.page import Page
    from coldcheck.serve.words import Word

_SCALES = ((1e6, "M"), (1e3, "k"), (1.0, ""))


def replaced(page: Page, branch: Branch, unit: str, number: float, new: str) -> Edit | None:
    """The edit that writes ``new`` for the field of a part that is ``number`` in ``unit``.

    ``None`` where the part is not on a line of this page, or the field cannot be told for sure.
    """
    word = next(
        (w for w in words_of(page.lines) if w.role == PART and w.full == branch.owner), None
    )
    if word is None:
        return None
    found = _field(page.line(word.line), word, unit, number)
    return None if found is None else Edit(word.line, *found, new)


def _field(line: str, word: Word, unit: str, number: float) -> tuple[int, int] | None:
    """Columns of the one field that has this value; with its unit where that stands apart."""
    end = line.find("]", word.end_column - 1)
    if end < 0:
        return None
    tokens = list(re.compile(r"[^\s\]]+").finditer(line, word.end_column - 1, end))
    pairs = [(a.start(), b.end()) for a, b in pairwise(tokens)]
    alone = [(t.start(), t.end()) for t in tokens]
    for spans in (pairs, alone):  # "450 V" before "450"
        same = [s for s in spans if _is(line[slice(*s)], unit, number)]
        if same:
            return (same[0][0] + 1, same[0][1] + 1) if len(same) == 1 else None
    return None


def _is(text: str, unit: str, number: float) -> bool:
    try:
        amount = parse_amount(text, unit)
    except BadValue:
        return False
    return amount.unit == unit and isclose(amount.number, number, rel_tol=1e-6)


def ohms_written(ohms: float) -> str:
    """A resistance as a drawing writes it: ``470k``, ``2.2k``, ``150``."""
    scale, sign = next((s, p) for s, p in _SCALES if ohms >= s * 0.9995 or s == 1.0)
    return f"{ohms / scale:.4g}{sign}"


def smallest(values: Iterable[float], least: float) -> float | None:
    """The smallest of some values that is no less than ``least``."""
    return min((v for v in values if v >= least * 0.9999), default=None)
