"""Workflow commands that hosted CI services turn into remarks beside the changed lines.

One physical line a finding, in the form ``::level file=...,line=...,col=...,title=...::message``.
What counts at the gate is an error, what is milder a warning, advice a notice. Nothing from a
drawing can start a command of its own: line breaks and separators are escaped.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

from coldcheck.report.review.text import verdict_line
from coldcheck.report.shared.places import root_of, sentence
from coldcheck.report.shared.plain import clean
from coldcheck.verdict.ruling import Verdict

if TYPE_CHECKING:
    from collections.abc import Iterator, Sequence

    from coldcheck.judge.finding import Finding
    from coldcheck.report.shared.places import Root
    from coldcheck.verdict.ruling import Ruling


def render(rulings: Sequence[Ruling], root: Root | None = None) -> str:
    """All findings, a line each; empty where there are none.

    What was accepted or stands in a ledger has a line where it can hurt somebody, and what leaves
    a drawing undecided; a drawing that has either says its verdict.
    """
    lines = [line for ruling in rulings for line in _of(ruling, root or root_of(rulings))]
    return "".join(f"{line}\n" for line in lines)


def _of(ruling: Ruling, root: Root) -> Iterator[str]:
    counting = set(map(id, ruling.counting))
    for finding in ruling.document.findings:
        if known(finding):
            if finding.level not in _EQUIPMENT:
                yield _command(finding, "warning", root, f"{known(finding)}, ")
        else:
            counts = id(finding) in counting or not ruling.document.readable
            yield _command(finding, "error" if counts else _mild(finding), root)
    if ruling.verdict is Verdict.UNDECIDED or any(map(known, ruling.document.findings)):
        undecided = ruling.verdict is Verdict.UNDECIDED
        word = "error" if ruling.stops and undecided else "warning" if undecided else "notice"
        file = _property(root.name(ruling.document.file))
        title = _property(ruling.verdict)
        yield f"::{word} file={file},line=1,title={title}::{_message(verdict_line(ruling))}"


_EQUIPMENT = ("notice", "advice")


def known(finding: Finding) -> str:
    """Who let a finding through, if anybody did."""
    if finding.accepted is not None:
        return "accepted in the drawing"
    return "standing in the ledger" if finding.standing else ""


def _mild(finding: Finding) -> str:
    return "notice" if finding.level == "advice" else "warning"


def _command(finding: Finding, word: str, root: Root, known: str = "") -> str:
    span = finding.span
    properties = {
        "file": root.name(span.file),
        "line": str(span.line),
        "col": str(span.column),
        "endColumn": str(max(span.end_column, span.column)),
        "title": f"{known}{finding.level}: {finding.rule}",
    }
    shown = ",".join(f"{name}={_property(value)}" for name, value in properties.items())
    return f"::{word} {shown}::{_message(f'{sentence(finding)}. {finding.remedy}')}"


def _message(text: str) -> str:
    """Escape what ends a command or starts a new one."""
    return clean(_escaped(text))


def _property(text: str) -> str:
    """Escape the separators of the properties as well."""
    return clean(_escaped(text).replace(":", "%3A").replace(",", "%2C"))


def _escaped(text: str) -> str:
    return text.replace("%", "%25").replace("\r", "%0D").replace("\n", "%0A")
