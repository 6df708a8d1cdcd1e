"""The terse report: a line a drawing, and below it a line for each finding that is open.

For every day, where most drawings have nothing new. Findings have the form of the GNU coding
standards; advice, and what was accepted or stands in the ledger, is counted and not listed.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

from coldcheck.judge.finding import LEVELS
from coldcheck.report.review.text import CAUTION, summary, what_stands, what_would_decide
from coldcheck.report.shared.places import sentence
from coldcheck.report.shared.plain import clean, counted
from coldcheck.verdict.ruling import Verdict

if TYPE_CHECKING:
    from collections.abc import Iterator, Sequence

    from coldcheck.judge.finding import Finding
    from coldcheck.verdict.ruling import Ruling


def render(rulings: Sequence[Ruling]) -> str:
    """The lines on all drawings, how many there are of each verdict, and the caution."""
    lines = [clean(line) for ruling in rulings for line in _of(ruling)]
    return "".join(f"{line}\n" for line in (*lines, summary(rulings), CAUTION))


def _of(ruling: Ruling) -> Iterator[str]:
    document = ruling.document
    said = [str(ruling.verdict), what_stands([ruling])]
    if ruling.verdict is Verdict.UNDECIDED:
        said.append(what_would_decide(ruling.undecided))
    elif document.not_judged and document.readable:
        said.append(f"{counted(len(document.not_judged), 'remark')} on what was not judged")
    yield f"{document.file}: {'; '.join(filter(None, said))}"
    counts = set(map(id, ruling.counting))
    for finding in document.findings:
        open_ = finding.accepted is None and not finding.standing
        if id(finding) in counts or (open_ and finding.level != LEVELS[0]):
            yield f"  {_line(finding)}"


def _line(finding: Finding) -> str:
    span = finding.span
    place = f"{span.file}:{span.line}.{span.column}"
    return f"{place}: {finding.level}, {finding.rule}: {sentence(finding)}"
