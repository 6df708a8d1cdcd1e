"""A comparison of two revisions as text, Markdown for a review remark, or JSON."""

from __future__ import annotations

import json
from typing import TYPE_CHECKING, Any

from coldcheck.report.review.text import what_would_decide
from coldcheck.report.shared.json_values import number, safe
from coldcheck.report.shared.lines import columns, entries, paragraph, say, show
from coldcheck.report.shared.markdown import escaped
from coldcheck.report.shared.places import sentence
from coldcheck.report.shared.plain import clean, counted

if TYPE_CHECKING:
    from rich.console import Console

    from coldcheck.compare.changes import (
        Comparison,
        FindingChange,
        JudgedComparison,
        Moved,
        PartChange,
    )

SCHEMA = "coldcheck.comparison/1"
LONGEST = 40
"""Rows of the table of voltages; what is left out is counted."""


def render(judged: JudgedComparison, console: Console) -> None:
    """Print a comparison as text."""
    found = judged.comparison
    old, new = clean(found.old.file), clean(found.new.file)
    paragraph(console, clean(found.new.title) or new, style="bold")
    paragraph(console, f"{old} -> {new}")
    _parts(console, found)
    _points(console, found)
    _findings(console, found)
    say(console)
    paragraph(console, verdict(judged), style="bold")


def verdict(judged: JudgedComparison) -> str:
    """What stops the change, in one sentence."""
    level = judged.gate.level
    if judged.stopping:
        return f"{counted(len(judged.stopping), 'finding')} new or worse at {level} or above"
    if judged.undecided:
        return f"undecided: {what_would_decide(judged.undecided)}"
    same = "the same circuit; " if judged.comparison.same_circuit else ""
    return f"{same}nothing new or worse at {level} or above in what was judged"


def part_text(change: PartChange) -> str:
    """One changed part in words."""
    if change.how in ("changed", "rewired"):
        return f"{change.old} -> {change.new}"
    return f"was {change.old}" if change.how == "renamed" else change.old or change.new


def _parts(console: Console, found: Comparison) -> None:
    if found.parts:
        say(console)
        say(console, "Parts", "bold")
        rows = ((f"{p.how} {clean(p.name)}", clean(part_text(p))) for p in found.parts)
        entries(console, rows, 2, 18, label_style="")


def _points(console: Console, found: Comparison) -> None:
    if not found.points:
        return
    say(console)
    say(console, f"Voltages to gnd that moved, {clean(found.state)}", "bold")
    table = columns("", "was", "is", "by", "AC was", "AC is")
    for moved in found.points[:LONGEST]:
        table.add_row(*(clean(cell) for cell in cells(moved)))
    show(console, table)
    if len(found.points) > LONGEST:
        paragraph(console, f"and {len(found.points) - LONGEST} more", 2)


def cells(moved: Moved) -> tuple[str, ...]:
    """A row: point, DC before and after, the step, AC before and after."""
    name = moved.point if moved.point == moved.was else f"{moved.point} (was {moved.was})"
    step = "" if None in (moved.old_dc, moved.new_dc) else f"{_step(moved):+.1f}"
    return name, _v(moved.old_dc), _v(moved.new_dc), step, _v(moved.old_ac, 2), _v(moved.new_ac, 2)


def _step(moved: Moved) -> float:
    return (moved.new_dc or 0.0) - (moved.old_dc or 0.0)


def _v(volts: float | None, digits: int = 1) -> str:
    return "-" if volts is None else f"{volts + 0.0:.{digits}f}"


def _findings(console: Console, found: Comparison) -> None:
    if found.findings:
        say(console)
        say(console, "Findings", "bold")
        entries(console, map(finding_row, found.findings), 2, 9, label_style="")


def finding_row(change: FindingChange) -> tuple[str, str]:
    """What became of a finding, and the finding."""
    finding = change.finding
    waived = ", accepted" if finding.accepted is not None else ""
    text = f"{finding.level}, {finding.rule}: {sentence(finding)}{waived}"
    return change.how, clean(text)


def markdown(judged: JudgedComparison) -> str:
    """The comparison as Markdown fit for a remark under a change."""
    found = judged.comparison
    lines = [
        f"### {escaped(found.new.title or found.new.file)}",
        "",
        f"**{escaped(verdict(judged))}**",
    ]
    if found.findings:
        lines += ["", "| | level | finding | rule |", "|---|---|---|---|"]
        lines += [_md_finding(c) for c in found.findings]
    if found.parts:
        lines += ["", "| part | | |", "|---|---|---|"]
        lines += [f"| {escaped(p.name)} | {p.how} | {escaped(part_text(p))} |" for p in found.parts]
    if found.points:
        state = escaped(found.state)
        lines += [
            "",
            f"| point, {state} | was V | is V | by | AC was | AC is |",
            "|---" + "|--:" * 5 + "|",
        ]
        rows = found.points[:LONGEST]
        lines += ["| " + " | ".join(map(escaped, cells(m))) + " |" for m in rows]
    return "\n".join([*lines, ""])


def _md_finding(change: FindingChange) -> str:
    finding = change.finding
    waived = " (accepted)" if finding.accepted is not None else ""
    text = escaped(sentence(finding))
    return f"| {change.how}{waived} | {finding.level} | {text} | `{finding.rule}` |"


def as_json(judged: JudgedComparison) -> str:
    """The comparison as JSON text; volts to gnd."""
    found = judged.comparison
    document: dict[str, Any] = {
        "schema": SCHEMA,
        "old": safe(found.old.file),
        "new": safe(found.new.file),
        "state": safe(found.state),
        "same_circuit": found.same_circuit,
        "stopping": len(judged.stopping),
        "parts": [
            {"how": p.how, "name": safe(p.name), "old": safe(p.old), "new": safe(p.new)}
            for p in found.parts
        ],
        "points": [_json_point(m) for m in found.points],
        "findings": list(map(_json_finding, found.findings)),
    }
    return json.dumps(document, indent=2, allow_nan=False) + "\n"


def _json_point(moved: Moved) -> dict[str, Any]:
    volts = ("old_dc", "new_dc", "old_ac", "new_ac")
    known = {name: number(getattr(moved, name)) for name in volts}
    return {"point": safe(moved.point), "was": safe(moved.was), **known}


def _json_finding(change: FindingChange) -> dict[str, Any]:
    finding = change.finding
    return {
        "how": change.how,
        "rule": finding.rule,
        "level": finding.level,
        "at": [safe(a) for a in finding.at],
        "line": finding.span.line,
        "message": safe(finding.message),
        "accepted": finding.accepted is not None,
        "fingerprint": finding.fingerprint,
    }
