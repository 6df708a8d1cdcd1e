"""The report as JUnit XML: a suite a drawing, a case a family of rules.

There is no standard for the format; this keeps to what its usual readers agree on (testsuites,
testsuite, testcase, failure, error, skipped; common practice). A case fails when a finding of its
family counts; milder and accepted findings stand in its output.
"""

from __future__ import annotations

from typing import TYPE_CHECKING
from xml.etree import ElementTree as ET

from coldcheck.report.review.text import verdict_line
from coldcheck.report.shared.places import root_of, sentence, unjudged
from coldcheck.report.shared.plain import clean, unheard
from coldcheck.verdict.added import all_rules
from coldcheck.verdict.ruling import Verdict

if TYPE_CHECKING:
    from collections.abc import Sequence

    from coldcheck.judge.finding import Finding
    from coldcheck.report.shared.places import Root
    from coldcheck.verdict.document.content import Document
    from coldcheck.verdict.ruling import Ruling


def render(rulings: Sequence[Ruling], root: Root | None = None) -> str:
    """All drawings as one XML text."""
    top = ET.Element("testsuites", name="coldcheck")
    for ruling in rulings:
        top.append(_suite(ruling, root or root_of(rulings)))
    for count in ("tests", "failures", "errors", "skipped"):
        top.set(count, str(sum(int(s.get(count, "0")) for s in top)))
    ET.indent(top)
    text = ET.tostring(top, encoding="unicode", xml_declaration=True)
    return unheard(text, "&#35;") + "\n"


def _suite(ruling: Ruling, root: Root) -> ET.Element:
    file = _text(root.name(ruling.document.file))
    suite = ET.Element("testsuite", name=file)
    properties = ET.SubElement(suite, "properties")
    ET.SubElement(properties, "property", name="verdict", value=_text(verdict_line(ruling)))
    if ruling.document.readable:
        cases = [_case(ruling, family, file) for family in _families(ruling.document)]
        cases += [_undecided(ruling, file)] if ruling.verdict is Verdict.UNDECIDED else []
    else:
        cases = [_unreadable(ruling.document, file)]
    suite.extend(cases)
    for count, tag in (("failures", "failure"), ("errors", "error"), ("skipped", "skipped")):
        suite.set(count, str(sum(case.find(tag) is not None for case in cases)))
    suite.set("tests", str(len(cases)))
    return suite


def _families(document: Document) -> tuple[str, ...]:
    """Those of the rules where they were asked, and of what is reported without being a rule."""
    found = (f.rule.partition(".")[0] for f in document.findings)
    asked = all_rules() if document.drawn else ()
    return tuple(dict.fromkeys((*(rule.family for rule in asked), *found)))


def _case(ruling: Ruling, family: str, file: str) -> ET.Element:
    case = ET.Element("testcase", classname=file, name=family, file=file)
    document = ruling.document
    counting = set(map(id, ruling.counting))
    ours = [f for f in document.findings if f.rule.partition(".")[0] == family]
    failing = [f for f in ours if id(f) in counting]
    if failing:
        kinds = ", ".join(dict.fromkeys(f.rule for f in failing))
        failure = ET.SubElement(case, "failure", type=kinds, message=_text(_line(failing[0])))
        failure.text = _text("\n\n".join(map(_block, failing)))
    rest = [_block(f) for f in ours if id(f) not in counting]
    rest += [unjudged(n) for n in document.not_judged if n.rule.partition(".")[0] == family]
    if rest:
        ET.SubElement(case, "system-out").text = _text("\n\n".join(rest))
    return case


def _undecided(ruling: Ruling, file: str) -> ET.Element:
    """What keeps the drawing from being decided: a failure where that holds it, else skipped."""
    case = ET.Element("testcase", classname=file, name="undecided", file=file)
    tag = "failure" if ruling.stops else "skipped"
    found = ET.SubElement(case, tag, type="undecided", message=_text(verdict_line(ruling)))
    found.text = _text("\n\n".join(map(unjudged, ruling.undecided)))
    return case


def _unreadable(document: Document, file: str) -> ET.Element:
    case = ET.Element("testcase", classname=file, name="drawing", file=file)
    error = ET.SubElement(case, "error", type="unreadable", message="the drawing cannot be read")
    error.text = _text("\n\n".join(map(_block, document.findings)))
    return case


def _line(finding: Finding) -> str:
    return f"{finding.level}: {sentence(finding)}"


def _block(finding: Finding) -> str:
    waived = f"\naccepted because {finding.accepted}" if finding.accepted is not None else ""
    waived = waived or ("\nstanding, known to the ledger" if finding.standing else "")
    place = f"{finding.span.file}, line {finding.span.line}, column {finding.span.column}"
    return f"{_line(finding)}\n{finding.rule}, {place}\n{finding.remedy}{waived}"


def _text(text: str) -> str:
    """Only characters that can be printed, and ends of lines; the others spelt out."""
    return "\n".join(map(clean, text.split("\n")))
