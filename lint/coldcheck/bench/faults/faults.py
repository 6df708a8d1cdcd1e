"""Every single fault of a drawing: what is then over its limit, for how long, and what stops it."""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING

from coldcheck.bench.faults.driven import Drive
from coldcheck.bench.faults.judging import Judge, about, ordered
from coldcheck.bench.faults.listing import every_fault
from coldcheck.bench.faults.switch_on import at_switch_on
from coldcheck.bench.faults.touch import BODY_AND_SKIN_OHM, from_mains, touch_current
from coldcheck.circuit.model import GROUND
from coldcheck.circuit.throws import switch_of
from coldcheck.drawing.model import Span
from coldcheck.judge.figure import Figure, figure
from coldcheck.judge.finding import LEVELS, Finding, NotJudged, Unjudged
from coldcheck.records import dataclass
from coldcheck.solve.cycle.network import plain
from coldcheck.solve.faults import fault as f
from coldcheck.solve.faults.fault import Fault
from coldcheck.solve.faults.solver import FaultSolver
from coldcheck.solve.solution import HIGH, LOW, WARM
from coldcheck.verdict.fingerprints import fingerprint
from coldcheck.verdict.review import Review

if TYPE_CHECKING:
    from collections.abc import Iterator, Sequence

    from coldcheck.bench.faults.fuses import Blown
    from coldcheck.bench.faults.touch import Touch
    from coldcheck.circuit.model import Circuit
    from coldcheck.drawing.model import Drawing
    from coldcheck.solve.solution import Solution

