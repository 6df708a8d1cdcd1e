"""Transistors that are fed and driven and carry nothing, and gates held down by their zener."""

from __future__ import annotations

from typing import TYPE_CHECKING

from coldcheck.anatomy.case import unsolved_reason
from coldcheck.anatomy.coupling import GIVES, coupled, still_nets
from coldcheck.anatomy.neighbourhood import net_text
from coldcheck.anatomy.reach import reach
from coldcheck.circuit.model import LANDMARKS
from coldcheck.drawing.kinds import PartKind
from coldcheck.drawing.wording import volts
from coldcheck.judge.figure import figure
from coldcheck.judge.rule import rule
from coldcheck.judge.threshold import Threshold
from coldcheck.solve.solution import STANDBY
from coldcheck.sources.register import PRACTICE, Citation

if TYPE_CHECKING:
    from collections.abc import Iterator

    from coldcheck.anatomy.case import Case
    from coldcheck.circuit.model import Branch, Circuit, Transistor
    from coldcheck.judge.finding import Finding, Outcome
    from coldcheck.judge.rule import Rule
    from coldcheck.solve.solution import Solution, Wave

SHEET = Citation("maker-sheet")
FED_V = Threshold("voltage across a transistor that is fed", 5.0, "V", PRACTICE)
NOTHING_A = Threshold("current of a transistor that is off", 1e-6, "A", PRACTICE)
DRIVE_V = Threshold("voltage that a drive comes from, beyond what it steers", 5.0, "V", PRACTICE)
HELD_UP_V = Threshold("steering the wrong way that something else makes", 1.0, "V", PRACTICE)


@rule(
    "transistor.gate-clamp-reversed",
    title="Zener or diode that holds a gate at its source",
    level="notice",
    states="the drawing alone",
    needs="an enhancement MOSFET with a zener or diode between gate and source",
    criterion="A zener or a diode alone lies between the source and the gate, or the far end of "
    "the gate's own resistor, so that it conducts as soon as the gate is steered to turn the "
    "transistor on.",
    why="A zener from source to gate blocks until the gate's insulation is in danger. Turned round "
    "it is a diode, and lets the gate no further than 0.7 V: the transistor begins at 2 V or more, "
    "and never turns on.",
    source=(SHEET, PRACTICE),
    limits="Two back to back, and chains of diodes that together reach beyond the threshold, are "
    "left alone, and so are depletion types, whose gates work on the other side of their sources.",
)
def gate_clamp_reversed(case: Case) -> Iterator[Outcome]:
    """Look at which way the parts between gate and source conduct."""
    for one in case.circuit.transistors.values():
        if one.type.family.insulated and not one.type.depletion:
            for clamp in _clamps(case.circuit, one):
                yield _reversed(case, one, clamp)


def _clamps(circuit: Circuit, one: Transistor) -> Iterator[Branch]:
    """What conducts from the gate to the source (of a p-channel type, the other way)."""
    gate, source = one.nets["gate"], one.nets["source"]
    fixed = still_nets(circuit) | {source}
    far = {b.other(gate) for b in circuit.at(gate) if b.kind is PartKind.RESISTOR} - fixed
    for branch in circuit.at(source):
        ends = (branch.a, branch.b) if one.type.family.sign > 0 else (branch.b, branch.a)
        clamps = branch.kind is PartKind.ZENER or branch.kind is PartKind.DIODE
        if clamps and ends[1] == source and ends[0] in {gate, *far} - {source}:
            yield branch


def _reversed(case: Case, one: Transistor, clamp: Branch) -> Finding:
    way = ("gate", "source") if one.type.family.sign > 0 else ("source", "gate")
    return gate_clamp_reversed.finding(
        case,
        (clamp.name, one.name),
        f"{clamp.name} conducts from {way[0]} to {way[1]} of {one.name} and holds them 0.7 V "
        f"apart: {one.type.name} begins to conduct at {_threshold(one)}",
        f"Turn {clamp.name} round: {one.name}.{way[1]} --[{clamp.name} ...]-> {one.name}.{way[0]}",
        certainty="certain",
    )


def _threshold(one: Transistor) -> str:
    """Where its current begins, as its sheet has it."""
    low, high = one.type.figure("threshold-low"), one.type.figure("threshold-high")
    sign = one.type.family.sign
    if low is None or high is None:
        return f"{volts(0.6 * sign)} or so"
    return f"{volts(sign * low.value)} to {volts(sign * high.value)}"


