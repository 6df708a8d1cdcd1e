"""Runs the rules, and keeps one finding of what they say of a place."""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING

from coldcheck.circuit.entries import in_words
from coldcheck.judge.finding import LEVELS, QUANTITY, Finding, NotJudged, Unjudged
from coldcheck.judge.outcome import sound
from coldcheck.verdict.added import NOTHING
from coldcheck.verdict.registry import RULES

if TYPE_CHECKING:
    from collections.abc import Iterable, Mapping

    from coldcheck.anatomy.case import Case
    from coldcheck.judge.finding import Outcome
    from coldcheck.judge.rule import Rule


def run_rules(
    case: Case, rules: Iterable[Rule] = RULES, packages: Mapping[str, str] = NOTHING.packages
) -> list[Outcome]:
    """Run the rules one after the other; one that raises becomes a NotJudged.

    ``packages`` names the package of the rules that are not our own. What a rule gives is held
    to the form of an outcome before anything is done with it.
    """
    outcomes: list[Outcome] = []
    for rule in rules:
        try:
            outcomes.extend(sound(rule, rule.judge(case)))
        except MemoryError:
            raise
        except (Exception, SystemExit) as error:
            outcomes.append(_failed(rule.id, error, packages.get(rule.id)))
    return outcomes


def _failed(rule: str, error: BaseException, package: str | None) -> NotJudged:
    """A rule that broke down; ``package`` is the one it comes with, where it is not ours."""
    reason = f"the rule failed: {in_words(error)}"
    if package is None:
        return NotJudged(rule, (), reason, Unjudged.RULE_FAILED)
    return NotJudged(rule, (), f"{reason}; it comes with {package}", Unjudged.ADDED_RULE_FAILED)


def merge(findings: Iterable[Finding]) -> list[Finding]:
    """One finding a rule and place: the gravest, then the furthest beyond its limit.

    The states of the others go into ``also_in``, in the order they came. What only the edge
    of a range brings is not told of a place of which there is more to say.
    """
    groups: dict[tuple[object, ...], list[Finding]] = {}
    for finding in findings:
        line = finding.span if QUANTITY in finding.evidence else None
        key = (finding.rule, tuple(sorted(finding.at)), line)
        groups.setdefault(key, []).append(finding)
    return [_worst_of(group) for group in groups.values()]


def _worst_of(group: list[Finding]) -> Finding:
    sure = [f for f in group if not f.only_edge] or group
    worst = max(sure, key=lambda f: (LEVELS.index(f.level), f.excess))
    others = dict.fromkeys(f.state for f in sure if f.state != worst.state)
    return replace(worst, also_in=tuple(others))
