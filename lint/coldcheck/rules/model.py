"""What a rule is, what it may look at, and what it says.

A rule is one small function from a :class:`Case` to findings, with its metadata beside it. Rules
are pure: they see the circuit and the solved states, and keep nothing.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from enum import Enum
from typing import TYPE_CHECKING, TypeAlias

if TYPE_CHECKING:
    from collections.abc import Callable, Iterable, Iterator, Mapping

    from coldcheck.circuit.model import Circuit
    from coldcheck.drawing.model import Span
    from coldcheck.rules.worked import Worked
    from coldcheck.solve.signal_results import SignalSolution
    from coldcheck.solve.solution import Solution

LEVELS = ("advice", "notice", "caution", "warning", "danger")
"""From mild to grave. caution, warning and danger are for harm to persons (ANSI Z535.6)."""

POSSIBLE = "possible"
REACH = "reach_v"
"""The evidence of a finding of which only the edge of a figure's range is beyond the limit."""

QUANTITY = "quantity"
"""The evidence of a finding that its line asked for: there is one to a line, not one to a place."""

CERTAINTIES = (POSSIBLE, "likely", "certain")


@dataclass(frozen=True, slots=True)
class Finding:
    """One thing that is wrong, with its evidence.

    at
        Parts, tubes or points, the main one first.
    message
        One sentence with the numbers and units in it.
    evidence
        Name -> plain number (volts, ohms, amperes, watts, seconds; unit in the name where it is
        not the obvious one) or a short text.
    limit_source
        Where the limit comes from, with "memory" where it was recalled.
    excess
        How far beyond the limit (value / limit); the state with the largest is the one reported.
    path
        The DC path traced, as text steps, where there is one.
    standing
        Whether a ledger of older findings knows it: it is told, and does not count at the gate.
    """

    rule: str
    level: str
    state: str
    at: tuple[str, ...]
    span: Span
    message: str
    remedy: str
    evidence: Mapping[str, float | str] = field(default_factory=dict)
    certainty: str = "likely"
    source: str = "common practice"
    excess: float = 1.0
    path: tuple[str, ...] = ()
    also_in: tuple[str, ...] = ()
    fingerprint: str = ""
    accepted: str | None = None
    standing: bool = False

    @property
    def only_edge(self) -> bool:
        """Whether the figure is within its limit as predicted, and only its range is not."""
        return self.certainty == POSSIBLE and REACH in self.evidence


class Unjudged(Enum):
    """What kind of thing stood in the way of a verdict. The values are kept in files."""

    MISSING_DATA = "missing-data"
    """The drawing, the data on file or the solution does not say what the rule needs."""
    NO_VOLTAGE = "no-voltage"
    """A place has no number in a state that is solved."""
    STATE_NOT_SOLVED = "state-not-solved"
    UNREADABLE = "unreadable"
    """The drawing has lines that could not be read, so nothing was worked out."""
    ASSUMED = "assumed"
    """Something the drawing does not say was taken from the settings."""
    RULE_OFF = "rule-off"
    REFUSED = "refused"
    """A rule or tube data of another package that is out of form, and is not used."""
    PACKAGE_FAILED = "package-failed"
    """What another package brings could not be read."""
    ADDED_RULE_FAILED = "added-rule-failed"
    """A rule of another package broke down."""
    RULE_FAILED = "rule-failed"
    SOLVER_FAILED = "solver-failed"
    REVIEW_FAILED = "review-failed"
    """Reading the drawing or the review as a whole broke down."""
    REPORT_FAILED = "report-failed"

    @property
    def broken(self) -> bool:
        """Whether something broke down, so that silence is no verdict."""
        return self.foreign or self in (
            Unjudged.RULE_FAILED,
            Unjudged.SOLVER_FAILED,
            Unjudged.REVIEW_FAILED,
            Unjudged.REPORT_FAILED,
        )

    @property
    def foreign(self) -> bool:
        """Whether what broke down came with another package."""
        return self in (Unjudged.PACKAGE_FAILED, Unjudged.ADDED_RULE_FAILED)


@dataclass(frozen=True, slots=True)
class NotJudged:
    """Something a rule could not decide, and why. Never a silent pass."""

    rule: str
    at: tuple[str, ...]
    reason: str
    kind: Unjudged = Unjudged.MISSING_DATA


Outcome: TypeAlias = "Finding | NotJudged"


