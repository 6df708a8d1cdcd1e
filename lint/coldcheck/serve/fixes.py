"""What can be done about a mark: the worked remedy, the name that was meant, a waiver.

A waiver is written with an empty reason, which the language refuses: until someone says why, the
line is an error and nothing of the drawing counts as reviewed. A reason filled in for them would
waive at once and say nothing. For what can kill or maim (danger, warning) none is offered; the
language allows one, but not at the press of a key.
"""

from __future__ import annotations

import re
from typing import TYPE_CHECKING

from coldcheck.circuit.model import LANDMARKS
from coldcheck.circuit.problems import UNKNOWN_LEAD
from coldcheck.drawing.model import Accept
from coldcheck.records import dataclass
from coldcheck.rules.intent.expectations import EXPIRED, UNMATCHED
from coldcheck.serve.edits import Edit, LinesEdit
from coldcheck.serve.remedies import remedy
from coldcheck.serve.site import Site
from coldcheck.serve.words import POINT_PATTERN
from coldcheck.verdict.waivers import matches

if TYPE_CHECKING:
    from collections.abc import Iterator

    from coldcheck.drawing.model import Problem
    from coldcheck.judge.finding import Finding
    from coldcheck.serve.reading import Known, Read

NEVER_WAIVED = ("danger", "warning")
"""Levels for which no waiver is offered."""

_MEANT = re.compile(r'did you mean "?([^\s?"]+)"?\?')


@dataclass(frozen=True, slots=True)
class Fix:
    """A change that is offered; ``rule`` and ``line`` say for which mark.

    ``preferred`` is for what was worked out to mend the finding; neither a guess nor a waiver is.
    """

    title: str
    rule: str
    line: int
    edits: tuple[Edit | LinesEdit, ...]
    preferred: bool = True


def fixes_of_reading(read: Read, first: int, last: int) -> Iterator[Fix]:
    """The names that were probably meant, in some lines of a text that cannot be read."""
    for problem in (*read.drawing.problems, *read.circuit.problems):
        meant = _MEANT.search(problem.hint)
        own = problem.span.file == read.drawing.file
        # A guess must never put a point on the mains, the chassis or gnd.
        if meant and meant[1] in LANDMARKS:
            continue
        if meant and own and first <= problem.span.line <= last:
            yield _spelt(problem, meant[1])


def _spelt(problem: Problem, meant: str) -> Fix:
    """The name in the place of the wrong one; of a lead only the lead is meant."""
    span = problem.span
    owner, dot, _ = problem.found.partition(".")
    text = f"{owner}{dot}{meant}" if problem.rule == UNKNOWN_LEAD else meant
    edit = Edit(span.line, span.column, span.end_column, text)
    return Fix(f"Write {text}", problem.rule, span.line, (edit,), preferred=False)


def fixes(known: Known, first: int, last: int) -> Iterator[Fix]:
    """What can be done about the findings in some lines of a text that was reviewed."""
    review, circuit = known.review, known.review.circuit
    if circuit is None or not review.readable:
        return
    for finding in review.findings:
        own = finding.span.file == review.file
        if finding.accepted is not None or not own or not first <= finding.span.line <= last:
            continue
        found = remedy(Site(review, circuit, known.read.page, finding))
        if found is not None:
            yield Fix(found.title, finding.rule, finding.span.line, found.edits)
        waiver = _waiver(known, finding)
        if waiver is not None:
            yield waiver


def _waiver(known: Known, finding: Finding) -> Fix | None:
    """An ``accept`` line whose reason is still to be written."""
    circuit = known.review.circuit
    if finding.level in NEVER_WAIVED or finding.rule in (UNMATCHED, EXPIRED) or circuit is None:
        return None
    for place in finding.at:
        accept = Accept(finding.rule, place, "", None, finding.span)
        if re.fullmatch(POINT_PATTERN, place) and matches(circuit, accept, finding):
            text = f'accept {finding.rule} at {place} because ""'
            line = _line_for(known)
            title = f"Accept {finding.rule} at {place}: write the reason between the quotes"
            edit = LinesEdit(line, 0, (text,))
            return Fix(title, finding.rule, finding.span.line, (edit,), preferred=False)
    return None


def _line_for(known: Known) -> int:
    """Below the last waiver of the drawing, else at its end."""
    statements = known.read.drawing.statements
    own = known.read.drawing.file
    lines = [s.span.line for s in statements if isinstance(s, Accept) and s.span.file == own]
    if lines:
        return max(lines) + 1
    page = known.read.page.lines
    filled = (n for n in range(len(page), 0, -1) if page[n - 1].strip())
    return next(filled, 0) + 1
