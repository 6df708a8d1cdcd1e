"""Lines for a console: wrapped, indented, and never with blanks at their end."""

from __future__ import annotations

from typing import TYPE_CHECKING

from rich.cells import cell_len
from rich.table import Table
from rich.text import Text

from coldcheck.report.shared import blocks
from coldcheck.report.shared.plain import clean

if TYPE_CHECKING:
    from collections.abc import Iterable, Iterator

    from rich.console import Console, JustifyMethod
    from rich.style import StyleType

    from coldcheck.report.shared.blocks import Section

_LEAST = 20
_GAP = 2
_STEP = 2


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
    table = Table(box=None, pad_edge=False, padding=(0, _GAP, 0, 0), header_style="dim")
    for position, heading in enumerate(headings):
        table.add_column(heading, justify="left" if position < left else "right", no_wrap=True)
    return table


def show(console: Console, table: Table, indent: int = 2) -> None:
    """Print a table indented; one that is too wide becomes entries, so that no cell is cut."""
    lines = _laid_out(table, console.width - indent)
    if lines is None:
        _as_entries(console, table, indent)
        return
    for line in lines:
        shown = Text(" " * indent) + line
        shown.rstrip()
        say(console, shown)


def print_section(console: Console, section: Section) -> None:
    """Print a section: its heading, then tables, notes and entries."""
    say(console)
    paragraph(console, clean(section.title), style="bold")
    for block in section.blocks:
        match block:
            case blocks.Table():
                show(console, _table(block))
            case blocks.Note():
                paragraph(console, clean(block.text), 2)
            case blocks.Entries():
                if block.title:
                    say(console, f"  {clean(block.title)}")
                items = ((clean(label), clean(text)) for label, text in block.items)
                entries(console, items, 2, block.label_width)


def _table(block: blocks.Table) -> Table:
    table = columns()
    for position, heading in enumerate(block.headings):
        side: JustifyMethod = "left" if position in block.words else "right"
        table.add_column(Text(clean(heading)), justify=side, no_wrap=True)
    for row in block.rows:
        table.add_row(*(Text(clean(cell)) for cell in row))
    return table


def _as_entries(console: Console, table: Table, indent: int) -> None:
    """Each row under its first cell, as heading and cell, wrapped at blanks only."""
    heads = [_plain(c.header, "").plain for c in table.columns]
    cells = [[_plain(x, "").plain for x in c.cells] for c in table.columns]
    for name, *rest in zip(*cells, strict=True):
        pairs = zip(heads[1:], rest, strict=True)
        text = ", ".join(f"{head} {cell}".strip() for head, cell in pairs if cell)
        say(console, Text(" " * indent) + Text(name.strip() or "also", style="dim"))
        paragraph(console, text, indent + _STEP)


def _laid_out(table: Table, width: int) -> list[Text] | None:
    """The lines of a table that fits as it is; ``None`` where it does not.

    Rich lays out and measures every cell several times over; for a page of small tables that
    costs as much as solving a small drawing.
    """
    heads = [_plain(c.header, table.header_style) for c in table.columns]
    cells = [[_plain(x, c.style) for x in c.cells] for c in table.columns]
    columns = [[head, *column] for head, column in zip(heads, cells, strict=True)]
    sizes = [max(cell_len(t.plain) for t in column) for column in columns]
    if sum(sizes) + _GAP * (len(sizes) - 1) > width:
        return None
    sides = [c.justify == "right" for c in table.columns]
    return [
        Text(" " * _GAP).join(_padded(*cell) for cell in zip(row, sizes, sides, strict=True))
        for row in zip(*columns, strict=True)
    ]


def _plain(cell: object, style: StyleType) -> Text:
    text = cell.copy() if isinstance(cell, Text) else Text(str(cell))
    text.stylize(style)
    return text


def _padded(text: Text, size: int, right: bool) -> Text:
    room = " " * (size - cell_len(text.plain))
    return Text(room) + text if right else text + Text(room)
