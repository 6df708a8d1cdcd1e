"""Changes to a text, as places and what to write there."""

from __future__ import annotations

from dataclasses import dataclass
from difflib import SequenceMatcher
from typing import TYPE_CHECKING

from coldcheck.drawing.reader import parse_drawing
from coldcheck.drawing.tidy import tidied

if TYPE_CHECKING:
    from collections.abc import Iterable, Iterator, Sequence

    from coldcheck.serve.page import Page


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
    matcher = SequenceMatcher(None, old, new, autojunk=False)
    for tag, a1, a2, b1, b2 in matcher.get_opcodes():
        if tag != "equal":
            yield LinesEdit(a1 + 1, a2 - a1, tuple(new[b1:b2]))
