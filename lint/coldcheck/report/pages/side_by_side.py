"""Two drawings side by side, the lines that differ marked in both."""

from __future__ import annotations

from difflib import SequenceMatcher
from itertools import zip_longest
from typing import TYPE_CHECKING

from rich.table import Table
from rich.text import Text

from coldcheck.report.shared.lines import say, wrapped
from coldcheck.report.shared.plain import clean

if TYPE_CHECKING:
    from collections.abc import Iterator

    from rich.console import Console

MARKS = ("×", "+")
"""Before a line that only the left (wrong), or only the right drawing has."""

_MENDED = "# mended"
_HANG = "    "


def side_by_side(console: Console, left: str, right: str, headings: tuple[str, str]) -> None:
    """Print two drawings in two columns of equal width; long lines wrap under themselves."""
    width = (console.width - 2) // 2 - 4
    table = Table(box=None, pad_edge=False, padding=(0, 1, 0, 0), header_style="bold")
    for heading in headings:
        table.add_column("", no_wrap=True, width=1)
        table.add_column(heading, no_wrap=True, width=width)
    for a, b in aligned(left.splitlines(), right.splitlines()):
        differ = a != b
        table.add_row(*_cell(console, a, width, differ, 0), *_cell(console, b, width, differ, 1))
    for line in console.render_lines(
        table, console.options.update(width=console.width - 2), pad=False
    ):
        shown = Text("  ") + Text.assemble(*((s.text, s.style or "") for s in line))
        shown.rstrip()
        say(console, shown)


def aligned(left: list[str], right: list[str]) -> Iterator[tuple[str | None, str | None]]:
    """Lines that belong beside each other; ``None`` where only the other side has one."""
    right = [_bare(line) for line in right]
    matcher = SequenceMatcher(None, left, right, autojunk=False)
    for _, a, b, c, d in matcher.get_opcodes():
        yield from zip_longest(left[a:b], right[c:d])


def _bare(line: str) -> str:
    """Without the remark that a line was mended; the mark in the margin says it."""
    head, found, _ = line.partition(_MENDED)
    return head.rstrip() if found else line


def _cell(
    console: Console, line: str | None, width: int, differ: bool, side: int
) -> tuple[Text, Text]:
    if line is None:
        return Text(""), Text("")
    style = ("bold red", "bold green")[side] if differ else ""
    first, *rest = list(wrapped(console, clean(line), width)) or [""]
    if rest:
        under = " ".join(rest)
        rest = [_HANG + t for t in wrapped(console, under, width - len(_HANG))]
    return Text(MARKS[side] if differ else "", style=style), Text(
        "\n".join([first, *rest]), style=style
    )
