"""What an editor marks in its texts: findings, problems of reading, and trouble of our own."""

from __future__ import annotations

from dataclasses import replace
from functools import cache
from typing import TYPE_CHECKING

from coldcheck.drawing.model import Span
from coldcheck.judge.finding import LEVELS, POSSIBLE
from coldcheck.records import dataclass
from coldcheck.report.shared.places import sentence
from coldcheck.report.shared.plain import clean, listed
from coldcheck.serve.edits import differing
from coldcheck.verdict.added import all_rules
from coldcheck.verdict.pairs import folder
from coldcheck.verdict.ruling import undecided

if TYPE_CHECKING:
    from collections.abc import Iterator
    from pathlib import Path

    from coldcheck.judge.finding import Finding
    from coldcheck.serve.reading import Known, Read
    from coldcheck.verdict.review import Review

ERROR, WARNING, INFORMATION, HINT = 1, 2, 3, 4
"""Severities, as the protocol numbers them."""

SEVERITIES = {"danger": ERROR, "warning": ERROR, "caution": WARNING, "notice": INFORMATION,
              "advice": HINT}  # fmt: skip
SETTINGS, FAILED, UNDECIDED, SHEET = "settings", "review-failed", "undecided", "sheet"


@dataclass(frozen=True, slots=True)
class Mark:
    """One mark; ``others`` are further places with a word for each, ``href`` a page on the rule.

    ``earlier`` says that it is of the drawing as it was before something could not be read.
    """

    span: Span
    severity: int
    code: str
    message: str
    others: tuple[tuple[Span, str], ...] = ()
    href: str = ""
    earlier: bool = False


def marks_of(review: Review) -> tuple[Mark, ...]:
    """The marks of a review; findings that the drawing accepts are none."""
    found = [_mark(review, f) for f in review.findings if f.accepted is None]
    return (*found, *_undecided(review))


def marks_of_faults(read: Read) -> tuple[Mark, ...]:
    """The marks of settings that cannot be used, on the drawing's first line."""
    text = "the drawing is not reviewed until its settings can be used"
    return tuple(
        Mark(_top(read.drawing.file), ERROR, SETTINGS, clean(f"{fault}; {text}"))
        for fault in read.faults
    )


def failure(file: str, error: Exception) -> Mark:
    """The mark of a review that broke down."""
    what = clean(f"{type(error).__name__}: {error}")[:300]
    text = f"the review failed, so nothing was judged: {what}. This is a fault of coldcheck"
    return Mark(_top(file), WARNING, FAILED, text)


def of_a_sheet(read: Read, user: Path) -> Mark:
    """The one mark of a text that is a sheet of a drawing nobody has open."""
    text = (
        f"a sheet of {user.name}: it is reviewed there and not alone. Open that drawing to have "
        "here what is found in it"
    )
    return Mark(_top(read.drawing.file), INFORMATION, SHEET, clean(text))


def kept(known: Known, read: Read) -> tuple[Mark, ...]:
    """The marks of the last good review, moved to where their lines are now.

    In a text that cannot be read now each says that it is from before.
    """
    moved = _moved(known.read.drawing.lines, read.drawing.lines)
    own = read.drawing.file
    before = read.trouble
    return tuple(_earlier(_at_now(m, own, moved), before) for m in marks_of(known.review))


def _earlier(mark: Mark, trouble: str) -> Mark:
    if not trouble:
        return mark
    text = f"Before the error in {trouble}: {mark.message}"
    return replace(mark, message=text, earlier=True)


def _at_now(mark: Mark, own: str, moved: dict[int, int]) -> Mark:
    others = tuple((_move(span, own, moved), text) for span, text in mark.others)
    return replace(mark, span=_move(mark.span, own, moved), others=others)


def _move(span: Span, own: str, moved: dict[int, int]) -> Span:
    line = moved.get(span.line, span.line) if span.file == own else span.line
    return replace(span, line=line)


def _moved(old: tuple[str, ...], new: tuple[str, ...]) -> dict[int, int]:
    """Line number before -> now; a line that is gone goes to where it was."""
    found: dict[int, int] = {}
    before = shift = 0
    last = max(len(new) - 1, 0)
    for a1, a2, b1, b2 in (*differing(old, new), (len(old), len(old), len(new), len(new))):
        found.update((n + 1, min(n + shift, last) + 1) for n in range(before, a1))
        for offset in range(a2 - a1):
            found[a1 + offset + 1] = min(b1 + offset, max(b2 - 1, b1), last) + 1
        before, shift = a2, b2 - a2
    return found


def _mark(review: Review, finding: Finding) -> Mark:
    return Mark(
        finding.span,
        _severity(review, finding),
        finding.rule,
        message_of(review, finding),
        tuple(_others(review, finding)),
        _page_of(finding.rule),
    )


def _severity(review: Review, finding: Finding) -> int:
    """An error where a line cannot be read; a hint where it is only possible or below the gate."""
    if not review.readable:
        return ERROR
    milder = LEVELS.index(finding.level) < LEVELS.index(review.gate.level)
    if milder or finding.certainty == POSSIBLE or finding.standing:
        return HINT
    return SEVERITIES[finding.level]


def message_of(review: Review, finding: Finding) -> str:
    """The signal word, the sentence with its numbers, the state, and what to do."""
    if not review.readable:
        told = f"{finding.message[:1].upper()}{finding.message[1:]}"
        return clean(f"{told}. {_ended(finding.remedy)}")
    state = "" if finding.state in ("", "drawing") else f" (state: {finding.state})"
    possible = "possibly: " if finding.certainty == POSSIBLE else ""
    told = f"{finding.level.upper()}: {possible}{sentence(finding)}{state}."
    return clean(f"{told} {_ended(finding.remedy)}".strip())


def _ended(text: str) -> str:
    return text if not text or text.endswith((".", "?", "!")) else f"{text}."


def _others(review: Review, finding: Finding) -> Iterator[tuple[Span, str]]:
    """The further places of a finding that stand elsewhere in the text."""
    if review.circuit is None:
        return
    seen = {finding.span}
    for place in finding.at:
        owner = place.split(".")[0]
        if place in review.circuit.places or owner in review.circuit.places:
            span = review.circuit.span(place)
            if span not in seen:
                seen.add(span)
                yield span, clean(f"{place}: the same finding")


def _undecided(review: Review) -> Iterator[Mark]:
    """What leaves the drawing undecided, what broke down inside the review among it."""
    for item in undecided(review) if review.readable else ():
        if item.kind.broken or review.gate.holds_undecided:
            where = f" at {listed(item.at)}" if item.at else ""
            text = clean(f"not judged: {item.rule}{where}: {item.reason}")
            name = FAILED if item.kind.broken else UNDECIDED
            yield Mark(_top(review.file), WARNING, name, text)


@cache
def _page_of(rule: str) -> str:
    """The rule's section of the page of all rules, where that page is installed."""
    page = folder() / "README.md"
    known = any(r.id == rule for r in all_rules())
    if not known or not page.is_file():
        return ""
    return f"{page.as_uri()}#{rule.replace('.', '')}"


def _top(file: str) -> Span:
    return Span(file, 1, 1, 1)
