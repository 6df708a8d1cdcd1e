"""Every single fault of a drawing: what is then over its limit, for how long, and what stops it."""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING

from coldcheck.bench.faults.judging import Blown, Judge, about
from coldcheck.bench.faults.listing import every_fault
from coldcheck.circuit.throws import switch_of
from coldcheck.drawing.model import Span
from coldcheck.judge.figure import figure
from coldcheck.judge.finding import LEVELS, Finding, NotJudged, Unjudged
from coldcheck.records import dataclass
from coldcheck.solve.faults import fault as f
from coldcheck.solve.faults.solver import FaultSolver
from coldcheck.solve.solution import WARM
from coldcheck.verdict.fingerprints import fingerprint
from coldcheck.verdict.review import Review

if TYPE_CHECKING:
    from collections.abc import Iterator, Sequence

    from coldcheck.circuit.model import Circuit
    from coldcheck.drawing.model import Drawing
    from coldcheck.solve.faults.fault import Fault
    from coldcheck.solve.solution import Solution

FAULTS = "faults"
"""The ``rule`` of what could not be judged in a sweep."""


@dataclass(frozen=True, slots=True)
class Outcome:
    """One fault.

    findings
        What is exceeded with it and was not without it, the gravest first.
    fuses
        Fuses beyond their rating, the worst first.
    seconds
        How long something stays above 60 V after switch-off, where the fault makes it longer.
    barrier
        What single part stands in the way of it.
    reason
        Why there are no numbers; empty where there are.
    broken
        Rules that failed over it.
    """

    fault: Fault
    findings: tuple[Finding, ...]
    fuses: tuple[Blown, ...]
    seconds: float | None
    barrier: str
    reason: str = ""
    broken: tuple[str, ...] = ()

    @property
    def level(self) -> str:
        """The gravest signal word; empty where nothing is exceeded."""
        return self.findings[0].level if self.findings else ""

    @property
    def lasts(self) -> bool:
        """Whether no fuse is sure to end it."""
        return not any(b.opens for b in self.fuses)

    @property
    def rank(self) -> tuple[int, bool, float]:
        """Signal word, then whether it lasts, then by how much the limit is exceeded."""
        if not self.findings:
            return -1, self.lasts, 0.0
        return LEVELS.index(self.level), self.lasts, about(self.findings[0].excess)


@dataclass(frozen=True, slots=True)
class Sweep:
    """All faults of a circuit, the worst first, and how the good circuit stands.

    ``seconds`` is how long the good circuit stays above 60 V after switch-off.
    """

    circuit: Circuit
    good: Solution
    outcomes: tuple[Outcome, ...]
    seconds: float

    @property
    def harmful(self) -> tuple[Outcome, ...]:
        """Those with which something is exceeded."""
        return tuple(o for o in self.outcomes if o.findings)

    @property
    def harmless(self) -> tuple[Outcome, ...]:
        """Those that were worked out and exceed nothing that is judged."""
        return tuple(o for o in self.outcomes if not o.findings and not o.reason)

    @property
    def unsolved(self) -> tuple[Outcome, ...]:
        """Those without numbers."""
        return tuple(o for o in self.outcomes if o.reason)


def sweep(circuit: Circuit, faults: Sequence[Fault] | None = None) -> Sweep | str:
    """Go through the faults (all there are when none are given).

    Returns why nothing can be said where the good circuit has no numbers.
    """
    solver = FaultSolver(circuit)
    good = solver.good()
    if not good.converged:
        return good.reason
    judge = Judge.of(circuit, good)
    wanted = every_fault(circuit) if faults is None else faults
    solved = solver.solve_all(wanted)
    found = [_outcome(judge, fault, x) for fault, x in zip(wanted, solved, strict=True)]
    ranked = sorted(found, key=lambda o: o.rank, reverse=True)
    return Sweep(circuit, good, tuple(ranked), judge.seconds)


