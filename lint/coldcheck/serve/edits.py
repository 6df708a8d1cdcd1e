"""Changes to a text, as places and what to write there."""

from __future__ import annotations

from difflib import SequenceMatcher
from typing import TYPE_CHECKING

from coldcheck.drawing.reader import parse_drawing
from coldcheck.drawing.tidy import tidied
from coldcheck.records import dataclass

if TYPE_CHECKING:
    from collections.abc import Iterable, Iterator, Sequence

    from coldcheck.serve.page import Page


MOST_LINES = 1_000
"""Lines among which the differences of two texts are looked for one by one."""


@dataclass(frozen=True, slots=True)
class Edit:
    """Write ``text`` in the place of some columns of a line (all from 1, the end exclusive)."""

    line: int
    column: int
    end_column: int
    text: str


@dataclass(frozen=True, slots=True)
class LinesEdit:
    """Write whole lines in the place of ``count`` lines from ``line`` on (from 1)."""

    line: int
    count: int
    lines: tuple[str, ...]


def edited(lines: Sequence[str], edits: Iterable[Edit | LinesEdit]) -> list[str]:
    """The lines with the edits made; edits do not overlap."""
    found = list(lines)
    for edit in sorted(edits, key=lambda e: (e.line, getattr(e, "column", 0)), reverse=True):
        if isinstance(edit, LinesEdit):
            found[edit.line - 1 : edit.line - 1 + edit.count] = edit.lines
        else:
            line = found[edit.line - 1]
            found[edit.line - 1] = line[: edit.column - 1] + edit.text + line[edit.end_column - 1 :]
    return found


def tidying(page: Page) -> list[LinesEdit]:
    """The lines that ``coldcheck tidy`` would write otherwise; none where it cannot be read."""
    text = "\n".join(page.lines)
    if parse_drawing(text).problems:
        return []
    # The last line of a text that ends in a line end is empty.
    after = tidied(text).split("\n")
    return list(_differing(page.lines, after))


def _differing(old: Sequence[str], new: Sequence[str]) -> Iterator[LinesEdit]:
    for a1, a2, b1, b2 in differing(old, new):
        yield LinesEdit(a1 + 1, a2 - a1, tuple(new[b1:b2]))


def differing(old: Sequence[str], new: Sequence[str]) -> Iterator[tuple[int, int, int, int]]:
    """The stretches in which two texts differ: lines a1 to a2 of the old, b1 to b2 of the new.

    Counted from 0, the ends exclusive. Finding the best match grows with the square of the lines:
    beyond MOST_LINES between the first and the last difference that is all one stretch.
    """
    most = min(len(old), len(new))
    head = next((n for n in range(most) if old[n] != new[n]), most)
    tail = next((n for n in range(most - head) if old[-1 - n] != new[-1 - n]), most - head)
    a2, b2 = len(old) - tail, len(new) - tail
    if max(a2, b2) - head > MOST_LINES:
        yield head, a2, head, b2
        return
    matcher = SequenceMatcher(None, old[head:a2], new[head:b2], autojunk=False)
    for tag, i1, i2, j1, j2 in matcher.get_opcodes():
        if tag != "equal":
            yield head + i1, head + i2, head + j1, head + j2
