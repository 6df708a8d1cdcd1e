"""The report in the Static Analysis Results Interchange Format, SARIF 2.1.0 (OASIS standard).

Signal words become SARIF levels: danger, warning and caution ``error``, notice ``warning``, advice
``note``; the word itself is in each result's properties. What was accepted in the drawing is a
suppressed result, what was not judged a notification (an error where it leaves the drawing
undecided).
"""

from __future__ import annotations

import json
from collections import Counter
from typing import TYPE_CHECKING, Any

from coldcheck import __version__
from coldcheck.report.pages.rule_page import documentation
from coldcheck.report.shared.origin import origin
from coldcheck.report.shared.places import root_of, sentence, unjudged
from coldcheck.report.shared.plain import clean, unheard
from coldcheck.verdict.added import all_rules
from coldcheck.verdict.change import Change
from coldcheck.verdict.registry import RULES
from coldcheck.verdict.ruling import DECIDED_BY

if TYPE_CHECKING:
    from collections.abc import Iterable, Iterator, Mapping, Sequence

    from coldcheck.judge.finding import Finding, NotJudged
    from coldcheck.judge.rule import Rule
    from coldcheck.report.shared.origin import Origin
    from coldcheck.report.shared.places import Root
    from coldcheck.verdict.document.content import Document
    from coldcheck.verdict.ruling import Ruling

SCHEMA = (
    "https://docs.oasis-open.org/sarif/sarif/v2.1.0/errata01/os/schemas/sarif-schema-2.1.0.json"
)
LEVELS = {
    "danger": "error",
    "warning": "error",
    "caution": "error",
    "notice": "warning",
    "advice": "note",
}
ROOT = "%SRCROOT%"
FINGERPRINT = "coldcheckFinding/v1"
HOSTED = "primaryLocationLineHash"
"""The fingerprint that hosted services go by: 16 hex digits, and how many such there were."""


def render(rulings: Sequence[Ruling], root: Root | None = None) -> str:
    """One run over all drawings, as JSON text; files below ``root`` (the repository)."""
    report = log(rulings, root or root_of(rulings))
    return unheard(json.dumps(report, indent=1, ensure_ascii=False)) + "\n"


def log(rulings: Sequence[Ruling], root: Root) -> dict[str, Any]:
    """The report as plain data."""
    documents = [r.document for r in rulings]
    findings = [f for d in documents for f in d.findings]
    ours = origin()
    rules = list(_descriptors(findings, ours))
    index = {rule["id"]: n for n, rule in enumerate(rules)}
    run = {
        "tool": {"driver": {
            "name": "coldcheck", "version": __version__, "semanticVersion": __version__,
            **({} if ours is None else {"informationUri": ours.address}), "rules": rules,
        }},
        "automationDetails": {"id": "coldcheck/"},
        "columnKind": "unicodeCodePoints",
        "originalUriBaseIds": {ROOT: {"description": {"text": "the root of the repository"}}},
        "artifacts": [{"location": _artifact(d.file, root)} for d in documents if d.drawn],
        "invocations": [{
            "executionSuccessful": not any(d.broken for d in documents),
            "toolExecutionNotifications": [
                _notification(d, n, root) for d in documents for n in d.not_judged
            ],
        }],
        "results": _numbered([
            _result(d, f, index, root) for d in documents for f in d.findings
        ]),
    }  # fmt: skip
    return {"$schema": SCHEMA, "version": "2.1.0", "runs": [run]}


def _numbered(results: list[dict[str, Any]]) -> list[dict[str, Any]]:
    """The results with the fingerprint of hosted services: one for each at a line of a file."""
    seen: Counter[str] = Counter()
    for result in results:
        mark = result["partialFingerprints"][FINGERPRINT]
        seen[mark] += 1
        result["partialFingerprints"][HOSTED] = f"{mark}:{seen[mark]}"
    return results


def _descriptors(findings: Iterable[Finding], copy: Origin | None) -> Iterator[dict[str, Any]]:
    """Every rule there is, and what is reported without being a rule."""
    rules = all_rules()
    known = {rule.id for rule in rules}
    titles = {kind.rule: kind.title for kind in Change}
    ours = {rule.id for rule in RULES}
    for rule in rules:
        page = {"helpUri": _page(rule.id, copy)} if copy and rule.id in ours else {}
        yield {**_descriptor(rule), **page}
    for name in dict.fromkeys(f.rule for f in findings if f.rule not in known):
        yield {"id": name, "shortDescription": {"text": f"{titles.get(name, name)}."}}


def _page(rule: str, copy: Origin) -> str:
    """Where the rule is explained, with its pair of drawings."""
    return f"{copy.page('samples/mistakes/README.md')}#{rule.replace('.', '')}"


def _descriptor(rule: Rule) -> dict[str, Any]:
    parts = documentation(rule)
    plain = "\n\n".join(f"{label}: {text}" for label, text in parts)
    marked = "\n\n".join(f"**{label}**: {text}" for label, text in parts)
    return {
        "id": rule.id,
        "shortDescription": {"text": f"{rule.title}."},
        "fullDescription": {"text": rule.why},
        "help": {"text": plain, "markdown": marked},
        "defaultConfiguration": {"level": LEVELS[rule.level]},
        "properties": {"tags": [rule.family], "signalWord": rule.level},
    }


def _result(
    document: Document, finding: Finding, index: Mapping[str, int], root: Root
) -> dict[str, Any]:
    found: dict[str, Any] = {
        "ruleId": finding.rule,
        "ruleIndex": index[finding.rule],
        "level": LEVELS[finding.level],
        "message": _message(finding),
        "locations": [_location(document, finding, root)],
        "partialFingerprints": {FINGERPRINT: finding.fingerprint},
        "properties": {
            "signalWord": finding.level,
            "state": clean(finding.state),
            "certainty": finding.certainty,
            "limitSource": clean(finding.source),
        },
    }
    if finding.accepted is not None:
        found["suppressions"] = [
            {"kind": "inSource", "status": "accepted", "justification": clean(finding.accepted)}
        ]
    elif finding.standing:
        found["suppressions"] = [{"kind": "external", "justification": "known to the ledger"}]
    return found


def _message(finding: Finding) -> dict[str, str]:
    return {"text": clean(f"{sentence(finding)}. {finding.remedy}.")}


def _location(document: Document, finding: Finding, root: Root) -> dict[str, Any]:
    span = finding.span
    region = {"startLine": span.line, "startColumn": span.column}
    if span.end_column > span.column:
        region["endColumn"] = span.end_column
    place: dict[str, Any] = {
        "physicalLocation": {"artifactLocation": _artifact(span.file, root), "region": region}
    }
    if finding.at:
        place["logicalLocations"] = [
            {
                "name": clean(at),
                "fullyQualifiedName": clean(at),
                "kind": document.kinds.get(at, "object"),
            }
            for at in finding.at
        ]
    return place


def _artifact(file: str, root: Root) -> dict[str, str]:
    text, inside = root.uri(file)
    return {"uri": text, "uriBaseId": ROOT} if inside else {"uri": text}


def _notification(document: Document, item: NotJudged, root: Root) -> dict[str, Any]:
    return {
        "level": "error" if item.kind in DECIDED_BY else "note",
        "message": {"text": clean(unjudged(item))},
        "locations": [{"physicalLocation": {"artifactLocation": _artifact(document.file, root)}}],
    }
