"""What could not be judged of a drawing as a whole, each with its kind.

A state without numbers, points without a voltage, nothing that feeds what is drawn. Rules speak
of what they could not judge themselves; :mod:`coldcheck.verdict.ruling` says which kinds leave a
review undecided.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

from coldcheck.anatomy.loose import wired_points
from coldcheck.circuit.model import GROUND
from coldcheck.circuit.tubes_types import SectionKind
from coldcheck.judge.finding import NotJudged, Unjudged
from coldcheck.solve.cycle.defined import lawless
from coldcheck.solve.solution import WARM, Lost, State, Unsolved

if TYPE_CHECKING:
    from collections.abc import Iterator, Mapping

    from coldcheck.anatomy.case import Case
    from coldcheck.circuit.model import Circuit, Section
    from coldcheck.solve.solution import NoNumber, Solution

REVIEW = "review"
"""The ``rule`` of a NotJudged that belongs to the review as a whole."""

ALIVE_VOLTS = 0.01
"""What stays below this everywhere is not powered: the solver's own leaks make microvolts."""

FED_VOLTS = 0.5
"""A tube with less than this from plate to cathode in every state is fed by nothing."""

UNSOLVED: Mapping[Unsolved, Unjudged] = {
    Unsolved.NOT_ARRIVED: Unjudged.STATE_NOT_SOLVED,
    Unsolved.CONTRADICTION: Unjudged.SOURCES_FIGHT,
    Unsolved.NO_VALUE: Unjudged.UNKNOWN_VALUES,
    Unsolved.BROKEN: Unjudged.SOLVER_FAILED,
}


def doubts(case: Case) -> Iterator[NotJudged]:
    """Everything that stands in the way of a verdict on the whole drawing."""
    if not (case.circuit.branches or case.circuit.tubes):
        yield _said("there is nothing in the drawing to judge", Unjudged.NOTHING_DRAWN)
        return
    yield from _unsolved(case.solutions)
    yield from _without_voltage(case.solutions.get(WARM))
    yield from _lawless(case)
    if not (case.circuit.at(GROUND) or case.circuit.electrodes_at(GROUND)):
        words = "nothing is on gnd, so no voltage can be measured from it"
        yield _said(words, Unjudged.NO_REFERENCE)
    yield from _dead(case)


def _said(words: str, kind: Unjudged, at: tuple[str, ...] = ()) -> NotJudged:
    return NotJudged(REVIEW, at, words, kind)


def _unsolved(solutions: Mapping[str, Solution]) -> Iterator[NotJudged]:
    for name, solution in solutions.items():
        if not solution.converged:
            words = f"state {name} not solved: {solution.reason}"
            yield _said(words, UNSOLVED[solution.unsolved])


def _without_voltage(warm: Solution | None) -> Iterator[NotJudged]:
    """The points that have no number in the warm state, those for one reason together."""
    reasons: dict[NoNumber, list[str]] = {}
    drawn = wired_points(warm.circuit) if warm else {}
    for net, reason in (warm.undefined if warm else {}).items():
        if net in drawn:
            reasons.setdefault(reason, []).append(drawn[net])
    for reason, nets in reasons.items():
        words = f"no voltage can be given: {reason}"
        yield _said(words, Unjudged.NO_VOLTAGE, tuple(sorted(nets)))


def _lawless(case: Case) -> Iterator[NotJudged]:
    """The tubes of whose current nothing is on file, and which draw it from something drawn."""
    for tube in case.circuit.tubes.values():
        if tube.type.stranger:
            words = (
                f"type {tube.type.name} of {tube.name} is not on file: what it draws, its ratings "
                "and its heater's current are not known and not counted"
            )
            yield _said(words, Unjudged.UNKNOWN_TYPE, (tube.name,))
    for section in lawless(case.circuit, State(WARM, WARM)):
        kind = case.circuit.tubes[section.tube].type
        if _bounded(case, section):
            words = f"no law on file for {section.name} ({kind.name}): what tubes of its kind take"
            words += " was assumed, from the least to the most; ranges are as wide as that"
            yield _said(words, Unjudged.ASSUMED, (section.name,))
        elif not kind.stranger:
            words = f"no law on file for {section.name} ({kind.name}): what it draws is not known"
            yield _said(words, Unjudged.NO_LAW, (section.name,))


def _bounded(case: Case, section: Section) -> bool:
    """Whether the kind of tube says enough of its current, so that what hangs on it has numbers."""
    warm = case.solutions.get(WARM)
    if warm is None or section.kind not in (SectionKind.RECTIFIER, SectionKind.INDICATOR):
        return False
    ends = (*section.cathode_nets, *section.electrodes.values())
    return warm.converged and all(n in warm.waves for n in ends if _wired(case.circuit, n))


def _dead(case: Case) -> Iterator[NotJudged]:
    """Nothing alive at all, or tubes that nothing feeds."""
    warm = case.solutions.get(WARM)
    if warm is None or not warm.converged:
        return
    nets = set(wired_points(case.circuit)) - {GROUND}
    if nets and not nets & set(warm.waves):
        yield _no_voltages(warm)
    elif not any(_alive(s) for s in case.solved()):
        words = "nothing that is drawn is powered: every point is at 0 V in every state"
        yield _said(words, Unjudged.NOTHING_POWERED)
    else:
        unfed = tuple(s.name for s in case.circuit.sections() if _unfed(case, s))
        if unfed:
            words = "nothing that is drawn feeds it: no voltage from plate to cathode in any state"
            yield _said(words, Unjudged.NOT_FED, unfed)


def _no_voltages(warm: Solution) -> NotJudged:
    if any(why.kind is Lost.OPEN for why in warm.undefined.values()):
        words = "every voltage depends on something that is not written"
        return _said(words, Unjudged.UNKNOWN_VALUES)
    return _said("not one point that is drawn has a voltage", Unjudged.NO_VOLTAGES)


def _alive(solution: Solution) -> bool:
    return any(wave.peak > ALIVE_VOLTS for wave in solution.waves.values())


def _unfed(case: Case, section: Section) -> bool:
    """Whether a section that is wired up has nothing across it in any state with its tube in."""
    if section.kind is SectionKind.DIODE:
        return False  # a detector lives on the signal
    plates = [net for end, net in section.electrodes.items() if end.startswith("plate")]
    idle = set(section.cathode_nets) | {GROUND}
    if not any(_wired(case.circuit, net) for net in plates) or idle.issuperset(plates):
        return False  # nothing is on it, or it is tied off as one that is not used
    states = [s for s in case.solved() if section.tube not in s.state.pulled]
    return not any(_fed(s, net, section) for s in states for net in plates)


def _wired(circuit: Circuit, net: str) -> bool:
    return bool(circuit.at(net)) or len(circuit.electrodes_at(net)) > 1


def _fed(solution: Solution, plate: str, section: Section) -> bool:
    """Whether there is a voltage at the plate, or it hangs on what is not known."""
    lost = solution.undefined.get(plate)
    if lost is not None and plate not in solution.waves:
        return lost.kind is Lost.OPEN
    ends = section.cathode_nets or (GROUND,)
    # A filament has its own volts from end to end, which it can drive through its plates.
    own = solution.between(ends[0], ends[-1])
    least = FED_VOLTS + (0.0 if own is None else own.peak)
    across = [solution.between(plate, end) for end in ends]
    return all(wave is None or wave.peak > least for wave in across)
