"""The report in the Static Analysis Results Interchange Format, SARIF 2.1.0 (OASIS standard).

Signal words become SARIF levels: danger, warning and caution ``error``, notice ``warning``, advice
``note``; the word itself is in each result's properties. What was accepted in the drawing is a
suppressed result, what was not judged a notification.
"""

from __future__ import annotations

import json
from dataclasses import dataclass
from pathlib import Path
from types import MappingProxyType
from typing import TYPE_CHECKING, Any, TypeAlias

from coldcheck import __version__
from coldcheck.report.pages.rule_page import documentation
from coldcheck.report.shared.places import sentence, unjudged, uri
from coldcheck.report.shared.plain import clean
from coldcheck.verdict.added import all_rules

if TYPE_CHECKING:
    from collections.abc import Iterable, Iterator, Mapping, Sequence

    from coldcheck.circuit.model import Circuit
    from coldcheck.judge.finding import Finding, NotJudged
    from coldcheck.judge.rule import Rule
    from coldcheck.verdict.review import Review

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
Kinds: TypeAlias = "Mapping[str, Mapping[str, str]]"
NO_KINDS: Kinds = MappingProxyType({})


@dataclass(frozen=True, slots=True)
class _Place:
    """What the locations of one drawing are made with."""

    root: Path
    kinds: Mapping[str, str]

    def kind(self, review: Review, at: str) -> str:
        return self.kinds.get(at) or kind_of(review.circuit, at)


def render(reviews: Sequence[Review], root: Path | None = None, kinds: Kinds = NO_KINDS) -> str:
    """One run over all drawings, as JSON text; files below ``root`` (the folder we are in).

    ``kinds`` says by file and place what a place is, for reviews that come without a circuit.
    """
    document = log(reviews, root or Path.cwd(), kinds)
    return json.dumps(document, indent=1, ensure_ascii=False) + "\n"


def log(reviews: Sequence[Review], root: Path, kinds: Kinds = NO_KINDS) -> dict[str, Any]:
    """The report as plain data."""
    findings = [f for r in reviews for f in r.findings]
    rules = list(_descriptors(findings))
    index = {rule["id"]: n for n, rule in enumerate(rules)}
    run = {
        "tool": {"driver": {
            "name": "coldcheck", "version": __version__, "semanticVersion": __version__,
            "rules": rules,
        }},
        "columnKind": "unicodeCodePoints",
        "originalUriBaseIds": {ROOT: {"description": {"text": "the folder of the drawings"}}},
        "artifacts": [{"location": _artifact(r.file, root)} for r in reviews],
        "invocations": [{
            "executionSuccessful": True,
            "toolExecutionNotifications": [
                _notification(r, n, root) for r in reviews for n in r.not_judged
            ],
        }],
        "results": [
            _result(r, f, index, _Place(root, kinds.get(r.file, {})))
            for r in reviews for f in r.findings
        ],
    }  # fmt: skip
    return {"$schema": SCHEMA, "version": "2.1.0", "runs": [run]}


def _descriptors(findings: Iterable[Finding]) -> Iterator[dict[str, Any]]:
    """Every rule there is, and what is reported without being a rule."""
    rules = all_rules()
    known = {rule.id for rule in rules}
    for rule in rules:
        yield _descriptor(rule)
    for name in dict.fromkeys(f.rule for f in findings if f.rule not in known):
        yield {"id": name, "shortDescription": {"text": name}}


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
    review: Review, finding: Finding, index: Mapping[str, int], where: _Place
) -> dict[str, Any]:
    found: dict[str, Any] = {
        "ruleId": finding.rule,
        "ruleIndex": index[finding.rule],
        "level": LEVELS[finding.level],
        "message": _message(finding),
        "locations": [_location(review, finding, where)],
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


def _location(review: Review, finding: Finding, where: _Place) -> dict[str, Any]:
    span = finding.span
    region = {"startLine": span.line, "startColumn": span.column}
    if span.end_column > span.column:
        region["endColumn"] = span.end_column
    place: dict[str, Any] = {
        "physicalLocation": {"artifactLocation": _artifact(span.file, where.root), "region": region}
    }
    if finding.at:
        place["logicalLocations"] = [
            {"name": clean(at), "fullyQualifiedName": clean(at), "kind": where.kind(review, at)}
            for at in finding.at
        ]
    return place


def kind_of(circuit: Circuit | None, place: str) -> str:
    """What a place is, as a kind of logical location."""
    if circuit is not None and (place in circuit.branches or place in circuit.tubes):
        return "part"
    return "point" if circuit is not None and place in circuit.points else "object"


def _artifact(file: str, root: Path) -> dict[str, str]:
    text, inside = uri(file, root)
    return {"uri": text, "uriBaseId": ROOT} if inside else {"uri": text}


def _notification(review: Review, item: NotJudged, root: Path) -> dict[str, Any]:
    return {
        "level": "note",
        "message": {"text": clean(unjudged(item))},
        "locations": [{"physicalLocation": {"artifactLocation": _artifact(review.file, root)}}],
    }