def _outcome(judge: Judge, fault: Fault, solution: Solution) -> Outcome:
    if not solution.converged:
        return Outcome(fault, (), (), None, "", solution.reason)
    fuses, seconds = judge.fuses(solution), judge.charged(fault, solution)
    findings, broken = judge.findings(fault, solution, seconds)
    barrier = _barrier(judge.circuit, fault, fuses)
    return Outcome(fault, findings, fuses, seconds, barrier, broken=broken)


def _barrier(circuit: Circuit, fault: Fault, fuses: Sequence[Blown]) -> str:
    """The one part whose soundness keeps this from happening, and what ends it if it does."""
    ends = [b.name for b in fuses if b.opens]
    after = f"; then {' and '.join(ends)}" if ends else ""
    return f"only {_soundness(circuit, fault)}{after}"


def _soundness(circuit: Circuit, fault: Fault) -> str:
    kind, part = fault.kind, fault.part
    branch = circuit.branches.get(part)
    if kind in (f.SHORT, f.LEAK):
        insulated = branch is not None and branch.traits.insulated
        return f"the insulation of {part}" if insulated else f"{part} not shorted"
    words = {
        f.BRIDGE: f"the insulation between {part.replace('~', ' and ')}",
        f.OPEN: f"{part} unbroken", f.WIPER: f"the wiper of {part}",
        f.PULLED: f"{part} in its socket", f.WEAK: f"the emission of {part}",
        f.DEAD: f"the emission of {part}", f.GASSY: f"the vacuum of {part}",
        f.HEATER_CATHODE: f"the heater insulation of {part}",
        f.THROWN: f"{switch_of(part)} left alone",
    }  # fmt: skip
    return words.get(kind, f"the value of {part}")


def as_review(drawing: Drawing, circuit: Circuit, found: Sweep | str) -> Review:
    """The sweep in the form of a review: one finding a fault, by its gravest.

    ``accept`` lines of the drawing are about the set as drawn and waive nothing here. The fault is
    part of the fingerprint. A sweep that could not be made is a finding of its own.
    """
    if isinstance(found, str):
        findings, unjudged = [_none_made(drawing, found)], list[NotJudged]()
    else:
        findings = [_told(o) for o in found.harmful]
        unjudged = list(_not_judged(found))
    states = {} if isinstance(found, str) else {WARM: found.good}
    marked = tuple(
        replace(x, fingerprint=fingerprint(circuit, replace(x, rule=f"{x.rule} {x.state}")))
        for x in findings
    )
    return Review(
        drawing.file, drawing.title, circuit, marked, tuple(unjudged), states, drawing.lines, True
    )


def _not_judged(found: Sweep) -> Iterator[NotJudged]:
    for outcome in found.unsolved:
        text = f"{outcome.fault.name}: no voltages could be worked out: {outcome.reason}"
        yield NotJudged(FAULTS, (outcome.fault.part,), text, Unjudged.STATE_NOT_SOLVED)
    for rule in dict.fromkeys(r for o in found.outcomes for r in o.broken):
        names = [o.fault.name for o in found.outcomes if rule in o.broken]
        why = f"it failed with {', '.join(names)}"
        yield NotJudged(rule, (), why, Unjudged.RULE_FAILED)


def _none_made(drawing: Drawing, reason: str) -> Finding:
    return Finding(
        "fault.not-worked-out", "notice", WARM, (), Span(drawing.file, 1, 1, 2),
        f"no fault could be looked at: {reason}", "Mend or complete the drawing first",
        certainty="certain",
    )  # fmt: skip


def _told(outcome: Outcome) -> Finding:
    """The gravest finding, with the fault and its other effects."""
    first, others = outcome.findings[0], outcome.findings[1:]
    evidence = {**first.evidence, "fault": outcome.fault.name, "barrier": outcome.barrier}
    if others:
        evidence["also"] = ", ".join(dict.fromkeys(f"{x.rule} at {x.at[0]}" for x in others))
    if outcome.fuses:
        evidence["fuses"] = ", ".join(f"{b.name} at {b.times:.1f} times" for b in outcome.fuses)
    if outcome.seconds is not None:
        evidence["time_to_60_v"] = figure(outcome.seconds, "s")
    return replace(first, message=f"with {outcome.fault.name}: {first.message}", evidence=evidence)