@dataclass(frozen=True, slots=True)
class Case:
    """What a rule may look at: the circuit, and every state by name (solved or not)."""

    circuit: Circuit
    solutions: Mapping[str, Solution]
    _kept: dict[str, SignalSolution | None] = field(default_factory=dict, compare=False, repr=False)

    @property
    def warm(self) -> Solution:
        """The nominal state."""
        return self.solutions["warm"]

    @property
    def signal(self) -> SignalSolution | None:
        """The small-signal solution about the nominal state, worked out when first asked for.

        ``None`` for a drawing without a ``signal`` source; where there are no numbers its
        ``solved`` is false and ``reason`` says why. Never raises for content.
        """
        if "warm" not in self._kept:
            from coldcheck.solve.signal import small_signal

            self._kept["warm"] = small_signal(self.circuit, self.solutions.get("warm"))
        return self._kept["warm"]

    def solved(self, *kinds: str) -> Iterator[Solution]:
        """The states that converged, of the given kinds (all when none is given)."""
        for solution in self.solutions.values():
            if solution.converged and (not kinds or solution.state.kind in kinds):
                yield solution


@dataclass(frozen=True, slots=True)
class Rule:
    """A rule: an identifier, its documentation as data, and the function that judges.

    id
        ``family.defect``: names the defect in the trade's words.
    needs
        What it must have to judge, in plain words.
    criterion
        The numeric or structural criterion, in plain words.
    limits
        What the rule assumes and what it does not see, in plain words.
    """

    id: str
    title: str
    level: str
    states: str
    needs: str
    criterion: str
    why: str
    source: str
    judge: Callable[[Case], Iterable[Outcome]]
    limits: str = ""

    @property
    def family(self) -> str:
        """The part before the dot."""
        return self.id.partition(".")[0]

    def finding(
        self,
        case: Case,
        at: tuple[str, ...],
        message: str,
        remedy: str,
        *,
        state: str = "drawing",
        level: str | None = None,
        evidence: Mapping[str, float | str] | None = None,
        certainty: str = "likely",
        source: str | None = None,
        excess: float = 1.0,
        path: tuple[str, ...] = (),
    ) -> Finding:
        """Build a finding of this rule at its main place's line."""
        return Finding(
            rule=self.id,
            level=level or self.level,
            state=state,
            at=at,
            span=case.circuit.span(at[0]),
            message=message,
            remedy=remedy,
            evidence=dict(evidence or {}),
            certainty=certainty,
            source=source or self.source,
            excess=excess,
            path=path,
        )

    def not_judged(
        self, at: tuple[str, ...], reason: str, kind: Unjudged = Unjudged.MISSING_DATA
    ) -> NotJudged:
        """Say that this rule could not decide at a place."""
        return NotJudged(self.id, at, reason, kind)


def rule(
    identifier: str,
    *,
    title: str,
    level: str,
    states: str,
    needs: str,
    criterion: str,
    why: str,
    source: str,
    limits: str = "",
) -> Callable[[Callable[[Case], Iterable[Outcome]]], Rule]:
    """Turn a function into a :class:`Rule`; the function's name becomes the rule object."""

    def wrap(judge: Callable[[Case], Iterable[Outcome]]) -> Rule:
        return Rule(identifier, title, level, states, needs, criterion, why, source, judge, limits)

    return wrap


@dataclass(frozen=True, slots=True)
class Review:
    """The outcome for one drawing.

    gate
        The mildest level that fails this drawing where the caller names none.
    verdict
        ``pass`` (nothing unaccepted at or above the gate), ``fail`` or ``unreadable``.
    worked
        The signal, the state off and the warm-up, each worked out when asked for; ``None`` where
        there is no circuit to ask.
    sheets
        The lines of the sheets' files, by name of the file, as ``lines`` are the drawing's own.
    """

    file: str
    title: str
    circuit: Circuit | None
    findings: tuple[Finding, ...]
    not_judged: tuple[NotJudged, ...]
    solutions: Mapping[str, Solution]
    lines: tuple[str, ...]
    readable: bool
    worked: Worked | None = None
    gate: str = "notice"
    sheets: Mapping[str, tuple[str, ...]] = field(default_factory=dict)

    def line(self, span: Span) -> str:
        """The line of the drawing or of a sheet that a place is in; empty for no line of theirs."""
        lines = self.lines if span.file == self.file else self.sheets.get(span.file, ())
        return lines[span.line - 1] if 1 <= span.line <= len(lines) else ""

    def at_or_above(self, gate: str | None = None) -> tuple[Finding, ...]:
        """Findings that count: neither accepted nor standing, and as grave as the gate."""
        floor = LEVELS.index(gate or self.gate)
        return tuple(
            f
            for f in self.findings
            if f.accepted is None and not f.standing and LEVELS.index(f.level) >= floor
        )

    @property
    def broken(self) -> bool:
        """Whether something broke down on the way, so that silence is no verdict."""
        return any(item.kind.broken for item in self.not_judged)

    def verdict(self, gate: str | None = None) -> str:
        """``pass``, ``fail`` or ``unreadable``; without a gate, by the drawing's own."""
        if not self.readable:
            return "unreadable"
        return "fail" if self.at_or_above(gate) else "pass"
