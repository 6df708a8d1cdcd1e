"""One finding as text: a block for a terminal, a GNU line with details when piped."""

from __future__ import annotations

from typing import TYPE_CHECKING, Protocol

from rich.cells import cell_len
from rich.text import Text

from coldcheck.report.shared.lines import entries, paragraph, say
from coldcheck.report.shared.numbers import evidence_name, evidence_value, margin_text
from coldcheck.report.shared.plain import clean, excerpt, listed
from coldcheck.report.shared.signal_words import panel

if TYPE_CHECKING:
    from collections.abc import Iterator

    from rich.console import Console

    from coldcheck.drawing.model import Span
    from coldcheck.judge.finding import Finding

_INDENT, _LABEL = 3, 11


class Source(Protocol):
    """Where the lines are that findings stand in: a document, or a live review."""

    @property
    def file(self) -> str: ...  # noqa: D102
    @property
    def readable(self) -> bool: ...  # noqa: D102
    def line(self, span: Span) -> str: ...  # noqa: D102


def print_finding(console: Console, drawn: Source, finding: Finding) -> None:
    """Print one finding in the form that suits the console."""
    if console.is_terminal:
        _block_head(console, finding, readable=drawn.readable)
    else:
        say(console, gnu_line(finding))
    if drawn.readable:
        entries(console, details(finding), _INDENT, _LABEL)
        _source_line(console, drawn, finding)
    else:
        _source_line(console, drawn, finding)
        entries(console, [("hint", clean(finding.remedy))], _INDENT, _LABEL)


def print_edge(console: Console, finding: Finding) -> None:
    """Print one line for a finding of which only the edge of a range is beyond the limit."""
    if console.is_terminal:
        state = "" if finding.state in ("", "drawing") else f" ({clean(finding.state)})"
        text = f"{clean(finding.message)}{state} – {finding.rule}"
        entries(console, [(f"line {finding.span.line}", text)], 2, 10)
    else:
        say(console, gnu_line(finding))


def gnu_line(finding: Finding) -> str:
    """``file:line.column: level, rule: message`` on one physical line (GNU coding standards)."""
    span = finding.span
    place = f"{clean(span.file)}:{span.line}.{span.column}"
    return f"{place}: {finding.level}, {finding.rule}: {clean(finding.message)}"


def _block_head(console: Console, finding: Finding, *, readable: bool) -> None:
    """The signal word, the place, the rule at the right edge; under it the sentence."""
    head = panel(finding.level)
    place = clean(listed(finding.at)) if readable else ""
    place = place or f"line {finding.span.line}, column {finding.span.column}"
    head.append(f"  {place}", style="bold")
    gap = console.width - cell_len(head.plain) - len(finding.rule)
    if gap >= 2:
        head.append(" " * gap)
    else:
        say(console, head)
        head = Text(" " * _INDENT)
    head.append(finding.rule, style="dim")
    say(console, head)
    paragraph(console, clean(finding.message), _INDENT)


def details(finding: Finding) -> Iterator[tuple[str, str]]:
    """The evidence, limit, state, certainty, path, source and remedy, as label and text."""
    yield from _evidence(finding)
    if finding.state not in ("", "drawing"):
        also = f"; also {listed(map(clean, finding.also_in))}" if finding.also_in else ""
        yield "state", clean(finding.state) + also
    yield "certainty", clean(finding.certainty)
    if finding.path:
        yield "path", clean(" ".join(finding.path))
    yield "source", clean(finding.source)
    if finding.remedy:
        yield "remedy", clean(finding.remedy)


def _evidence(finding: Finding) -> Iterator[tuple[str, str]]:
    found = [f"{evidence_name(n)} {evidence_value(v)}" for n, v in finding.evidence.items()]
    limit = finding.limit.text() if finding.limit else ""
    margin = margin_text(finding.excess)
    if found:
        yield "evidence", ", ".join(found)
    if limit or margin:
        yield "limit", "; ".join(filter(None, (limit, margin)))


def _source_line(console: Console, drawn: Source, finding: Finding) -> None:
    """The line of the drawing; with marks under what could not be read."""
    span, source = finding.span, drawn.line(finding.span)
    if not source:
        return
    if span.file != drawn.file:
        entries(console, [("sheet", clean(span.file))], _INDENT, _LABEL)
    label = f"line {span.line}".ljust(_LABEL - 1) + " "
    if drawn.readable:
        entries(console, [(label.rstrip(), clean(source.strip()))], _INDENT, _LABEL)
        return
    room = max(console.width - _INDENT - len(label), 20)
    line, marks = excerpt(source, span.column, span.end_column, room)
    head = Text(" " * _INDENT).append(label, style="dim")
    say(console, head + Text(line, style="" if not console.is_terminal else "italic"))
    say(console, Text(" " * (_INDENT + len(label))).append(marks, style="bold"))
