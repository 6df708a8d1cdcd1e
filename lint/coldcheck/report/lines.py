"""Lines for a console: wrapped, indented, and never with blanks at their end."""

from __future__ import annotations

from typing import TYPE_CHECKING

from rich.table import Table
from rich.text import Text

if TYPE_CHECKING:
    from collections.abc import Iterable, Iterator

    from rich.console import Console

_LEAST = 20


def say(console: Console, line: Text | str = "", style: str = "") -> None:
    """Print one physical line as it is: no wrapping, no markup, no highlighting."""
    text = Text(line, style=style) if isinstance(line, str) else line
    console.print(text, soft_wrap=True, markup=False, highlight=False, emoji=False)


def paragraph(console: Console, text: str, indent: int = 0, style: str = "") -> None:
    """Print text wrapped to the console's width, each line indented."""
    for line in wrapped(console, text, console.width - indent):
        say(console, Text(" " * indent) + Text(line, style=style))


def entries(
    console: Console,
    items: Iterable[tuple[str, str]],
    indent: int,
    label_width: int,
    label_style: str = "dim",
) -> None:
    """Print label and text side by side; the text wraps under itself.

    A label that is too long for its column has a line of its own.
    """
    for label, text in items:
        shown = label
        if len(label) >= label_width:
            say(console, Text(" " * indent).append(label, style=label_style))
            shown = ""
        for line in wrapped(console, text, console.width - indent - label_width):
            head = Text(" " * indent).append(shown.ljust(label_width), style=label_style)
            say(console, head + Text(line))
            shown = ""


def wrapped(console: Console, text: str, width: int) -> Iterator[str]:
    """The lines of a text at a width (at least 20 cells, however narrow the console)."""
    for line in Text(text).wrap(console, max(width, _LEAST)):
        yield line.plain.rstrip()


def columns(*headings: str, left: int = 1) -> Table:
    """A borderless table; all but the first ``left`` columns are numbers, set to the right."""
    table = Table(box=None, pad_edge=False, padding=(0, 2, 0, 0), header_style="dim")
    for position, heading in enumerate(headings):
        table.add_column(heading, justify="left" if position < left else "right", no_wrap=True)
    return table


def show(console: Console, table: Table, indent: int = 2) -> None:
    """Print a table indented; a cell's text is never markup and lines have no trailing blanks."""
    options = console.options.update(width=max(console.width - indent, _LEAST))
    for segments in console.render_lines(table, options, pad=False):
        line = Text(" " * indent)
        for segment in segments:
            line.append(segment.text, style=segment.style)
        line.rstrip()
        say(console, line)
