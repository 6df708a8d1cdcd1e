"""Signs by which a text looks otherwise than it is read: who looks at a change is to see it."""

from __future__ import annotations

import re
import unicodedata
from typing import TYPE_CHECKING

from coldcheck.drawing.lines import MAX_LINE, physical_lines
from coldcheck.drawing.model import Problem, Span

if TYPE_CHECKING:
    from collections.abc import Iterator

_TURNING = re.compile("[\u202a-\u202e\u2066-\u2069]")
"""The explicit embeddings, overrides and isolates of the Unicode Bidirectional Algorithm (UAX #9).

What follows one is shown in another order. Letters of scripts that run from right to left are none.
"""

_LONE = re.compile(r"\r(?!\n)")
"""Ends a line for us, and for many programs that show changes it does not.

Behind a remark what follows would look like more of the remark.
"""


def disguised(file: str, text: str, lines: tuple[str, ...]) -> Iterator[Problem]:
    """The first sign of each kind in a text, in its remarks and quotes too.

    A text whose lines all end in a carriage return hides nothing.
    """
    found = _TURNING.search(text)
    if found:
        name = f"U+{ord(found[0]):04X} {unicodedata.name(found[0]).lower()}"
        hint = "take it out: what follows it is shown in another order than it is read"
        yield _problem(file, text, lines, found.start(), name, "text that reads as it looks", hint)
    found = _LONE.search(text) if "\n" in text else None
    if found:
        said = "a carriage return alone, among other line ends"
        hint = "many programs show what follows it in the same line"
        yield _problem(file, text, lines, found.start(), said, "one kind of line end", hint)


def _problem(
    file: str, text: str, lines: tuple[str, ...], at: int, found: str, expected: str, hint: str
) -> Problem:
    before = physical_lines(text[:at])
    line, column = len(before), min(len(before[-1]), MAX_LINE - 1) + 1
    place = Span(file, line, column, column + 1)
    return Problem(place, "drawing.syntax", found, expected, hint, lines[line - 1][:MAX_LINE])
