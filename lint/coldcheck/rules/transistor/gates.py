"""What holds the gates of transistors, and what keeps those of MOSFETs whole."""

from __future__ import annotations

from functools import partial
from typing import TYPE_CHECKING

from coldcheck.anatomy.held_down import held_down
from coldcheck.circuit.model import GROUND
from coldcheck.drawing.kinds import PartKind
from coldcheck.drawing.wording import volts
from coldcheck.judge.figure import Figure, figure
from coldcheck.judge.numbers import unsolved
from coldcheck.judge.rule import rule
from coldcheck.judge.threshold import Threshold
from coldcheck.judge.use import most, over
from coldcheck.sources.register import PRACTICE, Citation

if TYPE_CHECKING:
    from collections.abc import Iterator

    from coldcheck.anatomy.case import Case
    from coldcheck.circuit.model import Branch, Circuit, Transistor
    from coldcheck.judge.finding import Outcome
    from coldcheck.judge.rule import Rule
    from coldcheck.solve.solution import Solution

SHEET = Citation("maker-sheet")
HOLDS_F = Threshold("capacitor that keeps a source where it is", 1e-6, "F", PRACTICE)
STOPPER_OHM = Threshold("least gate stopper of a MOSFET", 10.0, "ohm", PRACTICE)


def _mosfets(case: Case) -> Iterator[Transistor]:
    return (q for q in case.circuit.transistors.values() if q.type.family.insulated)


def _gated(case: Case) -> Iterator[Transistor]:
    return (q for q in case.circuit.transistors.values() if q.type.family.gated)


@rule(
    "transistor.gate-no-return",
    title="Gate that nothing holds",
    level="notice",
    states="the drawing",
    needs="the gate wired or left free",
    criterion="No direct current gets from the gate to gnd.",
    why="A gate takes no current, so nothing but leakage decides its volts: the transistor "
    "may be off, or fully on.",
    source=PRACTICE,
    limits="Insulation that leaks, as all does, is not in the drawing.",
)
def gate_no_return(case: Case) -> Iterator[Outcome]:
    """Look for gates whose net floats."""
    if (reason := unsolved(case)) is not None:
        for one in _gated(case):
            yield gate_no_return.not_judged((one.name,), reason)
        return
    for one in _gated(case):
        if case.warm.floats(one.nets["gate"]):
            yield gate_no_return.finding(
                case,
                (one.name,),
                f"nothing holds the gate of {one.name}",
                f"Join {one.name}.gate to what is to steer it, or by 1 Mohm to where it is to rest",
                certainty="certain",
            )


@rule(
    "transistor.gate-unprotected",
    title="Gate that is high above an output which may be at nothing",
    level="notice",
    states="every solved state",
    needs="a solved state and the rating of the type",
    criterion=(
        f"A capacitor of {HOLDS_F.value * 1e6:g} uF or more is on the source, no zener lies "
        f"between gate and source, and the gate is further from the capacitor's other end than "
        f"the gate's rating."
    ),
    why="While the capacitor is empty, at switch-on, and when the output is shorted or drained "
    "faster than the gate, the source stays behind and all the gate's volts are across its "
    "insulation.",
    source=(SHEET, PRACTICE),
    limits="How fast the gate comes up is not worked out: one that rises slower than the output is "
    "safe at switch-on, and not when the output is shorted.",
    thresholds=(HOLDS_F,),
)
def gate_unprotected(case: Case) -> Iterator[Outcome]:
    """Compare the volts from each gate to what holds its source with the rating."""
    for one in _mosfets(case):
        limit = one.type.figure("gate-source-voltage")
        held = held_down(case.circuit, one.nets["source"], HOLDS_F.value)
        if limit is None or held is None or _clamped(case.circuit, one):
            continue
        if (reason := unsolved(case)) is not None:
            yield gate_unprotected.not_judged((one.name,), reason)
            continue

        use = most(case, (), partial(_apart, one, held))
        if use is not None and use.beyond(limit.value):
            yield over(
                gate_unprotected, case, (one.name,), use, limit.value,
                (f"nothing limits gate to source of {one.name}: while {held.name} is empty, or "
                 f"its output shorted, that is up to {volts(use.figure.value)}; the gate "
                 f"is rated {volts(limit.value)}",
                 f"Put a zener of 10 to 15 V from source to gate of {one.name}, "
                 "and a resistor before them"),
                source=limit.cited,
            )  # fmt: skip


def _apart(one: Transistor, held: Branch, solution: Solution) -> Figure | None:
    """The gate against the other end of the capacitor that holds the source."""
    wave = solution.between(one.nets["gate"], held.other(one.nets["source"]))
    return None if wave is None else figure(abs(wave.dc), "V")


def _clamped(circuit: Circuit, one: Transistor) -> bool:
    """Whether a zener, or two back to back, lies between gate and source."""
    gate, source = one.nets["gate"], one.nets["source"]
    near = {gate, *(b.other(gate) for b in circuit.at(gate) if b.traits.one_way)}
    clamps = (b for net in near for b in circuit.at(net) if b.traits.one_way)
    return gate == source or any(b.kind is PartKind.ZENER and source in (b.a, b.b) for b in clamps)


@rule(
    "transistor.no-gate-stopper",
    title="Gate of a MOSFET without a resistor of its own",
    level="advice",
    states="the drawing",
    needs="what is on the gate",
    criterion=(
        f"A capacitor, an electrode of a tube or another transistor is on the gate itself, "
        f"without {STOPPER_OHM.value:g} ohm or more between."
    ),
    why="A MOSFET amplifies to hundreds of megahertz. With the inductance of its leads and its own "
    "capacitances it oscillates where nobody looks: it gets hot, and voltages come out wrong.",
    source=PRACTICE,
    limits="Whether it would oscillate depends on the wiring, which a drawing does not show.",
    thresholds=(STOPPER_OHM,),
)
def no_gate_stopper(case: Case) -> Iterator[Outcome]:
    """Look at what is right on each gate."""
    for one in _mosfets(case):
        if _bare(case.circuit, one):
            yield no_gate_stopper.finding(
                case,
                (one.name,),
                f"the gate of {one.name} has no resistor of its own",
                f"Put 100 to 1000 ohm in the lead of {one.name}.gate, close to it",
                certainty="likely",
            )


def _bare(circuit: Circuit, one: Transistor) -> bool:
    gate, source = one.nets["gate"], one.nets["source"]
    if gate in (GROUND, source):
        return False
    others = [b for b in circuit.at(gate) if b.owner != one.name and b.other(gate) != source]
    wired = any(b.kind is not PartKind.RESISTOR and not b.traits.one_way for b in others)
    small = any(
        b.kind is PartKind.RESISTOR and (b.ohms or STOPPER_OHM.value) < STOPPER_OHM.value
        for b in others
    )
    return wired or small or bool(circuit.electrodes_at(gate))


RULES: tuple[Rule, ...] = (gate_no_return, gate_unprotected, no_gate_stopper)
