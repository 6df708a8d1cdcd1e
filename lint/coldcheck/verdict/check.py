"""The checks every rule has to pass: its documentation, its identifier, its pairs of drawings.

Our own tests call these functions, and so can the tests of a package that brings rules
(:mod:`coldcheck.extending`). Each returns sentences on what is wrong; an empty list is a pass.
The checks of documentation are made again whenever a package's rules are loaded.
"""

from __future__ import annotations

import re
from difflib import SequenceMatcher
from typing import TYPE_CHECKING

from coldcheck.judge.finding import LEVELS, Unjudged
from coldcheck.judge.rule import Rule
from coldcheck.verdict.ruling import undecided

if TYPE_CHECKING:
    from collections.abc import Iterable, Iterator, Sequence
    from datetime import date
    from pathlib import Path

    from coldcheck.judge.finding import Finding
    from coldcheck.verdict.pairs import Pair
    from coldcheck.verdict.review import Review

MENDED = "# mended"
IDENTIFIER = re.compile(r"[a-z]+\.[a-z0-9]+(-[a-z0-9]+)*")
CURES = frozenset(("check", "must", "should", "use", "add", "require", "missing-check"))
"""Words of a cure; an identifier names the defect, as in "accept heater.no-reference"."""

WHILE_READING = "while reading"
_TEXTS = ("title", "states", "needs", "criterion", "why", "source", "limits")
_SENTENCES = ("criterion", "why", "limits")
_LEAST_WORDS = {"criterion": 5, "why": 10}


def check(rule: object, pairs: Sequence[Pair], today: date | None = None) -> list[str]:
    """Everything wrong with a rule and its pairs; reviews both drawings of each pair.

    ``pairs`` are those of a folder (:func:`coldcheck.verdict.pairs.pairs_in`); the ones of other
    rules are left alone. The rule runs beside all of ours, whether its package is installed or
    not. Never raises for what the rule does.
    """
    faults = faults_of(rule)
    if faults or not isinstance(rule, Rule):
        return faults
    own = [pair for pair in pairs if pair.rule == rule.id]
    faults = pair_faults(rule.id, own)
    for pair in own:
        faults += [f"{pair.name}: {text}" for text in _told_of(rule, pair, today)]
    return faults


def faults_of(rule: object) -> list[str]:
    """What is wrong with a rule's identifier and documentation."""
    if not isinstance(rule, Rule):
        return [f"{type(rule).__name__} is no rule: make rules with @rule(...)"]
    texts = {name: getattr(rule, name) for name in ("id", "level", *_TEXTS)}
    wrong = [name for name, text in texts.items() if not isinstance(text, str)]
    if wrong:
        return [f"{name} is no text" for name in wrong]
    return [*_identifier(rule), *_documentation(texts)]


def _identifier(rule: Rule) -> Iterator[str]:
    if not IDENTIFIER.fullmatch(rule.id):
        yield "the identifier is not of the form family.defect, in small letters and hyphens"
    if set(rule.id.partition(".")[2].split("-")) & CURES:
        yield "the identifier names a cure; it is to name the defect"
    if rule.level not in LEVELS:
        yield f"the level is not one of {', '.join(LEVELS)}"
    if not callable(rule.judge):
        yield "judge is no function"


def _documentation(texts: dict[str, str]) -> Iterator[str]:
    for name in _TEXTS:
        text = texts[name]
        if not text or text.strip() != text:
            yield f"{name} is empty, or has blanks at an end"
        elif not text.isprintable():
            yield f"{name} has characters that cannot be printed"
        elif name in _SENTENCES and (text[0].islower() or not text.endswith(".")):
            yield f"{name} is no sentence: a capital first, a full stop last"
        elif len(text.split()) < _LEAST_WORDS.get(name, 1):
            yield f"{name} says too little: at least {_LEAST_WORDS[name]} words"
    title = texts["title"]
    if title and (not title[0].isupper() or title.endswith(".")):
        yield "title has no capital first, or a full stop last"


