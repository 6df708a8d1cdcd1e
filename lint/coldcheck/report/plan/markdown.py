"""The power-up plan as Markdown, one table for the readings of each step."""

from __future__ import annotations

from typing import TYPE_CHECKING

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
from coldcheck.report.shared.markdown import escaped as md

if TYPE_CHECKING:
    from collections.abc import Iterable, Iterator

    from coldcheck.bench.plan.model import Caution, Plan, Step
    from coldcheck.report.plan.words import Table


def render(plan: Plan) -> str:
    """The plan as Markdown; everything from the drawing is escaped."""
    lines = [f"# {md(plan.title or plan.file)}", "", md(heading(plan))]
    lines += ["", md(paragraph_of(plan.conditions)), *_findings(plan), ""]
    lines += _cautions(plan.cautions)
    for number, step in enumerate(plan.steps, 1):
        lines += ["", *_step(number, step, plan)]
    lines += ["", *(f"{md(text)}\n" for text in plan.assumptions)]
    return "\n".join([*lines, f"**{md(CAUTION)}**", ""])


def _findings(plan: Plan) -> Iterator[str]:
    yield from (f"\n**{md(text)}**" for text in stop_first(plan))
    for words, findings in findings_of(plan):
        yield f"\n{md(words)}" if words else ""
        yield ""
        yield from (_signalled(f.level, finding_text(f)) for f in findings)


def _cautions(cautions: Iterable[Caution]) -> list[str]:
    return [_signalled(c.level, c.text) for c in cautions]


def _signalled(level: str, text: str) -> str:
    return f"- **{level.upper()}** {md(text)}"


def _step(number: int, step: Step, plan: Plan) -> Iterator[str]:
    yield f"## {md(step_title(number, step))}"
    yield ""
    cautions = _cautions(step.cautions)
    yield from (*cautions, "") if cautions else ()
    yield from (f"{k}. {md(text)}" for k, text in enumerate(step.do, 1))
    for table in tables(step):
        yield from _table(table)
    if step.key == "off" and plan.charges:
        yield from ("", _row(CHARGES), _row(["---"] * len(CHARGES)))
        yield from (_row(charge_cells(c)) for c in plan.charges)
    yield from (f"\n{md(text)}" for text in (*step.missing, unseen_text(step)) if text)


def _table(table: Table) -> Iterator[str]:
    several = len(table.settings) > 1
    heads = (*LEADS, *(() if several else ("expected",)), *table.heads, "read", "notes")
    yield from ("", md(table.caption), "", _row(heads), _row(["---"] * len(heads)))
    for line in table.lines:
        expected = () if several else (expected_text(line.last),)
        ranges = (range_text(c) for c in line.checks)
        yield _row((line.point, line.other, *expected, *ranges, "", table.remark(line)))
    yield from (f"\n{md(reason)}" for reason in table.reasons)


def _row(cells: Iterable[str]) -> str:
    return "| " + " | ".join(cell if set(cell) == {"-"} else md(cell) for cell in cells) + " |"
