"""The outcome of a review for one drawing."""

from __future__ import annotations

from dataclasses import field
from typing import TYPE_CHECKING

from coldcheck.records import dataclass
from coldcheck.verdict.ruling import USUAL, counting, verdict_of

if TYPE_CHECKING:
    from collections.abc import Mapping

    from coldcheck.anatomy.worked import Worked
    from coldcheck.circuit.model import Circuit
    from coldcheck.drawing.model import Span
    from coldcheck.judge.finding import Finding, NotJudged
    from coldcheck.solve.solution import Solution
    from coldcheck.verdict.ruling import Gate, Verdict


@dataclass(frozen=True, slots=True)
class Review:
    """The outcome for one drawing.

    gate
        What its settings say of what counts.
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
    gate: Gate = USUAL
    sheets: Mapping[str, tuple[str, ...]] = field(default_factory=dict)

    def line(self, span: Span) -> str:
        """The line of the drawing or of a sheet that a place is in; empty for no line of theirs."""
        lines = self.lines if span.file == self.file else self.sheets.get(span.file, ())
        return lines[span.line - 1] if 1 <= span.line <= len(lines) else ""

    @property
    def broken(self) -> bool:
        """Whether something broke down on the way, so that silence is no verdict."""
        return any(item.kind.broken for item in self.not_judged)

    def at_or_above(self, level: str | None = None) -> tuple[Finding, ...]:
        """Findings that count at a level; without one, at the drawing's own."""
        return counting(self, level or self.gate.level)

    def verdict(self, gate: str | None = None) -> Verdict:
        """The verdict at a level; without one, at the drawing's own."""
        return verdict_of(self, gate or self.gate.level)