LIVE, ON_MAINS = "fault.live-terminal", "mains.live-chassis"
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
    unearthed
        What is exceeded besides where the protective earth is broken too.
    touches
        What flows through somebody at each terminal that the fault puts at a voltage.
    undriven
        What the fault does while the set is driven, where it should be judged and could not.
    """

    fault: Fault
    findings: tuple[Finding, ...]
    fuses: tuple[Blown, ...]
    seconds: float | None
    barrier: str
    reason: str = ""
    broken: tuple[str, ...] = ()
    unearthed: tuple[Finding, ...] = ()
    touches: tuple[Touch, ...] = ()
    undriven: str = ""

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

    ``seconds`` is how long the good circuit stays above 60 V after switch-off. ``good`` is in the
    state that the faults are looked at in: with the highest mains, where there are any.
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
        """Those that were worked out and exceed nothing judged, with an earth or without."""
        known = (o for o in self.outcomes if not (o.reason or o.undriven))
        return tuple(o for o in known if not (o.findings or o.unearthed))

    @property
    def earthed(self) -> tuple[Outcome, ...]:
        """Those with which only the protective earth keeps anything from being exceeded."""
        return tuple(o for o in self.outcomes if o.unearthed and not o.findings)

    @property
    def unsolved(self) -> tuple[Outcome, ...]:
        """Those without numbers."""
        return tuple(o for o in self.outcomes if o.reason)


def sweep(circuit: Circuit, faults: Sequence[Fault] | None = None) -> Sweep | str:
    """Go through the faults (all there are when none are given).

    Returns why nothing can be said where the good circuit has no numbers.
    """
    solver, state = FaultSolver(circuit), worst_state(circuit)
    good = solver.good(state)
    if not good.converged:
        return good.reason
    judge = Judge.of(circuit, good)
    wanted = every_fault(circuit) if faults is None else faults
    solved = solver.solve_all(wanted, state)
    drive = Drive.of(circuit, good)
    found = [_outcome(judge, drive, fault, x) for fault, x in zip(wanted, solved, strict=True)]
    cold = at_switch_on(circuit, solver, wanted)
    found = [_with_more(o, cold.get(o.fault, ())) for o in found]
    found = [_touched(solver, state, o) for o in _at_low_mains(judge, solver, state, found)]
    ranked = sorted(found, key=lambda o: o.rank, reverse=True)
    return Sweep(circuit, good, tuple(ranked), judge.seconds)


def worst_state(circuit: Circuit) -> str:
    """The state in which most is exceeded: the mains at the upper end of their tolerance."""
    return HIGH if circuit.mains is not None and circuit.mains_tolerance else WARM


def _outcome(judge: Judge, drive: Drive, fault: Fault, solution: Solution) -> Outcome:
    if not solution.converged:
        return Outcome(fault, (), (), None, "", solution.reason)
    fuses, seconds = judge.fuses(solution), judge.charged(fault, solution)
    every, broken = judge.findings(fault, solution, seconds)
    thrown, undriven = drive.judged(judge.circuit, fault, solution)
    findings, unearthed = judge.by_earth(ordered((*every, *thrown)))
    return Outcome(
        fault, findings, fuses, seconds, "", broken=broken, unearthed=unearthed, undriven=undriven
    )


def _with_more(outcome: Outcome, more: Sequence[Finding]) -> Outcome:
    """The outcome with what else is exceeded; what it has of a place and rule already stays."""
    known = {(x.rule, x.at) for x in outcome.findings}
    new = [x for x in more if (x.rule, x.at) not in known]
    return replace(outcome, findings=ordered((*outcome.findings, *new))) if new else outcome


def _at_low_mains(
    judge: Judge, solver: FaultSolver, state: str, found: Sequence[Outcome]
) -> Iterator[Outcome]:
    """Outcomes with what each overloaded fuse carries at the lower end, and what is in the way."""
    asked = [o.fault for o in found if o.fuses] if state == HIGH else []
    low = dict(zip(asked, solver.solve_all(asked, LOW), strict=True)) if asked else {}
    for outcome in found:
        solution, fuses = low.get(outcome.fault), outcome.fuses
        if solution is not None and solution.converged:
            carried = judge.carried(solution)
            fuses = tuple(replace(b, least=carried.get(b.name, 0.0)) for b in fuses)
        barrier = "" if outcome.reason else _barrier(judge.circuit, outcome, fuses)
        yield replace(outcome, fuses=fuses, barrier=barrier)


def _touched(solver: FaultSolver, state: str, outcome: Outcome) -> Outcome:
    """The outcome with the largest current through somebody at each terminal it makes live."""
    found: dict[str, Touch] = {}
    for touch in _touches(solver, state, outcome):
        before = found.get(touch.name)
        if before is None or touch.size > before.size:
            found[touch.name] = touch
    return replace(outcome, touches=tuple(found.values()))


def _touches(solver: FaultSolver, state: str, outcome: Outcome) -> Iterator[Touch]:
    circuit = solver.circuit
    for finding in (*outcome.findings, *outcome.unearthed):
        if finding.rule == LIVE:
            point = str(finding.evidence["point"])
            touch = _touch(solver, state, outcome.fault, finding.at[0], point)
            yield from () if touch is None else (touch,)
        ohms = finding.evidence.get("resistance")
        if finding.rule == ON_MAINS and isinstance(ohms, Figure) and circuit.mains is not None:
            volts = plain(circuit.mains.voltage, "volt", 0.0) * (1 + circuit.mains_tolerance)
            yield from_mains(finding.at[0], volts, ohms.value)


def _touch(solver: FaultSolver, state: str, fault: Fault, name: str, point: str) -> Touch | None:
    """A body of 2 kohm from the point to gnd, solved with the fault."""
    body = Fault(f.BRIDGE, f"{point}~{GROUND}", BODY_AND_SKIN_OHM)
    solution, mains = solver.solve((fault, body), state), solver.circuit.mains
    wave = solution.wave(point) if solution.converged else None
    hertz = 0.0 if mains is None else plain(mains.frequency, "hertz", 0.0)
    return None if wave is None else touch_current(name, wave, hertz)


def _barrier(circuit: Circuit, outcome: Outcome, fuses: Sequence[Blown]) -> str:
    """The one part whose soundness keeps this from happening, and what ends it if it does."""
    ends = ["the protective earth"] if outcome.unearthed else []
    ends += [b.name for b in fuses if b.opens]
    after = f"; then {' and '.join(ends)}" if ends else ""
    return f"only {_soundness(circuit, outcome.fault)}{after}"


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
    states = {} if isinstance(found, str) else {found.good.state.name: found.good}
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
    for outcome in (o for o in found.outcomes if o.undriven):
        text = f"{outcome.fault.name}: {outcome.undriven}"
        yield NotJudged(FAULTS, (outcome.fault.part,), text, Unjudged.MISSING_DATA)
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
    if outcome.touches:
        worst = max(outcome.touches, key=lambda t: t.size)
        evidence["touched"] = worst.name
        evidence["touch_dc"], evidence["touch_ac"] = figure(worst.dc, "A"), figure(worst.ac, "A")
    if outcome.seconds is not None:
        evidence["time_to_60_v"] = figure(outcome.seconds, "s")
    return replace(first, message=f"with {outcome.fault.name}: {first.message}", evidence=evidence)
