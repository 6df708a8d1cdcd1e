"""What a rule may give: anything else would take the review down further on."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import fields
from typing import TYPE_CHECKING

from coldcheck.drawing.model import Span
from coldcheck.judge.figure import SYMBOLS, Figure
from coldcheck.judge.finding import CERTAINTIES, LEVELS, Finding, NotJudged, Unjudged

if TYPE_CHECKING:
    from collections.abc import Iterable

    from coldcheck.judge.finding import Outcome
    from coldcheck.judge.rule import Rule

MOST = 20_000
"""Outcomes of one rule; a drawing has at most as many statements."""

_TEXTS = ("rule", "state", "message", "remedy", "source", "fingerprint", "shape")
_TUPLES = ("at", "path", "also_in")


def sound(rule: Rule, given: Iterable[Outcome]) -> list[Outcome]:
    """The outcomes of a rule. Raises TypeError or ValueError for one out of form, or too many."""
    outcomes: list[Outcome] = []
    for outcome in given:
        if len(outcomes) == MOST:
            raise ValueError(f"more than {MOST} outcomes")
        _check(rule, outcome)
        outcomes.append(outcome)
    return outcomes


def _check(rule: Rule, outcome: object) -> None:
    if isinstance(outcome, NotJudged):
        good = _text(outcome.rule) and _texts(outcome.at) and _text(outcome.reason)
        good = good and isinstance(outcome.kind, Unjudged)
    elif isinstance(outcome, Finding):
        good = not (wrong := _wrong(outcome))
        if wrong:
            raise TypeError(f"a finding whose {wrong} is out of form")
    else:
        raise TypeError(f"{type(outcome).__name__} is neither a finding nor a remark")
    if not good:
        raise TypeError("a remark out of form")
    if outcome.rule != rule.id:
        raise ValueError(f"an outcome in the name of {outcome.rule}")


def _wrong(finding: Finding) -> str:
    """The first field that does not hold what it should, or an empty text."""
    known = {f.name: getattr(finding, f.name) for f in fields(finding)}
    good = {
        **{name: _text(known[name]) for name in _TEXTS},
        **{name: _texts(known[name]) for name in _TUPLES},
        "level": finding.level in LEVELS,
        "certainty": finding.certainty in CERTAINTIES,
        "span": isinstance(finding.span, Span),
        "evidence": _evidence(finding.evidence),
        "excess": _number(finding.excess),
        "limit": finding.limit is None or _figure(finding.limit),
        # Waiving is the drawing's and the ledger's business.
        "accepted": finding.accepted is None,
        "standing": finding.standing is False,
    }
    return next((name for name, fine in good.items() if not fine), "")


def _text(value: object) -> bool:
    return isinstance(value, str)


def _texts(value: object) -> bool:
    return isinstance(value, tuple) and all(map(_text, value))


def _number(value: object) -> bool:
    return isinstance(value, (int, float))


def _figure(value: object) -> bool:
    return isinstance(value, Figure) and _number(value.value) and value.unit in SYMBOLS


def _evidence(value: object) -> bool:
    if not isinstance(value, Mapping):
        return False
    return all(_text(k) and (_text(v) or _figure(v)) for k, v in value.items())
