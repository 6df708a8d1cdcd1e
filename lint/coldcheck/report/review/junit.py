"""The report as JUnit XML: a suite a drawing, a case a family of rules.

There is no standard for the format; this keeps to what its usual readers agree on (testsuites,
testsuite, testcase, failure, error, skipped; common practice). A case fails when a finding of its
family counts; milder and accepted findings stand in its output.
"""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING
from xml.etree import ElementTree as ET

from coldcheck.report.shared.places import relative, sentence, unjudged
from coldcheck.report.shared.plain import clean
from coldcheck.verdict.added import all_rules

if TYPE_CHECKING:
    from collections.abc import Sequence

    from coldcheck.judge.finding import Finding
    from coldcheck.verdict.review import Review


def render(reviews: Sequence[Review], gate: str | None = None, root: Path | None = None) -> str:
    """All drawings as one XML text."""
    top = ET.Element("testsuites", name="coldcheck")
    for review in reviews:
        top.append(_suite(review, gate, root or Path.cwd()))
    for count in ("tests", "failures", "errors", "skipped"):
        top.set(count, str(sum(int(s.get(count, "0")) for s in top)))
    ET.indent(top)
    return ET.tostring(top, encoding="unicode", xml_declaration=True) + "\n"


def _suite(review: Review, gate: str | None, root: Path) -> ET.Element:
    file = _text(relative(review.file, root))
    suite = ET.Element("testsuite", name=file)
    if review.readable:
        cases = [_case(review, family, gate, file) for family in _families()]
    else:
        cases = [_unreadable(review, file)]
    suite.extend(cases)
    for count, tag in (("failures", "failure"), ("errors", "error"), ("skipped", "skipped")):
        suite.set(count, str(sum(case.find(tag) is not None for case in cases)))
    suite.set("tests", str(len(cases)))
    return suite


def _families() -> tuple[str, ...]:
    return tuple(dict.fromkeys(rule.family for rule in all_rules()))


def _case(review: Review, family: str, gate: str | None, file: str) -> ET.Element:
    case = ET.Element("testcase", classname=file, name=family)
    counting = set(map(id, review.at_or_above(gate)))
    ours = [f for f in review.findings if f.rule.partition(".")[0] == family]
    failing = [f for f in ours if id(f) in counting]
    if failing:
        kinds = ", ".join(dict.fromkeys(f.rule for f in failing))
        failure = ET.SubElement(case, "failure", type=kinds, message=_text(_line(failing[0])))
        failure.text = _text("\n\n".join(map(_block, failing)))
    rest = [_block(f) for f in ours if id(f) not in counting]
    rest += [unjudged(n) for n in review.not_judged if n.rule.partition(".")[0] == family]
    if rest:
        ET.SubElement(case, "system-out").text = _text("\n\n".join(rest))
    return case


def _unreadable(review: Review, file: str) -> ET.Element:
    case = ET.Element("testcase", classname=file, name="drawing")
    error = ET.SubElement(case, "error", type="unreadable", message="the drawing cannot be read")
    error.text = _text("\n\n".join(map(_block, review.findings)))
    return case


def _line(finding: Finding) -> str:
    return f"{finding.level}: {sentence(finding)}"


def _block(finding: Finding) -> str:
    waived = f"\naccepted because {finding.accepted}" if finding.accepted is not None else ""
    place = f"{finding.span.file}, line {finding.span.line}, column {finding.span.column}"
    return f"{_line(finding)}\n{finding.rule}, {place}\n{finding.remedy}{waived}"


def _text(text: str) -> str:
    """Only characters that can be printed, and ends of lines; the others spelt out."""
    return "\n".join(map(clean, text.split("\n")))
