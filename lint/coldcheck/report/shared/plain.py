"""Making text that came from a drawing safe and tidy to print.

Names, titles and reasons are the user's: they may hold anything, also bytes that would move a
terminal's cursor. Nothing of that kind leaves this module.
"""

from __future__ import annotations

import re
from typing import TYPE_CHECKING

from rich.cells import cell_len

if TYPE_CHECKING:
    from collections.abc import Iterable

_ADDRESS = re.compile(r"www\.|(?:https?|ftp|mailto|xmpp):", re.IGNORECASE)
_COMMAND = re.compile(r":(?=:)|##(?=\[)")
_TAB = "    "
_LONGEST = 4_000
"""Characters of a source line that are ever looked at; a readable line has fewer."""


def clean(text: str) -> str:
    """Return ``text`` with every unprintable character (controls, direction marks) spelt out.

    What hosted CI takes for a command in a line of a log is parted by a blank: ``::`` at its
    beginning (a line may be broken anywhere), ``##[`` wherever it stands.
    """
    if not text.isprintable():
        text = "".join(map(_clean_character, text))
    return _COMMAND.sub(r"\g<0> ", text) if "::" in text or "##[" in text else text


def unheard(text: str, sign: str = "\\u0023") -> str:
    """The same JSON without what hosted CI takes for a command in a log.

    ``sign`` is how another language writes the sign for a number.
    """
    return text.replace("##[", f"{sign}#[")


def _clean_character(character: str) -> str:
    if character.isprintable():
        return character
    if character in "\t\u00a0\u202f\u2007\u3000":
        return " "
    return character.encode("unicode_escape").decode("ascii")


def unlinked(text: str) -> str:
    """Text in which renderers of Markdown find no address to make a link of.

    They look for ``www.``, ``scheme:/`` and ``scheme:name`` without being asked; a joiner of no
    width keeps the text as it looks.
    """
    return _ADDRESS.sub(lambda found: f"{found[0][:-1]}\u2060{found[0][-1]}", text)


def listed(items: Iterable[str], last: str = "and") -> str:
    """Join as a sentence does: ``a``, ``a and b``, ``a, b and c``."""
    words = list(items)
    if len(words) < 2:
        return "".join(words)
    return f"{', '.join(words[:-1])} {last} {words[-1]}"


def counted(number: int, noun: str) -> str:
    """Return ``1 finding``, ``3 findings``, ``no findings``."""
    return f"{number or 'no'} {noun}{'' if number == 1 else 's'}"


def excerpt(line: str, column: int, end_column: int, width: int) -> tuple[str, str]:
    """Return a source line and the marks under its columns, both at most ``width`` cells.

    Columns count characters from 1, the end is exclusive and may lie past the end of the line.
    A long line is cropped around the marked place.
    """
    line = line.rstrip("\r\n")[:_LONGEST]
    pieces = [_TAB if c == "\t" else _clean_character(c) for c in line]
    start = min(max(column - 1, 0), len(pieces))
    end = min(max(end_column - 1, start + 1), len(pieces))
    first = _first_piece(pieces, start, end, width)
    head, tail = ("…" if first else ""), ""
    shown = head + "".join(pieces[first:])
    if cell_len(shown) > width:
        kept = cell_len(head + "".join(pieces[first:end]))
        shown, tail = _fit(shown, width - 1, kept), "…"
    before = cell_len(head + "".join(pieces[first:start]))
    marks = max(cell_len("".join(pieces[start:end])), 1)
    return (shown + tail).rstrip(), " " * before + "^" * max(min(marks, width - before), 1)


def _first_piece(pieces: list[str], start: int, end: int, width: int) -> int:
    """The first piece to show so that the marked ones are in sight, with some room before."""
    after = start == len(pieces)  # the mark stands behind the last character
    if cell_len("".join(pieces)) + after <= width or cell_len("".join(pieces[:end])) < width - 1:
        return 0
    first = start
    while first > 0 and cell_len("".join(pieces[first - 1 : start])) < width // 3:
        first -= 1
    blanks = [n for n in range(first, start) if pieces[n] == " "]
    return blanks[0] if blanks else first


def _fit(text: str, width: int, kept: int) -> str:
    """Text cut to a width, at a blank where there is one behind what must be ``kept``."""
    cut = text
    while cell_len(cut) > width:
        cut = cut[:-1]
    blank = cut.rfind(" ")
    whole = text[len(cut) :].startswith(" ") or cell_len(cut[: blank + 1]) < kept
    return cut if whole else cut[: blank + 1]
