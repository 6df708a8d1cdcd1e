"""The text of a file as an editor counts it: lines from 0, columns in units of its encoding.

A drawing's places count lines and characters (code points) from 1. An editor counts UTF-16 units
unless it agreed on another encoding, so a sign beyond the basic plane is two of them.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

from coldcheck.drawing.lines import physical_lines
from coldcheck.records import dataclass

if TYPE_CHECKING:
    from coldcheck.drawing.model import Span

UTF8, UTF16, UTF32 = "utf-8", "utf-16", "utf-32"
BOM = "\ufeff"

Range = tuple[tuple[int, int], tuple[int, int]]
"""(line, character) of the first place and of the one after the last."""


@dataclass(frozen=True, slots=True)
class Page:
    """The lines of a text; ``shift`` is the width of a byte order mark before the first."""

    lines: tuple[str, ...]
    encoding: str = UTF16
    shift: int = 0
    newline: str = "\n"

    @classmethod
    def of(cls, text: str, encoding: str = UTF16) -> Page:
        """The page of a text; ``newline`` is the first line end in it."""
        shift = width(BOM, encoding) if text.startswith(BOM) else 0
        first = min((i for i in map(text.find, "\r\n") if i >= 0), default=-1)
        newline = "\n" if first < 0 else "\r\n" if text.startswith("\r\n", first) else text[first]
        return cls(physical_lines(text), encoding, shift, newline)

    def line(self, number: int) -> str:
        """A line by its number from 1; empty where there is none."""
        return self.lines[number - 1] if 1 <= number <= len(self.lines) else ""

    def column(self, line: int, character: int) -> int:
        """The editor's place as a column from 1 (both ``line`` and ``character`` from 0).

        A place inside a sign counts as before it, one past the end as the end.
        """
        units = character - (self.shift if line == 0 else 0)
        for index, sign in enumerate(self.line(line + 1)):
            units -= width(sign, self.encoding)
            if units < 0:
                return index + 1
        return len(self.line(line + 1)) + 1

    def character(self, number: int, column: int) -> int:
        """A column from 1 of a line from 1 as the editor's character from 0."""
        before = self.line(number)[: max(column - 1, 0)]
        shift = self.shift if number == 1 else 0
        return shift + sum(width(sign, self.encoding) for sign in before)

    def range(self, span: Span) -> Range:
        """A place in the text as the editor's range, cut to what the page has."""
        number = min(max(span.line, 1), len(self.lines))
        start = self.character(number, span.column)
        end = self.character(number, max(span.end_column, span.column))
        return (number - 1, start), (number - 1, end)

    def end(self) -> tuple[int, int]:
        """The place after the last sign."""
        last = len(self.lines)
        return last - 1, self.character(last, len(self.line(last)) + 1)


def width(sign: str, encoding: str) -> int:
    """How many units of an encoding one character is."""
    if encoding == UTF32:
        return 1
    if encoding == UTF16:
        return 2 if ord(sign) > 0xFFFF else 1
    return len(sign.encode("utf-8", "surrogatepass"))