@rule(
    "transistor.cut-off",
    title="Transistor without current",
    level="notice",
    states="warm",
    needs="a solved warm state, and a transistor that follows a supply or gets a signal",
    criterion=f"A follower, pass transistor or amplifier has {FED_V.value:g} V or more across it, "
    "resistors lead from its gate or base to a supply that would turn it on "
    f"({DRIVE_V.value:g} V or more beyond its source or emitter), and less than "
    f"{NOTHING_A.value * 1e6:g} uA flow.",
    why="A follower without current follows nothing, and what a pass transistor feeds stays dead. "
    "The usual causes are a zener the wrong way round, a divider a decade off, a gate or base on "
    "the wrong wire.",
    source=PRACTICE,
    limits="Only those are looked at whose current goes in at a supply, or whose gate or base gets "
    "a signal; what switches, limits or protects may rest without current. Left alone are "
    f"outputs that something else holds {HELD_UP_V.value:g} V or more beyond the gate or base, "
    "complementary pairs, which may be of class B, and what a switch turns on.",
    thresholds=(FED_V, NOTHING_A, DRIVE_V, HELD_UP_V),
)
def cut_off(case: Case) -> Iterator[Outcome]:
    """Look at every transistor that is to carry something."""
    if unsolved_reason(case) is not None:
        return
    for one in case.circuit.transistors.values():
        if one.type.family.regulates or not _employed(case.circuit, one):
            continue
        off = _off(one, case.warm) and not any(_off(one, s) is False for s in case.solved(STANDBY))
        if off and _driven(case, one):
            yield _without_current(case, one)


def _employed(circuit: Circuit, one: Transistor) -> bool:
    """Whether it is a follower or pass transistor, or its gate or base gets a signal."""
    main, out, _ = one.type.family.leads
    still = still_nets(circuit)
    pair = any(
        other.nets.get(out) == one.nets[out] and other.type.family.sign != one.type.family.sign
        for other in circuit.transistors.values()
    )
    follows = one.nets[main] in still - set(LANDMARKS) and one.nets[out] not in LANDMARKS
    return not pair and (follows or _gets_a_signal(circuit, one, still))


def _gets_a_signal(circuit: Circuit, one: Transistor, still: frozenset[str]) -> bool:
    nets = coupled(circuit, [one.nets[one.type.family.leads[2]]], still)
    electrodes = any(e in GIVES for n in nets for _, e in circuit.electrodes_at(n))
    return electrodes or any(b.kind is PartKind.SIGNAL for n in nets for b in circuit.at(n))


def _off(one: Transistor, solution: Solution) -> bool | None:
    """Whether it carries nothing though it is fed; ``None`` where that has no number."""
    amps, across = solution.current(one.channel.name), _between(one, solution, 0)
    if amps is None or across is None:
        return None
    return abs(amps.dc) < NOTHING_A.value and across >= FED_V.value


def _between(one: Transistor, solution: Solution, lead: int) -> float | None:
    """DC from a lead (0 in, 2 steering) to where its current comes out, as of an n-type."""
    leads = one.type.family.leads
    wave = solution.between(one.nets[leads[lead]], one.nets[leads[1]])
    return None if wave is None else one.type.family.sign * wave.dc


def _driven(case: Case, one: Transistor) -> bool:
    """Whether resistors lead to a supply that would turn it on, and its output has a way out."""
    _, out, control = (one.nets[x] for x in one.type.family.leads)
    steering = _between(one, case.warm, 2)
    if steering is None or steering < -HELD_UP_V.value:
        return False
    way_out = any(n in LANDMARKS for n in reach(case.circuit, [out], LANDMARKS))
    rails = _through_resistors(case.circuit, control, {out, *LANDMARKS})
    beyond = (_beyond(case, one, n) for n in rails)
    return way_out and any(v is not None and v >= DRIVE_V.value for v in beyond)


def _beyond(case: Case, one: Transistor, net: str) -> float | None:
    wave = case.warm.between(net, one.nets[one.type.family.leads[1]])
    return None if wave is None else one.type.family.sign * wave.dc


def _through_resistors(circuit: Circuit, start: str, last: set[str]) -> Iterator[str]:
    """The nets that resistors alone lead to, ``last`` not being passed."""
    seen, todo = {start}, [start]
    while todo:
        net = todo.pop()
        yield net
        for branch in circuit.at(net) if net not in last else ():
            resistor = branch.kind in (PartKind.RESISTOR, PartKind.POT)
            if resistor and branch.other(net) not in seen:
                seen.add(branch.other(net))
                todo.append(branch.other(net))


def _without_current(case: Case, one: Transistor) -> Finding:
    main, out, control = one.type.family.leads
    sign, circuit = one.type.family.sign, case.circuit
    across, steering = (sign * (_between(one, case.warm, k) or 0.0) for k in (0, 2))
    at_out, at_control = (case.warm.waves.get(one.nets[x]) for x in (out, control))
    amps = case.warm.current(one.channel.name)
    return cut_off.finding(
        case,
        (one.name,),
        f"{one.name} carries nothing: it has {volts(across)} from {main} to {out}, and "
        f"{volts(steering)} from {control} to {out}, where it begins to conduct at "
        f"{_threshold(one)}",
        f"Look at what holds the {control} {net_text(circuit, one.nets[control])} at "
        f"{_volts(at_control)} and the {out} {net_text(circuit, one.nets[out])} at "
        f"{_volts(at_out)}",
        state="warm",
        evidence={
            "across": figure(across, "V"),
            "steering": figure(steering, "V"),
            "current": figure(abs(amps.dc) if amps is not None else 0.0, "A"),
        },
        certainty="likely",
    )


def _volts(wave: Wave | None) -> str:
    return volts(0.0 if wave is None else wave.dc)


RULES: tuple[Rule, ...] = (gate_clamp_reversed, cut_off)
