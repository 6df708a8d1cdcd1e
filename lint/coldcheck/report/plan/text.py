"""The power-up plan for a terminal, eighty columns wide."""

from __future__ import annotations

from typing import TYPE_CHECKING

from rich.text import Text

from coldcheck.report.chart.text import aligned
from coldcheck.report.plan.words import (
    CAUTION,
    CHARGES,
    LEADS,
    charge_cells,
    expected_text,
    finding_text,
    findings_of,
    heading,
    range_text,
    step_title,
    stop_first,
    tables,
    unseen_text,
)
from coldcheck.report.shared.conditions import paragraph_of
from coldcheck.report.shared.lines import entries, paragraph, say, wrapped
from coldcheck.report.shared.plain import clean
from coldcheck.report.shared.signal_words import panel

if TYPE_CHECKING:
    from collections.abc import Iterable

    from rich.console import Console

    from coldcheck.bench.plan.model import Caution, Plan, Step
    from coldcheck.judge.finding import Finding
    from coldcheck.report.plan.words import Line, Table

WIDEST = 16
"""Cells of a name or figure before it is cropped."""


def render(plan: Plan, console: Console) -> None:
    """Print what speaks against power, the cautions, the steps, and the closing caution."""
    paragraph(console, clean(plan.title or plan.file), style="bold")
    paragraph(console, clean(heading(plan)))
    paragraph(console, clean(paragraph_of(plan.conditions)))
    _findings(console, plan)
    say(console)
    _cautions(console, plan.cautions)
    for number, step in enumerate(plan.steps, 1):
        _step(console, number, step, plan)
    say(console)
    for assumed in plan.assumptions:
        paragraph(console, assumed, style="dim")
    say(console)
    paragraph(console, CAUTION)


def _findings(console: Console, plan: Plan) -> None:
    for line in stop_first(plan):
        say(console)
        paragraph(console, clean(line), style="bold")
    for words, findings in findings_of(plan):
        if words:
            say(console)
            paragraph(console, words)
        for finding in findings:
            _finding(console, finding)


def _finding(console: Console, finding: Finding) -> None:
    _signalled(console, finding.level, clean(finding_text(finding)))


def _cautions(console: Console, cautions: Iterable[Caution]) -> None:
    for caution in cautions:
        _signalled(console, caution.level, clean(caution.text))


def _signalled(console: Console, level: str, text: str) -> None:
    """The signal word as a panel, the text beside it."""
    head, width = panel(level), 10
    lines = list(wrapped(console, text, console.width - width))
    for number, line in enumerate(lines):
        start = head + Text(" " * (width - len(head))) if number == 0 else Text(" " * width)
        say(console, start + Text(line))


def _step(console: Console, number: int, step: Step, plan: Plan) -> None:
    say(console)
    paragraph(console, clean(step_title(number, step)), style="bold")
    _cautions(console, step.cautions)
    entries(console, ((f"{number}.{k}", clean(t)) for k, t in enumerate(step.do, 1)), 1, 6)
    _checks(console, step)
    if step.key == "off":
        _charges(console, plan)
    for missing in step.missing:
        paragraph(console, clean(missing), 1)
    if step.unseen:
        paragraph(console, clean(unseen_text(step)), 1)


def _checks(console: Console, step: Step) -> None:
    for table in tables(step):
        say(console)
        say(console, f" {table.caption}", "dim")
        expected = () if len(table.settings) > 1 else ("expected",)
        head = (*LEADS, *expected, *table.heads, "")
        rows = [head, *(_row(table, line) for line in table.lines)]
        for number, line in enumerate(aligned(rows, 2, console.width - 1, WIDEST)):
            say(console, Text(" " + line, style="dim" if number == 0 else ""))
        for reason in table.reasons:
            paragraph(console, clean(reason), 1)


def _row(table: Table, line: Line) -> tuple[str, ...]:
    remark = table.remark(line)
    if len(table.settings) > 1:
        return (line.point, line.other, *(range_text(c) for c in line.checks), remark)
    return (line.point, line.other, expected_text(line.last), range_text(line.last), remark)


def _charges(console: Console, plan: Plan) -> None:
    if not plan.charges:
        return
    say(console)
    rows = [CHARGES, *(charge_cells(c) for c in plan.charges)]
    for number, line in enumerate(aligned(rows, 3, console.width - 1, 18)):
        say(console, Text(" " + line, style="dim" if number == 0 else ""))