def pair_faults(rule: str, pairs: Iterable[Pair]) -> list[str]:
    """What is wrong with a rule's pairs before they are reviewed."""
    own = [pair for pair in pairs if pair.rule == rule]
    faults = [] if any(not pair.case for pair in own) else ["there is no pair of drawings for it"]
    for pair in own:
        faults += [f"{pair.name}: {text}" for text in text_faults(*map(_lines, _files(pair)))]
    return faults


def _files(pair: Pair) -> tuple[Path, Path]:
    return pair.folder / "wrong.tube", pair.folder / "right.tube"


def _lines(file: Path) -> list[str]:
    # A drawing that teaches what an unreadable file is may hold any bytes.
    return file.read_bytes().decode("latin-1").splitlines()


def text_faults(wrong: Sequence[str], right: Sequence[str]) -> Iterator[str]:
    """Whether the right drawing is the wrong one but for the lines marked as mended."""
    if not wrong or not wrong[0].startswith("#"):
        yield "wrong: does not open with a comment that says what the pair teaches"
    blocks = SequenceMatcher(None, wrong, right, autojunk=False).get_opcodes()
    changes = [block for block in blocks if block[0] != "equal"]
    written = [line for _, _, _, a, b in changes for line in right[a:b]]
    if not changes:
        yield "right: is the wrong drawing"
    for line in (line for line in written if MENDED not in line):
        yield f"right: a line differs that is not marked {MENDED!r}: {line}"
    if sum(MENDED in line for line in right) > sum(MENDED in line for line in written):
        yield "right: a line is marked as mended that is the same in the wrong drawing"
    if any(MENDED in line for line in wrong):
        yield "wrong: has a line marked as mended"


def _told_of(rule: Rule, pair: Pair, today: date | None) -> Iterator[str]:
    from coldcheck.verdict.added import with_rule
    from coldcheck.verdict.engine import review_file

    wrong, right = (review_file(file, today, added=with_rule(rule)) for file in _files(pair))
    yield from wrong_faults(rule, wrong)
    yield from right_faults(rule, right)


def wrong_faults(rule: Rule, review: Review) -> Iterator[str]:
    """Whether a wrong drawing breaks its rule, and no other at ``notice`` or above."""
    yield from (f"wrong: {text}" for text in _broken(review))
    if rule.id not in {f.rule for f in review.findings}:
        yield "wrong: the rule does not fire"
    for name in sorted({f.rule for f in review.at_or_above("notice")} - {rule.id}):
        yield f"wrong: {name} fires as well"
    if review.readable is (rule.family == "drawing" and rule.states == WHILE_READING):
        yield "wrong: cannot be read" if not review.readable else "wrong: can be read"
    for finding in (f for f in review.findings if f.rule == rule.id):
        yield from (f"wrong: {text}" for text in _finding_faults(finding, len(review.lines)))


def _finding_faults(finding: Finding, lines: int) -> Iterator[str]:
    if lines and not 1 <= finding.span.line <= lines:
        yield "a finding is at no line of the drawing"
    if not finding.message or not finding.source:
        yield "a finding has no message or no source"
    if not finding.remedy or finding.remedy[0].islower():
        yield "a finding has no remedy, or one without a capital first"


def right_faults(rule: Rule, review: Review) -> Iterator[str]:
    """Whether a right drawing is clean."""
    yield from (f"right: {text}" for text in (*_broken(review), *_open(review)))
    if not review.readable:
        yield "right: cannot be read"
    for name in sorted({f.rule for f in review.at_or_above("notice")}):
        yield f"right: {name} fires"
    if rule.id in {f.rule for f in review.findings if f.accepted is None}:
        yield "right: the rule fires"


def _broken(review: Review) -> Iterator[str]:
    for item in review.not_judged:
        if item.kind.broken or item.kind is Unjudged.STATE_NOT_SOLVED:
            yield f"{item.rule}: {item.reason}"


def _open(review: Review) -> Iterator[str]:
    """What leaves a drawing open; that of a type without a law stays so, however sound it is."""
    held = (i for i in undecided(review) if not i.kind.broken and i.kind is not Unjudged.NO_LAW)
    yield from (f"undecided: {item.reason}" for item in held)
