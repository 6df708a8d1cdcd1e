"""The voltage and resistance chart for a terminal, eighty columns wide."""

from __future__ import annotations

from typing import TYPE_CHECKING

from rich.cells import cell_len, set_cell_size
from rich.text import Text

from coldcheck.report.chart.words import (
    CAUTION,
    OHMS_ARE,
    USES,
    VOLTS_ARE,
    block_title,
    idle_pins,
    numbered,
    ohms_texts,
    state_title,
    volt_texts,
    warnings,
)
from coldcheck.report.shared.conditions import paragraph_of
from coldcheck.report.shared.lines import entries, paragraph, say
from coldcheck.report.shared.plain import clean

if TYPE_CHECKING:
    from collections.abc import Iterator, Mapping, Sequence

    from rich.console import Console

    from coldcheck.bench.chart.rows import Block, Chart

FIGURES = ("ohms", "range", "DC V", "+/-", "AC rms", "+/-", "p-p")
WIDEST = 24
"""Cells of a name before it is cropped: the figures must stay in their columns."""


def render(chart: Chart, console: Console) -> None:
    """Print the chart, its notes, what the figures mean, and the caution."""
    paragraph(console, clean(chart.title or chart.file), style="bold")
    paragraph(console, f"Voltage and resistance chart of {clean(chart.file)}")
    paragraph(console, f"ohms: power off, cold; volts: {clean(state_title(chart))}")
    paragraph(console, clean(paragraph_of(chart.conditions)))
    for warning in warnings(chart):
        paragraph(console, clean(warning), style="bold")
    notes, marks = numbered(chart.rows())
    for block in chart.blocks:
        _block(console, block, marks)
    _notes(console, notes)
    say(console)
    paragraph(console, OHMS_ARE)
    paragraph(console, VOLTS_ARE)
    closing(console)


def closing(console: Console) -> None:
    """Print the caution that ends every text on measuring."""
    say(console)
    paragraph(console, CAUTION)


def _block(console: Console, block: Block, marks: Mapping[str, str]) -> None:
    say(console)
    say(console, clean(block_title(block)), "bold")
    names = ("pin", "") if block.kind == "tube" else ("point",)
    rows = [(*names, *FIGURES, "notes")]
    for row in block.rows:
        label = (row.pin.label, row.pin.lead) if block.kind == "tube" else (row.pin.label,)
        figures = (*ohms_texts(row.ohms), *volt_texts(row))
        rows.append((*label, *figures, marks.get(row.pin.point, "")))
    for number, line in enumerate(aligned(rows, len(names), console.width - 1)):
        say(console, Text(" " + line, style="dim" if number == 0 else ""))
    for use, there in idle_pins(block).items():
        paragraph(console, f"pin {', '.join(there)}: {USES[use]}", 1, "dim")


def aligned(
    rows: Sequence[Sequence[str]], left: int, width: int, widest: int = WIDEST
) -> Iterator[str]:
    """The rows as lines: the first ``left`` cells and the last to the left, the others right.

    The last cell goes on under itself where the line is full; others are cropped at ``widest``.
    """
    cells = [[clean(cell) for cell in row] for row in rows]
    sizes = [min(max(map(cell_len, column)), widest) for column in zip(*cells, strict=True)]
    for row in cells:
        parts = [
            set_cell_size(cell, size) if k < left else cell.rjust(size)
            for k, (cell, size) in enumerate(zip(row[:-1], sizes[:-1], strict=True))
        ]
        head = " ".join(parts) + " "
        room = max(width - cell_len(head), 6)
        last = _folded(row[-1].split(), room) or [""]
        yield (head + last[0]).rstrip()
        yield from (" " * cell_len(head) + more for more in last[1:])


def _folded(words: Sequence[str], room: int) -> list[str]:
    lines: list[str] = []
    for word in words:
        if lines and len(lines[-1]) + 1 + len(word) <= room:
            lines[-1] += f" {word}"
        else:
            lines.append(word)
    return lines


def _notes(console: Console, notes: Mapping[str, int]) -> None:
    if not notes:
        return
    say(console)
    say(console, "Notes", "bold")
    entries(console, ((str(n), clean(text)) for text, n in notes.items()), 1, 4)
