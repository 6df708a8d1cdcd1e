"""The voltage and resistance chart as Markdown tables."""

from __future__ import annotations

from typing import TYPE_CHECKING

from coldcheck.report.chart.words import (
    CAUTION,
    OHMS_ARE,
    USES,
    VOLTS_ARE,
    block_title,
    numbered,
    ohms_texts,
    state_title,
    volt_texts,
    warnings,
)
from coldcheck.report.shared.conditions import paragraph_of
from coldcheck.report.shared.markdown import escaped

if TYPE_CHECKING:
    from collections.abc import Iterable, Iterator, Mapping

    from coldcheck.bench.chart.rows import Block, Chart, Row

HEAD = ("ohms", "range", "DC V", "+/-", "AC V rms", "+/-", "V p-p", "notes")


def render(chart: Chart) -> str:
    """The chart as Markdown; everything from the drawing is escaped."""
    lines = [
        f"# {escaped(chart.title or chart.file)}",
        "",
        f"Voltage and resistance chart of {escaped(chart.file)}; ohms with the power off and cold, "
        f"volts with {escaped(state_title(chart))}.",
        "",
        escaped(paragraph_of(chart.conditions)),
    ]
    for warning in warnings(chart):
        lines += ["", f"**{escaped(warning)}**"]
    notes, marks = numbered(chart.rows())
    for block in chart.blocks:
        lines += ["", *_block(block, marks)]
    if notes:
        lines += ["", "## Notes", "", *(f"{n}. {escaped(text)}" for text, n in notes.items())]
    return "\n".join([*lines, "", OHMS_ARE, "", VOLTS_ARE, "", f"**{CAUTION}**", ""])


def _block(block: Block, marks: Mapping[str, str]) -> Iterator[str]:
    names = ("pin", "lead") if block.kind == "tube" else ("point",)
    yield f"## {escaped(block_title(block))}"
    yield ""
    yield _row((*names, *HEAD))
    yield _row(("---",) * len(names) + ("--:",) * (len(HEAD) - 1) + ("---",))
    for row in block.rows:
        yield _row(escaped(cell) for cell in _cells(row, len(names), marks))


def _cells(row: Row, names: int, marks: Mapping[str, str]) -> tuple[str, ...]:
    label = (row.pin.label, row.pin.lead)[:names]
    idle = USES.get(row.pin.use, "") if row.ohms is None else ""
    return (*label, *ohms_texts(row.ohms), *volt_texts(row), idle or marks[row.pin.point])


def _row(cells: Iterable[str]) -> str:
    return "| " + " | ".join(cells) + " |"
